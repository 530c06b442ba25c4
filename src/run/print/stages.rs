//! How long prints spend in each of their stages.

use std::time::Duration;

/// A stage of making prints.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// Deviations, landing points, losses of a print; an empty canvas.
    Prepare,
    /// Sizes of droplets, and which of them come through with a particle.
    Draw,
    /// Particles in droplets.
    Carry,
    /// What is left of them at the nozzle.
    Dry,
    /// Where they land.
    Fly,
    /// Where their particles come to lie, and counts.
    Count,
    /// Maps and lists.
    Stamp,
    /// What touches what.
    Join,
    /// Figures.
    Measure,
}

impl Stage {
    /// All, in their order.
    pub(crate) const ALL: [Self; 9] = [
        Self::Prepare,
        Self::Draw,
        Self::Carry,
        Self::Dry,
        Self::Fly,
        Self::Count,
        Self::Stamp,
        Self::Join,
        Self::Measure,
    ];

    /// Its name in results.
    pub fn name(self) -> &'static str {
        match self {
            Self::Prepare => "prepare",
            Self::Draw => "draw",
            Self::Carry => "carry",
            Self::Dry => "dry",
            Self::Fly => "fly",
            Self::Count => "count",
            Self::Stamp => "stamp",
            Self::Join => "join",
            Self::Measure => "measure",
        }
    }
}

/// Time by stage, in the order of `Stage::ALL`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct StageTimes([Duration; Stage::ALL.len()]);

impl StageTimes {
    /// Adds time of a stage.
    pub(crate) fn add(&mut self, stage: Stage, time: Duration) {
        self.0[stage as usize] += time;
    }

    /// Adds times of another thread.
    pub fn join(&mut self, other: &Self) {
        self.0.iter_mut().zip(other.0).for_each(|(mine, theirs)| *mine += theirs);
    }

    /// Each stage with its time.
    pub fn each(&self) -> impl Iterator<Item = (Stage, Duration)> + '_ {
        Stage::ALL.into_iter().zip(self.0)
    }
}
