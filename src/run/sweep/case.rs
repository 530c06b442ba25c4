//! What is printed at a point.

use motefall_figures::calibration::Used;
use motefall_physics::inputs::Inputs;

/// What is printed at a setting.
#[derive(Debug, Clone)]
pub struct Case {
    /// Its inputs.
    pub inputs: Inputs,
    /// Inputs of its prints, in turn, where something is unknown of the bench; empty: those of the setting.
    pub possible: Vec<Inputs>,
    /// What is to be said of the calibration that they come from.
    pub used: Option<Used>,
}

impl Case {
    /// The same with other chance.
    pub(crate) fn reseed(&mut self, seed: impl Fn(u64) -> u64) {
        self.possible.iter_mut().chain([&mut self.inputs]).for_each(|inputs| inputs.seed = seed(inputs.seed));
    }

    /// Number of the first print: where something is unknown, print 0 is that of the setting itself, as in a prediction.
    pub(crate) fn first_print(&self) -> u32 {
        u32::from(!self.possible.is_empty())
    }

    /// Inputs of a print by its number.
    pub(crate) fn of_print(&self, print: u32) -> &Inputs {
        match self.possible.len() {
            0 => &self.inputs,
            n => &self.possible[(print - self.first_print()) as usize % n],
        }
    }
}

impl From<Inputs> for Case {
    fn from(inputs: Inputs) -> Self {
        Self { inputs, possible: vec![], used: None }
    }
}
