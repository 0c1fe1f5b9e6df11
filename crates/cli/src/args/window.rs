//! The live window.

use std::path::PathBuf;

use clap::Args;

use super::BenchArgs;
use super::values::size;

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
