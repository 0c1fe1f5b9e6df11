//! What drives a bench's board: a routine script, a write trace, or a real-mode program.
//!
//! ```text
//! routine: "scroll-late"     ─► Script  ┐
//! routine: "run.csv"         ─► Trace   ├─► Driver ─► Driven, on any board, at any phase and speed
//! routine: "scroll.com"      ─► Program ┘
//! ```

use std::cell::LazyCell;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use backporch_adapter::{ADAPTERS, Adapter, PLANES};
use backporch_bench::{BENCHES, Bench, ClockRef, DriverSettings, KeyRef, MachineRef, MouseRef, Named, PROGRAMS};
use backporch_input::{InputError, InputErrorKind, Source, path_or_unknown, read_bytes};
use backporch_pc::hardware::Waits;
use backporch_pc::{Folder, Key, KeyPress, Machine, MachineSetup, Model, MouseMovement, ProcessorClock, ProgramImage};
use backporch_picture::lay::bits_per_pixel;
use backporch_raster::{Board, Plain, QuietFrame, Tap};
use backporch_script::{
    ClockTable, Cpu, CpuModel, DotTime, NORMAL_SPEED, Program, ROUTINES, Replay, Runner, SourcePicture, Trace,
};

use crate::built_in::routine_names;
use crate::driven::{Driven, Played};

/// Largest program file that is read.
const LARGEST_PROGRAM: u64 = 1 << 20;
/// Largest trace that is read: some minutes of a busy program.
const LARGEST_TRACE: u64 = 256 << 20;
/// CPU model of a script that names none.
const USUAL_CPU: &str = "16bit-8";

/// What drives a board, read and checked against its class.
#[derive(Clone, Debug)]
pub enum Driver {
    /// A routine script.
    Script(Script),
    /// A write trace.
    Trace(Arc<Trace>),
    /// A real-mode program.
    Program(Box<RealMode>),
}

/// A routine script and all it needs.
#[derive(Clone, Debug)]
pub struct Script {
    /// The routine.
    pub program: Arc<Program>,
    /// The processor it runs on.
    pub model: Arc<CpuModel>,
    /// The bench's picture, as bytes of the board's layout.
    pub picture: Option<Arc<SourcePicture>>,
}

/// A real-mode program and the machine around it.
#[derive(Clone, Debug)]
pub struct RealMode {
    /// Name or path.
    pub name: String,
    /// The program.
    pub image: ProgramImage,
    /// The machine.
    pub setup: MachineSetup,
    /// Keys pressed, each at a time in nanoseconds.
    pub keys: Vec<KeyPress>,
}

/// When and how fast a driver starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Start {
    /// Dot of frame 0 at which it begins; its own where it has one.
    pub dot: Option<u64>,
    /// Speed of its processor in thousandths.
    pub speed: u32,
}

impl Default for Start {
    /// As written, at normal speed.
    fn default() -> Self {
        Self { dot: None, speed: NORMAL_SPEED }
    }
}

/// What a file is by its ending.
fn ending(name: &str) -> String {
    Path::new(name).extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default()
}

/// Whether a routine's name is that of a real-mode program: a built-in one, or a file by its ending.
#[must_use]
pub fn is_program(name: &str) -> bool {
    PROGRAMS.contains(name) || matches!(ending(name).as_str(), "com" | "exe")
}

/// Whether a name given for a bench is that of a program by itself: no bench of that name is built in.
#[must_use]
pub fn is_lone_program(name: &str) -> bool {
    is_program(name) && !BENCHES.contains(name)
}

/// The text of a routine script, built in or in a file.
fn script_source(named: &Named) -> Result<Source, InputError> {
    if let Some(source) = ROUTINES.source(&named.name) {
        return Ok(source);
    }
    let known: Vec<&str> = routine_names().collect();
    let path = path_or_unknown("routine", &named.name, named.library.folder(), &known)?;
    Source::read(&path).map_err(|error| match error.kind() {
        // What exists and is no text may be a program.
        InputErrorKind::Unreadable if error.line().is_some() => {
            error.with_help(format!("a real-mode program, .com or .exe, is run by: backporch run {}", named.name))
        }
        _ => error,
    })
}

