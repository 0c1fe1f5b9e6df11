//! `record`: a run or a sweep as APNG, GIF or a folder of PNG frames.
//!
//! Frames are drawn on one thread and encoded on another, with a few of them on the way between: however long
//! the recording, it takes no more memory.

use std::path::{Path, PathBuf};
use std::sync::mpsc::sync_channel;
use std::time::Duration;

use anyhow::{Result, bail};
use backporch_analysis::{SweepAxis, steps};
use backporch_answer::{RecordAnswer, RecordingAnswer};
use backporch_drive::Driver;
use backporch_input::Range;
use backporch_picture::record::{Opening, RecordingSummary};
use clap::{Args, ValueEnum};

use self::film::{Film, Play, Projection, Shot};
use self::sink::{Sink, When};
use crate::args::{BenchArgs, known, ranging, slowness, steps_over};
use crate::output::{CheckResult, Output};
use crate::{files, progress};

mod film;
mod sink;

#[derive(Debug, Args)]
pub struct RecordArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Step a register through a range (twice for two registers)
    #[arg(long, value_name = "REGISTER=RANGE", value_parser = known::register(ranging), hide_possible_values = true)]
    pub over: Vec<(String, Range)>,
    /// Frames a step lasts
    #[arg(long, value_name = "FRAMES", default_value_t = 1, requires = "over", value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub hold: u32,
    /// Frames of a run, where no register is stepped; under the bench's routine, where it has one
    #[arg(long, value_name = "NUMBER", default_value_t = 300, conflicts_with = "over", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub frames: u32,
    /// Times as slow as the board
    #[arg(long, value_name = "TIMES", default_value_t = 1.0, value_parser = slowness)]
    pub slow: f64,
    /// Form of the recording [default: by the ending of --out; a name without one is a folder of PNG frames]
    #[arg(long = "as", value_name = "FORM", value_enum)]
    pub form: Option<RecordForm>,
    /// Times as wide, 1 to 8; height follows the aspect of the screen
    #[arg(long, value_name = "TIMES", default_value_t = 2, value_parser = clap::value_parser!(u32).range(1..=8))]
    pub scale: u32,
    /// Leave pixels square
    #[arg(long)]
    pub square: bool,
    /// A strip below the picture: step, registers, verdict
    #[arg(long)]
    pub caption: bool,
    /// Do not begin again after the last frame
    #[arg(long)]
    pub once: bool,
    /// Where the recording goes; `-` for standard output [default: BENCH.apng]
    #[arg(long, value_name = "PATH")]
    pub out: Option<PathBuf>,
}

/// Form of a recording.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum RecordForm {
    /// Every frame, all colours, true time
    Apng,
    /// 256 colours a frame; time in hundredths of a second, at most 50 frames a second
    Gif,
    /// A folder of PNG frames and a table of their times
    Png,
}

/// Frames on the way from the board to the file.
const UNDER_WAY: usize = 4;

/// What the frames came to.
#[derive(Debug, Default)]
struct Tally {
    /// Times as slow as the board.
    slow: f64,
    damaged: u32,
    /// Time of the board.
    seconds: f64,
}

