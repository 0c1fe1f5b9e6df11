//! `window`: the live window.

use std::path::PathBuf;
use std::time::Duration;

use anyhow::Result;
use backporch_answer::WindowAnswer;
use backporch_bench::Overrides;
use backporch_drive::is_lone_program;
use backporch_window::panels::Settings;
use backporch_window::{Options, Pacing, run as open};
use clap::Args;

use crate::args::{BenchArgs, size};
use crate::output::{CheckResult, Output};

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
    /// Close after a time in seconds, and print how many frames were late
    #[arg(long, value_name = "SECONDS", value_parser = clap::value_parser!(u32).range(1..))]
    pub seconds: Option<u32>,
    /// Neither use nor keep a remembered layout
    #[arg(long)]
    pub fresh: bool,
}

pub fn run(args: &WindowArgs, output: &mut Output) -> Result<CheckResult> {
    let overrides = args.bench.overrides();
    // A program by itself runs on the usual bench.
    let (bench, overrides) = if is_lone_program(&args.bench.bench) {
        (BenchArgs::USUAL.to_string(), Overrides { routine: Some(args.bench.bench.clone()), ..overrides })
    } else {
        (args.bench.bench.clone(), overrides)
    };
    let options = Options {
        bench,
        overrides,
        out: args.out.clone(),
        run: args.run,
        size: args.size,
        leave_after: args.seconds.map(|seconds| Duration::from_secs(seconds.into())),
        settings: Settings::path().filter(|_| !args.fresh),
    };
    let pacing = open(&options)?;
    if args.seconds.is_some() || output.is_json() {
        output.answer(&paced(&pacing), WindowAnswer::text)?;
    }
    Ok(CheckResult::Nothing)
}

fn paced(pacing: &Pacing) -> WindowAnswer {
    WindowAnswer {
        rate_hz: pacing.rate_hz,
        frames_due: pacing.frames.due,
        frames_late: pacing.frames.late,
        share_late: pacing.frames.share(),
        input_to_picture_ms: pacing.input_ms,
    }
}
