//! `run`: a real-mode program against the bench's board.
//!
//! Where the bench has quirks, the same program runs on a healthy board beside
//! it, frame by frame, and every frame gets its verdict.

use std::collections::BTreeSet;
use std::path::Path;

use anyhow::{Context, Result, ensure};
use backporch_analysis::{Damage, Verdict};
use backporch_bench::{Bench, Overrides};
use backporch_drive::{Driver, LONGEST_FRAME, RealMode, Start, is_lone_program, trace_of};
use backporch_input::InputError;
use backporch_pc::hardware::Waits;
use backporch_pc::{Breakpoints, Folder, History, Listed, Machine, Report, Stop, Writers};
use backporch_raster::{Frame, Tap, View};
use backporch_script::{DotTime, TraceUnit};
use serde::Serialize;

use super::hazards::named::{self, HazardAnswer, summed};
use crate::answer::{Answer, Found};
use crate::args::RunArgs;
use crate::files;

/// Frames between two snapshots, and how many are kept.
const SNAPSHOT_EVERY: u64 = 16;
const SNAPSHOTS: usize = 64;

/// Instructions listed where a run stops.
const LISTED: usize = 6;

/// The JSON form.
#[derive(Debug, Serialize)]
struct RunAnswer {
    board: String,
    mode: String,
    quirks: Vec<String>,
    program: String,
    processor: &'static str,
    clock_hz: f64,
    ended: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    exit_code: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    trouble: Option<TroubleAnswer>,
    #[serde(skip_serializing_if = "Option::is_none")]
    stopped: Option<StoppedAnswer>,
    frames: u64,
    seconds: f64,
    damaged_frames: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    first_damaged: Option<u64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pixel: Option<PixelAnswer>,
    #[serde(skip_serializing_if = "Option::is_none")]
    hazards: Option<Vec<HazardAnswer>>,
    printed: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    file: Option<String>,
}

/// Why a program cannot go on.
#[derive(Debug, Serialize)]
struct TroubleAnswer {
    what: String,
    at: String,
    registers: String,
    last: Vec<String>,
}

/// Where a breakpoint stopped it.
#[derive(Debug, Serialize)]
struct StoppedAnswer {
    why: String,
    scan_line: u32,
    registers: String,
    next: Vec<String>,
}

/// What made a pixel.
#[derive(Debug, Serialize)]
struct PixelAnswer {
    x: u32,
    line: u32,
    value: u8,
    address: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    by: Option<String>,
}

/// What a run came to.
#[derive(Default)]
struct Outcome {
    stop: Option<Stop>,
    last: Option<Frame>,
    frames: u64,
    damaged: u64,
    first_damaged: Option<u64>,
    /// Frame to whose beginning it went back.
    back_at: Option<u64>,
}

pub fn run(args: &RunArgs, answer: &mut Answer) -> Result<Found> {
    let (bench, program) = program(args)?;
    super::frame::say_notes(&bench, answer)?;
    let mode = &bench.mode().name;
    let mut machine = program.machine(bench.faulty(bench.registers()), mode, Start::default())?;
    // A healthy board needs no twin; without quirks there is nothing to compare.
    let mut twin = match bench.quirks().is_empty() {
        true => None,
        false => Some(read_only(&program, args)?.machine(bench.plain(bench.registers()), mode, Start::default())?),
    };
    machine.record(args.trace.is_some() || args.at.is_some() || args.hazards);
    let mut history = args.back.map(|_| History::new(SNAPSHOT_EVERY, SNAPSHOTS));
    let mut outcome = play(&mut machine, (twin.as_mut(), history.as_mut()), args, answer)?;
    if let (Some(history), Some(back)) = (&history, args.back) {
        go_back(&mut machine, history, back, &mut outcome)?;
    }
    finish(args, (&bench, &program), &mut machine, outcome, answer)
}

