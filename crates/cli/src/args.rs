//! What was typed.

use std::path::PathBuf;

use backporch_bench::Wishes;
use backporch_form::{Range, number};
use backporch_machine::{CRYSTAL_HZ, Far, Key, Model, ProcessorClock};
use clap::{Args, Parser, Subcommand, ValueEnum};

/// A software bench for raster routines on period PC video adapters.
#[derive(Debug, Parser)]
#[command(name = "backporch", version, max_term_width = 100)]
pub struct Arguments {
    #[command(flatten)]
    pub general: General,
    #[command(subcommand)]
    pub command: Command,
}

/// Options of every command.
#[derive(Debug, Args)]
pub struct General {
    /// Answer for people or for programs
    #[arg(long, global = true, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Print no more than asked for
    #[arg(short, long, global = true)]
    pub quiet: bool,
}

/// Form of an answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    Text,
    Json,
}

#[derive(Debug, Subcommand)]
pub enum Command {
    /// Run the whole story on built-in data
    Demo(DemoArgs),
    /// List the adapter profiles, or show one in full
    Boards(BoardsArgs),
    /// List the quirk library, show one quirk in full, or check quirk files
    Quirks(QuirksArgs),
    /// Draw one frame
    Frame(FrameArgs),
    /// Step registers through ranges, a verdict a step
    Sweep(SweepArgs),
    /// Line and frame rate, porches, sync, and what the monitor says
    Signal(SignalArgs),
    /// Record a run or a sweep as APNG, GIF or a folder of PNG frames
    Record(RecordArgs),
    /// Run a bench on several boards and say who differs, where, and whose fault it is
    Compare(CompareArgs),
    /// Rank the faults that may be behind what was seen, and name the experiments worth making next
    Diagnose(DiagnoseArgs),
    /// Register settings that hold against the bench's quirks or a diagnosis
    Workaround(WorkaroundArgs),
    /// Write one self-contained HTML page: sweep, boards, signal, registers, and the bench to do it again
    Report(ReportArgs),
    /// Run the bench's routine and list its mistakes of timing and order, how often they strike, and the cure
    Hazards(HazardsArgs),
    /// Run a real-mode program against the bench's board
    Run(RunArgs),
    /// Hand register settings back to the real machine
    Emit(EmitArgs),
    /// Open the live window
    #[cfg(feature = "window")]
    Window(WindowArgs),
    /// Print shell completions
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Print the manual page
    Manual,
}

/// The bench and what is to be different from it.
#[derive(Debug, Args)]
pub struct BenchArgs {
    /// A bench file, or the name of a built-in bench
    #[arg(default_value = Self::USUAL)]
    pub bench: String,
    /// Try it on another adapter
    #[arg(long, value_name = "NAME|FILE")]
    pub board: Option<String>,
    /// Another mode of the adapter
    #[arg(long, value_name = "NAME")]
    pub mode: Option<String>,
    /// Add a quirk (again for more)
    #[arg(long = "quirk", value_name = "NAME|FILE")]
    pub quirks: Vec<String>,
    /// Leave the bench's own quirks out
    #[arg(long)]
    pub no_quirks: bool,
    /// Set a register to what it should hold (again for more)
    #[arg(long = "set", value_name = "REGISTER=VALUE", value_parser = setting)]
    pub set: Vec<(String, u64)>,
    /// Show another picture
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// Judge by another monitor
    #[arg(long, value_name = "NAME|FILE")]
    pub monitor: Option<String>,
    /// Drive the board with another routine: a script, a write trace (.csv), or a program (.com, .exe)
    #[arg(long, value_name = "NAME|FILE")]
    pub routine: Option<String>,
    /// Run a routine script on another CPU model
    #[arg(long, value_name = "NAME|FILE")]
    pub cpu: Option<String>,
}

impl BenchArgs {
    /// The bench where none is named.
    pub const USUAL: &str = "harbour-256";

    /// The same as the bench crate takes it.
    pub fn wishes(&self) -> Wishes {
        Wishes {
            board: self.board.clone(),
            mode: self.mode.clone(),
            no_quirks: self.no_quirks,
            quirks: self.quirks.clone(),
            set: self.set.clone(),
            picture: self.picture.clone(),
            monitor: self.monitor.clone(),
            routine: self.routine.clone(),
            cpu: self.cpu.clone(),
        }
    }
}

