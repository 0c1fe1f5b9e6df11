//! `compare`: the same bench on several boards; who differs, where, since which frame, and whose fault it is.

use std::sync::Arc;

use anyhow::Result;
use backporch_analysis::Nature;
use backporch_analysis::compare::{Blame, Comparison, Contender, Entry, Motion, compare};
use backporch_bench::{Bench, Overrides, adapter_names};
use backporch_evidence::Impression;
use backporch_picture::difference::{Captions, side_by_side};
use backporch_raster::View;
use image::RgbImage;
use serde::Serialize;

use crate::answer::{Answer, Found};
use crate::args::CompareArgs;
use crate::{files, progress};

/// The JSON form.
#[derive(Debug, Serialize)]
pub struct CompareAnswer {
    verdict: &'static str,
    because: String,
    frames: u32,
    boards: Vec<BoardAnswer>,
    file: Option<String>,
}

#[derive(Debug, Serialize)]
struct BoardAnswer {
    label: String,
    board: String,
    quirks: Vec<String>,
    blame: &'static str,
    bad_frames: usize,
    lacks: Vec<String>,
    first: Option<FirstAnswer>,
    moments: Vec<MomentAnswer>,
}

/// The first frame that is not as meant.
#[derive(Debug, Serialize)]
struct FirstAnswer {
    frame: u32,
    lines: u32,
    line_period: Option<u32>,
    line_phase: Option<u32>,
    x_from: Option<u32>,
    x_to: Option<u32>,
    addresses_differ: bool,
    sees: String,
}

#[derive(Debug, Serialize)]
struct MomentAnswer {
    percent_of_frame: u32,
    as_meant: bool,
}

pub fn run(args: &CompareArgs, answer: &mut Answer) -> Result<Found> {
    let contenders = contenders(args)?;
    let motion = Motion { frames: args.frames, step: args.step, moment: f64::from(args.moment) / 100.0 };
    let bar = progress::bar(answer, "comparing", contenders.len() as u64);
    let compared = compare(&contenders, motion, &|| bar.inc(1));
    bar.finish_and_clear();
    let drawn = args.out.as_ref().and_then(|path| Some((path, picture(&compared)?)));
    if let Some((path, image)) = &drawn {
        files::write_png(answer, path, image)?;
    }
    let file = drawn.map(|(path, _)| path.display().to_string());
    answer.give(&CompareAnswer::new(args, &compared, file), CompareAnswer::text)?;
    Ok(if compared.blame == Blame::Nobody { Found::Nothing } else { Found::Something })
}

/// The bench as asked for, its healthy twin, and the boards to run beside it;
/// where nothing else was asked for, a healthy board of every other class.
fn contenders(args: &CompareArgs) -> Result<Vec<Contender>> {
    let asked = Bench::open(&args.bench.bench, &args.bench.overrides())?;
    let healthy = asked.with_quirks(Vec::new());
    let own = asked.adapter().name().to_string();
    let mut contenders = vec![contender(asked)];
    if !contenders[0].bench.quirks().is_empty() {
        contenders.push(contender(healthy));
    } else if args.against.is_empty() {
        for name in adapter_names().filter(|name| *name != own) {
            contenders.push(contender(Bench::open(&args.bench.bench, &elsewhere(args, Some(name), &[]))?));
        }
    }
    for against in &args.against {
        let mut parts = against.split('+').map(str::trim);
        let board = parts.next().filter(|board| !board.is_empty() && *board != "healthy" && *board != own);
        let quirks: Vec<&str> = parts.collect();
        let bench = Bench::open(&args.bench.bench, &elsewhere(args, board, &quirks))?;
        let added = contender(bench);
        if !contenders.iter().any(|known| known.label == added.label) {
            contenders.push(added);
        }
    }
    Ok(contenders)
}

/// The same overrides on another board, with other quirks.
fn elsewhere(args: &CompareArgs, board: Option<&str>, quirks: &[&str]) -> Overrides {
    let overrides = args.bench.overrides();
    Overrides {
        board: board.map(str::to_string).or_else(|| overrides.board.clone()),
        mode: if board.is_some() { None } else { overrides.mode.clone() },
        no_quirks: true,
        quirks: quirks.iter().map(|quirk| (*quirk).to_string()).collect(),
        ..overrides
    }
}