/// The program and its bench: named by the bench file, or beside it.
fn program(args: &RunArgs) -> Result<(Bench, RealMode)> {
    let name = args.program.display().to_string();
    let alone = is_lone_program(&name);
    let overrides = args.bench.overrides();
    let bench = match alone {
        true => Bench::open(&args.bench.bench, &Overrides { routine: Some(name), ..overrides })?,
        false => Bench::open(&name, &overrides)?,
    };
    let Some(Driver::Program(mut program)) = Driver::of(&bench)? else {
        let found = bench.routine().map_or_else(|| "none".to_string(), ToString::to_string);
        return Err(InputError::new(bench.name(), found, "a .COM or .EXE program").in_field("routine").into());
    };
    let setup = &mut program.setup;
    setup.model = args.processor.unwrap_or(setup.model);
    setup.clock = args.clock.unwrap_or(setup.clock);
    setup.waits = Waits::common(setup.model, setup.clock);
    setup.phase = args.phase;
    if let Some(tail) = &args.tail {
        setup.tail.clone_from(tail);
    }
    if let Some(path) = &args.folder {
        let folder = Folder::new(path, args.writable);
        setup.folder = Some(folder.with_context(|| format!("--folder: could not open {}", path.display()))?);
    }
    program.keys.extend(args.keys.iter().map(|(milliseconds, key)| (milliseconds * 1_000_000, *key)));
    Ok((bench, *program))
}

/// The same program with a folder it cannot write to: the twin writes no files.
fn read_only(program: &RealMode, args: &RunArgs) -> Result<RealMode> {
    let mut twin = program.clone();
    if let (Some(path), true) = (&args.folder, args.writable) {
        twin.setup.folder = Some(Folder::new(path, false)?);
    }
    Ok(twin)
}

/// Back to the beginning of a frame, with the whole frame before it.
fn go_back<T: Tap + Clone>(
    machine: &mut Machine<T>,
    history: &History<T>,
    back: u64,
    outcome: &mut Outcome,
) -> Result<()> {
    let here = machine.board().frame_so_far().number;
    let wanted = here.saturating_sub(back);
    let before = history.rewind(wanted.saturating_sub(1));
    *machine = before.with_context(|| format!("--back: found {back} frames, allowed at most {here}"))?;
    outcome.last = None;
    while machine.board().frame_so_far().number < wanted {
        match machine.run() {
            Stop::Frame(frame) => outcome.last = Some(*frame),
            _ => break,
        }
    }
    outcome.stop = Some(Stop::TimeOver);
    outcome.back_at = Some(wanted);
    Ok(())
}

/// Runs until the frames are over or something stops the program for good.
fn play<T: Tap + Clone>(
    machine: &mut Machine<T>,
    (mut twin, mut history): (Option<&mut Machine>, Option<&mut History<T>>),
    args: &RunArgs,
    answer: &mut Answer,
) -> Result<Outcome> {
    machine.set_breakpoints(Breakpoints {
        addresses: args.break_at.iter().copied().collect(),
        ports: args.break_port.iter().copied().collect::<BTreeSet<_>>(),
        scan_line: args.break_line,
    });
    let mut outcome = Outcome::default();
    while outcome.frames < args.frames {
        if let Some(history) = history.as_deref_mut() {
            history.note(machine.board().frame_so_far().number, machine);
        }
        machine.set_deadline(machine.nanoseconds().saturating_add(LONGEST_FRAME));
        let frame = match machine.run() {
            Stop::Frame(frame) => *frame,
            stop => {
                outcome.stop = Some(stop);
                break;
            }
        };
        if let Some(twin) = twin.as_deref_mut() {
            outcome.judge(&frame, twin);
        }
        if let Some(folder) = &args.every {
            let path = folder.join(format!("{:06}.png", frame.number));
            std::fs::create_dir_all(folder).with_context(|| format!("--every: could not make {}", folder.display()))?;
            write_frame(answer, &path, &frame, args.scale)?;
        }
        outcome.frames += 1;
        if let Some(old) = outcome.last.replace(frame) {
            machine.recycle(old);
        }
        if args.until_damaged && outcome.damaged > 0 {
            break;
        }
    }
    Ok(outcome)
}

impl Outcome {
    /// Holds a frame against the healthy twin's.
    fn judge(&mut self, frame: &Frame, twin: &mut Machine) {
        twin.set_deadline(twin.nanoseconds().saturating_add(LONGEST_FRAME));
        let healthy = match twin.run() {
            Stop::Frame(healthy) => *healthy,
            // It ended: its board shows on what it showed.
            _ => twin.finish_frame(),
        };
        if Damage::between(&healthy, frame).verdict() != Verdict::Clean {
            self.damaged += 1;
            self.first_damaged.get_or_insert(frame.number);
        }
        twin.recycle(healthy);
    }
}

