//! What drives a board: hazards, programs.

use std::path::PathBuf;

use backporch_input::Range;
use backporch_pc::{Far, Key, Model, ProcessorClock};
use clap::Args;

use super::BenchArgs;
use super::values::{clock, model, point, port, press, range};

#[derive(Debug, Args)]
pub struct HazardsArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Frames that are looked at
    #[arg(long, value_name = "NUMBER", default_value_t = 60, value_parser = clap::value_parser!(u64).range(3..=100_000))]
    pub frames: u64,
    /// Pass over what happens before this frame, while a routine sets itself up
    #[arg(long, value_name = "FRAME", default_value_t = 0)]
    pub from: u64,
    /// Start phases tried at each speed; 0 leaves the margins out
    #[arg(long, value_name = "NUMBER", default_value_t = 70, value_parser = clap::value_parser!(u32).range(..=100_000))]
    pub phases: u32,
    /// Speeds tried, in hundredths of the processor's own
    #[arg(long, value_name = "RANGE", value_parser = range, default_value = "95..=105/5")]
    pub speeds: Range,
    /// Frames counted in each of these runs
    #[arg(long, value_name = "NUMBER", default_value_t = 6, value_parser = clap::value_parser!(u64).range(1..=10_000))]
    pub frames_each: u64,
    /// Frames at the beginning of each of them that are not counted
    #[arg(long, value_name = "NUMBER", default_value_t = 2, value_parser = clap::value_parser!(u64).range(..=10_000))]
    pub settling: u64,
    /// Do not look for a moment of the write that holds
    #[arg(long)]
    pub no_advice: bool,
    /// Where the routine goes, turned to write at the advised moment
    #[arg(long, value_name = "RON", conflicts_with = "no_advice")]
    pub advised: Option<PathBuf>,
    /// Tell the budget of every built-in CPU model
    #[arg(long)]
    pub budgets: bool,
    /// Write all that reached the board, as a write trace
    #[arg(long, value_name = "CSV")]
    pub trace: Option<PathBuf>,
    /// Times of the trace in nanoseconds, not dots
    #[arg(long, requires = "trace")]
    pub nanoseconds: bool,
    /// Draw the beam's way through a frame with every write and wait
    #[arg(long, value_name = "SVG|PNG")]
    pub chart: Option<PathBuf>,
    /// The frame drawn [default: that of the first hazard]
    #[arg(long, value_name = "FRAME", requires = "chart", value_parser = clap::value_parser!(u64).range(..=100_000))]
    pub chart_frame: Option<u64>,
    /// Hold a memory image against the bench's picture: where a loader displaced it
    #[arg(long, value_name = "FILE")]
    pub image: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub struct RunArgs {
    /// The program: a .COM or .EXE file, or a bench whose routine is one
    pub program: PathBuf,
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Frames to run, unless the program ends before
    #[arg(long, value_name = "NUMBER", default_value_t = 300, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    pub frames: u64,
    /// Processor: 8088, 8086 or 80286 [default: the bench's, 8086 for a program file]
    #[arg(long, value_name = "NUMBER", value_parser = model)]
    pub processor: Option<Model>,
    /// Its clock in MHz; 4.77 is a third of the machine's crystal [default: the bench's, 8 for a program file]
    #[arg(long, value_name = "MHZ", value_parser = clock)]
    pub clock: Option<ProcessorClock>,
    /// Dots the beam is ahead when the program starts
    #[arg(long, value_name = "DOTS", default_value_t = 0, value_parser = clap::value_parser!(u64).range(..=100_000_000))]
    pub phase: u64,
    /// Press a key after so many milliseconds (again for more)
    #[arg(long = "key", value_name = "MS=KEY", value_parser = press)]
    pub keys: Vec<(u64, Key)>,
    /// The folder whose files the program may read; nothing outside it is reached
    #[arg(long, value_name = "FOLDER")]
    pub folder: Option<PathBuf>,
    /// Let it write there, too
    #[arg(long, requires = "folder")]
    pub writable: bool,
    /// The program's command line [default: the bench's]
    #[arg(long, value_name = "TEXT")]
    pub tail: Option<String>,
    /// Stop before the instruction at an address (again for more)
    #[arg(long = "break-at", value_name = "SEGMENT:OFFSET")]
    pub break_at: Vec<Far>,
    /// Stop after a write to a port (again for more)
    #[arg(long = "break-port", value_name = "PORT", value_parser = port)]
    pub break_port: Vec<u16>,
    /// Stop when the beam comes to a scan line
    #[arg(long = "break-line", value_name = "LINE")]
    pub break_line: Option<u32>,
    /// Stop at the first frame that differs from a healthy board's
    #[arg(long)]
    pub until_damaged: bool,
    /// Go back so many frames from where it stopped, to the beginning of that frame
    #[arg(long, value_name = "FRAMES", value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    pub back: Option<u64>,
    /// Which instruction made a pixel of the last frame
    #[arg(long, value_name = "X,LINE", value_parser = point)]
    pub at: Option<(u32, u32)>,
    /// List the program's mistakes of timing and order, with the instructions that made them
    #[arg(long)]
    pub hazards: bool,
    /// Write what the program did to the board, as a write trace
    #[arg(long, value_name = "CSV")]
    pub trace: Option<PathBuf>,
    /// Where the last whole frame goes; `-` for standard output [default: PROGRAM.png]
    #[arg(long, value_name = "PNG")]
    pub out: Option<PathBuf>,
    /// A folder for all frames, too; made if it is not there
    #[arg(long, value_name = "FOLDER")]
    pub every: Option<PathBuf>,
    /// Times as large, 1 to 8
    #[arg(long, value_name = "TIMES", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=8))]
    pub scale: u32,
}
