//! `run`: a real-mode program against the bench's board.
//!
//! Where anything acts on the board, the same program runs on a plain one beside
//! it, frame by frame, and every frame gets its verdict.

use std::collections::BTreeSet;
use std::path::PathBuf;

use anyhow::{Context, Result, ensure};
use backporch_adapter::Registers;
use backporch_analysis::{Damage, Verdict};
use backporch_answer::{
    AskedAnswer, EndAnswer, HazardAnswer, RunAnswer, StoppedAnswer, StuckAnswer, TroubleAnswer, WrittenPixelAnswer,
};
use backporch_bench::{Bench, Library, Overrides};
use backporch_drive::{Driver, LONGEST_FRAME, RealMode, Start, is_lone_program, trace_of};
use backporch_input::{InputError, Source, WholeFolder};
use backporch_pc::hardware::Waits;
use backporch_pc::{
    Asked, Breakpoints, Far, Folder, History, KeyPress, Machine, Model, MouseMovement, ProcessorClock, RegisterListing,
    Report, Stop, StuckWait, Writers,
};
use backporch_picture::write::png;
use backporch_raster::{Frame, Tap, View};
use backporch_script::{DotTime, TraceUnit};
use clap::Args;
use image::RgbImage;

use super::hazards::named::Mistakes;
use crate::args::{BenchArgs, clock, model, movement, point, port, press};
use crate::files::{self, OutputFiles};
use crate::output::{CheckResult, Output};

#[derive(Debug, Args)]
pub struct RunArgs {
    /// The program: a .COM or .EXE file, or a bench whose routine is one
    pub program: PathBuf,
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Frames to run, unless the program ends before
    #[arg(long, value_name = "NUMBER", default_value_t = 300, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    pub frames: u64,
    /// Processor: 8088, 8086, 80186, 80286 or 80386 [default: the bench's, 8086 for a program file]
    #[arg(long, value_name = "NUMBER", value_parser = model)]
    pub processor: Option<Model>,
    /// Its clock in MHz; 4.77 is a third of the machine's crystal [default: the bench's, 8 for a program file]
    #[arg(long, value_name = "MHZ", value_parser = clock)]
    pub clock: Option<ProcessorClock>,
    /// Dots the beam is ahead when the program starts
    #[arg(long, value_name = "DOTS", default_value_t = 0, value_parser = clap::value_parser!(u64).range(..=100_000_000))]
    pub phase: u64,
    /// Press a key after a time in milliseconds, or hold it from one time to another: 500..2000=left (again for more)
    #[arg(long = "key", value_name = "MS[..MS]=KEY", value_parser = press)]
    pub keys: Vec<KeyPress>,
    /// Move a mouse after a time in milliseconds by this many steps, and hold buttons (1 left, 2 right) from then on (again for
    /// more) [default: the bench's, or there is no mouse]
    #[arg(long = "mouse", value_name = "MS=RIGHT,DOWN,BUTTONS", value_parser = movement, allow_hyphen_values = true)]
    pub mouse: Vec<(u64, MouseMovement)>,
    /// The folder whose files the program may read; nothing outside it is reached
    #[arg(long, value_name = "FOLDER")]
    pub folder: Option<PathBuf>,
    /// Let it write there, too
    #[arg(long, requires = "folder")]
    pub writable: bool,
    /// The program's command line [default: the bench's]
    #[arg(long, value_name = "TEXT")]
    pub tail: Option<String>,
    /// End the program where it asks for a port, service or memory that is not present [default: it goes on, and what it asked
    /// for is listed]
    #[arg(long)]
    pub strict: bool,
    /// Stop before the instruction at an address (again for more)
    #[arg(long = "break-at", value_name = "SEGMENT:OFFSET")]
    pub break_at: Vec<Far>,
    /// Stop after a write to a port (again for more)
    #[arg(long = "break-port", value_name = "PORT", value_parser = port)]
    pub break_port: Vec<u16>,
    /// Stop when the beam comes to a scan line
    #[arg(long = "break-line", value_name = "LINE")]
    pub break_line: Option<u32>,
    /// Stop at the first frame that differs from the plain board's
    #[arg(long)]
    pub until_damaged: bool,
    /// Go back a number of frames from where it stopped, to the beginning of that frame
    #[arg(long, value_name = "FRAMES", value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    pub back: Option<u64>,
    /// Which instruction made a pixel of the last frame
    #[arg(long, value_name = "X,LINE", value_parser = point)]
    pub at: Option<(u32, u32)>,
    /// List the program's mistakes of timing and order, with the instructions that made them
    #[arg(long)]
    pub hazards: bool,
    /// Write what the program did to the board, as a write trace
    #[arg(long, value_name = "CSV")]
    pub trace: Option<PathBuf>,
    /// Where the last whole frame goes; `-` for standard output [default: PROGRAM.png]
    #[arg(long, value_name = "PNG")]
    pub out: Option<PathBuf>,
    /// A folder for all frames, too; made if it is not there
    #[arg(long, value_name = "FOLDER")]
    pub every: Option<PathBuf>,
    /// Times as large, 1 to 8
    #[arg(long, value_name = "TIMES", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=8))]
    pub scale: u32,
}

