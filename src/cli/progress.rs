//! How a run shows that it is under way: a bar on a terminal, now and then a line elsewhere, or nothing.

use super::failure::Exit;
use super::printable::printable;
use indicatif::{HumanDuration, ProgressBar, ProgressDrawTarget, ProgressStyle};
use motefall_figures::sweep::PointRecord;
use motefall_physics::inputs::SweepPlan;
use motefall_run::Progress;
use motefall_run::print::StageTimes;
use motefall_run::sweep::Watch;
use motefall_run::sweep::store::Opened;
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// A stage that takes less is not worth a line.
const WORTH_A_LINE: Duration = Duration::from_secs(1);
/// Time between lines of the same stage.
const BETWEEN_LINES: Duration = Duration::from_secs(10);

/// Set when the user asks to stop.
static STOP: AtomicBool = AtomicBool::new(false);

/// Lets Ctrl-C stop the run in an orderly way; the second one ends the program at once.
pub(super) fn listen_for_stop() -> Result<(), ctrlc::Error> {
    ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::Relaxed) {
            std::process::exit(Exit::Failed as i32);
        }
        // A terminal shows ^C first.
        let line = if std::io::stderr().is_terminal() { "\n" } else { "" };
        let _ = writeln!(std::io::stderr(), "{line}stopping; press Ctrl-C again to end at once");
    })
}

/// Whether the user asked to stop.
pub(super) fn stop_asked() -> bool {
    STOP.load(Ordering::Relaxed)
}

/// Shows progress on standard error.
pub(super) enum Reporter {
    /// A bar that moves.
    Bar(ProgressBar),
    /// Lines, for logs.
    Lines(Mutex<Lines>),
    /// Nothing.
    Quiet,
}

impl Reporter {
    /// The one that suits where standard error goes.
    pub(super) fn new(quiet: bool) -> Self {
        if quiet {
            Reporter::Quiet
        } else if std::io::stderr().is_terminal() {
            Reporter::Bar(ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr()))
        } else {
            Reporter::Lines(Mutex::new(Lines::default()))
        }
    }

    /// The run is over: clears the bar, or completes the last line.
    pub(super) fn end(&self) {
        match self {
            Reporter::Bar(bar) => bar.finish_and_clear(),
            Reporter::Lines(lines) => tell(lock(lines).end(Instant::now())),
            Reporter::Quiet => {}
        }
    }
}

impl Progress for Reporter {
    fn begin(&self, what: &str, total: Option<u64>) {
        match self {
            Reporter::Bar(bar) => {
                let style = match total {
                    Some(_) => "{msg}  {bar:30} {percent:>3} %  {elapsed}, about {eta} left",
                    None => "{spinner} {msg}  {elapsed}",
                };
                bar.set_style(ProgressStyle::with_template(style).expect("the template is a constant"));
                bar.set_message(what.to_owned());
                match total {
                    Some(total) => bar.set_length(total),
                    None => bar.unset_length(),
                }
                bar.reset();
                bar.enable_steady_tick(Duration::from_millis(120));
            }
            Reporter::Lines(lines) => tell(lock(lines).begin(what, total, Instant::now())),
            Reporter::Quiet => {}
        }
    }

    fn advance(&self, units: u64) {
        match self {
            Reporter::Bar(bar) => bar.inc(units),
            Reporter::Lines(lines) => tell(lock(lines).advance(units, Instant::now())),
            Reporter::Quiet => {}
        }
    }

    fn cancelled(&self) -> bool {
        stop_asked()
    }
}

/// A reporter with a clock: measures the stages of prints besides.
pub(super) struct Timed<'a> {
    reporter: &'a Reporter,
    began: Instant,
    times: Mutex<StageTimes>,
}

impl<'a> Timed<'a> {
    /// Nothing measured yet.
    pub(super) fn new(reporter: &'a Reporter) -> Self {
        Self { reporter, began: Instant::now(), times: Mutex::default() }
    }

    /// What was measured, by name of the stage.
    pub(super) fn stages(&self) -> Vec<(&'static str, Duration)> {
        let times = self.times.lock().unwrap_or_else(PoisonError::into_inner);
        times.each().map(|(stage, time)| (stage.name(), time)).collect()
    }
}

