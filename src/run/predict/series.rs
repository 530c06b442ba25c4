//! Prints of one setting made some at a time, and what they tell so far.

use super::{Bench, FEWEST_POSSIBLE, MORE_IN_OTHERS, OfPrint, draws, others, wanted_prints};
use crate::atlas::Atlas;
use crate::cautions::{of_figures, of_particles, of_setting};
use crate::print::MOST_KEPT;
use crate::setting::Setting;
use crate::{Progress, RunError};
use motefall_figures::over_prints::OverPrints;
use motefall_figures::{Caution, Measured};
use motefall_physics::inputs::{Inputs, PrintCount};
use motefall_physics::map::far::FarMap;
use std::ops::Range;
use std::sync::Mutex;

/// Prints of a setting: those of [`super::predict`] in their order, as many as were made so far.
///
/// Single particles are kept of no print; what touches what is known as it is there.
pub struct Series {
    inputs: Inputs,
    /// Inputs of the prints, in turn; empty: those of the setting.
    possible: Vec<Inputs>,
    made: Vec<OfPrint>,
    /// Particles of the fullest print, if they are too many to tell what touches what.
    fullest: Option<u64>,
}

/// What the prints made so far tell.
#[derive(Debug, Clone)]
pub struct Told {
    /// Figures, limits and the decision.
    pub over_prints: OverPrints,
    /// What the reader must know; not what only a whole prediction works out.
    pub cautions: Vec<Caution>,
    /// The inputs, with the spacing that each fill is printed with.
    pub inputs: Inputs,
    /// Prints made.
    pub made: u32,
    /// Prints that a prediction makes.
    pub wanted: u32,
}

/// Fewest prints that tell anything together.
const FEWEST: u32 = 2;

impl Series {
    /// No print yet; `possible` as in [`super::predict_possible`].
    pub fn new(inputs: Inputs, possible: Vec<Inputs>) -> Self {
        Self { inputs, possible, made: vec![], fullest: None }
    }

    /// Makes prints until so many are made (two at least), and tells what all of them say. Stopped by `progress`, it tells what the prints made
    /// until then say, and goes on from there when it is asked again; before two are made it is [`RunError::Cancelled`].
    pub fn up_to(&mut self, prints: u32, atlas: &Atlas<'_>, progress: &dyn Progress) -> Result<Told, RunError> {
        let Self { inputs, possible, made, fullest } = self;
        let setting = Setting::in_atlas(inputs, atlas, progress)?;
        let measurer = setting.measurer();
        let bench = Bench { setting: &setting, measurer: &measurer, possible, atlas };
        // With inputs that are possible, print 0 is shown besides.
        let first = u32::from(!possible.is_empty());
        let (from, to) = (first + made.len() as u32, first + prints.max(FEWEST));
        if from < to {
            more(bench, from..to, made, fullest, progress)?;
        }
        if (made.len() as u32) < FEWEST {
            return Err(RunError::Cancelled);
        }
        Ok(told(bench, first, made, *fullest))
    }
}

/// Makes prints of these numbers, which follow those made.
fn more(
    bench: Bench<'_>,
    prints: Range<u32>,
    made: &mut Vec<OfPrint>,
    fullest: &mut Option<u64>,
    progress: &dyn Progress,
) -> Result<(), RunError> {
    // Nobody asks where these prints' strays went.
    let far = Mutex::new(FarMap::new(bench.setting.inputs.chip));
    let most = (MOST_KEPT as f64 * MORE_IN_OTHERS) as usize;
    let new = others(bench, prints.clone(), most, &far, progress)?;
    // Where the user stopped, a later print may be there without an earlier one.
    let in_order = new.into_iter().zip(prints).take_while(|((number, _), next)| number == next);
    for ((number, print), _) in in_order {
        let most = if number == 0 { MOST_KEPT } else { most };
        if print.landed > most as u64 {
            *fullest = (*fullest).max(Some(print.landed));
        }
        made.push(print);
    }
    Ok(())
}

fn told(
    Bench { setting, measurer, possible, .. }: Bench<'_>,
    first: u32,
    prints: &[OfPrint],
    fullest: Option<u64>,
) -> Told {
    let made = prints.len() as u32;
    let mut inputs = setting.spaced_inputs();
    let mut per_print: Vec<Vec<Option<Measured>>> = prints.iter().map(|print| print.figures.clone()).collect();
    if fullest.is_some() {
        measurer.forget_joins(&mut per_print);
    }
    let numbers: Vec<u32> = (first..first + made).collect();
    let over_prints = measurer.over_several(&per_print, &draws(&inputs, &numbers));
    let mut cautions = of_setting(setting);
    cautions.extend(of_figures(&inputs, &over_prints.figures, &over_prints.limits, None));
    if fullest.is_some() {
        cautions.extend(of_particles(&inputs, 0, fullest, MOST_KEPT));
    }
    cautions.sort_by_key(|caution| std::cmp::Reverse(caution.severity()));
    let fewest = if possible.is_empty() || inputs.prints != PrintCount::Automatic { 1 } else { FEWEST_POSSIBLE };
    inputs.prints = PrintCount::Fixed(made);
    Told { over_prints, cautions, inputs, made, wanted: wanted_prints(setting).max(fewest).max(FEWEST) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::predict::predict;
    use crate::{Silent, testing};
    use motefall_physics::jet::store::FieldStore;

    /// Prints made some at a time are those of a prediction: figures, limits and decision are the same to the bit.
    #[test]
    fn prints_some_at_a_time_are_those_of_a_prediction() {
        let mut inputs = testing::inputs();
        inputs.prints = PrintCount::Fixed(5);
        let store = FieldStore::none();
        let whole = predict(&inputs, &store, &Silent).expect("it runs");
        let atlas = Atlas::new(&store);
        let mut series = Series::new(inputs, vec![]);
        let two = series.up_to(1, &atlas, &Silent).expect("it runs");
        assert_eq!((two.made, two.wanted), (2, 5));
        let told = series.up_to(5, &atlas, &Silent).expect("it runs");
        let text = |over: &OverPrints| {
            let rows = over.figures.iter().map(|row| format!("{:?} {:?} {:?}", row.kind.id, row.place, row.estimate));
            (rows.collect::<Vec<_>>(), format!("{:?} {:?}", over.limits, over.verdict))
        };
        let OverPrints { figures, limits, verdict } = told.over_prints.clone();
        let of_whole = OverPrints { figures: whole.figures, limits: whole.limits, verdict: whole.verdict };
        assert_eq!(text(&OverPrints { figures, limits, verdict }), text(&of_whole));
        assert_ne!(text(&two.over_prints), text(&of_whole));
    }
}