/// Frames between two snapshots, and how many are kept.
const SNAPSHOT_EVERY: u64 = 16;
const SNAPSHOTS: usize = 64;

/// Instructions listed where a run stops.
const LISTED: usize = 6;

/// Board of a program that names none.
const USUAL_BOARD: &str = "linear-256";

/// What a run came to.
#[derive(Default)]
struct Outcome {
    stop: Option<Stop>,
    last: Option<Frame>,
    /// The last frame of graphics, where text came after it.
    last_graphics: Option<Frame>,
    frames: u64,
    damaged: u64,
    first_damaged: Option<u64>,
    /// Whether the last frame ended in graphics.
    last_in_graphics: bool,
    /// Its mistakes, and how many there are beyond those listed; where they were asked for.
    hazards: Option<(Vec<HazardAnswer>, u64)>,
    /// Frame to whose beginning it went back.
    back_at: Option<u64>,
}

pub fn run(args: &RunArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--out", args.out.as_deref(), &["png"])?;
    files::expect_ending("--trace", args.trace.as_deref(), &["csv"])?;
    let (bench, program) = program(args)?;
    check_break_line(args, &bench)?;
    output.notes(&bench)?;
    let mode = &bench.mode().name;
    let mut machine = program.machine(bench.faulty(bench.registers()), mode, Start::default())?;
    // A plain board has nothing to be compared with.
    let mut twin = if bench.layers().is_plain() {
        None
    } else {
        Some(read_only(&program, args)?.machine(bench.plain(bench.registers()), mode, Start::default())?)
    };
    machine.record(keeps_record(args) || args.hazards);
    let mut history = args.back.map(|_| History::new(SNAPSHOT_EVERY, SNAPSHOTS));
    let mistakes = args.hazards.then(|| Mistakes::new(&bench, &program));
    let mut outcome = play(&mut machine, twin.as_mut(), (history.as_mut(), mistakes), args, output)?;
    if let (Some(history), Some(back)) = (&history, args.back) {
        go_back(&mut machine, history, back, &mut outcome)?;
    }
    finish(args, &bench, &program, &mut machine, outcome, output)
}

/// Whether all that the program does is kept to the end.
fn keeps_record(args: &RunArgs) -> bool {
    args.trace.is_some() || args.at.is_some()
}

/// The program and its bench: named by the bench file, or beside it.
fn program(args: &RunArgs) -> Result<(Bench, RealMode)> {
    let name = args.program.display().to_string();
    let overrides = args.bench.overrides();
    let bench = if is_lone_program(&name) && starts_at_prompt(args) {
        at_prompt(Overrides { routine: Some(name), ..overrides })?
    } else if is_lone_program(&name) {
        Bench::open(&args.bench.bench, &Overrides { routine: Some(name), ..overrides })?
    } else {
        Bench::open(&name, &overrides)?
    };
    let Some(Driver::Program(mut program)) = Driver::of(&bench)? else {
        let found = bench.routine().map_or_else(|| "none".to_string(), ToString::to_string);
        return Err(InputError::new(bench.name(), found, "a .COM or .EXE program").in_field("routine").into());
    };
    let setup = &mut program.setup;
    setup.model = args.processor.unwrap_or(setup.model);
    setup.clock = args.clock.unwrap_or(setup.clock);
    if args.processor.is_some() || args.clock.is_some() {
        setup.waits = Waits::common(setup.model, setup.clock);
    }
    setup.phase = args.phase;
    setup.strict = args.strict;
    if !args.mouse.is_empty() {
        setup.mouse.get_or_insert_default().extend(&args.mouse);
    }
    if let Some(tail) = &args.tail {
        setup.tail.clone_from(tail);
    }
    if let Some(path) = &args.folder {
        let folder = Folder::new(path, args.writable);
        setup.folder = Some(folder.with_context(|| format!("--folder: could not open {}", path.display()))?);
    }
    program.keys.extend(&args.keys);
    Ok((bench, *program))
}

