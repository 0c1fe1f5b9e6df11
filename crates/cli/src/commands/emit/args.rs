//! What `emit` takes, as it is typed.

use std::path::PathBuf;

use backporch_input::Range;
use clap::{Args, ValueEnum};

use crate::args::{BenchArgs, NeedArgs, range};

#[derive(Debug, Args)]
pub struct EmitArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    #[command(flatten)]
    pub need: NeedArgs,
    /// Form of what is emitted
    #[arg(long = "as", value_name = "FORM", value_enum, default_value_t = EmitForm::C)]
    pub form: EmitForm,
    /// Take the registers of this workaround, counted from 1
    #[arg(long, value_name = "NUMBER", conflicts_with = "probe")]
    pub workaround: Option<usize>,
    /// Take this table of start addresses, counted from 1
    #[arg(long, value_name = "NUMBER", conflicts_with_all = ["workaround", "probe"])]
    pub table: Option<usize>,
    /// Take the registers of this probe of the diagnosis, counted from 1
    #[arg(long, value_name = "NUMBER", requires = "diagnosis")]
    pub probe: Option<usize>,
    /// A diagnosis, as `diagnose --format json` gives it
    #[arg(long, value_name = "JSON")]
    pub diagnosis: Option<PathBuf>,
    /// Start addresses a test program steps through [default: those of the workaround, or the bench's own]
    #[arg(long, value_name = "RANGE", value_parser = range)]
    pub over: Option<Range>,
    /// What a test session asks, as a file [default: the probes of the diagnosis, or the start addresses]
    #[arg(long, value_name = "FILE", conflicts_with_all = ["workaround", "table", "probe", "over"])]
    pub plan: Option<PathBuf>,
    /// Frames of a waveform
    #[arg(long, value_name = "NUMBER", default_value_t = 2, value_parser = clap::value_parser!(u64).range(1..=600))]
    pub frames: u64,
    /// Name of the table in C and assembly
    #[arg(long, value_name = "NAME", default_value = "scroll_registers")]
    pub name: String,
    /// Where it goes; `-` for standard output [default: standard output, BENCH.com for a program, session.com for a session, survey.com for a survey, BENCH.vcd for a waveform]
    #[arg(long, value_name = "PATH")]
    pub out: Option<PathBuf>,
}

/// Form of what is emitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum EmitForm {
    /// A C header
    C,
    /// An include for assemblers that put the destination first
    Assembly,
    /// Comma-separated values
    Csv,
    /// A write trace, to be fed back to a bench
    Trace,
    /// A flat real-mode test program with its listing beside it
    Program,
    /// A scroller by a table of start addresses, with a demonstration: a flat program in assembly, or assembled where it goes
    /// to a .com
    Routine,
    /// The same in C
    RoutineC,
    /// A test session: a program that sets one thing after another, asks what is seen, and writes the answers to a file
    Session,
    /// A survey: a program that measures its own machine without a person, in all modes of the board or the one of --mode
    Survey,
    /// A value change dump (IEEE 1364): sync, display enable, addresses, take-over and writes under the bench's routine
    Vcd,
}

impl EmitForm {
    /// Endings of files of this form.
    pub fn endings(self) -> &'static [&'static str] {
        match self {
            Self::C => &["h", "c"],
            Self::Assembly => &["inc", "asm"],
            Self::Routine => &["asm", "com"],
            Self::RoutineC => &["c"],
            Self::Csv | Self::Trace => &["csv"],
            Self::Program | Self::Session | Self::Survey => &["com"],
            Self::Vcd => &["vcd"],
        }
    }
}
