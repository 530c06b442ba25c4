//! Questions about a setting, which a newer one overtakes.

use super::answer::{Answer, Refusal};
use super::session::Session;
use super::subject::{Values, named};
use super::work::{Paced, Wanted, locked};
use motefall::{Grid, Prediction, Progress, Scenario};
use motefall_output::explore::{self, Frame, Geometry, Prints};
use motefall_physics::inputs::Inputs;
use motefall_run::cautions::{calibration, remarks};
use motefall_run::expected::look;
use motefall_run::{Series, one_print};
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// A question about a setting.
#[derive(Debug, Deserialize)]
pub(super) struct Question {
    #[serde(default)]
    values: Values,
    /// Grows from question to question of a page.
    #[serde(default)]
    ask: u64,
    /// The part of the chip that is looked at, µm: low x, low y, high x, high y.
    #[serde(default)]
    window: Option<[f64; 4]>,
    /// Pixels of a map, about.
    #[serde(default)]
    pixels: Option<f64>,
    /// Prints to be made.
    #[serde(default)]
    upto: u32,
    /// Number of a print.
    #[serde(default)]
    number: u32,
    /// Whether its particles are asked for, too.
    #[serde(default)]
    particles: bool,
}

/// Pixels of a map, about, unless the page says how many.
const PIXELS: f64 = 60_000.0;
const FEWEST_PIXELS: f64 = 100.0;
const MOST_PIXELS: f64 = 400_000.0;
/// Closest pixels, m.
const LEAST_PITCH: f64 = 1e-9;
/// How long prints are made before the page hears of them.
const BATCH: Duration = Duration::from_millis(250);
/// Most prints of a setting.
const MOST_PRINTS: u32 = 100_000;

/// Whether a question is about a setting and takes all cores.
pub(super) fn is_live(what: &str) -> bool {
    matches!(what, "map" | "expected" | "prints" | "print" | "knobs")
}

/// Answers a question about a setting.
pub(super) fn answer(session: &Session, what: &str, page: &str, question: &Question) -> Result<Answer, Refusal> {
    let setting = named(&question.values);
    let wanted = session.pages.ask(page, question.ask, &setting).ok_or(Refusal::Stale)?;
    if wanted.cancelled() {
        return Err(Refusal::Stale);
    }
    let scenario = session.subject.scenario(&question.values)?;
    let frame = |frame: Frame| Answer::Frame(frame.bytes());
    match what {
        "map" => map(session, &scenario, question, &wanted).map(frame),
        "expected" => {
            let expected = motefall::expect_in(&scenario, &session.atlas, &wanted)?;
            Ok(Answer::Json(explore::expected(&expected)))
        }
        "prints" => prints(session, &setting, &scenario, question.upto, &wanted).map(Answer::Json),
        "print" => print(session, &setting, &scenario, question, &wanted).map(frame),
        _ => {
            let turnable = session.subject.turnable(&question.values)?;
            let knobs = motefall::turn_in(&turnable, &session.atlas, &wanted)?;
            Ok(Answer::Json(explore::knobs(&knobs, |key| session.subject.label(key))))
        }
    }
}

impl Question {
    fn pixels(&self) -> f64 {
        self.pixels.filter(|pixels| pixels.is_finite()).unwrap_or(PIXELS).clamp(FEWEST_PIXELS, MOST_PIXELS)
    }

    /// The window in m, if it is one.
    fn window(&self) -> Option<[f64; 4]> {
        let window = self.window?.map(|um| um * 1e-6);
        let [x0, y0, x1, y1] = window;
        (window.iter().all(|at| at.is_finite() && at.abs() < 1.0) && x1 > x0 && y1 > y0).then_some(window)
    }

    /// The grid to look at: the window, or all of the maps' grid, with as many pixels as were asked for.
    fn grid(&self, maps: Grid) -> Grid {
        let whole = [maps.columns as f64 * maps.pitch, maps.rows as f64 * maps.pitch];
        let (origin, size) = match self.window() {
            Some([x0, y0, x1, y1]) => ([x0, y0], [x1 - x0, y1 - y0]),
            None if maps.pixels() <= self.pixels() => return maps,
            None => (maps.origin, whole),
        };
        let pitch = (size[0] * size[1] / self.pixels()).sqrt().max(LEAST_PITCH);
        // A long and narrow window has no more pixels either.
        let pitch = pitch.max(size[0].max(size[1]) / self.pixels());
        let [columns, rows] = size.map(|side| (side / pitch).ceil().max(1.0) as usize);
        Grid { origin, pitch, columns, rows }
    }
}