fn write_frame(answer: &mut Answer, path: &Path, frame: &Frame, scale: u32) -> Result<()> {
    let image = files::image_of(&frame.picture(View::Picture), scale);
    ensure!(image.width() > 0 && image.height() > 0, "frame {} shows nothing: its active area is empty", frame.number);
    files::write_png(answer, path, &image)
}

fn finish<T: Tap + Clone>(
    args: &RunArgs,
    (bench, program): (&Bench, &RealMode),
    machine: &mut Machine<T>,
    mut outcome: Outcome,
    answer: &mut Answer,
) -> Result<Found> {
    // A program that stopped within its first frame has shown that one; the machine stays where it stopped.
    let frame = outcome.last.take().unwrap_or_else(|| machine.clone().finish_frame());
    let pixel = args.at.map(|at| pixel(machine, &frame, at)).transpose()?;
    if let Some(path) = &args.trace {
        let clock = DotTime::new(bench.adapter().dot_clock());
        let csv = trace_of(machine.recorded()).to_csv(TraceUnit::Dot, clock);
        files::write(answer, path, csv.as_bytes())?;
    }
    let hazards = args.hazards.then(|| named::of_run(bench, machine, outcome.frames));
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.program.display().to_string(), ".png"));
    let (width, _) = frame.picture_size();
    let file = (width > 0).then(|| path.display().to_string());
    if file.is_some() {
        write_frame(answer, &path, &frame, args.scale)?;
    }
    let found = match (&outcome.stop, outcome.damaged, &hazards) {
        (Some(Stop::Trouble(_)), ..) | (_, 1.., _) => Found::Something,
        (_, _, Some(hazards)) if !hazards.is_empty() => Found::Something,
        _ => Found::Nothing,
    };
    if path.as_os_str() == "-" {
        return Ok(found);
    }
    let told = RunAnswer { pixel, hazards, file, ..RunAnswer::new(args, (bench, program), machine, &outcome) };
    answer.give(&told, RunAnswer::text)?;
    Ok(found)
}

/// The address a pixel was fetched from, and the last instruction that wrote there before the beam came by.
fn pixel<T: Tap>(machine: &Machine<T>, frame: &Frame, (x, line): (u32, u32)) -> Result<PixelAnswer> {
    let (width, height) = frame.picture_size();
    let found = machine.board().provenance(frame, x, line);
    let found = found.with_context(|| format!("--at: found {x},{line}, allowed 0..{width},0..{height}"))?;
    let dots: u64 = frame.lines.iter().take(found.scan_line as usize + 1).map(|line| u64::from(line.dots)).sum();
    let shown = frame.first_dot + dots;
    let board = machine.board();
    let mut writers = Writers::new(board.adapter());
    machine.recorded().iter().for_each(|access| writers.see(access, board.adapter(), board.registers()));
    let wrote = writers.of(found.address, shown);
    let by = wrote.map(|by| machine.listing(by, 1).first().map_or_else(String::new, ToString::to_string));
    Ok(PixelAnswer { x, line, value: found.value, address: found.address, by })
}

impl TroubleAnswer {
    fn new(report: &Report) -> Self {
        Self {
            what: report.trouble.to_string(),
            at: report.at.to_string(),
            registers: Listed(&report.registers).to_string(),
            last: report.last.clone(),
        }
    }
}

impl StoppedAnswer {
    fn new<T: Tap>(why: String, machine: &Machine<T>) -> Self {
        let registers = &machine.processor().registers;
        Self {
            why,
            scan_line: machine.board().beam().scan_line,
            registers: Listed(registers).to_string(),
            next: machine.listing(registers.next(), LISTED).iter().map(ToString::to_string).collect(),
        }
    }
}