/// The processor model that a bench's script itself asks for, and the folder its path is taken from.
pub(crate) fn script_model(bench: &Bench) -> Option<(String, PathBuf)> {
    let named = bench.driver_settings().routine.as_ref()?;
    if is_program(&named.name) || ending(&named.name) == "csv" {
        return None;
    }
    let program = Program::from_source(&script_source(named).ok()?, bench.adapter()).ok()?;
    let model = program.file().cpu.clone()?;
    Some((model, named.library.beside_file(&named.name).folder().to_path_buf()))
}

fn script(settings: &DriverSettings, named: &Named, bench: &Bench) -> Result<Script, InputError> {
    let source = script_source(named)?;
    let program = Program::from_source(&source, bench.adapter())?;
    let model = cpu(settings, named, program.file().cpu.as_deref())?;
    let picture = if program.needs_picture() { Some(Arc::new(source_picture(bench)?)) } else { None };
    Ok(Script { program: Arc::new(program), model: Arc::new(model), picture })
}

/// The command line's model, else the bench file's, else the script's own.
fn cpu(settings: &DriverSettings, script: &Named, own: Option<&str>) -> Result<CpuModel, InputError> {
    match &settings.cpu {
        Some(cpu) => {
            let model = CpuModel::open(&cpu.name, cpu.library.folder());
            settings.placed(cpu.field, "--cpu", model)
        }
        None => CpuModel::open(own.unwrap_or(USUAL_CPU), script.library.beside_file(&script.name).folder()),
    }
}

fn program(settings: &DriverSettings, named: &Named) -> Result<RealMode, InputError> {
    let (shown, bytes) = match PROGRAMS.get(&named.name) {
        Some(image) => (named.name.clone(), image.to_vec()),
        None => {
            let path = named.library.path(&named.name);
            (path.display().to_string(), read_bytes(&path, LARGEST_PROGRAM)?)
        }
    };
    loaded(settings, &named.name, (&shown, &bytes))
}

/// A program's bytes on the bench's machine; `shown` names them where they are none.
fn loaded(settings: &DriverSettings, name: &str, (shown, bytes): (&str, &[u8])) -> Result<RealMode, InputError> {
    let image = ProgramImage::parse(bytes).map_err(|error| InputError::new(shown, error.found(), error.allowed()))?;
    let (mut setup, keys) = machine(settings)?;
    if let Some(cpu) = &settings.cpu {
        let model = CpuModel::open(&cpu.name, cpu.library.folder()).and_then(|model| on(&setup, &model));
        setup = settings.placed(cpu.field, "--cpu", model)?;
    }
    Ok(RealMode { name: name.to_string(), image, setup, keys })
}

/// The machine with a processor model's processor, clock and waits.
fn on(setup: &MachineSetup, cpu: &CpuModel) -> Result<MachineSetup, InputError> {
    let ClockTable::Published(model) = cpu.clocks else {
        let found = format!("{}, whose clocks are a list of its own", cpu.name);
        let models = Model::ALL.map(Model::name).join(", ");
        return Err(InputError::new(&cpu.name, found, format!("for a program, one with a published table: {models}")));
    };
    let waits = Waits { port: cpu.bus.port_wait, memory: cpu.bus.memory_wait, refresh_beats: cpu.refresh_beats };
    Ok(MachineSetup { model, clock: cpu.clock, waits, ..setup.clone() })
}

