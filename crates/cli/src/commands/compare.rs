//! `compare`: the same bench on several boards; who differs, where, since which frame, and whose fault it is.

use std::path::PathBuf;
use std::sync::Arc;

use anyhow::Result;
use backporch_adapter::ADAPTERS;
use backporch_analysis::compare::{Blame, Comparison, Contender, Motion, compare};
use backporch_answer::CompareAnswer;
use backporch_bench::{Bench, Overrides};
use backporch_drive::compare_driven;
use backporch_input::InputError;
use backporch_picture::difference::{Captions, side_by_side};
use backporch_raster::View;
use clap::Args;
use image::RgbImage;

use crate::args::BenchArgs;
use crate::output::{CheckResult, Output};
use crate::{files, progress};

#[derive(Debug, Args)]
pub struct CompareArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// A board to run beside it (again for more): `by-design` (of the same class without faults), `plain` (without what the class does by design, either), or an adapter; each with quirks after it
    #[arg(long, value_name = "BOARD[+QUIRK…]")]
    pub against: Vec<String>,
    /// Frames shown
    #[arg(long, value_name = "NUMBER", default_value_t = 8, value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub frames: u32,
    /// Start address units by which the picture moves each frame; 0 holds it still [default: 1]
    #[arg(long, value_name = "UNITS", allow_negative_numbers = true)]
    pub step: Option<i64>,
    /// When in the frame the registers are written, in hundredths of it [default: 25]
    #[arg(long, value_name = "PERCENT", value_parser = clap::value_parser!(u32).range(0..=99))]
    pub moment: Option<u32>,
    /// Dots from one byte of the start address to the next [default: 0]
    #[arg(long, value_name = "DOTS", value_parser = clap::value_parser!(u64).range(0..=1_000_000))]
    pub apart: Option<u64>,
    /// Where the first difference is drawn: what was meant, what was shown, and where they differ
    #[arg(long, value_name = "PNG")]
    pub out: Option<PathBuf>,
}

pub fn run(args: &CompareArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--out", args.out.as_deref(), &["png"])?;
    let contenders = contenders(args)?;
    let bar = progress::bar(output, "comparing", contenders.len() as u64);
    let done = || bar.inc(1);
    let compared = match contenders[0].bench.routine() {
        Some(routine) => {
            args.refuse_motion(routine)?;
            compare_driven(&contenders, args.frames, &done)?
        }
        None => compare(&contenders, args.motion(), &done),
    };
    bar.finish_and_clear();
    let drawn = args.out.as_ref().and_then(|path| Some((path, picture(&compared)?)));
    if let Some((path, image)) = &drawn {
        files::write_png(output, path, image)?;
    }
    let file = drawn.map(|(path, _)| path.display().to_string());
    output.answer(&CompareAnswer::new(&compared, args.frames, file), CompareAnswer::text)?;
    Ok(if compared.blame == Blame::None { CheckResult::Nothing } else { CheckResult::Something })
}

impl CompareArgs {
    /// What every board is made to do where no routine drives it.
    fn motion(&self) -> Motion {
        let usual = Motion::default();
        Motion {
            frames: self.frames,
            step: self.step.unwrap_or(usual.step),
            moment: self.moment.map_or(usual.moment, |percent| f64::from(percent) / 100.0),
            apart: self.apart.unwrap_or(usual.apart),
        }
    }

    /// A routine writes the registers when it does.
    fn refuse_motion(&self, routine: &str) -> Result<(), InputError> {
        let given =
            [("--step", self.step.is_some()), ("--moment", self.moment.is_some()), ("--apart", self.apart.is_some())];
        match given.into_iter().find(|(_, given)| *given) {
            Some((option, _)) => {
                let found = format!("a bench whose routine, {routine}, writes the registers itself");
                Err(InputError::new(option, found, "a bench without a routine"))
            }
            None => Ok(()),
        }
    }
}

/// The bench as asked for, the same without its faults, and the boards to run beside it;
/// where nothing else was asked for, one of every other class.
fn contenders(args: &CompareArgs) -> Result<Vec<Contender>> {
    let asked = args.bench.open()?;
    let without_faults = asked.with_quirks(Vec::new());
    let own = asked.adapter().name().to_string();
    let mut contenders = vec![contender(asked)];
    if !contenders[0].bench.quirks().is_empty() {
        contenders.push(contender(without_faults));
    } else if args.against.is_empty() {
        // Cards of one class show the same unless a routine runs on them.
        let others = match contenders[0].bench.routine() {
            Some(_) => ADAPTERS.names().filter(|name| *name != own).collect(),
            None => contenders[0].bench.adapter().other_classes(),
        };
        for name in others {
            contenders.push(contender(Bench::open(&args.bench.bench, &elsewhere(args, Some(name), &[]))?));
        }
    }
    for against in &args.against {
        let mut parts = against.split('+').map(str::trim);
        let named = parts.next().unwrap_or_default();
        let board = Some(named).filter(|board| !["", "by-design", "plain", &own].contains(board));
        let quirks: Vec<&str> = parts.collect();
        let mut overrides = elsewhere(args, board, &quirks);
        overrides.plain |= named == "plain";
        let bench = Bench::open(&args.bench.bench, &overrides)?;
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
    let captions = Captions { right: "meant", wrong: &entry.contender.label };
    Some(side_by_side(&image(&first.meant), &image(&first.shown), captions))
}
