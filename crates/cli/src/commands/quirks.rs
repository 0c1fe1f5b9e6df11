//! `quirks`: the library, one quirk in full, and the check of quirk files.

use std::path::{Path, PathBuf};

use anyhow::Result;
use backporch_analysis::Damage;
use backporch_answer::{QuirkAnswer, QuirksAnswer};
use backporch_bench::{Bench, Overrides};
use backporch_input::Source;
use backporch_quirk::Family;
use clap::{Args, Subcommand};

use crate::args::known;
use crate::files;
use crate::output::{CheckResult, Output};

#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct QuirksArgs {
    /// The quirk to show in full: a name, or the path of a file
    #[arg(value_parser = known::quirk(), hide_possible_values = true)]
    pub name: Option<String>,
    /// Where to draw what it does, beside the plain board
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
    /// Check quirk files and print in plain words what they do
    Check {
        /// The files
        #[arg(required = true)]
        files: Vec<PathBuf>,
    },
}

pub fn run(args: &QuirksArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--out", args.out.as_deref(), &["png"])?;
    match (&args.check, &args.name) {
        (Some(QuirksCommand::Check { files }), _) => check(files, output),
        (None, Some(name)) => {
            let family = Family::open(name, Path::new(""))?;
            output.answer(&QuirkAnswer::new(&family), QuirkAnswer::text)?;
            draw(args, name, output)?;
            Ok(CheckResult::Nothing)
        }
        (None, None) => {
            let families = Family::built_in_names().filter_map(Family::built_in);
            let quirks = families.map(|family| QuirkAnswer::new(&family)).collect();
            output.answer(&QuirksAnswer { quirks }, |answer| answer.quirks.iter().map(QuirkAnswer::line).collect())?;
            Ok(CheckResult::Nothing)
        }
    }
}

/// Prints what each file does; a file at fault is refused in one line.
fn check(files: &[PathBuf], output: &mut Output) -> Result<CheckResult> {
    let quirks = files.iter().map(|path| Ok(QuirkAnswer::new(&Family::from_source(&Source::read(path)?)?)));
    let answer = QuirksAnswer { quirks: quirks.collect::<Result<_>>()? };
    let text = |answer: &QuirksAnswer| answer.quirks.iter().map(QuirkAnswer::text).collect::<Vec<_>>().join("\n");
    output.answer(&answer, text)?;
    let warned = answer.quirks.iter().any(|family| !family.warnings.is_empty());
    Ok(if warned { CheckResult::Something } else { CheckResult::Nothing })
}

/// Draws the quirk acting on a bench at the first start address where it shows.
fn draw(args: &QuirksArgs, name: &str, output: &mut Output) -> Result<()> {
    let Some(path) = &args.out else {
        return Ok(());
    };
    let bench =
        Bench::open(&args.on, &Overrides { no_quirks: true, quirks: vec![name.to_string()], ..Overrides::default() })?;
    let (start, image) = first_shown(&bench);
    files::write_png(output, path, &image)?;
    if path.as_os_str() != "-" {
        output.line(format!("drawn on {} at start address {start}: {}", args.on, path.display()))?;
    }
    Ok(())
}

/// The first of a period of start addresses at which a bench's quirks show
/// most, and its picture, beside the plain board.
pub fn first_shown(bench: &Bench) -> (u32, image::RgbImage) {
    let start = bench.adapter().start_address();
    let frames = |value: u32| {
        let mut registers = bench.registers().clone();
        // Any of these few values fits a start address.
        let _ = bench.adapter().set(&mut registers, start, u64::from(value));
        let mut plain = bench.plain(&registers);
        let mut faulty = bench.faulty(&registers);
        plain.run_frame();
        faulty.run_frame();
        (plain.run_frame(), faulty.run_frame())
    };
    let visible = |value: &u32| {
        let (plain, faulty) = frames(*value);
        Damage::between(&plain, &faulty).visible_lines()
    };
    let best = [0, 1, 7, 16, 24, 31].into_iter().map(|value| (visible(&value), value));
    let best = best.reduce(|best, next| if next.0 > best.0 { next } else { best }).map_or(0, |(_, value)| value);
    let (plain, faulty) = frames(best);
    (best, super::frame::beside(&plain, &faulty, &super::frame::caption(bench), 1))
}