fn machine(settings: &DriverSettings) -> Result<(MachineSetup, Vec<KeyPress>), InputError> {
    let MachineRef { processor, clock, folder, tail, keys, mouse } = &settings.machine;
    let fault = |field: &str, found: &str, allowed: String| settings.source.fault(&["machine", field], found, allowed);
    let models = Model::ALL.map(Model::name).join(", ");
    let model = Model::named(processor).ok_or_else(|| fault("processor", processor, models))?;
    let clock = clock_of(settings, clock)?;
    let folder = folder.as_ref().map(|name| {
        let opened = Folder::new(&settings.library.path(name), false);
        opened.map_err(|error| fault("folder", name, format!("a folder beside this file ({error})")))
    });
    let key = |KeyRef(from, name, to): &KeyRef| {
        let key = Key::named(name).map_err(|error| fault("keys", name, error.to_string()))?;
        match to {
            None => Ok(KeyPress::short(key, from.nanoseconds())),
            Some(to) if from < to => Ok(KeyPress { key, from: from.nanoseconds(), to: to.nanoseconds() }),
            Some(to) => Err(fault("keys", &format!("{from} to {to} ms"), "the later moment second".to_owned())),
        }
    };
    let keys = keys.iter().map(key).collect::<Result<_, _>>()?;
    let moved = |MouseRef(at, right, down, buttons): &MouseRef| match *buttons {
        0..=3 => Ok((at.nanoseconds(), MouseMovement { steps: [*right, *down], buttons: *buttons })),
        _ => Err(fault("mouse", &format!("buttons {buttons}"), "0..=3 (1 left, 2 right)".to_owned())),
    };
    let moved = mouse.iter().map(moved).collect::<Result<Vec<_>, _>>()?;
    let mouse = (!moved.is_empty()).then_some(moved);
    Ok((
        MachineSetup { folder: folder.transpose()?, tail: tail.clone(), mouse, ..MachineSetup::new(model, clock) },
        keys,
    ))
}

fn clock_of(settings: &DriverSettings, clock: &ClockRef) -> Result<ProcessorClock, InputError> {
    let (crystal, divide) = (u64::from(clock.crystal_hz), u64::from(clock.divide));
    let made = ProcessorClock::new(crystal, divide).filter(|clock| (1e5..=1e8).contains(&clock.hertz()));
    let allowed = "0.1 to 100 MHz from a divisor of 1 to 1000";
    made.ok_or_else(|| settings.source.fault(&["machine", "clock"], format!("{crystal} Hz / {divide}"), allowed))
}

fn trace(named: &Named, bench: &Bench) -> Result<Trace, InputError> {
    let path = named.library.path(&named.name);
    let shown = path.display().to_string();
    let text = String::from_utf8(read_bytes(&path, LARGEST_TRACE)?)
        .map_err(|_| InputError::new(&shown, "bytes that are no text", "a write trace as UTF-8 text"))?;
    let source = Source::built_in(shown, text);
    let trace = Trace::from_csv(&source, DotTime::new(bench.dot_clock()))?;
    // A trace of another class's board is worth a try; a port that no board has is a slip.
    let others = LazyCell::new(|| ADAPTERS.names().filter_map(Adapter::built_in).collect::<Vec<_>>());
    let is_known = |port| {
        let has = |adapter: &Adapter| adapter.knows_port(port);
        has(bench.adapter()) || others.iter().any(|adapter| has(adapter))
    };
    trace.check_ports(&source, &is_known)?;
    Ok(trace)
}

/// The bench's picture as bytes of the board's layout.
fn source_picture(bench: &Bench) -> Result<SourcePicture, InputError> {
    let wrong = |found: &str, allowed: &str| InputError::new(bench.name(), found, allowed);
    let picture = bench.picture().ok_or_else(|| {
        wrong("a routine that copies from a picture, and no picture", "a picture on the bench (picture: or --picture)")
    })?;
    let quiet = QuietFrame::new(bench.adapter(), bench.registers(), &Plain);
    let rule = quiet.format().serialise;
    if bits_per_pixel(&quiet).is_err() {
        return Err(wrong("a routine that copies from a picture into text", "a mode with pixels"));
    }
    let path = bench.adapter().memory_path(bench.registers());
    let width = picture.width() as usize;
    // The pixels of a row as the bytes that show them; 256 colours in chained planes lie pixel by pixel.
    let row = |row: &[u8]| -> Vec<u8> {
        let at_once = rule.pixels_at_once().max(1) as usize;
        row.chunks(at_once).flat_map(|group| rule.bytes_showing(group)).collect()
    };
    let rows: Vec<Vec<u8>> = picture.indices().chunks_exact(width).map(row).collect();
    let planes = if path.reaches_planes() { PLANES as usize } else { 1 };
    let plane = |plane: usize| -> Vec<u8> {
        rows.iter().flat_map(|row| row.iter().skip(plane).step_by(planes)).copied().collect()
    };
    let (bytes, height) = ((rows.first().map_or(0, Vec::len) / planes) as u32, rows.len() as u32);
    SourcePicture::of_planes(bytes, height, bytes, (0..planes).map(plane).collect())
        .map_err(|error| wrong(&error.to_string(), "a picture of at least one pixel"))
}