fn contender(bench: Bench) -> Contender {
    let label = format!("{}, {}", bench.adapter().name(), super::frame::caption(&bench));
    Contender { label, bench: Arc::new(bench) }
}

/// Meant, shown and difference of the first board that differs.
fn picture(compared: &Comparison) -> Option<RgbImage> {
    let entry = compared.entries.iter().find(|entry| entry.first.is_some())?;
    let first = entry.first.as_ref()?;
    let image = |frame: &backporch_raster::Frame| files::image_of(&frame.picture(View::Picture), 1);
    let captions = Captions { healthy: "meant", faulty: &entry.contender.label };
    Some(side_by_side(&image(&first.meant), &image(&first.shown), captions))
}

impl CompareAnswer {
    fn new(args: &CompareArgs, compared: &Comparison, file: Option<String>) -> Self {
        Self {
            verdict: compared.blame.word(),
            because: compared.because.clone(),
            frames: args.frames,
            boards: compared.entries.iter().map(BoardAnswer::new).collect(),
            file,
        }
    }

    fn text(&self) -> String {
        let mut text = format!("{}: {}\n", self.verdict, self.because);
        for board in &self.boards {
            text += &board.text(self.frames);
        }
        if let Some(file) = &self.file {
            text += &format!("meant, shown and difference: {file}\n");
        }
        text
    }
}

impl BoardAnswer {
    fn new(entry: &Entry) -> Self {
        let bench = &entry.contender.bench;
        let moment = |(at, as_meant): &(f64, bool)| MomentAnswer {
            percent_of_frame: (at * 100.0).round() as u32,
            as_meant: *as_meant,
        };
        Self {
            label: entry.contender.label.clone(),
            board: bench.adapter().name().to_string(),
            quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
            blame: entry.blame.word(),
            bad_frames: entry.signatures.iter().filter(|signature| !signature.is_clean()).count(),
            lacks: entry.lacks.clone(),
            first: FirstAnswer::new(entry),
            moments: entry.moments.iter().map(moment).collect(),
        }
    }

    fn text(&self, frames: u32) -> String {
        let mut text = match &self.first {
            None => format!("  {}: all {frames} frames as meant\n", self.label),
            Some(first) => format!(
                "  {}: {} of {frames} frames not as meant, first frame {} ({})\n           {}\n",
                self.label,
                self.bad_frames,
                first.frame,
                self.blame,
                first.text()
            ),
        };
        for lack in &self.lacks {
            text += &format!("           {lack}\n");
        }
        let wrong: Vec<String> = self.moments.iter().filter(|one| !one.as_meant).map(MomentAnswer::text).collect();
        if !wrong.is_empty() && wrong.len() < self.moments.len() {
            text += &format!("           not as meant when written {} down the frame\n", wrong.join(", "));
        }
        text
    }
}

impl MomentAnswer {
    fn text(&self) -> String {
        format!("{} %", self.percent_of_frame)
    }
}

impl FirstAnswer {
    fn new(entry: &Entry) -> Option<Self> {
        let first = entry.first.as_ref()?;
        let signature = &first.signature;
        let pattern = signature.lines.pattern();
        Some(Self {
            frame: first.frame,
            lines: signature.lines.count(),
            line_period: pattern.map(|pattern| pattern.period),
            line_phase: pattern.map(|pattern| pattern.phase),
            x_from: signature.x.map(|(from, _)| from),
            x_to: signature.x.map(|(_, to)| to),
            addresses_differ: signature.nature == Some(Nature::Addresses),
            sees: Impression::of(signature).words(),
        })
    }

    fn text(&self) -> String {
        let what = if self.addresses_differ {
            "fetched addresses differ"
        } else {
            "addresses are right, what is shown differs"
        };
        let columns = match (self.x_from, self.x_to) {
            (Some(from), Some(to)) => format!(", pixels {from} to {to}"),
            _ => String::new(),
        };
        format!("{} lines{columns}; {what}; {}", self.lines, self.sees)
    }
}
