//! Measures how long prints spend in their stages.

use super::stages::{Stage, StageTimes};
use crate::Progress;
use std::time::Duration;

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
