//! What is kept and taken back: pictures, pages, tables, programs.

use std::path::PathBuf;

use backporch_input::Range;
use clap::{Args, ValueEnum};

use super::BenchArgs;
use super::judge::NeedArgs;
use super::values::{range, ranging, slowness};

#[derive(Debug, Args)]
pub struct RecordArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Step a register through a range (twice for two registers)
    #[arg(long, value_name = "REGISTER=RANGE", value_parser = ranging)]
    pub over: Vec<(String, Range)>,
    /// Frames a step lasts
    #[arg(long, value_name = "FRAMES", default_value_t = 1, requires = "over", value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub hold: u32,
    /// Frames of a run, where no register is stepped; under the bench's routine, where it has one
    #[arg(long, value_name = "NUMBER", default_value_t = 300, conflicts_with = "over", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub frames: u32,
    /// Times as slow as the board
    #[arg(long, value_name = "TIMES", default_value_t = 1.0, value_parser = slowness)]
    pub slow: f64,
    /// Form of the recording [default: by the ending of --out; a name without one is a folder of PNG frames]
    #[arg(long = "as", value_name = "FORM", value_enum)]
    pub form: Option<RecordForm>,
    /// Times as wide, 1 to 8; height follows the aspect of the screen
    #[arg(long, value_name = "TIMES", default_value_t = 2, value_parser = clap::value_parser!(u32).range(1..=8))]
    pub scale: u32,
    /// Leave pixels square
    #[arg(long)]
    pub square: bool,
    /// A strip below the picture: step, registers, verdict
    #[arg(long)]
    pub caption: bool,
    /// Do not begin again after the last frame
    #[arg(long)]
    pub once: bool,
    /// Where the recording goes; `-` for standard output [default: BENCH.apng]
    #[arg(long, value_name = "PATH")]
    pub out: Option<PathBuf>,
}

/// Form of a recording.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum RecordForm {
    /// Every frame, all colours, true time
    Apng,
    /// 256 colours a frame; time in hundredths of a second, at most 50 frames a second
    Gif,
    /// A folder of PNG frames and a table of their times
    Png,
}

#[derive(Debug, Args)]
pub struct ReportArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Register and range (twice for two registers)
    #[arg(long, value_name = "REGISTER=RANGE", value_parser = ranging, default_value = "start_address=0..64")]
    pub over: Vec<(String, Range)>,
    /// Frames a step is shown before it is judged
    #[arg(long, value_name = "FRAMES", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub hold: u32,
    /// Put suspects and probes on the page: the JSON answer of `diagnose`
    #[arg(long, value_name = "JSON", conflicts_with = "sightings")]
    pub diagnosis: Option<PathBuf>,
    /// The same from a sightings file, or built-in sightings, diagnosed on the way
    #[arg(long, value_name = "NAME|FILE")]
    pub sightings: Option<String>,
    /// Put these hazards on the page, in place of those of the bench's own routine: the JSON answer of `hazards`
    #[arg(long, value_name = "JSON")]
    pub hazards: Option<PathBuf>,
    /// Leave out the search for settings that hold
    #[arg(long)]
    pub no_workarounds: bool,
    /// What stands at the head of the page [default: the bench's title]
    #[arg(long, value_name = "TEXT")]
    pub title: Option<String>,
    /// Where the page goes; `-` for standard output [default: BENCH.html]
    #[arg(long, value_name = "HTML")]
    pub out: Option<PathBuf>,
}

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
    /// Take the registers of this probe of the diagnosis, counted from 1
    #[arg(long, value_name = "NUMBER", requires = "diagnosis")]
    pub probe: Option<usize>,
    /// A diagnosis, as `diagnose --format json` gives it
    #[arg(long, value_name = "JSON")]
    pub diagnosis: Option<PathBuf>,
    /// Start addresses a test program steps through [default: those of the workaround, or the bench's own]
    #[arg(long, value_name = "RANGE", value_parser = range)]
    pub over: Option<Range>,
    /// Frames of a waveform
    #[arg(long, value_name = "NUMBER", default_value_t = 2, value_parser = clap::value_parser!(u64).range(1..=600))]
    pub frames: u64,
    /// Name of the table in C and assembly
    #[arg(long, value_name = "NAME", default_value = "scroll_registers")]
    pub name: String,
    /// Where it goes; `-` for standard output [default: standard output, BENCH.com for a program, BENCH.vcd for a waveform]
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
    /// A value change dump (IEEE 1364): sync, display enable, addresses, take-over and writes under the bench's routine
    Vcd,
}
