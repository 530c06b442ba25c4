//! What is said to the user: the result on standard output, remarks on standard error.

use super::failure::Failure;
use super::printable::printable;
use std::io::Write;

/// Prints to standard output. A reader that went away (`| head`) has seen enough and is no failure.
pub(crate) fn say(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(printable(text, false).as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Failure::Failed(anyhow::Error::new(error).context("cannot print the result")))
        }
        _ => Ok(()),
    }
}

/// Tells on standard error what the user should know beside the result.
pub(crate) fn remark(texts: &[String]) {
    for text in texts {
        // If standard error is closed there is no other place to tell it.
        let _ = writeln!(std::io::stderr(), "note: {}", printable(text, false));
    }
}
