//! What takes long: reports, sweeps, advice. One at a time; each writes beside the scenario, as its own command would, and can be resumed.

use super::answer::Refusal;
use super::found;
use super::place::{Found, Kind, beside, free_name};
use super::search::Search;
use super::subject::{Subject, Values, put_new};
use super::work::locked;
use crate::cli::advise::write_advice;
use crate::cli::sweep::best_print;
use anyhow::{Context, anyhow};
use motefall::{Earlier, Effort, PointRecord, PrintCount, Progress, Scenario, Shard, Watch};
use motefall_run::sweep::store::Opened;
use serde_json::{Value, json};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

/// How a job stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Waiting,
    Running,
    Done,
    Stopped,
    Failed,
}

impl State {
    fn word(self) -> &'static str {
        match self {
            Self::Waiting | Self::Running => "running",
            Self::Done => "done",
            Self::Stopped => "stopped",
            Self::Failed => "failed",
        }
    }
}

struct Status {
    state: State,
    what: String,
    total: Option<u64>,
    error: Option<String>,
}

/// One job.
struct Job {
    id: u64,
    found: Found,
    /// What a report is of.
    scenario: Option<Scenario>,
    status: Mutex<Status>,
    done: AtomicU64,
    stop: AtomicBool,
}

impl Job {
    fn new(id: u64, found: Found, scenario: Option<Scenario>, state: State) -> Arc<Self> {
        let status = Mutex::new(Status { state, what: String::new(), total: None, error: None });
        Arc::new(Self { id, found, scenario, status, done: AtomicU64::new(0), stop: AtomicBool::new(false) })
    }

    fn told(&self) -> Value {
        let status = locked(&self.status);
        let Found { kind, folder, .. } = &self.found;
        let is_done = status.state == State::Done;
        json!({
            "id": self.id,
            "kind": kind.word(),
            "title": folder.file_name().unwrap_or_default().to_string_lossy(),
            "state": status.state.word(),
            "what": if status.state == State::Waiting { "waits for its turn" } else { &status.what },
            "done": self.done.load(Ordering::Relaxed),
            "total": status.total,
            "error": status.error,
            "open": is_done.then(|| format!("/result/{}/{}", self.id, kind.page())),
        })
    }

    /// Whether it was waited for; if so, it runs now.
    fn begins(&self) -> bool {
        let mut status = locked(&self.status);
        let waited = status.state == State::Waiting;
        if waited {
            status.state = State::Running;
        }
        waited
    }

    fn set(&self, state: State, error: Option<String>) {
        let mut status = locked(&self.status);
        (status.state, status.error) = (state, error);
    }
}

impl Progress for Job {
    fn begin(&self, what: &str, total: Option<u64>) {
        let mut status = locked(&self.status);
        (status.what, status.total) = (what.to_owned(), total);
        self.done.store(0, Ordering::Relaxed);
    }

    fn advance(&self, units: u64) {
        self.done.fetch_add(units, Ordering::Relaxed);
    }

