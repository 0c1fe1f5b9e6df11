//! `quirks`: the library, one quirk in full, and the check of quirk files.

use std::path::PathBuf;

use anyhow::Result;
use backporch_analysis::Damage;
use backporch_bench::{Bench, Library, Overrides};
use backporch_input::Source;
use backporch_quirk::Family;
use serde::Serialize;

use crate::answer::{Answer, Found};
use crate::args::{QuirksArgs, QuirksCommand};
use crate::files;

/// A quirk family in JSON.
#[derive(Debug, Serialize)]
struct FamilyAnswer {
    name: String,
    title: String,
    cause: String,
    looks: String,
    standing: String,
    members: u64,
    does: Vec<String>,
    warnings: Vec<String>,
}

pub fn run(args: &QuirksArgs, answer: &mut Answer) -> Result<Found> {
    match (&args.check, &args.name) {
        (Some(QuirksCommand::Check { files }), _) => check(files, answer),
        (None, Some(name)) => {
            let family = Library::default().family(name)?;
            answer.give(&FamilyAnswer::new(&family), FamilyAnswer::text)?;
            act(args, name, answer)?;
            Ok(Found::Nothing)
        }
        (None, None) => {
            let families = Family::built_in_names().filter_map(Family::built_in);
            let told: Vec<FamilyAnswer> = families.map(|family| FamilyAnswer::new(&family)).collect();
            answer.give(&told, |told| told.iter().map(FamilyAnswer::line).collect())?;
            Ok(Found::Nothing)
        }
    }
}

/// Says back what each file does; a file at fault is refused in one line.
fn check(files: &[PathBuf], answer: &mut Answer) -> Result<Found> {
    let mut told = Vec::new();
    for path in files {
        told.push(FamilyAnswer::new(&Family::from_source(&Source::read(path)?)?));
    }
    answer.give(&told, |told| told.iter().map(FamilyAnswer::text).collect::<Vec<_>>().join("\n"))?;
    let warned = told.iter().any(|family| !family.warnings.is_empty());
    Ok(if warned { Found::Something } else { Found::Nothing })
}

/// Draws the quirk acting on a bench at the first start address where it shows.
fn act(args: &QuirksArgs, name: &str, answer: &mut Answer) -> Result<()> {
    let Some(path) = &args.out else {
        return Ok(());
    };
    let bench =
        Bench::open(&args.on, &Overrides { no_quirks: true, quirks: vec![name.to_string()], ..Overrides::default() })?;
    let (start, image) = first_shown(&bench);
    files::write_png(answer, path, &image)?;
    if path.as_os_str() != "-" {
        answer.say(format!("drawn on {} at start address {start}: {}", args.on, path.display()))?;
    }
    Ok(())
}

/// The first of a period of start addresses at which a bench's quirks show
/// most, and its picture, healthy beside faulty.
pub fn first_shown(bench: &Bench) -> (u32, image::RgbImage) {
    let start = bench.adapter().start_address();
    let frames = |value: u32| {
        let mut registers = bench.registers().clone();
        // Any of these few values fits a start address.
        let _ = bench.adapter().set(&mut registers, start, u64::from(value));
        let mut healthy = bench.plain(&registers);
        let mut faulty = bench.faulty(&registers);
        healthy.run_frame();
        faulty.run_frame();
        (healthy.run_frame(), faulty.run_frame())
    };
    let visible = |value: &u32| {
        let (healthy, faulty) = frames(*value);
        Damage::between(&healthy, &faulty).visible_lines()
    };
    let best = [0, 1, 7, 16, 24, 31].into_iter().map(|value| (visible(&value), value));
    let best = best.reduce(|best, next| if next.0 > best.0 { next } else { best }).map_or(0, |(_, value)| value);
    let (healthy, faulty) = frames(best);
    (best, super::frame::beside(&healthy, &faulty, &super::frame::caption(bench), 1))
}

impl FamilyAnswer {
    fn new(family: &Family) -> Self {
        Self {
            name: family.name().to_string(),
            title: family.title().to_string(),
            cause: family.cause().to_string(),
            looks: family.looks().to_string(),
            standing: family.standing().to_string(),
            members: family.count(),
            does: family.describe(),
            warnings: family.warnings(),
        }
    }

    fn line(&self) -> String {
        format!("{:26}{}\n", self.name, self.title)
    }

    fn text(&self) -> String {
        let mut text = format!(
            "{}: {}\n  cause   {}\n  looks   {}\n  known   {}\n  members {}\n",
            self.name, self.title, self.cause, self.looks, self.standing, self.members
        );
        for line in &self.does {
            text += &format!("  does    {line}\n");
        }
        for warning in &self.warnings {
            text += &format!("  warning {warning}\n");
        }
        text
    }
}
