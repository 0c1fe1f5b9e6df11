//! Boards and processors under random accesses and code.

use std::sync::{Arc, LazyLock};

use backporch_adapter::{ADAPTERS, Adapter};
use backporch_pc::{Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop};
use backporch_quirk::{Family, QuirkStack};
use backporch_raster::Board;
use fastrand::Rng;

/// Accesses of one board.
const ACCESSES: usize = 60;
/// Time a program has, in nanoseconds of its machine.
const DEADLINE: u64 = 20_000_000;
/// Stops after which a program is left alone.
const MOST_STOPS: usize = 50;

static CLASSES: LazyLock<Vec<Arc<Adapter>>> =
    LazyLock::new(|| ADAPTERS.names().filter_map(Adapter::built_in).collect());
static FAMILIES: LazyLock<Vec<Family>> = LazyLock::new(|| Family::all_built_in().collect());

/// A board of any class and mode, under some faults.
fn any_board(rng: &mut Rng) -> Option<(Board<QuirkStack>, String)> {
    let adapter = rng.choice(CLASSES.iter())?;
    let mode = rng.choice(&adapter.profile().modes)?;
    let faults = (0..rng.usize(0..3)).filter_map(|_| {
        let family = rng.choice(FAMILIES.iter())?;
        family.member(rng.u64(..family.count()))
    });
    let stack = QuirkStack::new(faults.collect(), rng.u64(..));
    Some((Board::new(Arc::clone(adapter), adapter.start_up(mode), stack), mode.name.clone()))
}

/// Writes and reads everywhere, at any place of the beam.
pub fn board(rng: &mut Rng) {
    let Some((mut board, _)) = any_board(rng) else {
        return;
    };
    for _ in 0..ACCESSES {
        let dot = board.beam().dot + rng.u64(0..20_000);
        board.run_to(dot);
        let port = 0x3B0 + rng.u16(0..0x30);
        match rng.u8(0..6) {
            0 | 1 => board.write_port(port, rng.u8(..)),
            2 => board.write_port_word(port, rng.u16(..)),
            3 => drop(board.read_port(port)),
            4 => board.write_memory(rng.u32(..), rng.u8(..)),
            _ => drop(board.read_memory(rng.u32(..))),
        }
    }
    let frame = board.run_frame();
    let _ = frame.picture_size();
}

/// Random bytes, some of them likely instructions, run as a program.
pub fn program(rng: &mut Rng) {
    /// Interrupts, string instructions, ports, jumps, prefixes: what a program that goes astray meets.
    const LIKELY: [u8; 24] = [
        0xCD, 0x10, 0x21, 0x16, 0xF3, 0xA4, 0xAB, 0xEE, 0xEF, 0xEC, 0xEB, 0x75, 0xE2, 0x26, 0x8E, 0xFA, 0xFB, 0xF4,
        0xCF, 0xC3, 0xB8, 0xB4, 0xBA, 0x66,
    ];
    let mut byte = |_| if rng.bool() { rng.u8(..) } else { LIKELY[rng.usize(0..LIKELY.len())] };
    let bytes: Vec<u8> = (0..300).map(&mut byte).collect();
    let Some((board, mode)) = any_board(rng) else {
        return;
    };
    let model = Model::ALL[rng.usize(0..Model::ALL.len())];
    let (Ok(image), Some(clock)) = (ProgramImage::parse(&bytes), ProcessorClock::new(8_000_000, 1)) else {
        return;
    };
    let Ok(mut machine) = Machine::new(board, &image, &mode, MachineSetup::new(model, clock)) else {
        return;
    };
    machine.set_deadline(DEADLINE);
    for _ in 0..MOST_STOPS {
        match machine.run() {
            Stop::Frame(frame) => machine.recycle(*frame),
            _ => break,
        }
    }
}