#[derive(Debug, Args)]
pub struct DemoArgs {
    /// Folder for the results; made if it is not there
    #[arg(long, value_name = "FOLDER", default_value = "backporch-demo")]
    pub out: PathBuf,
}

#[derive(Debug, Args)]
pub struct BoardsArgs {
    /// The adapter to show in full: a name, or the path of a profile
    pub name: Option<String>,
}

#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct QuirksArgs {
    /// The quirk to show in full: a name, or the path of a file
    pub name: Option<String>,
    /// Where to draw what it does, healthy beside faulty
    #[arg(long, value_name = "PNG", requires = "name")]
    pub out: Option<PathBuf>,
    /// The bench it is drawn on
    #[arg(long, value_name = "BENCH", default_value = "harbour-256")]
    pub on: String,
    #[command(subcommand)]
    pub check: Option<QuirksCommand>,
}

#[derive(Debug, Subcommand)]
pub enum QuirksCommand {
    /// Check quirk files and say back in plain words what they do
    Check {
        /// The files
        #[arg(required = true)]
        files: Vec<PathBuf>,
    },
}

#[derive(Debug, Args)]
pub struct FrameArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Start address, as the register holds it
    #[arg(long, value_name = "VALUE", value_parser = value)]
    pub start: Option<u64>,
    /// Number of the frame, the first being 0; a bench's routine runs up to it
    #[arg(long, visible_alias = "frame", value_name = "NUMBER", default_value_t = 0, value_parser = clap::value_parser!(u32).range(..=1_000_000))]
    pub number: u32,
    /// The whole raster with border, blanking and sync made visible
    #[arg(long)]
    pub raster: bool,
    /// Healthy, faulty and difference side by side
    #[arg(long, conflicts_with = "raster")]
    pub beside: bool,
    /// Times as large, 1 to 8
    #[arg(long, value_name = "TIMES", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=8))]
    pub scale: u32,
    /// Where the picture goes; `-` for standard output [default: BENCH.png]
    #[arg(long, value_name = "PNG")]
    pub out: Option<PathBuf>,
    /// Where a pixel comes from
    #[arg(long, value_name = "X,LINE", value_parser = point)]
    pub at: Option<(u32, u32)>,
    /// Write video memory as a raw image, too
    #[arg(long, value_name = "FILE")]
    pub memory_out: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub struct SweepArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Register and range (twice for two registers)
    #[arg(long, value_name = "REGISTER=RANGE", value_parser = ranging, default_value = "start_address=0..64")]
    pub over: Vec<(String, Range)>,
    /// Frames a step is shown before it is judged
    #[arg(long, value_name = "FRAMES", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub hold: u32,
    /// Where the contact sheet goes; none is drawn if left out
    #[arg(long, value_name = "PNG")]
    pub out: Option<PathBuf>,
}

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

#[derive(Debug, Args)]
pub struct SignalArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
}

#[cfg(feature = "window")]
#[derive(Debug, Args)]
pub struct WindowArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Let frames run at once
    #[arg(long)]
    pub run: bool,
    /// Folder for pictures, recordings, benches and sightings
    #[arg(long, value_name = "FOLDER", default_value = ".")]
    pub out: PathBuf,
    /// Size of the window in pixels, in place of the remembered one
    #[arg(long, value_name = "WIDTHxHEIGHT", value_parser = size)]
    pub size: Option<(u32, u32)>,
    /// Close by itself after so many seconds, and say how many frames were late
    #[arg(long, value_name = "SECONDS", value_parser = clap::value_parser!(u32).range(1..))]
    pub seconds: Option<u32>,
    /// Neither use nor keep a remembered layout
    #[arg(long)]
    pub fresh: bool,
}

#[cfg(feature = "window")]
fn size(text: &str) -> Result<(u32, u32), String> {
    let allowed = || format!("found {text}, allowed WIDTHxHEIGHT, each 320 to 16384");
    let (width, height) = text.split_once('x').ok_or_else(allowed)?;
    let side = |text: &str| text.parse().ok().filter(|side| (320..=16384).contains(side)).ok_or_else(allowed);
    Ok((side(width)?, side(height)?))
}

