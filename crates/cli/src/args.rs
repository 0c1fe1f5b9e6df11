//! What was typed, where several commands share it. Options of one command stand with the command.

pub mod known;
mod need;
mod values;

use std::path::PathBuf;

use anyhow::Result;
use backporch_analysis::SweepAxis;
use backporch_bench::{Bench, Overrides};
use backporch_input::{InputError, Range};
use clap::{Args, Parser, ValueEnum};

pub use self::need::NeedArgs;
pub use self::values::*;
use crate::commands::CliCommand;

/// A software bench for raster routines on period PC video adapters.
#[derive(Debug, Parser)]
#[command(name = "backporch", version, max_term_width = 100)]
pub struct Arguments {
    #[command(flatten)]
    pub general: General,
    #[command(subcommand)]
    pub command: CliCommand,
}

/// Options of every command.
#[derive(Debug, Args)]
pub struct General {
    /// Answer for people or for programs
    #[arg(long, global = true, value_enum, default_value_t = AnswerFormat::Text)]
    pub format: AnswerFormat,
    /// Print no more than asked for
    #[arg(short, long, global = true)]
    pub quiet: bool,
    /// Name every file that was read and written
    #[arg(short, long, global = true, conflicts_with = "quiet")]
    pub verbose: bool,
    /// Write over files that this program did not make, too; inputs are never written over
    #[arg(long, global = true)]
    pub force: bool,
}

/// Form of an answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum AnswerFormat {
    Text,
    Json,
}

/// The bench and what is to be different from it.
#[derive(Debug, Args)]
pub struct BenchArgs {
    /// A bench file, or the name of a built-in bench
    #[arg(default_value = Self::USUAL, value_parser = known::bench(), hide_possible_values = true)]
    pub bench: String,
    /// Try it on another adapter
    #[arg(long, value_name = "NAME|FILE", value_parser = known::board(), hide_possible_values = true)]
    pub board: Option<String>,
    /// Another mode of the adapter
    #[arg(long, value_name = "NAME")]
    pub mode: Option<String>,
    /// Add a fault of the quirk library, or of a file (again for more)
    #[arg(long = "quirk", value_name = "NAME|FILE", value_parser = known::quirk(), hide_possible_values = true)]
    pub quirks: Vec<String>,
    /// Leave out what every board of the class does by design
    #[arg(long)]
    pub plain: bool,
    /// Leave the bench's own faults out
    #[arg(long)]
    pub no_quirks: bool,
    /// Set a register to what it should hold (again for more)
    #[arg(long = "set", value_name = "REGISTER=VALUE", value_parser = known::register(setting), hide_possible_values = true)]
    pub set: Vec<(String, u64)>,
    /// Show another picture
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// Judge by another monitor
    #[arg(long, value_name = "NAME|FILE", value_parser = known::monitor(), hide_possible_values = true)]
    pub monitor: Option<String>,
    /// Drive the board with another routine: a script, a write trace (.csv), or a program (.com, .exe)
    #[arg(long, value_name = "NAME|FILE", value_parser = known::routine(), hide_possible_values = true)]
    pub routine: Option<String>,
    /// Run a routine script or a program on another CPU model, as `calibrate` writes one
    #[arg(long, value_name = "NAME|FILE", value_parser = known::processor(), hide_possible_values = true)]
    pub cpu: Option<String>,
    /// Let the bench read a file or folder outside its own (again for more)
    #[arg(long, value_name = "PATH")]
    pub allow: Vec<PathBuf>,
}

impl BenchArgs {
    /// The bench where none is named.
    pub const USUAL: &str = "harbour-256";

    /// The same as the bench crate takes it.
    pub fn overrides(&self) -> Overrides {
        Overrides {
            board: self.board.clone(),
            mode: self.mode.clone(),
            plain: self.plain,
            no_quirks: self.no_quirks,
            quirks: self.quirks.clone(),
            set: self.set.clone(),
            picture: self.picture.clone(),
            monitor: self.monitor.clone(),
            routine: self.routine.clone(),
            cpu: self.cpu.clone(),
            allow: self.allow.clone(),
            ..Overrides::default()
        }
    }

    /// The bench as it was asked for.
    pub fn open(&self) -> Result<Bench> {
        Ok(Bench::open(&self.bench, &self.overrides())?)
    }
}

impl BenchArgs {
    /// Refuses a routine and its processor where nothing runs it.
    pub fn refuse_routine(&self, instead: &str) -> Result<(), InputError> {
        let typed = [("--routine", &self.routine), ("--cpu", &self.cpu)];
        match typed.into_iter().find_map(|(option, name)| Some((option, name.as_ref()?))) {
            Some((option, name)) => Err(InputError::new(option, format!("{name}, which would not run"), instead)),
            None => Ok(()),
        }
    }
}

/// The registers that `--over` names, with the values they step through on this bench.
pub fn steps_over(bench: &Bench, over: &[(String, Range)]) -> Result<Vec<SweepAxis>> {
    for (at, (name, _)) in over.iter().enumerate() {
        if over[..at].iter().any(|(before, _)| before == name) {
            return Err(InputError::new("--over", format!("{name} twice"), "each register once").into());
        }
    }
    let over = over.iter().map(|(name, range)| {
        let field = bench.field(name)?;
        Ok(SweepAxis::new(bench.adapter(), field, range.iter())?)
    });
    over.collect()
}
