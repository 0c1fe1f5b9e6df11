//! Our machines on measured programs.

use backporch_adapter::Adapter;
use backporch_pc::{Breakpoints, CRYSTAL_HZ, Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop};
use backporch_raster::Board;

use super::{Measured, Row};

/// NOPs before the timed code, one run each: the phase of the refresh is not known.
const IDLE: [u32; 4] = [0, 5, 11, 17];

/// Longest run in nanoseconds of the machine.
const DEADLINE: u64 = 2_000_000_000;

fn machine(measured: Measured, image: &ProgramImage) -> Option<Machine> {
    let (adapter, mode) = match measured {
        Measured::Pc | Measured::At => ("colour-graphics", None),
        Measured::PcEga | Measured::AtEga => ("ega", Some("640x350x16")),
    };
    let (model, clock) = match measured {
        Measured::Pc | Measured::PcEga => (Model::P8088, ProcessorClock::new(CRYSTAL_HZ, 3)?),
        Measured::At | Measured::AtEga => (Model::P80286, ProcessorClock::new(10_000_000, 1)?),
    };
    let adapter = Adapter::built_in(adapter)?;
    let mode = mode.and_then(|name| adapter.mode(name)).unwrap_or(adapter.default_mode()).clone();
    let registers = adapter.start_up(&mode);
    let mut machine =
        Machine::new(Board::plain(adapter, registers), image, &mode.name, MachineSetup::new(model, clock)).ok()?;
    machine.set_deadline(DEADLINE);
    machine.set_breakpoints(Breakpoints { ports: [0x43].into(), ..Breakpoints::default() });
    Some(machine)
}

/// Clocks from one write to port 43h to the next, and the clock's rate.
fn clocks(measured: Measured, program: &[u8]) -> Option<(u64, f64)> {
    let mut machine = machine(measured, &ProgramImage::parse(program).ok()?)?;
    let mut marks = Vec::new();
    while marks.len() < 2 {
        match machine.run() {
            Stop::Frame(frame) => machine.recycle(*frame),
            Stop::Port(0x43) => marks.push(machine.hardware().clocks()),
            _ => return None,
        }
    }
    Some((marks[1] - marks[0], machine.hardware().clock().hertz()))
}

/// Microseconds of a row on our machine, the timer's own left out; `None` where it does not run to its end.
pub fn microseconds(row: &Row, assemble: impl Fn(&str) -> Option<Vec<u8>>) -> Option<f64> {
    let once = |idle: &u32| {
        let (whole, hertz) = clocks(row.machine, &assemble(&row.program(*idle))?)?;
        let (timer, _) = clocks(row.machine, &assemble(&row.overhead(*idle))?)?;
        Some(whole.saturating_sub(timer) as f64 / hertz * 1e6)
    };
    let times: Option<Vec<f64>> = IDLE.iter().map(once).collect();
    times.map(|times| times.iter().sum::<f64>() / times.len() as f64)
}
