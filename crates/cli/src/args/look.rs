//! Looking: boards, quirks, frames, sweeps, signals.

use std::path::PathBuf;

use backporch_input::Range;
use clap::{Args, Subcommand};

use super::BenchArgs;
use super::values::{point, ranging, value};

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
pub struct SignalArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
}
