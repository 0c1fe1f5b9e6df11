//! `window`: the live window.

use std::time::Duration;

use anyhow::Result;
use backporch_bench::Overrides;
use backporch_drive::is_lone_program;
use backporch_window::panels::Settings;
use backporch_window::{Options, Pacing, run as open};
use serde::Serialize;

use crate::answer::{Answer, Found};
use crate::args::{BenchArgs, WindowArgs};

/// The JSON form: how frames were paced while the window was open.
#[derive(Debug, Serialize)]
struct WindowAnswer {
    rate_hz: f64,
    frames_due: u32,
    frames_late: u32,
    share_late: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    input_to_picture_ms: Option<f64>,
}

pub fn run(args: &WindowArgs, answer: &mut Answer) -> Result<Found> {
    let overrides = args.bench.overrides();
    // A program by itself runs on the usual bench.
    let (bench, overrides) = match is_lone_program(&args.bench.bench) {
        true => (BenchArgs::USUAL.to_string(), Overrides { routine: Some(args.bench.bench.clone()), ..overrides }),
        false => (args.bench.bench.clone(), overrides),
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
    if args.seconds.is_some() || answer.is_json() {
        answer.give(&WindowAnswer::new(&pacing), WindowAnswer::text)?;
    }
    Ok(Found::Nothing)
}

impl WindowAnswer {
    fn new(pacing: &Pacing) -> Self {
        Self {
            rate_hz: pacing.rate_hz,
            frames_due: pacing.frames.due,
            frames_late: pacing.frames.late,
            share_late: pacing.frames.share(),
            input_to_picture_ms: pacing.input_ms,
        }
    }

    fn text(&self) -> String {
        let mut text = format!(
            "{} frames due at {:.2} Hz, {} late ({:.1} %)\n",
            self.frames_due,
            self.rate_hz,
            self.frames_late,
            self.share_late * 100.0
        );
        if let Some(input) = self.input_to_picture_ms {
            text += &format!("a key's picture came after {input:.1} ms, in the middle of all\n");
        }
        text
    }
}