/// Refuses a scan line that no frame of the board's modes and of the bench has.
fn check_break_line(args: &RunArgs, bench: &Bench) -> Result<(), InputError> {
    let Some(line) = args.break_line else { return Ok(()) };
    let adapter = bench.adapter();
    let lines = |registers: &Registers| adapter.signal(registers).ok().map(|signal| signal.vertical.total());
    let modes = adapter.profile().modes.iter().filter_map(|mode| lines(&adapter.start_up(mode)));
    let most = modes.chain(lines(bench.registers())).max();
    match most.filter(|most| line >= *most) {
        Some(most) => Err(InputError::new("--break-line", line, format!("0..{most}, the lines of a frame"))),
        None => Ok(()),
    }
}

/// Whether a program by itself starts as a prompt leaves the board: no bench and no picture were named.
fn starts_at_prompt(args: &RunArgs) -> bool {
    args.bench.bench == BenchArgs::USUAL && args.bench.picture.is_none()
}

/// A board in its text mode with an empty screen, or in the mode asked for with empty memory.
fn at_prompt(overrides: Overrides) -> Result<Bench> {
    let here = Library::default();
    let adapter = here.adapter(overrides.board.as_deref().unwrap_or(USUAL_BOARD))?;
    let text = adapter.firmware_text_mode();
    let mode = adapter.profile().modes.iter().find(|mode| text.is_some() && mode.firmware.as_ref() == text);
    let mode = overrides.mode.clone().or(mode.map(|mode| mode.name.clone()));
    let bench = format!("(version: 1, title: \"A board as a prompt leaves it\", adapter: \"{USUAL_BOARD}\")");
    let source = Source::built_in("prompt", bench);
    Ok(Bench::from_source(&source, "prompt", &here, &Overrides { mode, ..overrides })?)
}

/// Whether the board shows text.
fn shows_text<T: Tap>(machine: &Machine<T>) -> bool {
    let board = machine.board();
    let adapter = board.adapter();
    adapter.format(adapter.format_index(board.registers())).serialise.is_text()
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
    mut twin: Option<&mut Machine>,
    (mut history, mut mistakes): (Option<&mut History<T>>, Option<Mistakes>),
    args: &RunArgs,
    output: &mut Output,
) -> Result<Outcome> {
    machine.set_breakpoints(Breakpoints {
        addresses: args.break_at.iter().copied().collect(),
        ports: args.break_port.iter().copied().collect::<BTreeSet<_>>(),
        scan_line: args.break_line,
    });
    let mut outcome = Outcome::default();
    // A folder takes its name when all frames are in it: none of an earlier run stays among them.
    let mut every = args.every.as_deref().map(WholeFolder::create).transpose()?;
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
        if let Some(folder) = &mut every {
            folder.write(&format!("{:06}.png", frame.number), &png(&frame_image(&frame, args.scale)?)?)?;
        }
        outcome.frames += 1;
        if let Some(mistakes) = &mut mistakes {
            mistakes.follow(machine, keeps_record(args));
        }
        let in_text = shows_text(machine);
        if let Some(old) = outcome.last.replace(frame) {
            outcome.put_by(old, in_text, machine);
        }
        outcome.last_in_graphics = !in_text;
        if args.until_damaged && outcome.damaged > 0 {
            break;
        }
    }
    if matches!(outcome.stop, Some(Stop::WaitsForKey)) {
        outcome.show_standing(machine);
    }
    let ended = matches!(outcome.stop, Some(Stop::Exit(_) | Stop::WaitsForKey));
    outcome.hazards = mistakes.map(|mistakes| mistakes.finish(machine, keeps_record(args), ended));
    if let (Some(folder), Some(path)) = (every, &args.every) {
        folder.finish()?;
        output.wrote(path)?;
    }
    Ok(outcome)
}

impl Outcome {
    /// Takes the frame that stands while a program waits for ever: the first whole one of what it has drawn.
    fn show_standing<T: Tap + Clone>(&mut self, machine: &mut Machine<T>) {
        let mut standing = machine.clone();
        let under_way = standing.board().frame_so_far().number;
        let frame = loop {
            let frame = standing.finish_frame();
            if frame.number > under_way {
                break frame;
            }
            standing.recycle(frame);
        };
        let in_text = shows_text(machine);
        if let Some(old) = self.last.replace(frame) {
            self.put_by(old, in_text, machine);
        }
        self.last_in_graphics = !in_text;
    }