impl RunAnswer {
    fn new<T: Tap>(
        args: &RunArgs,
        (bench, program): (&Bench, &RealMode),
        machine: &Machine<T>,
        outcome: &Outcome,
    ) -> Self {
        let stopped = |why: String| Some(StoppedAnswer::new(why, machine));
        let (ended, stopped) = match &outcome.stop {
            _ if outcome.back_at.is_some() => {
                let frame = outcome.back_at.unwrap_or_default();
                ("gone-back", stopped(format!("gone back to the beginning of frame {frame}")))
            }
            None if args.until_damaged && outcome.damaged > 0 => {
                ("damaged", stopped("the first damaged frame is whole".to_string()))
            }
            None | Some(Stop::Frame(_)) => ("frames-over", None),
            Some(Stop::Exit(_)) => ("exit", None),
            Some(Stop::Address(at)) => ("breakpoint", stopped(format!("next comes {at}"))),
            Some(Stop::Port(port)) => ("breakpoint", stopped(format!("port {port:03X}h was written"))),
            Some(Stop::ScanLine(line)) => ("breakpoint", stopped(format!("the beam came to scan line {line}"))),
            Some(Stop::WaitsForKey) => ("waits-for-key", None),
            Some(Stop::TimeOver) => ("no-frame", None),
            Some(Stop::Trouble(_)) => ("trouble", None),
        };
        Self {
            board: bench.adapter().name().to_string(),
            mode: bench.mode().name.clone(),
            quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
            program: program.name.clone(),
            processor: program.setup.model.name(),
            clock_hz: program.setup.clock.hertz(),
            ended,
            exit_code: if let Some(Stop::Exit(code)) = outcome.stop { Some(code) } else { None },
            trouble: if let Some(Stop::Trouble(report)) = &outcome.stop {
                Some(TroubleAnswer::new(report))
            } else {
                None
            },
            stopped,
            frames: outcome.frames,
            seconds: machine.nanoseconds() as f64 / 1e9,
            damaged_frames: outcome.damaged,
            first_damaged: outcome.first_damaged,
            pixel: None,
            hazards: None,
            printed: machine.printed(),
            file: None,
        }
    }

    fn ending(&self) -> String {
        match (self.ended, self.exit_code) {
            ("exit", Some(code)) => format!("the program ended with code {code}"),
            ("frames-over", _) => "the program runs on".to_string(),
            ("waits-for-key", _) => "the program waits for a key, and none is to come (--key MS=KEY)".to_string(),
            ("no-frame", _) => "the board shows no whole frame any more".to_string(),
            ("damaged", _) => "stopped at the first damaged frame".to_string(),
            ("gone-back", _) => "gone back".to_string(),
            ("breakpoint", _) => "stopped at a breakpoint".to_string(),
            _ => "the program cannot go on".to_string(),
        }
    }

    fn text(&self) -> String {
        let quirks = if self.quirks.is_empty() { "healthy".to_string() } else { self.quirks.join(", ") };
        let mut text = format!(
            "{} on {} in {}, {quirks}; {} at {:.2} MHz\n{} frames, {:.3} s: {}\n",
            self.program,
            self.board,
            self.mode,
            self.processor,
            self.clock_hz / 1e6,
            self.frames,
            self.seconds,
            self.ending()
        );
        if let Some(trouble) = &self.trouble {
            text += &format!("at {} the program {}\n{}\n", trouble.at, trouble.what, trouble.registers);
            trouble.last.iter().for_each(|line| text += &format!("  {line}\n"));
        }
        if let Some(stopped) = &self.stopped {
            text += &format!("{}; beam on scan line {}\n{}\n", stopped.why, stopped.scan_line, stopped.registers);
            stopped.next.iter().for_each(|line| text += &format!("  {line}\n"));
        }
        if let Some(first) = self.first_damaged {
            text += &format!("{} frames damaged, the first is frame {first}\n", self.damaged_frames);
        }
        if let Some(pixel) = &self.pixel {
            let PixelAnswer { x, line, value, address, by } = pixel;
            text += &format!("pixel {x}, line {line}: value {value}, fetched from {address:05X}h, ");
            text += &match by {
                Some(by) => format!("written by {by}\n"),
                None => "not written by the program\n".to_string(),
            };
        }
        text.extend(self.hazards.iter().flat_map(|hazards| summed(hazards)));
        if self.hazards.as_ref().is_some_and(Vec::is_empty) {
            text += "no hazards\n";
        }
        if !self.printed.is_empty() {
            text += &format!("it printed:\n{}\n", self.printed.replace('\r', "").trim_end());
        }
        match &self.file {
            Some(file) => text + &format!("{file}\n"),
            None => text + "the last frame shows nothing\n",
        }
    }
}
