//! Which lines to print before the chip is touched: those that tell whether a recommended setting holds on this bench.
//!
//! Nobody knows the bench. It may be any of many: those that a calibration leaves possible, or those that are usual. On each of them the
//! recommended print and some lines are worked out, without chance. A line tells as much as its widths and height let foretell the figure that
//! decides, by linear regression over the benches; and they have an answer each: the values at which the print passes.

use crate::test_line::{LENGTH, TEST_LINE, pace, with_line};
use motefall_calibrate::possible::Bench;
use motefall_figures::advice::{Advice, Choice, OfLine, TestLine, TestPlan};
use motefall_figures::expected::share_of_law;
use motefall_figures::statistics::FigureAt;
use motefall_figures::{Figure, ItemFigure, RegionFigure, places};
use motefall_physics::inputs::Inputs;
use motefall_run::atlas::Atlas;
use motefall_run::expected::means_as_set;
use motefall_run::{Progress, RunError, Silent};
use motefall_scenario::{Knob, Scenario, Turnable};
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

/// Benches that are tried.
pub(crate) const BENCHES: usize = 64;
/// What is measured of a line, with the relative uncertainty that is usual (common practice, no source).
const MEASURED: [(ItemFigure, f64); 3] =
    [(ItemFigure::EdgeWidth, 0.04), (ItemFigure::LineWidth, 0.05), (ItemFigure::PeakThickness, 0.08)];
/// Factors on speed, with one pass, and on the sheath flow.
const SPEEDS: [f64; 2] = [0.5, 2.0];
const SHEATHS: [f64; 2] = [0.7, 1.4];
/// Lines that are told, and what each must tell more than those before it.
const MOST_LINES: usize = 3;
const TELLS_MORE: f64 = 0.03;
/// Share of the benches on which the print passes that lies within the values at which to go on.
const WITHIN: f64 = 0.9;
/// Fewest benches on which the print passes for a range to be told.
const FEWEST: usize = 4;

/// A line that may be printed.
struct Candidate {
    /// The layer whose setting it has, from 0.
    layer: usize,
    changes: Vec<(String, f64, String)>,
    /// m/s, and passes.
    speed: f64,
    passes: u32,
    /// The print whose setting it has.
    scenario: Turnable,
    /// What is measured of it, and to which part of itself: as set, and on each bench. What cannot be told on all benches is left out.
    measured: Vec<OfCandidate>,
}

struct OfCandidate {
    figure: ItemFigure,
    error: f64,
    as_set: f64,
    values: Vec<f64>,
}

/// A scenario as its prints were worked out: with what a calibration taught in its middle, if there is one.
pub(crate) type AsSet<'a> = &'a dyn Fn(&Turnable) -> Result<Scenario, String>;

