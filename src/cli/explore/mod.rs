//! The command `explore`: a page to try settings on, over the same engine.
//!
//! ```text
//! server (connections) -> guard (who may ask)
//!                      -> answers (what is asked) -> live (questions about a setting)       -> session (what is known)
//!                                                 -> jobs (reports, sweeps, advice), found  -> subject (the scenario)
//! ```
//!
//! The page (`page/`) asks, and shows what it is told; it computes no figure. A question about a setting holds the numbers that differ from
//! the file; a question that a newer one has overtaken is stopped.

mod answer;
mod answers;
mod found;
mod guard;
mod jobs;
mod live;
mod page;
mod place;
mod search;
mod server;
mod session;
mod subject;
mod work;

use super::asked::{Computing, ScenarioFile};
use super::failure::{Exit, Failure, OrFail};
use super::files::is_there;
use super::predict::{fields, set_threads};
use super::progress::{listen_for_stop, stop_asked};
use super::say::say;
use anyhow::Context;
use clap::Args;
use session::Session;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::Arc;
use subject::Subject;

/// Try settings on a page in the browser: turn a dial, see the deposit
///
/// Opens a page for this computer alone. It shows the expected deposit of the scenario, every
/// number of which can be turned; prints are made beside it. What was found can be saved as a
/// scenario beside the file, with its comments. Nothing else is changed. Ctrl-C ends it.
#[derive(Debug, Args)]
#[command(
    verbatim_doc_comment,
    after_long_help = "Examples:\n  motefall explore my-print.toml\n  motefall explore my-print.toml --calibration calibration/calibration.toml\n  \
    motefall explore my-print.toml --no-open         only says the address"
)]
pub(super) struct Explore {
    #[command(flatten)]
    scenario: ScenarioFile,
    /// Take what test lines taught of your bench: the calibration.toml that `motefall calibrate` wrote
    #[arg(long, value_name = "CALIBRATION")]
    calibration: Option<PathBuf>,
    /// Port on this computer (default: one that is free)
    #[arg(long, value_name = "PORT", default_value_t = 0, hide_default_value = true)]
    port: u16,
    /// Do not open the browser, only say the address
    #[arg(long)]
    no_open: bool,
    #[command(flatten)]
    computing: Computing,
}

impl Explore {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let file = &self.scenario.file;
        is_there(file)?;
        let trial = motefall::load_trial(file, self.calibration.as_deref()).map_err(Failure::Faults)?;
        // What a calibration has to say of this scenario shows before the page does.
        trial.scenario(&[]).map_err(anyhow::Error::msg).or_bad_input()?;
        set_threads(self.computing.threads)?;
        listen_for_stop().context("cannot listen for Ctrl-C").or_failed()?;
        // The program ends with the page, so that nobody needs the store back.
        let jets = Box::leak(Box::new(fields(self.computing.no_cache)));
        let session = Arc::new(Session::new(Subject::new(file, self.calibration, trial, jets)));

        let wanted = SocketAddr::from((Ipv4Addr::LOCALHOST, self.port));
        let listener = TcpListener::bind(wanted)
            .with_context(|| {
                format!("cannot listen at port {}; name another with --port, or leave that out", self.port)
            })
            .or_bad_input()?;
        let port = listener.local_addr().context("the page has no address").or_failed()?.port();
        let token = guard::new_token().context("cannot draw the page's secret").or_failed()?;
        let address = format!("http://127.0.0.1:{port}/?token={token}");
        say(&format!("{} is open at\n  {address}\nCtrl-C ends it.\n", file.display()))?;
        if !self.no_open {
            // Where there is no browser, the address was said.
            drop(open::that_detached(&address));
        }
        let guard = guard::Guard::new(port, token);
        server::serve(listener, guard, session.clone(), stop_asked).context("the page cannot be served").or_failed()?;
        session.jobs.stop_all();
        Ok(Exit::Done)
    }
}