pub fn run(args: &RecordArgs, output: &mut Output) -> Result<CheckResult> {
    if !args.over.is_empty() {
        args.bench.refuse_routine("no --over: a sweep sets the registers itself")?;
    }
    let bench = args.bench.open()?;
    output.notes(&bench)?;
    let over = steps_over(&bench, &args.over)?;
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.bench.bench, ".apng"));
    let form = form_of(args.form, &path)?;
    files::expect_ending("--out", Some(&path), form.endings())?;
    let driver = if over.is_empty() { Driver::of(&bench)? } else { None };
    let film = Film { bench: &bench, driver, play: play(args, &over)?, look: Projection::new(args) };
    let size = film.size()?;
    let opening = Opening { width: size.0, height: size.1, frames: film.frames(), again: !args.once };
    let mut tally = Tally { slow: args.slow, ..Tally::default() };
    let written: RecordingSummary =
        sink::fill(&path, (form, output.overwrite()), opening, |sink| record(&film, size, sink, &mut tally, output))?;
    if path.as_os_str() == "-" {
        return Ok(CheckResult::Nothing);
    }
    output.wrote(&path)?;
    let answer = RecordAnswer {
        board: bench.adapter().name().to_string(),
        quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
        form: form.into(),
        file: path.display().to_string(),
        frames: written.frames,
        shown: written.shown,
        seconds: written.lasts.as_secs_f64(),
        board_seconds: tally.seconds,
        slow: args.slow,
        width: size.0,
        height: size.1,
        colours_lost: written.colours_lost,
        damaged_frames: tally.damaged,
    };
    output.answer(&answer, RecordAnswer::text)?;
    Ok(if tally.damaged > 0 { CheckResult::Something } else { CheckResult::Nothing })
}

fn play<'a>(args: &RecordArgs, over: &'a [SweepAxis]) -> Result<Play<'a>> {
    if over.is_empty() {
        return Ok(Play::Run { frames: args.frames });
    }
    let steps = steps(over)?;
    if steps.len() as u64 * u64::from(args.hold) > 1_000_000 {
        bail!("found {} steps of {} frames, allowed 1,000,000 frames", steps.len(), args.hold);
    }
    Ok(Play::Sweep { over, steps, hold: args.hold })
}

/// The form asked for, or the one that the ending of the path says.
fn form_of(asked: Option<RecordForm>, path: &Path) -> Result<RecordForm> {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    let form = match (asked, ending.as_deref()) {
        (Some(form), _) => form,
        (None, Some("gif")) => RecordForm::Gif,
        (None, Some("apng" | "png")) => RecordForm::Apng,
        (None, None) if path.as_os_str() == "-" => RecordForm::Apng,
        (None, None) => RecordForm::Png,
        (None, Some(other)) => bail!("--out: found .{other}, allowed .apng, .png, .gif, or a folder; or say --as FORM"),
    };
    if form == RecordForm::Png && path.as_os_str() == "-" {
        bail!("--out: found - for a folder of PNG frames, allowed the name of a folder");
    }
    Ok(form)
}

impl RecordForm {
    /// Endings of files of this form; those of a folder say nothing.
    fn endings(self) -> &'static [&'static str] {
        match self {
            Self::Apng => &["apng", "png"],
            Self::Gif => &["gif"],
            Self::Png => &[],
        }
    }
}

impl From<RecordForm> for RecordingAnswer {
    fn from(form: RecordForm) -> Self {
        match form {
            RecordForm::Apng => Self::Apng,
            RecordForm::Gif => Self::Gif,
            RecordForm::Png => Self::Png,
        }
    }
}

/// Draws on one thread, encodes on this one.
fn record(film: &Film, size: (u32, u32), sink: &mut dyn Sink, tally: &mut Tally, output: &Output) -> Result<()> {
    let bar = progress::bar(output, "recording", film.frames().into());
    let (give, take) = sync_channel::<Shot>(UNDER_WAY);
    std::thread::scope(|scope| {
        // Where the sink fails, frames are no longer taken, and drawing ends, too.
        let drawing = scope.spawn(move || film.shoot(size, &mut |shot| give.send(shot).is_ok()));
        for shot in take {
            let when = tally.count(&shot);
            sink.take(shot, when)?;
            bar.inc(1);
        }
        bar.finish_and_clear();
        drawing.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
    })
}

impl Tally {
    /// Counts a frame, and says when it is shown.
    fn count(&mut self, shot: &Shot) -> When {
        self.damaged += u32::from(shot.damage.x.is_some());
        // From the sum, so that the rounding of one frame is not carried on to the next.
        let time = |seconds: f64| Duration::from_secs_f64(seconds * self.slow);
        let starts = time(self.seconds);
        self.seconds += shot.seconds;
        When { starts, ends: time(self.seconds) }
    }
}
