//! Whose fault it is, and what holds against it.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::BenchArgs;
use super::values::{StartsArg, small, starts};

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