    /// Puts the frame before the last one by: kept where graphics end with it.
    fn put_by<T: Tap>(&mut self, old: Frame, text_follows: bool, machine: &mut Machine<T>) {
        let ends_graphics = self.last_in_graphics && text_follows;
        let out = if ends_graphics { self.last_graphics.replace(old) } else { Some(old) };
        out.into_iter().for_each(|frame| machine.recycle(frame));
    }

    /// Holds a frame against the plain twin's.
    fn judge(&mut self, frame: &Frame, twin: &mut Machine) {
        twin.set_deadline(twin.nanoseconds().saturating_add(LONGEST_FRAME));
        let plain = match twin.run() {
            Stop::Frame(plain) => *plain,
            // It ended: its board shows on what it showed.
            _ => twin.finish_frame(),
        };
        if Damage::between(&plain, frame).verdict() != Verdict::Clean {
            self.damaged += 1;
            self.first_damaged.get_or_insert(frame.number);
        }
        twin.recycle(plain);
    }
}

fn frame_image(frame: &Frame, scale: u32) -> Result<RgbImage> {
    let image = files::image_of(&frame.picture(View::Picture), scale);
    ensure!(image.width() > 0 && image.height() > 0, "frame {} shows nothing: its active area is empty", frame.number);
    Ok(image)
}

fn finish<T: Tap + Clone>(
    args: &RunArgs,
    bench: &Bench,
    program: &RealMode,
    machine: &mut Machine<T>,
    mut outcome: Outcome,
    output: &mut Output,
) -> Result<CheckResult> {
    // A program that stopped within its first frame has shown that one; the machine stays where it stopped.
    let frame = outcome.last.take().unwrap_or_else(|| machine.clone().finish_frame());
    let pixel = args.at.map(|at| pixel(machine, &frame, at)).transpose()?;
    let mut written = OutputFiles::default();
    if let Some(path) = &args.trace {
        let clock = DotTime::new(bench.dot_clock());
        let csv = trace_of(machine.recorded()).to_csv(TraceUnit::Dot, clock);
        written.add(path, csv);
    }
    let (hazards, hazards_beyond) = outcome.hazards.take().unzip();
    let hazards_beyond = hazards_beyond.unwrap_or(0);
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.program.display().to_string(), ".png"));
    let (width, _) = frame.picture_size();
    let file = (width > 0).then(|| path.display().to_string());
    if file.is_some() {
        written.add_png(&path, &frame_image(&frame, args.scale)?)?;
    }
    let graphics = outcome.last_graphics.take().filter(|_| !outcome.last_in_graphics && path.as_os_str() != "-");
    let graphics = graphics.map(|frame| (path.with_extension("graphics.png"), frame));
    if let Some((path, frame)) = &graphics {
        written.add_png(path, &frame_image(frame, args.scale)?)?;
    }
    let graphics_file = graphics.map(|(path, _)| path.display().to_string());
    written.write(output)?;
    let found = match (&outcome.stop, outcome.damaged, &hazards) {
        (Some(Stop::Trouble(_)), ..) | (_, 1.., _) => CheckResult::Something,
        (_, _, Some(hazards)) if !hazards.is_empty() => CheckResult::Something,
        _ => CheckResult::Nothing,
    };
    if path.as_os_str() == "-" {
        return Ok(found);
    }
    let stuck = may_be_stuck(args, &outcome).then(|| machine.stuck_wait()).flatten();
    let stuck = stuck.map(|stuck| stuck_answer(machine, stuck));
    let answer = RunAnswer {
        pixel,
        hazards,
        hazards_beyond,
        file,
        graphics_file,
        stuck,
        ..answer(args, bench, program, machine, &outcome)
    };
    output.answer(&answer, RunAnswer::text)?;
    Ok(found)
}

/// The address a pixel was fetched from, and the last instruction that wrote there before the beam came by.
fn pixel<T: Tap>(machine: &Machine<T>, frame: &Frame, (x, line): (u32, u32)) -> Result<WrittenPixelAnswer> {
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
    Ok(WrittenPixelAnswer { x, line, value: found.value, address: found.address, by })
}

