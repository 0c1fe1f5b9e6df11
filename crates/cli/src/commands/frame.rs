//! `frame`: one frame as a picture, and where its pixels come from.

use std::path::PathBuf;

use anyhow::{Context, Result};
use backporch_analysis::Damage;
use backporch_answer::FrameAnswer;
use backporch_bench::{Bench, Overrides};
use backporch_drive::Driven;
use backporch_picture::difference::{Captions, side_by_side};
use backporch_raster::{Frame, Tap, View};
use clap::Args;
use image::RgbImage;

use crate::args::{BenchArgs, point, value};
use crate::files::{self, OutputFiles};
use crate::output::{CheckResult, Output};

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
    /// The plain board, the board as it is, and their difference side by side
    #[arg(long, conflicts_with = "raster")]
    pub beside: bool,
    /// Times as large, 1 to 8
    #[arg(long, value_name = "TIMES", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=8))]
    pub scale: u32,
    /// Where the picture goes; `-` for standard output [default: BENCH.png; none with --at alone]
    #[arg(long, value_name = "PNG")]
    pub out: Option<PathBuf>,
    /// Where a pixel comes from
    #[arg(long, value_name = "X,LINE", value_parser = point)]
    pub at: Option<(u32, u32)>,
    /// Write video memory as a raw image, too
    #[arg(long, value_name = "FILE")]
    pub memory_out: Option<PathBuf>,
}

pub fn run(args: &FrameArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--out", args.out.as_deref(), &["png"])?;
    let overrides = Overrides { start: args.start, ..args.bench.overrides() };
    let bench = Bench::open(&args.bench.bench, &overrides)?;
    output.notes(&bench)?;
    let mut plain = Driven::of(&bench, bench.plain(bench.registers()))?;
    let mut driven = Driven::of(&bench, bench.faulty(bench.registers()))?;
    let meant = frame_number(&mut plain, args.number);
    let frame = frame_number(&mut driven, args.number);
    if let Some(report) = driven.trouble() {
        output.line(format!("note: at {} the program {}", report.at, report.trouble))?;
    }
    let damage = Damage::between(&meant, &frame);
    let pixel = match args.at {
        Some((x, line)) => {
            let (width, height) = frame.picture_size();
            let found = driven.board().provenance(&frame, x, line);
            let found = found
                .with_context(|| format!("--at: found {x},{line}, allowed 0..{width},0..{height} (the active area)"))?;
            Some(found.into())
        }
        None => None,
    };
    let image = if args.beside {
        beside(&meant, &frame, &caption(&bench), args.scale)
    } else {
        files::image_of(&frame.picture(if args.raster { View::Raster } else { View::Picture }), args.scale)
    };
    anyhow::ensure!(image.width() > 0 && image.height() > 0, "these registers show nothing: the active area is empty");
    // Who only asks where a pixel comes from gets an answer, not a file.
    let asked = args.out.is_none() && args.at.is_some();
    let path = args.out.clone().or_else(|| (!asked).then(|| files::beside(&args.bench.bench, ".png")));
    let mut written = OutputFiles::default();
    if let Some(memory) = &args.memory_out {
        written.add(memory, driven.board().memory());
    }
    if let Some(path) = &path {
        written.add_png(path, &image)?;
    }
    written.write(output)?;
    let streams = |path: &PathBuf| path.as_os_str() == "-";
    if path.iter().chain(&args.memory_out).any(streams) {
        return Ok(CheckResult::Nothing);
    }
    let answer = FrameAnswer {
        board: bench.adapter().name().to_string(),
        mode: bench.mode().name.clone(),
        by_design: bench.layers().design().iter().map(|one| one.name.clone()).collect(),
        quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
        frame: frame.number,
        width: image.width(),
        height: image.height(),
        verdict: damage.verdict().into(),
        damaged_lines: damage.damaged_lines(),
        visible_lines: damage.visible_lines(),
        stable: !frame.unstable,
        file: path.map(|path| path.display().to_string()),
        pixel,
    };
    output.answer(&answer, FrameAnswer::text)?;
    Ok(CheckResult::Nothing)
}

/// Runs to the frame of that number and gives it.
fn frame_number<T: Tap>(driven: &mut Driven<T>, number: u32) -> Frame {
    let mut frame = driven.next_frame();
    for _ in 0..number {
        driven.recycle(frame);
        frame = driven.next_frame();
    }
    frame
}

/// What acts on a bench's board, in a few words: its faults, and whether its class's design is left out.
pub fn caption(bench: &Bench) -> String {
    let designed = bench.adapter().profile().by_design.iter().any(|entry| entry.does.is_some());
    let left_out = designed && bench.layers().design().is_empty();
    let mut words: Vec<&str> = left_out.then_some("plain").into_iter().collect();
    words.extend(bench.quirks().iter().map(|quirk| quirk.name()));
    if words.is_empty() { "no faults".to_string() } else { words.join(", ") }
}

/// The plain board's frame, another's, and their difference in one picture.
pub fn beside(plain: &Frame, frame: &Frame, caption: &str, scale: u32) -> RgbImage {
    let right = files::image_of(&plain.picture(View::Picture), scale);
    let wrong = files::image_of(&frame.picture(View::Picture), scale);
    side_by_side(&right, &wrong, Captions { right: "plain", wrong: caption })
}
