//! A sweep: the points of a plan, run and stored one by one so that nothing is lost when it is stopped.
//!
//! ```text
//! plan -> design (which points) -> point (its prints) -> store (one line a point, in order) -> SweepResult
//! ```
//!
//! A few points are under way at a time, so that no core idles while one of them works out its setting; the prints of a point are shared out
//! over the cores as well. Points are stored in the order of the design whichever is done first. Which threads there are, and how often
//! the sweep was stopped and resumed, shows nowhere in the store.

mod case;
pub mod design;
pub mod gather;
pub mod point;
pub mod store;

pub use case::Case;

use crate::{Progress, RunError, streams};
use design::Points;
use motefall_figures::sweep::{PointRecord, SweepResult};
use motefall_physics::inputs::{Chance, Inputs, SweepPlan};
use point::{Effort, Shared, run_point};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use store::{Header, Opened, Shard, Store, StoreError, point_line};

/// Points that may be done before an earlier one is, per point under way: bounds what a kill can lose.
const AHEAD: u64 = 4;
/// Time between two looks at whether the user wants to stop.
const LOOK: Duration = Duration::from_millis(50);

/// The case at values of the axes, or why there is none.
pub(crate) type CaseAt<'a> = Box<dyn Fn(&[f64]) -> Result<Case, String> + Sync + 'a>;

/// What is swept.
pub struct Sweep<'a> {
    /// The scenario without the values of any axis.
    pub nominal: &'a Inputs,
    /// Which settings vary.
    pub plan: &'a SweepPlan,
    /// What decides the results, to recognise the same sweep by.
    pub identity: Value,
    /// The case at a point, or why there is none.
    pub case: CaseAt<'a>,
}

/// How a sweep reports and is told to stop.
pub trait Watch: Sync {
    /// The sweep begins, with so many points stored already, of `total` in this shard.
    fn begin(&self, found: Opened, total: u64);
    /// A point is stored.
    fn stored(&self, record: &PointRecord);
    /// Whether the user wants to stop.
    fn cancelled(&self) -> bool;
}

impl Watch for crate::Silent {
    fn begin(&self, _: Opened, _: u64) {}
    fn stored(&self, _: &PointRecord) {}
    fn cancelled(&self) -> bool {
        false
    }
}

/// Why a sweep did not reach its end. What is stored stays, and the same sweep goes on from there.
#[derive(Debug, thiserror::Error)]
pub enum SweepError {
    /// The design cannot be.
    #[error("{0}")]
    Design(String),
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The user stopped it.
    #[error("stopped with {stored} of {total} points stored; run the same command again to go on from there")]
    Stopped {
        /// Points stored.
        stored: u64,
        /// Points of this shard.
        total: u64,
    },
}

impl Sweep<'_> {
    /// Header of the store of a shard.
    fn header(&self, points: u64, shard: Shard) -> Header {
        let nominal = self.nominal;
        let result = SweepResult {
            name: nominal.name.clone(),
            note: nominal.note.clone(),
            seed: nominal.seed,
            resolution: Some(nominal.map.resolution),
            plan: self.plan.clone(),
            limits: nominal.acceptance.limits.clone(),
            places: point::places(nominal),
            points: Vec::new(),
        };
        Header::new(&result, points, shard, self.identity.clone())
    }

    /// The case at a point with the seed that it gets.
    pub fn case_at(&self, number: u64, values: &[f64]) -> Result<Case, String> {
        let mut case = (self.case)(values)?;
        if self.plan.chance == Chance::Own {
            case.reseed(|seed| streams::point_seed(seed, number));
        }
        Ok(case)
    }

    /// Runs a point. `None` if the user wants to stop; a point that cannot run says why.
    fn point(&self, number: u64, values: Vec<f64>, shared: &Shared, progress: &dyn Progress) -> Option<PointRecord> {
        let effort = Effort { prints: self.plan.prints, wanted_share: self.plan.wanted_share };
        let outcome = match self.case_at(number, &values) {
            Err(reason) => Err(reason),
            Ok(case) => match run_point(&case, effort, shared, progress) {
                Ok(stats) => Ok(stats),
                Err(RunError::Cancelled) => return None,
                Err(error) => Err(error.to_string()),
            },
        };
        Some(PointRecord { point: number, values, outcome })
    }
}