/// Whether a run ended in the program's own time, so that what it waits for can be looked for.
fn may_be_stuck(args: &RunArgs, outcome: &Outcome) -> bool {
    let runs_on = match &outcome.stop {
        None => !(args.until_damaged && outcome.damaged > 0),
        Some(Stop::Trouble(_)) => true,
        Some(Stop::TimeOver) => outcome.back_at.is_none(),
        _ => false,
    };
    runs_on && outcome.back_at.is_none()
}

fn instruction<T: Tap>(machine: &Machine<T>, at: Far) -> String {
    machine.listing(at, 1).first().map_or_else(|| at.to_string(), ToString::to_string)
}

fn stuck_answer<T: Tap>(machine: &Machine<T>, stuck: StuckWait) -> StuckAnswer {
    StuckAnswer { at: instruction(machine, stuck.at), why: stuck.cause.to_string() }
}

fn asked<T: Tap>(machine: &Machine<T>) -> Vec<AskedAnswer> {
    let in_words = |asked: &Asked| AskedAnswer {
        what: asked.what.to_string(),
        by: instruction(machine, asked.at),
        times: asked.times,
    };
    machine.asked().iter().map(in_words).collect()
}

fn trouble(report: &Report) -> TroubleAnswer {
    TroubleAnswer {
        what: report.trouble.to_string(),
        at: report.at.to_string(),
        registers: RegisterListing(&report.registers).to_string(),
        last: report.last.clone(),
    }
}

fn stopped<T: Tap>(why: String, machine: &Machine<T>) -> StoppedAnswer {
    let registers = &machine.processor().registers;
    StoppedAnswer {
        why,
        scan_line: machine.board().beam().scan_line,
        registers: RegisterListing(registers).to_string(),
        next: machine.listing(registers.next(), LISTED).iter().map(ToString::to_string).collect(),
    }
}

/// How the run ended, and why it was stopped where something stopped it.
fn ending(args: &RunArgs, outcome: &Outcome) -> (EndAnswer, Option<String>) {
    if let Some(frame) = outcome.back_at {
        return (EndAnswer::GoneBack, Some(format!("gone back to the beginning of frame {frame}")));
    }
    match &outcome.stop {
        None if args.until_damaged && outcome.damaged > 0 => {
            (EndAnswer::Damaged, Some("the first damaged frame is whole".to_string()))
        }
        None | Some(Stop::Frame(_)) => (EndAnswer::FramesOver, None),
        Some(Stop::Exit(_)) => (EndAnswer::Exit, None),
        Some(Stop::Address(at)) => (EndAnswer::Breakpoint, Some(format!("next comes {at}"))),
        Some(Stop::Port(port)) => (EndAnswer::Breakpoint, Some(format!("port {port:03X}h was written"))),
        Some(Stop::ScanLine(line)) => (EndAnswer::Breakpoint, Some(format!("the beam came to scan line {line}"))),
        Some(Stop::WaitsForKey) => (EndAnswer::WaitsForKey, None),
        Some(Stop::TimeOver) => (EndAnswer::NoFrame, None),
        Some(Stop::Trouble(_)) => (EndAnswer::Trouble, None),
    }
}

/// What the run came to, before pixel, hazards and file.
fn answer<T: Tap>(
    args: &RunArgs,
    bench: &Bench,
    program: &RealMode,
    machine: &Machine<T>,
    outcome: &Outcome,
) -> RunAnswer {
    let (ended, why) = ending(args, outcome);
    RunAnswer {
        board: bench.adapter().name().to_string(),
        mode: bench.mode().name.clone(),
        quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
        program: program.name.clone(),
        processor: program.setup.model.name().to_string(),
        clock_hz: program.setup.clock.hertz(),
        ended,
        exit_code: if let Some(Stop::Exit(code)) = outcome.stop { Some(code) } else { None },
        trouble: if let Some(Stop::Trouble(report)) = &outcome.stop { Some(trouble(report)) } else { None },
        stopped: why.map(|why| stopped(why, machine)),
        frames: outcome.frames,
        seconds: machine.nanoseconds() as f64 / 1e9,
        damaged_frames: outcome.damaged,
        first_damaged: outcome.first_damaged,
        pixel: None,
        hazards: None,
        hazards_beyond: 0,
        asked: asked(machine),
        asked_beyond: machine.asked_beyond(),
        stuck: None,
        record_full: machine.record_full_at().is_some(),
        printed: machine.printed(),
        file: None,
        graphics_file: None,
    }
}
