//! The program: reads the command line, does what it says, turns failures into a message and an exit code.

mod cli;

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments = match cli::Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version arrive here too. Nobody is left to tell if even this cannot be printed.
            let _ = error.print();
            return if error.use_stderr() { cli::Exit::BadInput.into() } else { cli::Exit::Done.into() };
        }
    };
    match cli::run(arguments) {
        Ok(exit) => exit.into(),
        Err(failure) => {
            failure.print();
            failure.exit().into()
        }
    }
}