impl Progress for Timed<'_> {
    fn begin(&self, what: &str, total: Option<u64>) {
        self.reporter.begin(what, total);
    }

    fn advance(&self, units: u64) {
        self.reporter.advance(units);
    }

    fn cancelled(&self) -> bool {
        self.reporter.cancelled()
    }

    fn clock(&self) -> Option<Duration> {
        Some(self.began.elapsed())
    }

    fn spent(&self, times: &StageTimes) {
        self.times.lock().unwrap_or_else(PoisonError::into_inner).join(times);
    }
}

fn lock(lines: &Mutex<Lines>) -> std::sync::MutexGuard<'_, Lines> {
    // Counts stay sensible even if another thread panicked.
    lines.lock().unwrap_or_else(PoisonError::into_inner)
}

fn tell(line: Option<String>) {
    if let Some(line) = line {
        let _ = writeln!(std::io::stderr(), "{}", printable(&line, false));
    }
}

/// Decides when a line is due and what it says.
#[derive(Default)]
pub(super) struct Lines {
    stage: Option<Stage>,
}

struct Stage {
    what: String,
    total: Option<u64>,
    done: u64,
    began: Instant,
    said: Option<Instant>,
}

impl Lines {
    fn begin(&mut self, what: &str, total: Option<u64>, now: Instant) -> Option<String> {
        let line = self.end(now);
        self.stage = Some(Stage { what: what.to_owned(), total, done: 0, began: now, said: None });
        line
    }

    fn advance(&mut self, units: u64, now: Instant) -> Option<String> {
        let stage = self.stage.as_mut()?;
        stage.done += units;
        let due = match stage.said {
            None => now - stage.began >= WORTH_A_LINE,
            Some(said) => now - said >= BETWEEN_LINES,
        };
        if !due {
            return None;
        }
        stage.said = Some(now);
        let share = match stage.total {
            Some(total) if total > 0 => format!("{:.0} % after ", 100.0 * stage.done.min(total) as f64 / total as f64),
            _ => String::new(),
        };
        Some(format!("{}: {share}{}", stage.what, HumanDuration(now - stage.began)))
    }

    fn end(&mut self, now: Instant) -> Option<String> {
        let stage = self.stage.take()?;
        let took = now - stage.began;
        (took >= WORTH_A_LINE).then(|| format!("{}: took {:.1} s", stage.what, took.as_secs_f64()))
    }
}

/// Shows how a sweep gets on, on standard error.
pub(super) struct SweepReporter {
    /// A bar that moves; without it lines for a log.
    bar: Option<ProgressBar>,
    quiet: bool,
    plan: SweepPlan,
    folder: PathBuf,
    lines: Mutex<SweepLines>,
}

impl SweepReporter {
    /// The one that suits where standard error goes.
    pub(super) fn new(quiet: bool, plan: &SweepPlan, folder: &Path) -> Self {
        let shows_bar = !quiet && std::io::stderr().is_terminal();
        let bar = shows_bar.then(|| ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr()));
        Self { bar, quiet, plan: plan.clone(), folder: folder.to_owned(), lines: Mutex::default() }
    }

    /// The sweep is over.
    pub(super) fn end(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }

    fn lines(&self) -> std::sync::MutexGuard<'_, SweepLines> {
        self.lines.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn tell(&self, line: Option<String>) {
        if self.quiet {
            return;
        }
        match (&self.bar, line) {
            (Some(bar), Some(line)) => bar.println(line),
            (None, line) => tell(line),
            _ => {}
        }
    }
}

impl Watch for SweepReporter {
    fn begin(&self, found: Opened, total: u64) {
        let folder = self.folder.display();
        let (done, text) = match found {
            Opened::New => (0, None),
            Opened::Same { points, cut, damaged, leftovers } => {
                // A disk that changes what is on it is worth a word in any case.
                damaged.iter().for_each(|line| tell(Some(format!("{line}; the point is computed again"))));
                if leftovers > 0 {
                    tell(Some(format!(
                        "removed {leftovers} unfinished files in {folder}, left by a run that was ended"
                    )));
                }
                let torn = if cut > 0 { ", after cutting off an incomplete last line" } else { "" };
                (points, Some(format!("resuming in {folder}: {points} of {total} points are there{torn}")))
            }
        };
        self.tell(text);
        self.lines().begin(done, total, Instant::now());
        if let Some(bar) = &self.bar {
            let style = ProgressStyle::with_template("{bar:24} {msg}").expect("the template is a constant");
            bar.set_style(style);
            bar.set_length(total);
            bar.set_position(done);
            bar.set_message(format!("{done}/{total} points"));
            bar.enable_steady_tick(Duration::from_millis(200));
        }
    }

