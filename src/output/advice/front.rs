//! What a higher share of passing prints costs, as drawings.

use super::words::{doubts_after, expected_words, setting_words};
use crate::numbers::{duration, ink, suited};
use crate::plot::{Dash, Dot, Mark, Plot, PlotAxis, Scale, Series};
use motefall_figures::PrintFigure;
use motefall_figures::advice::{Advice, Candidate};

const SIZE: [f64; 2] = [480.0, 330.0];
/// Ratio of the ends from which on an axis goes by ratios.
const BY_RATIO: f64 = 8.0;
/// Difference of what chips take, relative, below which it is not drawn.
const ALIKE: f64 = 0.02;

/// Expected share of passing prints over the time of a print, and over the ink of a chip where settings differ in it.
pub(super) fn pictures(advice: &Advice) -> Vec<String> {
    let all = named(advice);
    let most = |of: fn(&Candidate) -> f64| all.iter().map(|(_, c)| of(c)).fold(0.0, f64::max);
    let (per_unit, unit) = match most(time) {
        s if s < 120.0 => (1.0, "s"),
        s if s < 7200.0 => (60.0, "min"),
        _ => (3600.0, "h"),
    };
    let kind = PrintFigure::InkUsed.kind();
    let (factor, ink_unit) = suited(kind, most(ink_of) * kind.per_si);
    let mut drawings = vec![plot(advice, &all, &format!("time of a print ({unit})"), &|c| time(c) / per_unit)];
    let least_ink = all.iter().map(|(_, c)| ink_of(c)).fold(f64::INFINITY, f64::min);
    if most(ink_of) > (1.0 + ALIKE) * least_ink {
        drawings.push(plot(advice, &all, &format!("ink per chip ({ink_unit})"), &|c| ink_of(c) * kind.per_si * factor));
    }
    drawings
}

/// Settings with the words that stand beside them: the recommended one, today's, and the front by its numbers.
fn named(advice: &Advice) -> Vec<(String, &Candidate)> {
    let first = advice.choices.first().map(|choice| (super::which(advice).to_owned(), &choice.candidate));
    let mut all: Vec<(String, &Candidate)> = first.into_iter().collect();
    for (name, candidate) in [("today".to_owned(), &advice.today)]
        .into_iter()
        .chain(advice.front.iter().enumerate().map(|(k, candidate)| ((k + 1).to_string(), candidate)))
    {
        match all.iter_mut().find(|(_, other)| other.values == candidate.values) {
            Some((known, _)) => *known += &format!(" ({name})"),
            None => all.push((name, candidate)),
        }
    }
    all
}

fn time(candidate: &Candidate) -> f64 {
    candidate.used.print_time
}

fn ink_of(candidate: &Candidate) -> f64 {
    candidate.used.ink_per_chip
}

fn plot(advice: &Advice, all: &[(String, &Candidate)], label: &str, cost: &dyn Fn(&Candidate) -> f64) -> String {
    let dot = |(name, candidate): &(String, &Candidate)| Dot {
        at: [cost(candidate), 100.0 * candidate.expected],
        is_ring: !advice.own_doubts(candidate).is_empty(),
        label: name.clone(),
        title: format!(
            "{}: {} expected to pass, a print takes {}, a chip {} of ink{}",
            setting_words(advice, candidate),
            expected_words(candidate.expected),
            duration(time(candidate)),
            ink(ink_of(candidate)),
            doubts_after(advice, candidate)
        ),
    };
    let costs = || all.iter().map(|(_, candidate)| cost(candidate));
    let [least, most] = [costs().fold(f64::INFINITY, f64::min), costs().fold(0.0, f64::max)];
    let x = match least > 0.0 && most / least > BY_RATIO {
        true => PlotAxis::over(label, Scale::Log, least / 1.2, most * 2.0),
        // Room for words to the right.
        false => {
            PlotAxis::over(label, Scale::Linear, (least - 0.1 * (most - least)).max(0.0), most + 0.3 * (most - least))
        }
    };
    let dots =
        Series { name: String::new(), colour: 2, dash: Dash::Solid, mark: Mark::Dots(all.iter().map(dot).collect()) };
    Plot {
        size: SIZE,
        x,
        // A little above 100 %, so that dots there are whole.
        y: PlotAxis::over("expected to pass (%)", Scale::Linear, 0.0, 105.0),
        series: vec![dots],
        description: format!("Expected share of passing prints over {label}"),
    }
    .svg()
}
