//! `record`: a run or a sweep as APNG, GIF or a folder of PNG frames.
//!
//! Frames are drawn on one thread and encoded on another, with a few of them on the way between: however long
//! the recording, it takes no more memory.

use std::path::Path;
use std::sync::mpsc::sync_channel;
use std::time::Duration;

use anyhow::{Result, bail};
use backporch_analysis::{SweepAxis, steps};
use backporch_bench::Bench;
use backporch_drive::Driver;
use backporch_picture::record::{Opening, Told};
use serde::Serialize;

use self::film::{Film, Look, Play, Shot};
use self::sink::{Sink, When};
use crate::answer::{Answer, Found};
use crate::args::{RecordArgs, RecordForm};
use crate::{files, progress};

mod film;
mod sink;

/// Frames on the way from the board to the file.
const UNDER_WAY: usize = 4;

/// The JSON form.
#[derive(Debug, Serialize)]
struct RecordAnswer {
    board: String,
    quirks: Vec<String>,
    form: &'static str,
    file: String,
    frames: u32,
    shown: u32,
    seconds: f64,
    board_seconds: f64,
    slow: f64,
    width: u32,
    height: u32,
    colours_lost: u32,
    damaged_frames: u32,
}

/// What the frames came to.
#[derive(Debug, Default)]
struct Tally {
    /// Times as slow as the board.
    slow: f64,
    damaged: u32,
    /// Time of the board.
    seconds: f64,
}

pub fn run(args: &RecordArgs, answer: &mut Answer) -> Result<Found> {
    let bench = Bench::open(&args.bench.bench, &args.bench.overrides())?;
    super::frame::say_notes(&bench, answer)?;
    let over = args.over.iter().map(|(name, range)| {
        let field = bench.field(name)?;
        Ok(SweepAxis::new(bench.adapter(), field, range.iter())?)
    });
    let over: Vec<SweepAxis> = over.collect::<Result<_>>()?;
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.bench.bench, ".apng"));
    let form = form_of(args.form, &path)?;
    let driver = if over.is_empty() { Driver::of(&bench)? } else { None };
    let film = Film { bench: &bench, driver, play: play(args, &over)?, look: Look::new(args) };
    let size = film.size()?;
    let opening = Opening { width: size.0, height: size.1, frames: film.frames(), again: !args.once };
    let mut tally = Tally { slow: args.slow, ..Tally::default() };
    let written: Told = sink::fill(&path, form, opening, |sink| record(&film, size, sink, &mut tally, answer))?;
    if path.as_os_str() == "-" {
        return Ok(Found::Nothing);
    }
    let told = RecordAnswer {
        board: bench.adapter().name().to_string(),
        quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
        form: word(form),
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
    answer.give(&told, RecordAnswer::text)?;
    Ok(if tally.damaged > 0 { Found::Something } else { Found::Nothing })
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

fn word(form: RecordForm) -> &'static str {
    match form {
        RecordForm::Apng => "apng",
        RecordForm::Gif => "gif",
        RecordForm::Png => "png",
    }
}

/// Draws on one thread, encodes on this one.
fn record(film: &Film, size: (u32, u32), sink: &mut dyn Sink, tally: &mut Tally, answer: &Answer) -> Result<()> {
    let bar = progress::bar(answer, "recording", film.frames().into());
    let (give, take) = sync_channel::<Shot>(UNDER_WAY);
    std::thread::scope(|scope| {
        // Where the sink fails, nobody takes frames any more, and drawing ends, too.
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

impl RecordAnswer {
    fn text(&self) -> String {
        let quirks = if self.quirks.is_empty() { "healthy".to_string() } else { self.quirks.join(", ") };
        let slow = if self.slow == 1.0 { String::new() } else { format!(", {} times as slow as the board", self.slow) };
        let mut text = format!(
            "{}, {quirks}: {} frames, {} with damage\n{}: {} x {}, {:.3} seconds{slow}\n",
            self.board, self.frames, self.damaged_frames, self.file, self.width, self.height, self.seconds
        );
        if self.shown < self.frames {
            text += &format!(
                "a GIF counts in hundredths of a second and viewers take no less than two: {} of {} frames are shown; \
                 --slow or an APNG has them all\n",
                self.shown, self.frames
            );
        }
        if self.colours_lost > 0 {
            text += &format!(
                "a GIF has 256 colours a frame: up to {} of the rarest gave way to their likes; an APNG has them all\n",
                self.colours_lost
            );
        }
        text
    }
}
