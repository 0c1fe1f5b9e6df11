//! `frame`: one frame as a picture, and where its pixels come from.

use anyhow::{Context, Result};
use backporch_analysis::Damage;
use backporch_bench::{Bench, Overrides};
use backporch_drive::Driven;
use backporch_picture::difference::{Captions, side_by_side};
use backporch_raster::{Frame, Provenance, Tap, View};
use image::RgbImage;
use serde::Serialize;

use crate::answer::{Answer, Found};
use crate::args::{BenchArgs, FrameArgs};
use crate::files;

/// The JSON form.
#[derive(Debug, Serialize)]
struct FrameAnswer {
    board: String,
    mode: String,
    quirks: Vec<String>,
    frame: u64,
    width: u32,
    height: u32,
    verdict: &'static str,
    damaged_lines: u32,
    visible_lines: u32,
    stable: bool,
    file: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pixel: Option<Pixel>,
}

/// Provenance of a pixel.
#[derive(Debug, Serialize)]
struct Pixel {
    x: u32,
    line: u32,
    scan_line: u32,
    character_clock: u32,
    row: u32,
    row_address: u8,
    value: u8,
    address: u32,
    healthy_address: u32,
    row_crossings: u32,
    start_address: u32,
    pitch_bytes: u32,
    decided_by: Vec<(String, u32)>,
    bends: Vec<Bent>,
}

#[derive(Debug, Serialize)]
struct Bent {
    quirk: String,
    before: u32,
    after: u32,
}

/// Opens the bench of the arguments, `start` laid over its start address.
pub fn open(args: &BenchArgs, start: Option<u64>) -> Result<Bench> {
    Ok(Bench::open(&args.bench, &Overrides { start, ..args.overrides() })?)
}

/// Says what a user should know of how the bench was set up.
pub fn say_notes(bench: &Bench, answer: &mut Answer) -> Result<()> {
    for note in bench.notes() {
        answer.say(format!("note: {note}"))?;
    }
    Ok(())
}

pub fn run(args: &FrameArgs, answer: &mut Answer) -> Result<Found> {
    let bench = open(&args.bench, args.start)?;
    say_notes(&bench, answer)?;
    let mut healthy = Driven::of(&bench, bench.plain(bench.registers()))?;
    let mut faulty = Driven::of(&bench, bench.faulty(bench.registers()))?;
    let right = frame_number(&mut healthy, args.number);
    let wrong = frame_number(&mut faulty, args.number);
    if let Some(report) = faulty.trouble() {
        answer.say(format!("note: at {} the program {}", report.at, report.trouble))?;
    }
    let damage = Damage::between(&right, &wrong);
    let pixel = match args.at {
        Some((x, line)) => {
            let (width, height) = wrong.picture_size();
            let found = faulty.board().provenance(&wrong, x, line);
            let found = found
                .with_context(|| format!("--at: found {x},{line}, allowed 0..{width},0..{height} (the active area)"))?;
            Some(Pixel::new(found))
        }
        None => None,
    };
    let image = match (args.beside, args.raster) {
        (true, _) => beside(&right, &wrong, &caption(&bench), args.scale),
        (false, true) => files::image_of(&wrong.picture(View::Raster), args.scale),
        (false, false) => files::image_of(&wrong.picture(View::Picture), args.scale),
    };
    anyhow::ensure!(image.width() > 0 && image.height() > 0, "these registers show nothing: the active area is empty");
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.bench.bench, ".png"));
    if let Some(memory) = &args.memory_out {
        files::write(answer, memory, faulty.board().memory())?;
    }
    files::write_png(answer, &path, &image)?;
    if path.as_os_str() == "-" {
        return Ok(Found::Nothing);
    }
    let told = FrameAnswer {
        board: bench.adapter().name().to_string(),
        mode: bench.mode().name.clone(),
        quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
        frame: wrong.number,
        width: image.width(),
        height: image.height(),
        verdict: damage.verdict().word(),
        damaged_lines: damage.damaged_lines(),
        visible_lines: damage.visible_lines(),
        stable: !wrong.unstable,
        file: path.display().to_string(),
        pixel,
    };
    answer.give(&told, FrameAnswer::text)?;
    Ok(Found::Nothing)
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

/// The quirks of a bench in a few words.
pub fn caption(bench: &Bench) -> String {
    let names: Vec<&str> = bench.quirks().iter().map(|quirk| quirk.name()).collect();
    if names.is_empty() { "healthy".to_string() } else { names.join(", ") }
}

/// Healthy, faulty and difference in one picture.
pub fn beside(healthy: &Frame, faulty: &Frame, caption: &str, scale: u32) -> RgbImage {
    let right = files::image_of(&healthy.picture(View::Picture), scale);
    let wrong = files::image_of(&faulty.picture(View::Picture), scale);
    side_by_side(&right, &wrong, Captions { healthy: "healthy", faulty: caption })
}

impl Pixel {
    fn new(found: Provenance) -> Self {
        let bend =
            |bend: backporch_raster::AddressChange| Bent { quirk: bend.quirk, before: bend.before, after: bend.after };
        Self {
            x: found.x,
            line: found.picture_line,
            scan_line: found.scan_line,
            character_clock: found.char,
            row: found.row.0,
            row_address: found.row.1,
            value: found.value,
            address: found.address,
            healthy_address: found.plain_address,
            row_crossings: found.crossings,
            start_address: found.start,
            pitch_bytes: found.pitch,
            decided_by: found.decided_by,
            bends: found.address_changes.into_iter().map(bend).collect(),
        }
    }

    fn text(&self) -> String {
        let mut text = format!(
            "pixel {}, line {}: value {}\n  \
             scan line {}, character clock {}, row {} line {}\n  \
             fetched from {:05X}h, {} row crossing(s) after the line's first byte",
            self.x,
            self.line,
            self.value,
            self.scan_line,
            self.character_clock,
            self.row,
            self.row_address,
            self.address,
            self.row_crossings,
        );
        match self.address == self.healthy_address {
            true => text += ", as a healthy board does\n",
            false => text += &format!("; a healthy board fetches {:05X}h\n", self.healthy_address),
        }
        let decided: Vec<String> = self.decided_by.iter().map(|(name, value)| format!("{name} = {value}")).collect();
        text += &format!("  decided by {}; pitch {} bytes\n", decided.join(", "), self.pitch_bytes);
        for bend in &self.bends {
            text += &format!("  bent by {}: {:05X}h became {:05X}h\n", bend.quirk, bend.before, bend.after);
        }
        text
    }
}

impl FrameAnswer {
    fn text(&self) -> String {
        let quirks = if self.quirks.is_empty() { "healthy".to_string() } else { self.quirks.join(", ") };
        let mut text = format!(
            "{} in {}, {quirks}, frame {}: {}\n{}: {} x {}\n",
            self.board, self.mode, self.frame, self.verdict, self.file, self.width, self.height
        );
        if self.damaged_lines + self.visible_lines > 0 {
            text += &format!("{} lines damaged, {} visible\n", self.damaged_lines, self.visible_lines);
        }
        if !self.stable {
            text += "no stable signal: a monitor would show nothing\n";
        }
        if let Some(pixel) = &self.pixel {
            text += &pixel.text();
        }
        text
    }
}