    fn cancelled(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

impl Watch for Job {
    fn begin(&self, found: Opened, total: u64) {
        Progress::begin(self, "settings", Some(total));
        if let Opened::Same { points, .. } = found {
            Progress::advance(self, points);
        }
    }

    fn stored(&self, _: &PointRecord) {
        Progress::advance(self, 1);
    }

    fn cancelled(&self) -> bool {
        Progress::cancelled(self)
    }
}

/// All jobs, those of earlier times whose files are there included.
pub(super) struct Jobs {
    all: Mutex<Vec<Arc<Job>>>,
    /// Held by the one that runs.
    turn: Arc<Mutex<()>>,
}

/// Most jobs of a page.
const MOST_JOBS: usize = 200;

impl Jobs {
    /// Those whose files lie beside the scenario.
    pub(super) fn found(scenario: &Path) -> Self {
        let job = |(k, (found, is_done)): (usize, (Found, bool))| {
            Job::new(k as u64 + 1, found, None, if is_done { State::Done } else { State::Stopped })
        };
        let all = beside(scenario).into_iter().take(MOST_JOBS / 2).enumerate().map(job).collect();
        Self { all: Mutex::new(all), turn: Arc::default() }
    }

    /// All, the newest first.
    pub(super) fn list(&self) -> Value {
        json!({ "jobs": locked(&self.all).iter().rev().map(|job| job.told()).collect::<Vec<_>>() })
    }

    fn job(&self, id: u64) -> Result<Arc<Job>, Refusal> {
        locked(&self.all).iter().find(|job| job.id == id).cloned().ok_or(Refusal::Unknown)
    }

    /// Where a job's files lie.
    pub(super) fn place(&self, id: u64) -> Result<Found, Refusal> {
        Ok(self.job(id)?.found.clone())
    }

    /// Asks a job to stop.
    pub(super) fn stop(&self, id: u64) -> Result<Value, Refusal> {
        let job = self.job(id)?;
        job.stop.store(true, Ordering::Relaxed);
        let mut status = locked(&job.status);
        if status.state == State::Waiting {
            status.state = State::Stopped;
        }
        drop(status);
        Ok(job.told())
    }

    /// Asks all of them, and waits for the one that runs to store what it has.
    pub(super) fn stop_all(&self) {
        locked(&self.all).iter().for_each(|job| job.stop.store(true, Ordering::Relaxed));
        drop(locked(&self.turn));
    }

    /// Goes on with a job that was stopped.
    pub(super) fn resume(&self, subject: &Arc<Subject>, id: u64) -> Result<Value, Refusal> {
        let job = self.job(id)?;
        let state = locked(&job.status).state;
        if !matches!(state, State::Stopped | State::Failed) {
            return Err(Refusal::Bad(format!("it is {}", state.word())));
        }
        if job.found.kind == Kind::Report && job.scenario.is_none() {
            return Err(Refusal::Bad("ask for a new report".to_owned()));
        }
        job.stop.store(false, Ordering::Relaxed);
        self.start(subject, &job);
        Ok(job.told())
    }

    /// Starts a prediction of a setting, with so many prints (0: as many as the file says).
    pub(super) fn report(&self, subject: &Arc<Subject>, values: &Values, prints: u32) -> Result<Value, Refusal> {
        let mut scenario = subject.scenario(values)?;
        if prints > 0 {
            scenario.all_inputs().for_each(|inputs| inputs.prints = PrintCount::Fixed(prints));
        }
        let folder = free_name(&subject.file, Kind::Report)?;
        self.add(subject, Found { kind: Kind::Report, file: PathBuf::new(), folder }, Some(scenario))
    }

    /// Starts a search: its question is saved as a scenario beside the file.
    pub(super) fn search(&self, subject: &Arc<Subject>, search: &Search) -> Result<Value, Refusal> {
        let (values, kind) = (search.values(), search.kind());
        subject.scenario(values)?;
        let section = search.section();
        let text = subject.with(values, |values| Ok(subject.trial.written.text_to_search(values, &section)))?;
        let folder = free_name(&subject.file, kind)?;
        let file = folder.with_added_extension("toml");
        found::check(&text, &file, kind)?;
        put_new(&file, &text)?;
        self.add(subject, Found { kind, file, folder }, None)
    }

    fn add(&self, subject: &Arc<Subject>, found: Found, scenario: Option<Scenario>) -> Result<Value, Refusal> {
        let job = {
            let mut all = locked(&self.all);
            if all.len() >= MOST_JOBS {
                return Err(Refusal::Busy);
            }
            let job = Job::new(all.len() as u64 + 1, found, scenario, State::Waiting);
            all.push(Arc::clone(&job));
            job
        };
        self.start(subject, &job);
        Ok(job.told())
    }

    /// Runs a job on a thread of its own when it is its turn.
    fn start(&self, subject: &Arc<Subject>, job: &Arc<Job>) {
        job.set(State::Waiting, None);
        let (subject, job, turn) = (Arc::clone(subject), Arc::clone(job), Arc::clone(&self.turn));
        std::thread::spawn(move || {
            let _turn = locked(&turn);
            // It may have been stopped while it waited, and be waited for twice.
            if !job.begins() {
                return;
            }
            // A job that ends in any way says so.
            let ended = catch_unwind(AssertUnwindSafe(|| run(&subject, &job)));
            match ended.unwrap_or_else(|_| Err(anyhow!("the engine failed; what it said is in the terminal"))) {
                Ok(()) => job.set(State::Done, None),
                Err(_) if Progress::cancelled(&*job) => job.set(State::Stopped, None),
                Err(error) => job.set(State::Failed, Some(format!("{error:#}"))),
            }
        });
    }
}

fn run(subject: &Subject, job: &Job) -> anyhow::Result<()> {
    let Found { kind, file, folder } = &job.found;
    let given = subject.given.as_deref();
    let faults = |faults: motefall::Faults| anyhow!("{faults}");
    match kind {
        Kind::Report => {
            let scenario = job.scenario.as_ref().context("there is nothing to predict")?;
            let prediction = motefall::predict(scenario, subject.jets, job)?;
            // Stopped early, it is still a result.
            motefall::write(&prediction, folder, Earlier::Kept, None)?;
        }
        Kind::Sweep => {
            let scenario = motefall::load_sweep_calibrated(file, given).map_err(faults)?;
            let shared = scenario.shared(subject.jets);
            motefall::sweep_shard(&scenario, Shard::WHOLE, folder, &shared, job)?;
            let result = motefall::stored_sweep(&scenario, folder)?;
            let best = best_print(&scenario, &result, folder, &shared, job)?;
            motefall::write_sweep(&result, folder, best)?;
        }
        Kind::Advice => {
            let scenario = motefall::load_advise(file, given).map_err(faults)?;
            std::fs::create_dir_all(folder).with_context(|| format!("cannot make {}", folder.display()))?;
            let advice = scenario.advise(Effort::USUAL, subject.jets, Some(folder), job)?;
            write_advice(&scenario, &advice, folder, subject.jets)?;
        }
    }
    Ok(())
}