/// Runs the points of a shard that are not stored yet. Gives the number of points of the shard.
///
/// `who` tells others which process holds the store.
pub fn run(
    sweep: &Sweep,
    shard: Shard,
    folder: &Path,
    who: &str,
    shared: &Shared,
    watch: &dyn Watch,
) -> Result<u64, SweepError> {
    let points = Points::new(sweep.plan, sweep.nominal.seed).map_err(SweepError::Design)?;
    let (mut store, found) = Store::open(folder, &sweep.header(points.count(), shard), who)?;
    let total = shard.count(points.count());
    watch.begin(found, total);
    let missing = store.missing().to_vec();
    let count = missing.len() as u64;
    // One more than cores: a core whose point is between rounds finds work in another.
    let runners = (rayon::current_num_threads() as u64 + 1).min(count);
    let queue = Queue::new(0, count, AHEAD * runners);
    let (done, results) = mpsc::channel();
    let written = std::thread::scope(|scope| {
        for _ in 0..runners {
            let (done, points, queue, shared, missing) = (done.clone(), &points, &queue, shared, &missing);
            scope.spawn(move || {
                // A panic is a fault of the program: the others must not wait for this point.
                let _stop = StopOnPanic(queue);
                let progress = Quiet { watch, queue };
                while let Some(place) = queue.take() {
                    let number = missing[place as usize];
                    let record = sweep.point(number, points.at(number), shared, &progress);
                    let Some(record) = record else { return };
                    if done.send((place, record)).is_err() {
                        return;
                    }
                }
            });
        }
        drop(done);
        let written = write_in_order(&mut store, &results, &queue, watch);
        queue.stop();
        written
    });
    written?;
    if store.stored() < total {
        return Err(SweepError::Stopped { stored: store.stored(), total });
    }
    store.finish()?;
    Ok(total)
}

/// Stores points in order as they come in, until all runners are gone.
fn write_in_order(
    store: &mut Store,
    results: &mpsc::Receiver<(u64, PointRecord)>,
    queue: &Queue,
    watch: &dyn Watch,
) -> Result<(), StoreError> {
    let mut waiting = BTreeMap::new();
    let mut written = 0;
    loop {
        match results.recv_timeout(LOOK) {
            Ok((place, record)) => {
                waiting.insert(place, record);
                waiting.extend(results.try_iter());
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return Ok(()),
        }
        if watch.cancelled() {
            queue.stop();
        }
        let mut ready = Vec::new();
        while let Some(record) = waiting.remove(&(written + ready.len() as u64)) {
            ready.push(record);
        }
        if !ready.is_empty() {
            let lines: Vec<Vec<u8>> = ready.iter().map(point_line).collect();
            store.append(&lines)?;
            written += ready.len() as u64;
            queue.written(written);
            ready.iter().for_each(|record| watch.stored(record));
        }
    }
}

/// Which point is next.
struct Queue {
    state: Mutex<QueueState>,
    changed: Condvar,
    total: u64,
    ahead: u64,
}

struct QueueState {
    next: u64,
    written: u64,
    stopped: bool,
}

impl Queue {
    fn new(next: u64, total: u64, ahead: u64) -> Self {
        Self {
            state: Mutex::new(QueueState { next, written: next, stopped: false }),
            changed: Condvar::new(),
            total,
            ahead,
        }
    }

    fn lock(&self) -> MutexGuard<'_, QueueState> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The next point; waits while too many are done and not written. `None` at the end.
    fn take(&self) -> Option<u64> {
        let mut state = self.lock();
        loop {
            if state.stopped || state.next >= self.total {
                return None;
            }
            if state.next < state.written + self.ahead {
                state.next += 1;
                return Some(state.next - 1);
            }
            state = self.changed.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
    }

    fn written(&self, points: u64) {
        self.lock().written = points;
        self.changed.notify_all();
    }

    fn stop(&self) {
        self.lock().stopped = true;
        self.changed.notify_all();
    }
}

struct StopOnPanic<'a>(&'a Queue);

impl Drop for StopOnPanic<'_> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.0.stop();
        }
    }
}

/// Lets a point be stopped, by the user or because it could not be stored; its stages are too short to tell of.
struct Quiet<'a> {
    watch: &'a dyn Watch,
    queue: &'a Queue,
}

impl Progress for Quiet<'_> {
    fn begin(&self, _: &str, _: Option<u64>) {}
    fn advance(&self, _: u64) {}
    fn cancelled(&self) -> bool {
        self.watch.cancelled() || self.queue.lock().stopped
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_handed_out_in_order_and_not_too_far_ahead() {
        let queue = Queue::new(2, 9, 3);
        assert_eq!((0..3).map(|_| queue.take()).collect::<Vec<_>>(), [Some(2), Some(3), Some(4)]);
        std::thread::scope(|scope| {
            let waiting = scope.spawn(|| queue.take());
            std::thread::sleep(Duration::from_millis(20));
            assert!(!waiting.is_finished(), "points 2 to 4 are not written yet");
            queue.written(3);
            assert_eq!(waiting.join().expect("no panic"), Some(5));
        });
        queue.written(9);
        assert_eq!((0..4).map(|_| queue.take()).collect::<Vec<_>>(), [Some(6), Some(7), Some(8), None]);
        queue.stop();
        assert_eq!(queue.take(), None);
    }
}