    fn stored(&self, record: &PointRecord) {
        let now = Instant::now();
        let mut lines = self.lines();
        lines.done += 1;
        let last = || format!("{} ({})", outcome_words(record), point_words(&self.plan, &record.values));
        if let Some(bar) = &self.bar {
            bar.set_position(lines.done);
            bar.set_message(lines.text(now, &last()));
        } else if lines.due(now) {
            let text = lines.text(now, &last());
            drop(lines);
            self.tell(Some(text));
        }
    }

    fn cancelled(&self) -> bool {
        stop_asked()
    }
}

/// Settings of a point in words: `sheath_sccm 40, speed_mm_s 2`.
pub(super) fn point_words(plan: &SweepPlan, values: &[f64]) -> String {
    let words: Vec<String> =
        plan.axes.iter().zip(values).map(|(axis, value)| format!("{} = {value}", axis.key)).collect();
    words.join(", ")
}

fn outcome_words(record: &PointRecord) -> String {
    match &record.outcome {
        Ok(stats) if stats.met_each.is_empty() => "done".to_owned(),
        Ok(stats) => format!("{:.0} % pass", 100.0 * f64::from(stats.met) / f64::from(stats.prints.max(1))),
        Err(_) => "cannot run".to_owned(),
    }
}

/// Counts the points and knows when a line is due.
#[derive(Default)]
struct SweepLines {
    done: u64,
    total: u64,
    /// Points there at the beginning, and when that was.
    began: Option<(u64, Instant)>,
    said: Option<Instant>,
}

impl SweepLines {
    fn begin(&mut self, done: u64, total: u64, now: Instant) {
        *self = Self { done, total, began: Some((done, now)), said: None };
    }

    /// The first point, then one now and then, and the last.
    fn due(&mut self, now: Instant) -> bool {
        let due = self.said.is_none_or(|said| now - said >= BETWEEN_LINES) || self.done == self.total;
        if due {
            self.said = Some(now);
        }
        due
    }

    fn text(&self, now: Instant, last: &str) -> String {
        let Self { done, total, .. } = self;
        let mut text = format!("{done}/{total} points");
        if let Some((first, began)) = self.began {
            let seconds = (now - began).as_secs_f64();
            let here = done - first;
            if here > 0 && seconds > 0.0 {
                text += &format!(", {} per minute", rate_words(60.0 * here as f64 / seconds));
                let left = seconds * (total - done) as f64 / here as f64;
                text += &match done == total {
                    true => format!(", took {}", HumanDuration(now - began)),
                    false => format!(", about {} left", HumanDuration(Duration::from_secs_f64(left))),
                };
            }
        }
        format!("{text}; last: {last}")
    }
}

fn rate_words(rate: f64) -> String {
    if rate < 10.0 { format!("{rate:.1}") } else { format!("{rate:.0}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_few_and_short_stages_say_nothing() {
        let start = Instant::now();
        let at = |seconds: f64| start + Duration::from_secs_f64(seconds);
        let mut lines = Lines::default();
        assert_eq!(lines.begin("solving", None, at(0.0)), None);
        assert_eq!(lines.begin("printing", Some(200), at(0.5)), None, "half a second is not worth a line");
        assert_eq!(lines.advance(50, at(1.0)), None);
        assert_eq!(lines.advance(50, at(2.5)), Some("printing: 50 % after 2 seconds".to_owned()));
        assert_eq!(lines.advance(50, at(8.0)), None, "too soon after the last");
        assert_eq!(lines.advance(500, at(12.5)), Some("printing: 100 % after 12 seconds".to_owned()));
        assert_eq!(lines.end(at(13.0)), Some("printing: took 12.5 s".to_owned()));
        assert_eq!(lines.end(at(14.0)), None);
    }

    #[test]
    fn a_sweep_tells_rate_and_time_left() {
        let start = Instant::now();
        let at = |seconds: f64| start + Duration::from_secs_f64(seconds);
        let mut lines = SweepLines::default();
        lines.begin(20, 50, at(0.0));
        lines.done = 30;
        assert!(lines.due(at(60.0)) && !lines.due(at(65.0)) && lines.due(at(71.0)));
        assert_eq!(
            lines.text(at(60.0), "87 % pass (a = 1)"),
            "30/50 points, 10 per minute, about 2 minutes left; last: 87 % pass (a = 1)"
        );
        lines.done = 50;
        assert!(lines.due(at(72.0)), "the last point always");
        assert!(lines.text(at(180.0), "x").contains("took 3 minutes"));
    }
}
