//! How fast the machine runs: its own time against real time, beside the rate of the decoder alone.
//!
//!     cargo run --release -p backporch-pc --example speed
//!
//! Needs nasm. Prints a line a program: seconds of the machine, seconds on a core, their ratio, and
//! processor clocks a second. Timings gate nothing; they are printed to be read.

use std::path::Path;
use std::process::{Command, ExitCode};
use std::time::{Duration, Instant};

use backporch_adapter::Adapter;
use backporch_pc::{Far, Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop, decode};
use backporch_raster::Board;

/// Programs and what to assemble them with: scroll, polling, a copy to the board, sums in a loop.
const PROGRAMS: &[(&str, &[&str])] =
    &[("scroll.asm", &["-DFRAMES=2000"]), ("sweep.asm", &["-DSTEPS=2000"]), ("bars.asm", &["-DFRAMES=1000"])];

/// Programs with nothing but work: a sum over memory, and pictures copied to the board.
const WORK: &[(&str, &str)] = &[
    (
        "sums",
        "next: xor bx, bx\n mov cx, 4000\n add_: add ax, [si]\n xor dx, ax\n add si, 2\n and si, 7FFEh\n adc bx, dx\n loop add_\n jmp next",
    ),
    ("copies", "mov ax, 0A000h\n mov es, ax\n next: xor di, di\n mov cx, 32000\n rep movsw\n jmp next"),
];

/// Time this thread has had a core, where the system tells it; else time passed.
struct Stopwatch {
    on_core: Option<Duration>,
    started: Instant,
}

impl Stopwatch {
    fn start() -> Self {
        Self { on_core: on_core(), started: Instant::now() }
    }

    fn seconds(&self) -> f64 {
        match (self.on_core, on_core()) {
            (Some(start), Some(now)) => (now - start).as_secs_f64(),
            _ => self.started.elapsed().as_secs_f64(),
        }
    }
}

fn on_core() -> Option<Duration> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    text.split_whitespace().next()?.parse().ok().map(Duration::from_nanos)
}

fn assemble(source: &Path, definitions: &[&str]) -> Option<ProgramImage> {
    let output = std::env::temp_dir().join(format!("backporch-speed-{}.com", std::process::id()));
    let mut nasm = Command::new("nasm");
    nasm.args(["-f", "bin", "-o"]).arg(&output).arg("-I").arg(source.parent()?).args(definitions).arg(source);
    let made = nasm.status().is_ok_and(|status| status.success());
    let bytes = std::fs::read(&output).ok().filter(|_| made)?;
    let _ = std::fs::remove_file(&output);
    ProgramImage::parse(&bytes).ok()
}

fn machine(image: &ProgramImage, model: Model) -> Option<Machine> {
    let adapter = Adapter::built_in("linear-256")?;
    let registers = adapter.start_up(adapter.default_mode());
    let setup = MachineSetup::new(model, ProcessorClock::new(8_000_000, 1)?);
    Machine::new(Board::plain(adapter, registers), image, "320x200x256", setup).ok()
}

/// Runs for ten seconds of the machine, or to the program's end.
fn measure(name: &str, image: &ProgramImage, model: Model) {
    let Some(mut machine) = machine(image, model) else { return };
    machine.set_deadline(10_000_000_000);
    let start = Stopwatch::start();
    let mut frames = 0;
    while let Stop::Frame(frame) = machine.run() {
        frames += 1;
        machine.recycle(*frame);
    }
    let (real, own) = (start.seconds(), machine.nanoseconds() as f64 / 1e9);
    let clocks = machine.hardware().clocks() as f64;
    let (ratio, rate) = (own / real, clocks / real / 1e6);
    println!(
        "{name:<12} {:<6} {own:>7.2} s in {real:>6.2} s: {ratio:>6.1} times, {rate:>6.0} MHz, {frames} frames",
        model.name()
    );
}

/// Decodes a program's instructions over and over, without executing any.
fn measure_decoder(image: &ProgramImage) {
    let bytes = &image.bytes;
    let (mut decoded, start) = (0u64, Stopwatch::start());
    while start.seconds() < 1.0 {
        let mut at = Far::new(0, 0);
        while usize::from(at.offset) < bytes.len() {
            let fetch = |offset: u16| bytes.get(usize::from(offset)).copied().unwrap_or(0x90);
            let instruction = decode::decode(Model::P80286, at.offset, fetch);
            at.offset += u16::from(instruction.length.max(1));
            decoded += 1;
        }
    }
    let rate = decoded as f64 / start.seconds() / 1e6;
    println!("decoder      alone: {rate:.1} million instructions a second");
}

fn main() -> ExitCode {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets/programs");
    for (name, definitions) in PROGRAMS {
        let Some(image) = assemble(&folder.join(name), definitions) else {
            eprintln!("nasm is missing or refused {name}");
            return ExitCode::from(3);
        };
        Model::ALL.into_iter().for_each(|model| measure(name, &image, model));
    }
    for (name, text) in WORK {
        let source = std::env::temp_dir().join(format!("backporch-speed-{}.asm", std::process::id()));
        if std::fs::write(&source, format!("cpu 8086\norg 100h\n{text}\n")).is_err() {
            return ExitCode::from(3);
        }
        if let Some(image) = assemble(&source, &[]) {
            Model::ALL.into_iter().for_each(|model| measure(name, &image, model));
        }
        let _ = std::fs::remove_file(&source);
    }
    if let Some(image) = assemble(&folder.join("scroll.asm"), &[]) {
        measure_decoder(&image);
    }
    ExitCode::SUCCESS
}