/// The plan for the recommended setting, `chip` being the scenario at it; `None` if no line tells anything.
pub(crate) fn plan(
    advice: &Advice,
    chip: &Turnable,
    benches: &[Bench],
    as_set: AsSet<'_>,
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Result<Option<TestPlan>, RunError> {
    let Some(choice) = advice.choices.first().filter(|_| advice.passes()) else { return Ok(None) };
    let layers = &chip.scenario.inputs.layers;
    let mut lines: Vec<Candidate> = (0..layers.len()).flat_map(|layer| candidates(chip, layer)).collect();
    progress.begin("which test lines tell whether it holds", Some((BENCHES * (lines.len() + 1)) as u64));
    let on_chip: Vec<Option<Vec<Option<f64>>>> =
        on_benches(chip, benches, &limited(advice), Inputs::clone, atlas, progress)?;
    let Ok(set) = as_set(chip) else { return Ok(None) };
    let was = figures_of(&set.inputs, &limited(advice), atlas)?;
    let passes: Vec<bool> = on_chip.iter().map(|figures| passes_on(advice, choice, &was, figures.as_deref())).collect();
    for line in &mut lines {
        measure(line, benches, as_set, atlas, progress)?;
    }
    let Some((deciding, wanted)) = deciding(advice, choice, &on_chip) else { return Ok(None) };
    let share = passes.iter().filter(|passes| **passes).count() as f64 / passes.len().max(1) as f64;
    let names: Vec<&str> = layers.iter().map(|layer| layer.name.as_str()).collect();
    let (told, within) = pick(lines, &names, &wanted, &passes);
    let inside: Vec<bool> =
        passes.iter().zip(within).filter(|(_, within)| *within).map(|(passes, _)| *passes).collect();
    let passing_inside = inside.iter().filter(|passes| **passes).count() as f64 / inside.len().max(1) as f64;
    Ok((!told.is_empty()).then_some(TestPlan {
        length: LENGTH,
        deciding,
        passes_on: share,
        within: inside.len(),
        passes_within: passing_inside,
        benches: passes.len(),
        is_calibrated: set.calibrated.is_some(),
        not_judged: not_judged(advice, choice, &was),
        lines: told,
    }))
}

/// Lines of a layer at the recommended setting, and at others.
fn candidates(chip: &Turnable, layer: usize) -> Vec<Candidate> {
    let [speed, passes] = pace(&chip.scenario.inputs, layer);
    let line = |scenario: Option<Turnable>, changes: Vec<(String, f64, String)>, speed: f64, passes: f64| {
        Some(Candidate { layer, changes, speed, passes: passes as u32, scenario: scenario?, measured: vec![] })
    };
    let same = || chip.put(&[]).ok();
    let mut all = vec![line(same(), vec![], speed, passes)];
    if passes > 1.0 {
        all.push(line(same(), vec![], speed, 1.0));
    }
    all.extend(SPEEDS.map(|factor| line(same(), vec![], tidy(speed * factor), 1.0)));
    let of_layer = || chip.knob(&format!("layer[{}].flow.sheath_sccm", layer + 1));
    if let Ok(sheath) = chip.knob("flow.sheath_sccm").or_else(|_| of_layer()) {
        for factor in SHEATHS {
            let value = tidy(sheath.value * factor);
            let changes = vec![(sheath.key.clone(), value, sheath.unit.to_owned())];
            all.push(line(chip.put(&[(&sheath, value)]).ok(), changes, speed, 1.0));
        }
    }
    all.into_iter().flatten().collect()
}

/// Two digits.
fn tidy(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}

/// Figures of the limits, and the mean thickness at the place of each.
fn limited(advice: &Advice) -> Vec<(Figure, Option<String>)> {
    let limits = advice.limits.iter();
    let figures = limits.clone().map(|limit| (limit.figure, limit.place.clone()));
    let drivers = limits.map(|limit| (Figure::from(RegionFigure::MeanThickness), limit.place.clone()));
    figures.chain(drivers).collect()
}

/// What is expected of figures as the inputs are set.
fn figures_of(
    inputs: &Inputs,
    wanted: &[(Figure, Option<String>)],
    atlas: &Atlas<'_>,
) -> Result<Vec<Option<f64>>, RunError> {
    let inputs = Inputs { spread: Vec::new(), ..inputs.clone() };
    let means = means_as_set(&inputs, atlas, &Silent)?;
    let asked = places::asked(&inputs);
    let find = |(figure, place): &(Figure, Option<String>)| {
        let same = |(kind, own): &FigureAt| kind.figure == *figure && own == place;
        means[asked.iter().position(same)?]
    };
    Ok(wanted.iter().map(find).collect())
}

/// The same on each bench, of what `print` makes of the inputs; `None` where the scenario does not hold there.
fn on_benches(
    scenario: &Turnable,
    benches: &[Bench],
    wanted: &[(Figure, Option<String>)],
    print: impl Fn(&Inputs) -> Inputs + Sync,
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Result<Vec<Option<Vec<Option<f64>>>>, RunError> {
    let on = |bench: &Bench| {
        if progress.cancelled() {
            return Err(RunError::Cancelled);
        }
        progress.advance(1);
        // The same keys of another print on this bench.
        let own: Vec<(Knob, f64)> =
            bench.iter().filter_map(|(knob, value)| Some((scenario.knob(&knob.key).ok()?, *value))).collect();
        let values: Vec<(&Knob, f64)> = own.iter().map(|(knob, value)| (knob, *value)).collect();
        let Ok(inputs) = scenario.with(&values) else { return Ok(None) };
        match figures_of(&print(&inputs), wanted, atlas) {
            Ok(figures) => Ok(Some(figures)),
            Err(RunError::Cancelled) => Err(RunError::Cancelled),
            Err(_) => Ok(None),
        }
    };
    benches.par_iter().map(on).collect()
}

/// By which factor the figure of a limit is another on a bench: itself or, where only prints tell it, the mean thickness at its place.
fn changed(k: usize, limits: usize, was: &[Option<f64>], is: &[Option<f64>]) -> Option<f64> {
    let ratio = |at: usize| Some(is[at]? / was[at].filter(|was| *was > 0.0)?);
    ratio(k).or_else(|| ratio(limits + k))
}

/// Whether a limit can be judged on benches; all prints together have a probability.
fn is_judged(advice: &Advice, choice: &Choice, k: usize, was: &[Option<f64>]) -> bool {
    let is_told = choice.candidate.means[k].is_some() && choice.candidate.sd(k).is_some();
    is_told
        && !advice.limits[k].figure.kind().is_share_of_prints()
        && changed(k, advice.limits.len(), was, was).is_some()
}

/// Limits that nothing tells of on other benches.
fn not_judged(advice: &Advice, choice: &Choice, was: &[Option<f64>]) -> Vec<usize> {
    (0..advice.limits.len()).filter(|k| !is_judged(advice, choice, *k, was)).collect()
}

/// Whether enough prints are expected to pass on a bench: each figure that can be judged there as the prints of the recommended setting had it,
/// changed as what is expected of it.
fn passes_on(advice: &Advice, choice: &Choice, was: &[Option<f64>], is: Option<&[Option<f64>]>) -> bool {
    let Some(is) = is else { return false };
    let n = advice.limits.len();
    let share = |k: usize| {
        let (mean, sd) = (choice.candidate.means[k]?, choice.candidate.sd(k)?);
        let factor = changed(k, n, was, is)?;
        let sd = (factor * sd).max(1e-3 * factor * mean).max(f64::MIN_POSITIVE);
        Some(share_of_law(&advice.limits[k], factor * mean, sd))
    };
    // A figure that vanishes on the bench alone meets nothing.
    let judged = (0..n).filter(|k| is_judged(advice, choice, *k, was));
    judged.map(|k| share(k).unwrap_or(0.0)).product::<f64>() >= advice.required
}

/// The limit that benches differ in most, in standard deviations between prints, and the logarithm of its figure on each bench.
fn deciding(
    advice: &Advice,
    choice: &Choice,
    on_chip: &[Option<Vec<Option<f64>>>],
) -> Option<(usize, Vec<Option<f64>>)> {
    let n = advice.limits.len();
    let logs = |k: usize| -> Vec<Option<f64>> {
        let told = |at: usize| {
            let of =
                |figures: &Option<Vec<Option<f64>>>| figures.as_ref()?[at].filter(|value| *value > 0.0).map(f64::ln);
            on_chip.iter().map(of).collect::<Vec<_>>()
        };
        let own = told(k);
        if own.iter().flatten().count() > 0 { own } else { told(n + k) }
    };
    let (first, _) = choice.candidate.tightest?;
    let found = logs(first);
    (found.iter().flatten().count() > FEWEST).then_some((first, found))
}

/// What is measured of a line, as set and on each bench; nothing of one that cannot be printed.
fn measure(
    line: &mut Candidate,
    benches: &[Bench],
    as_set: AsSet<'_>,
    atlas: &Atlas<'_>,
    progress: &dyn Progress,
) -> Result<(), RunError> {
    let wanted: Vec<(Figure, Option<String>)> =
        MEASURED.iter().map(|(figure, _)| (Figure::from(*figure), Some(TEST_LINE.to_owned()))).collect();
    let Candidate { layer, speed, passes, .. } = *line;
    let print = |inputs: &Inputs| with_line(inputs, layer, speed, passes);
    let Ok(set) = as_set(&line.scenario) else { return Ok(()) };
    let was = match figures_of(&print(&set.inputs), &wanted, atlas) {
        Ok(was) => was,
        Err(RunError::Cancelled) => return Err(RunError::Cancelled),
        // With that sheath it cannot run, say: no line to print.
        Err(_) => return Ok(()),
    };
    let on = on_benches(&line.scenario, benches, &wanted, print, atlas, progress)?;
    for (k, (figure, error)) in MEASURED.iter().enumerate() {
        let values: Option<Vec<f64>> =
            on.iter().map(|figures| figures.as_ref()?[k].filter(|value| *value > 0.0)).collect();
        if let (Some(values), Some(as_set)) = (values, was[k]) {
            line.measured.push(OfCandidate { figure: *figure, error: *error, as_set, values });
        }
    }
    Ok(())
}

/// The few lines that tell most, one after the other, and the benches on which all of them are where one goes on.
/// `names` of the layers; empty if there is one.
fn pick(
    mut lines: Vec<Candidate>,
    names: &[&str],
    wanted: &[Option<f64>],
    passes: &[bool],
) -> (Vec<TestLine>, Vec<bool>) {
    let mut within = vec![true; passes.len()];
    let (mut picked, mut columns, mut before): (Vec<TestLine>, Vec<Vec<f64>>, f64) = (vec![], vec![], 0.0);
    while picked.len() < MOST_LINES && !lines.is_empty() {
        let with = |line: &Candidate| {
            let own = line.measured.iter().map(|own| own.values.iter().map(|value| value.ln() / own.error).collect());
            columns.iter().cloned().chain(own).collect::<Vec<Vec<f64>>>()
        };
        let told: Vec<f64> = lines.iter().map(|line| tells(&with(line), wanted)).collect();
        let Some(best) = (0..lines.len()).max_by(|a, b| told[*a].total_cmp(&told[*b]).then(b.cmp(a))) else { break };
        if told[best] < before + TELLS_MORE {
            break;
        }
        columns = with(&lines[best]);
        before = told[best];
        let line = lines.remove(best);
        let mut shows = vec![];
        for OfCandidate { figure, as_set, values, .. } in &line.measured {
            let of_line = of_line(*figure, *as_set, values, passes);
            if let Some([low, high]) = of_line.go_on {
                within.iter_mut().zip(values).for_each(|(within, value)| *within &= (low..=high).contains(value));
            }
            shows.push(of_line);
        }
        let Candidate { layer, changes, speed, passes, .. } = line;
        picked.push(TestLine {
            layer: names[layer].to_owned(),
            changes,
            speed: speed * 1e3,
            passes: passes.into(),
            shows,
            tells: before,
        });
    }
    (picked, within)
}

/// Share of the variance of what is wanted that the columns tell, each in units of its measurement's error: linear, with that error as the
/// prior of a ridge.
fn tells(columns: &[Vec<f64>], wanted: &[Option<f64>]) -> f64 {
    let rows: Vec<usize> = (0..wanted.len()).filter(|k| wanted[*k].is_some()).collect();
    let n = rows.len();
    if n < FEWEST || columns.is_empty() {
        return 0.0;
    }
    let centred = |values: Vec<f64>| {
        let mean = values.iter().sum::<f64>() / n as f64;
        values.into_iter().map(|value| value - mean).collect::<Vec<f64>>()
    };
    let y = DVector::from_vec(centred(rows.iter().filter_map(|k| wanted[*k]).collect()));
    let x: Vec<f64> = columns.iter().flat_map(|column| centred(rows.iter().map(|k| column[*k]).collect())).collect();
    let x = DMatrix::from_vec(n, columns.len(), x);
    // Errors of measurement beside what differs between benches: the covariance of what is measured has both.
    let covariance = x.transpose() * &x / (n as f64 - 1.0) + DMatrix::identity(columns.len(), columns.len());
    let with_wanted = x.transpose() * &y / (n as f64 - 1.0);
    let variance = y.norm_squared() / (n as f64 - 1.0);
    match covariance.cholesky() {
        Some(cholesky) if variance > 0.0 => (with_wanted.dot(&cholesky.solve(&with_wanted)) / variance).clamp(0.0, 1.0),
        _ => 0.0,
    }
}

/// What a line is expected to show, and where to go on.
fn of_line(figure: ItemFigure, as_set: f64, values: &[f64], passes: &[bool]) -> OfLine {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let sd = (values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0)).sqrt();
    let mut good: Vec<f64> =
        values.iter().zip(passes).filter(|(_, passes)| **passes).map(|(value, _)| *value).collect();
    good.sort_by(f64::total_cmp);
    let decides = good.len() >= FEWEST;
    let cut = |share: f64| good[((good.len() - 1) as f64 * share).round() as usize];
    OfLine {
        figure,
        expected: [as_set, sd],
        go_on: decides.then(|| [cut(0.5 - 0.5 * WITHIN), cut(0.5 + 0.5 * WITHIN)]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A column that follows the wanted one with an error of 1 in units where the wanted one scatters by 3 tells 9 of 10 parts of it.
    #[test]
    fn a_line_tells_what_its_error_leaves() {
        let wanted: Vec<Option<f64>> = (0..101).map(|k| Some((f64::from(k) - 50.0) / 29.3)).collect();
        let column: Vec<f64> = wanted.iter().flatten().map(|value| 3.0 * value).collect();
        let told = tells(&[column], &wanted);
        assert!((told - 0.9).abs() < 0.01, "{told}");
        let nothing: Vec<f64> = (0..101).map(|k| f64::from(k % 2)).collect();
        assert!(tells(&[nothing], &wanted) < 0.02);
    }

    #[test]
    fn one_goes_on_where_the_print_passes() {
        let values: Vec<f64> = (0..100).map(f64::from).collect();
        let passes: Vec<bool> = (0..100).map(|k| (40..61).contains(&k)).collect();
        let told = of_line(ItemFigure::LineWidth, 50.0, &values, &passes);
        assert_eq!(told.go_on, Some([41.0, 59.0]));
        // Where it passes on every bench, one goes on if the bench is one of them.
        assert_eq!(of_line(ItemFigure::LineWidth, 50.0, &values, &[true; 100]).go_on, Some([5.0, 94.0]));
        assert_eq!(of_line(ItemFigure::LineWidth, 50.0, &values, &[false; 100]).go_on, None);
    }
}
