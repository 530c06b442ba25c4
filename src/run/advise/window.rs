//! The window cut through the recommended setting.

use super::AdviseError;
use super::search::Search;
use motefall_figures::advice::{Choice, Cut};

/// Values along and up.
const ACROSS: usize = 11;

/// The expected share of passing prints over the two settings with the least room; `None` if fewer than two are free.
pub(super) fn cut(search: &mut Search<'_>, choice: &Choice) -> Result<Option<Cut>, AdviseError> {
    let mut order: Vec<usize> = (0..choice.rooms.len()).collect();
    let relative = |k: &usize| {
        let [low, high] = choice.rooms[*k].range.map(|value| search.freed()[*k].place(value));
        high - low
    };
    order.sort_by(|a, b| relative(a).total_cmp(&relative(b)).then(a.cmp(b)));
    let &[a, b, ..] = &order[..] else { return Ok(None) };
    let settings = [a.min(b), a.max(b)];
    search.desk.begin("the window around the recommended setting", Some((ACROSS * ACROSS) as u64));
    let values = settings.map(|k| {
        let freed = &search.freed()[k];
        let mut values: Vec<f64> = (0..ACROSS).map(|i| freed.at(i as f64 / (ACROSS - 1) as f64)).collect();
        values.push(choice.candidate.values[k]);
        values.sort_by(f64::total_cmp);
        values.dedup();
        values
    });
    let at = |x: f64, y: f64| {
        let mut all = choice.candidate.values.clone();
        (all[settings[0]], all[settings[1]]) = (x, y);
        all
    };
    let all: Vec<Vec<f64>> = values[1].iter().flat_map(|y| values[0].iter().map(|x| at(*x, *y))).collect();
    let means = search.desk.means(&all)?;
    let (mut shares, mut doubts) = (vec![], vec![]);
    for (values, means) in all.iter().zip(means) {
        doubts.push(search.doubts_beyond(values, &choice.candidate.doubts)?);
        shares.push(match means {
            Ok(_) => Some(search.outlook(values)?.share),
            Err(_) => None,
        });
    }
    let shares = shares.chunks(values[0].len()).map(<[_]>::to_vec).collect();
    let doubts = doubts.chunks(values[0].len()).map(<[_]>::to_vec).collect();
    Ok(Some(Cut { settings, values, shares, doubts }))
}