#[derive(Debug, Args)]
pub struct CompareArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// A board to run beside it (again for more): `healthy`, an adapter, either with quirks after it
    #[arg(long, value_name = "BOARD[+QUIRK…]")]
    pub against: Vec<String>,
    /// Frames shown
    #[arg(long, value_name = "NUMBER", default_value_t = 8, value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub frames: u32,
    /// Start address units by which the picture moves each frame; 0 holds it still
    #[arg(long, value_name = "UNITS", default_value_t = 1, allow_negative_numbers = true)]
    pub step: i64,
    /// When in the frame the registers are written, in hundredths of it
    #[arg(long, value_name = "PERCENT", default_value_t = 25, value_parser = clap::value_parser!(u32).range(0..=99))]
    pub moment: u32,
    /// Where the first difference is drawn: what was meant, what was shown, and where they differ
    #[arg(long, value_name = "PNG")]
    pub out: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub struct DiagnoseArgs {
    /// A sightings file, or the name of built-in sightings
    #[arg(default_value = "harbour-sweep")]
    pub sightings: String,
    /// A family of your own beside the library's (again for more)
    #[arg(long = "quirk", value_name = "FILE")]
    pub quirks: Vec<PathBuf>,
    /// Share of sightings that are wrong, in place of the file's
    #[arg(long, value_name = "SHARE")]
    pub observer_errors: Option<f64>,
    /// Suspects told in text
    #[arg(long, value_name = "NUMBER", default_value_t = 6)]
    pub most: usize,
    /// Probes named
    #[arg(long, value_name = "NUMBER", default_value_t = 3)]
    pub probes: usize,
}

impl DiagnoseArgs {
    /// As usual, of these sightings.
    pub fn of(sightings: &str) -> Self {
        Self { sightings: sightings.to_string(), quirks: Vec::new(), observer_errors: None, most: 6, probes: 3 }
    }
}

#[derive(Debug, Args)]
pub struct WorkaroundArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    #[command(flatten)]
    pub need: NeedArgs,
    /// Suspects and their probabilities, as `diagnose --format json` gives them
    #[arg(long, value_name = "JSON")]
    pub diagnosis: Option<PathBuf>,
    /// Candidates told in text
    #[arg(long, value_name = "NUMBER", default_value_t = 8)]
    pub most: usize,
    /// Where to draw where art should be plain, under the bench's own settings
    #[arg(long, value_name = "PNG")]
    pub art: Option<PathBuf>,
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

