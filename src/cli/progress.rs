//! How a run shows that it is under way: a bar on a terminal, now and then a line elsewhere, or nothing.

use indicatif::{HumanDuration, ProgressBar, ProgressDrawTarget, ProgressStyle};
use motefall::run::Progress;
use std::io::{IsTerminal, Write};
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
pub fn listen_for_stop() -> Result<(), ctrlc::Error> {
    ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::Relaxed) {
            std::process::exit(super::Exit::Failed as i32);
        }
        // A terminal shows ^C first.
        let line = if std::io::stderr().is_terminal() { "\n" } else { "" };
        let _ = writeln!(std::io::stderr(), "{line}stopping; Ctrl-C again ends at once");
    })
}

/// Whether the user asked to stop.
pub fn stop_asked() -> bool {
    STOP.load(Ordering::Relaxed)
}

/// Shows progress on standard error.
pub enum Reporter {
    /// A bar that moves.
    Bar(ProgressBar),
    /// Lines, for logs.
    Lines(Mutex<Lines>),
    /// Nothing.
    Quiet,
}

impl Reporter {
    /// The one that suits where standard error goes.
    pub fn new(quiet: bool) -> Self {
        if quiet {
            Reporter::Quiet
        } else if std::io::stderr().is_terminal() {
            Reporter::Bar(ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr()))
        } else {
            Reporter::Lines(Mutex::new(Lines::default()))
        }
    }

    /// The run is over: clears the bar, or completes the last line.
    pub fn end(&self) {
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

fn lock(lines: &Mutex<Lines>) -> std::sync::MutexGuard<'_, Lines> {
    // Counts stay sensible even if another thread panicked.
    lines.lock().unwrap_or_else(PoisonError::into_inner)
}

fn tell(line: Option<String>) {
    if let Some(line) = line {
        let _ = writeln!(std::io::stderr(), "{line}");
    }
}

/// Decides when a line is due and what it says.
#[derive(Default)]
pub struct Lines {
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
}