fn map(session: &Session, scenario: &Scenario, question: &Question, wanted: &Wanted<'_>) -> Result<Frame, Refusal> {
    // What differs between prints has no part in it.
    let inputs = &Inputs { spread: vec![], ..scenario.inputs.clone() };
    let seen = look(inputs, &session.quick, |maps| question.grid(maps), wanted)?;
    let geometry = Geometry { inputs, strokes: &seen.strokes, across: &seen.across };
    let mut frame = explore::expected_map(&seen.grid, seen.map.as_ref(), geometry);
    frame.head["only_prints"] = json!(seen.only_prints.map(explore::why_only_prints));
    Ok(frame)
}

fn prints(
    session: &Session,
    setting: &str,
    scenario: &Scenario,
    upto: u32,
    wanted: &Wanted<'_>,
) -> Result<Value, Refusal> {
    let possible = scenario.calibrated.as_ref().map_or(&[][..], |calibrated| &calibrated.possible);
    let paced = session.printed.of(setting, || Series::new(scenario.inputs.clone(), possible.to_vec()));
    let mut paced = locked(&paced);
    let Paced { series, made, each } = &mut *paced;
    // As many as fit into a batch; the first time as few as tell anything.
    let fit = each.map_or(2, |each| (BATCH.as_secs_f64() / each.as_secs_f64().max(1e-6)).max(1.0) as u32);
    let to = upto.min(MOST_PRINTS).min(made.saturating_add(fit));
    let began = Instant::now();
    let mut told = series.up_to(to, &session.atlas, wanted)?;
    if told.made > *made {
        *each = Some(began.elapsed() / (told.made - *made));
        *made = told.made;
    }
    let used = scenario.calibrated.iter().flat_map(|calibrated| calibration(&calibrated.used, &[]));
    told.cautions.extend(used.chain(remarks(&scenario.notes)));
    Ok(explore::prints(Prints {
        inputs: &told.inputs,
        over_prints: &told.over_prints,
        cautions: &told.cautions,
        made: told.made,
        wanted: told.wanted,
    }))
}

fn print(
    session: &Session,
    setting: &str,
    scenario: &Scenario,
    question: &Question,
    wanted: &Wanted<'_>,
) -> Result<Frame, Refusal> {
    let print = shown(session, setting, scenario, question.number, wanted)?;
    let strokes: Vec<_> = print.strokes().copied().collect();
    let geometry = Geometry { inputs: &print.inputs, strokes: &strokes, across: &[] };
    let mut frame = explore::print_map(&print.maps, &print.pile, question.window(), question.pixels(), geometry);
    frame.head["number"] = json!(question.number);
    if question.particles {
        let (particles, arrays) = explore::particles(&print.pile, question.window());
        frame.arrays.extend(arrays);
        frame.head["particles"] = particles;
        if let (Value::Object(head), Value::Object(more)) = (&mut frame.head, explore::print(&print)) {
            head.extend(more);
        }
    }
    Ok(frame)
}

/// A print by its number: the last one that was looked at, or made now.
fn shown(
    session: &Session,
    setting: &str,
    scenario: &Scenario,
    number: u32,
    wanted: &Wanted<'_>,
) -> Result<Arc<Prediction>, Refusal> {
    if let Some((of, known, print)) = &*locked(&session.shown)
        && (of.as_str(), *known) == (setting, number)
    {
        return Ok(Arc::clone(print));
    }
    let print = one_print(inputs_of(scenario, number), number, &session.atlas, wanted as &dyn Progress)?;
    let print = Arc::new(print);
    *locked(&session.shown) = Some((setting.to_owned(), number, Arc::clone(&print)));
    Ok(print)
}

/// The inputs of a print: with a calibration each has its own, but the one that is shown besides.
fn inputs_of(scenario: &Scenario, number: u32) -> &Inputs {
    match &scenario.calibrated {
        Some(calibrated) if number > 0 && !calibrated.possible.is_empty() => {
            &calibrated.possible[(number - 1) as usize % calibrated.possible.len()]
        }
        _ => &scenario.inputs,
    }
}