/// What the routine needs: a file, or one option for each of its fields.
#[derive(Debug, Args)]
pub struct NeedArgs {
    /// A file that says what the routine needs; options below go before it
    #[arg(long, value_name = "FILE")]
    pub need: Option<PathBuf>,
    /// Which way the picture scrolls
    #[arg(long, value_enum)]
    pub direction: Option<DirectionArg>,
    /// Pixels a horizontal step moves the picture
    #[arg(long, value_name = "PIXELS", value_parser = small)]
    pub step: Option<u32>,
    /// Picture lines a vertical step moves it
    #[arg(long, value_name = "LINES", value_parser = small)]
    pub step_lines: Option<u32>,
    /// Start addresses it shows: `endless`, or a range as the register holds them
    #[arg(long, value_name = "RANGE", value_parser = starts)]
    pub starts: Option<StartsArg>,
    /// Let the range of start addresses begin anywhere
    #[arg(long)]
    pub free_origin: bool,
    /// Least pixels across
    #[arg(long, value_name = "PIXELS", value_parser = small)]
    pub least_width: Option<u32>,
    /// Least picture lines
    #[arg(long, value_name = "LINES", value_parser = small)]
    pub least_height: Option<u32>,
    /// A register that may change (again for more) [default: all that matter]
    #[arg(long, value_name = "REGISTER")]
    pub may_change: Vec<String>,
    /// Bytes of video memory the routine keeps for itself
    #[arg(long, value_name = "BYTES", value_parser = small)]
    pub keep_free: Option<u32>,
    /// List settings that the monitor refuses, too
    #[arg(long)]
    pub out_of_margin: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum DirectionArg {
    Horizontal,
    Vertical,
    Both,
}

#[derive(Clone, Debug)]
pub enum StartsArg {
    Endless,
    Range(u32, u32),
}

fn range(text: &str) -> Result<Range, String> {
    text.trim().parse::<Range>().map_err(|error| error.to_string())
}

fn small(text: &str) -> Result<u32, String> {
    let number = value(text)?;
    u32::try_from(number).map_err(|_| format!("found {number}, allowed 0..={}", u32::MAX))
}

fn starts(text: &str) -> Result<StartsArg, String> {
    if text.trim() == "endless" {
        return Ok(StartsArg::Endless);
    }
    let allowed = || format!("found {text}, allowed endless, FROM..TO or FROM..=TO");
    let range = text.trim().parse::<Range>().map_err(|_| allowed())?;
    match (range.iter().next(), range.iter().next_back()) {
        (Some(from), Some(to)) if to <= 0xFF_FFFF => Ok(StartsArg::Range(from as u32, to as u32)),
        _ => Err(allowed()),
    }
}

fn value(text: &str) -> Result<u64, String> {
    number(text).map_err(|error| error.to_string())
}

fn slowness(text: &str) -> Result<f64, String> {
    let slow = text.parse::<f64>().ok().filter(|slow| (0.01..=1000.0).contains(slow));
    slow.ok_or_else(|| format!("found {text}, allowed 0.01 to 1000"))
}

fn named(text: &str) -> Result<(&str, &str), String> {
    text.split_once('=').ok_or_else(|| format!("found {text}, allowed REGISTER=…"))
}

fn setting(text: &str) -> Result<(String, u64), String> {
    let (name, text) = named(text)?;
    Ok((name.trim().to_string(), value(text.trim())?))
}

fn ranging(text: &str) -> Result<(String, Range), String> {
    let (name, text) = named(text)?;
    let range = text.trim().parse::<Range>().map_err(|error| error.to_string())?;
    Ok((name.trim().to_string(), range))
}

fn point(text: &str) -> Result<(u32, u32), String> {
    let allowed = || format!("found {text}, allowed X,LINE");
    let (x, line) = text.split_once(',').ok_or_else(allowed)?;
    let part = |text: &str| text.trim().parse::<u32>().map_err(|_| allowed());
    Ok((part(x)?, part(line)?))
}

fn model(text: &str) -> Result<Model, String> {
    Model::named(text).ok_or_else(|| format!("found {text}, allowed {}", Model::ALL.map(Model::name).join(", ")))
}

/// A clock in MHz with up to six decimals, exactly.
fn clock(text: &str) -> Result<ProcessorClock, String> {
    let allowed = || format!("found {text}, allowed 0.1 to 100, in MHz");
    if text == "4.77" {
        return ProcessorClock::new(CRYSTAL_HZ, 3).ok_or_else(allowed);
    }
    let (whole, part) = text.split_once('.').unwrap_or((text, "0"));
    if part.len() > 6 || part.is_empty() {
        return Err(allowed());
    }
    let digits = |text: &str| text.parse::<u64>().ok().filter(|_| text.bytes().all(|byte| byte.is_ascii_digit()));
    let hertz = digits(whole).zip(digits(&format!("{part:0<6}")));
    let hertz = hertz.and_then(|(whole, part)| whole.checked_mul(1_000_000)?.checked_add(part));
    let hertz = hertz.filter(|hertz| (100_000..=100_000_000).contains(hertz)).ok_or_else(allowed)?;
    ProcessorClock::new(hertz, 1).ok_or_else(allowed)
}

fn press(text: &str) -> Result<(u64, Key), String> {
    let (time, key) = text.split_once('=').ok_or_else(|| format!("found {text}, allowed MILLISECONDS=KEY"))?;
    let time = value(time.trim())?;
    match time <= 86_400_000 {
        true => Ok((time, Key::named(key.trim()).map_err(|error| error.to_string())?)),
        false => Err(format!("found {time} ms, allowed 0..=86400000")),
    }
}

fn port(text: &str) -> Result<u16, String> {
    let number = value(text)?;
    u16::try_from(number).map_err(|_| format!("found {number}, allowed 0..=65535"))
}
