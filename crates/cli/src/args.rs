//! What was typed.

mod drive;
mod judge;
mod keep;
mod look;
mod values;
#[cfg(feature = "window")]
mod window;

use std::path::PathBuf;

use backporch_bench::Overrides;
use clap::{Args, Parser, Subcommand, ValueEnum};

pub use self::drive::{HazardsArgs, RunArgs};
pub use self::judge::{CompareArgs, DiagnoseArgs, DirectionArg, NeedArgs, WorkaroundArgs};
pub use self::keep::{EmitArgs, EmitForm, RecordArgs, RecordForm, ReportArgs};
pub use self::look::{BoardsArgs, DemoArgs, FrameArgs, QuirksArgs, QuirksCommand, SignalArgs, SweepArgs};
pub use self::values::StartsArg;
use self::values::setting;
#[cfg(feature = "window")]
pub use self::window::WindowArgs;

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
    /// Leave out what every board of the class does by design
    #[arg(long)]
    pub plain: bool,
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
            ..Overrides::default()
        }
    }
}
