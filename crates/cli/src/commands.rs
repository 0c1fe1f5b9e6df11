//! The commands, one a module.

use anyhow::Result;
use clap::CommandFactory;

use crate::answer::{Answer, Found};
use crate::args::{Arguments, Command};

mod art;
mod boards;
mod compare;
mod demo;
mod diagnose;
mod emit;
mod frame;
mod hazards;
mod quirks;
mod record;
mod report;
mod run;
mod signal;
mod suspects;
mod sweep;
#[cfg(feature = "window")]
mod window;
mod workaround;

/// Runs the command that was asked for.
pub fn run(arguments: &Arguments, answer: &mut Answer) -> Result<Found> {
    match &arguments.command {
        Command::Demo(args) => demo::run(args, answer),
        Command::Boards(args) => boards::run(args, answer),
        Command::Quirks(args) => quirks::run(args, answer),
        Command::Frame(args) => frame::run(args, answer),
        Command::Sweep(args) => sweep::run(args, answer),
        Command::Signal(args) => signal::run(args, answer),
        #[cfg(feature = "window")]
        Command::Window(args) => window::run(args, answer),
        Command::Record(args) => record::run(args, answer),
        Command::Compare(args) => compare::run(args, answer),
        Command::Diagnose(args) => diagnose::run(args, answer),
        Command::Workaround(args) => workaround::run(args, answer),
        Command::Report(args) => report::run(args, answer),
        Command::Hazards(args) => hazards::run(args, answer),
        Command::Run(args) => run::run(args, answer),
        Command::Emit(args) => emit::run(args, answer),
        Command::Completions { shell } => {
            let mut text = Vec::new();
            clap_complete::generate(*shell, &mut Arguments::command(), "backporch", &mut text);
            answer.bytes(&text)?;
            Ok(Found::Nothing)
        }
        Command::Manual => {
            let mut text = Vec::new();
            clap_mangen::Man::new(Arguments::command()).render(&mut text)?;
            answer.bytes(&text)?;
            Ok(Found::Nothing)
        }
    }
}