impl Script {
    /// The processor beside the bench's board, at a speed in thousandths.
    #[must_use]
    pub fn cpu_at(&self, bench: &Bench, speed: u32) -> Cpu {
        Cpu::new(Arc::clone(&self.model), bench.adapter(), bench.registers(), speed)
    }

    /// The processor beside the bench's board, at normal speed.
    #[must_use]
    pub fn cpu(&self, bench: &Bench) -> Cpu {
        self.cpu_at(bench, NORMAL_SPEED)
    }
}

impl RealMode {
    /// The machine with the program loaded, about to start.
    ///
    /// # Errors
    /// Where the program does not fit into memory.
    pub fn machine<T: Tap>(&self, board: Board<T>, mode: &str, start: Start) -> Result<Machine<T>, InputError> {
        let clock = self.setup.clock.at_speed(start.speed);
        let phase = start.dot.unwrap_or(self.setup.phase);
        let setup = MachineSetup { clock, phase, ..self.setup.clone() };
        let mut machine = Machine::new(board, &self.image, mode, setup)
            .map_err(|error| InputError::new(&self.name, error, "a program that fits"))?;
        for press in &self.keys {
            machine.hold(*press);
        }
        Ok(machine)
    }
}

impl Driver {
    /// The driver at its first access, on a board of the bench.
    ///
    /// # Errors
    /// Where a program does not fit into memory.
    pub fn start<T: Tap>(&self, bench: &Bench, board: Board<T>, start: Start) -> Result<Driven<T>, InputError> {
        Ok(match self {
            Self::Script(script) => {
                let cpu = script.cpu_at(bench, start.speed);
                let (program, picture) = (Arc::clone(&script.program), script.picture.clone());
                let made = Runner::new(board, program, cpu, picture, bench.seed());
                let runner = made.map_err(|error| InputError::new(bench.name(), error, "a picture on the bench"))?;
                Driven::Script(Box::new(match start.dot {
                    Some(dot) => runner.starting_at(dot),
                    None => runner,
                }))
            }
            Self::Trace(trace) => {
                let replay = Replay::new(board, Arc::clone(trace));
                Driven::Trace(Box::new(replay.later_by(start.dot.unwrap_or(0))))
            }
            Self::Program(program) => {
                Driven::Program(Box::new(Played::new(program.machine(board, &bench.mode().name, start)?)))
            }
        })
    }
}

impl Driver {
    /// A program that is in no file, on the bench's machine.
    ///
    /// # Errors
    /// Where the bytes are no program, or the bench's machine cannot be set up.
    pub fn of_program(bench: &Bench, name: &str, bytes: &[u8]) -> Result<Self, InputError> {
        let program = loaded(bench.driver_settings(), name, (name, bytes))?;
        Ok(Self::Program(Box::new(program)))
    }

    /// What drives the bench's board, read and checked against it; none where the bench names no routine.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn of(bench: &Bench) -> Result<Option<Self>, InputError> {
        let settings = bench.driver_settings();
        let Some(named) = &settings.routine else { return Ok(None) };
        let read = match ending(&named.name).as_str() {
            _ if is_program(&named.name) => program(settings, named).map(|program| Self::Program(Box::new(program))),
            "csv" => trace(named, bench).map(|trace| Self::Trace(Arc::new(trace))),
            _ => script(settings, named, bench).map(Self::Script),
        };
        let driver = settings.placed(named.field, "--routine", read)?;
        match (&driver, settings.cpu.as_ref().filter(|cpu| cpu.field.is_none())) {
            (Self::Trace(_), Some(cpu)) => {
                let found = format!("{}, which would not run: {} is a trace", cpu.name, named.name);
                Err(InputError::new("--cpu", found, "a routine script or a program for a processor model"))
            }
            _ => Ok(Some(driver)),
        }
    }
}

impl<T: Tap> Driven<T> {
    /// A board of this bench under its routine from the first dot on; alone where the bench names none.
    ///
    /// # Errors
    /// As [`Driver::of`].
    pub fn of(bench: &Bench, board: Board<T>) -> Result<Self, InputError> {
        match Driver::of(bench)? {
            Some(driver) => driver.start(bench, board, Start::default()),
            None => Ok(Self::Alone(Box::new(board))),
        }
    }
}
