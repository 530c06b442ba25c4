//! How long prints spend in each of their stages.

use crate::Progress;
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

/// Measures the stages of one thread, if whoever asked for the prints has a clock: the engine has none. It tells what it measured when it
/// goes.
pub struct Stopwatch<'a> {
    progress: &'a dyn Progress,
    last: Option<Duration>,
    times: StageTimes,
}

impl<'a> Stopwatch<'a> {
    /// Starts now.
    pub(crate) fn new(progress: &'a dyn Progress) -> Self {
        Self { progress, last: progress.clock(), times: StageTimes::default() }
    }

    /// What passed since the last call went into a stage.
    pub(crate) fn lap(&mut self, stage: Stage) {
        if let Some(last) = self.last
            && let Some(now) = self.progress.clock()
        {
            self.times.add(stage, now.saturating_sub(last));
            self.last = Some(now);
        }
    }
}

impl Drop for Stopwatch<'_> {
    fn drop(&mut self) {
        if self.last.is_some() {
            self.progress.spent(&self.times);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    /// A clock that ticks whenever it is read.
    #[derive(Default)]
    struct Ticks(Mutex<(u64, StageTimes)>);

    impl Progress for Ticks {
        fn begin(&self, _: &str, _: Option<u64>) {}
        fn advance(&self, _: u64) {}
        fn cancelled(&self) -> bool {
            false
        }
        fn clock(&self) -> Option<Duration> {
            let mut state = self.0.lock().expect("nobody panicked");
            state.0 += 1;
            Some(Duration::from_secs(state.0))
        }
        fn spent(&self, times: &StageTimes) {
            self.0.lock().expect("nobody panicked").1.join(times);
        }
    }

    #[test]
    fn each_stage_gets_its_time() {
        assert!(Stage::ALL.iter().enumerate().all(|(k, stage)| *stage as usize == k));
        let ticks = Ticks::default();
        for _ in 0..2 {
            let mut watch = Stopwatch::new(&ticks);
            watch.lap(Stage::Draw);
            watch.lap(Stage::Stamp);
            watch.lap(Stage::Draw);
        }
        let times = ticks.0.lock().expect("nobody panicked").1;
        let seconds: Vec<u64> = times.each().map(|(_, time)| time.as_secs()).collect();
        assert_eq!(seconds, [0, 4, 0, 0, 0, 0, 2, 0, 0]);
    }
}
