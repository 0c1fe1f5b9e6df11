//! `backporch`: arguments in, answers out.
//!
//! This crate only glues: [`args`] turns what was typed into what is meant,
//! one module a command asks the other crates, [`output`] prints the answer as text or JSON,
//! [`files`] writes what was asked for whole or not at all.
//!
//! Exit status: 0 done and nothing found wrong; 1 done, and the check found
//! damage, hazards or no workaround; 2 unusable input or arguments; 3 the
//! machine failed us.

#![forbid(unsafe_code)]

mod args;
mod commands;
mod files;
mod output;
mod progress;
#[cfg(unix)]
mod signals;

use std::process::ExitCode;

use clap::Parser;

use crate::args::Arguments;
use crate::output::Output;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let mut output = Output::new(&arguments.general);
    #[cfg(unix)]
    if let Err(error) = signals::clean_up_when_told_to_end() {
        return output::report_error(&error.into());
    }
    let ran = commands::run(&arguments, &mut output);
    match ran.and_then(|found| output.read().map(|()| found).map_err(Into::into)) {
        Ok(found) => ExitCode::from(found.status()),
        Err(error) => output::report_error(&error),
    }
}
