//! Boards, pictures and routines the tests share.
#![allow(dead_code)]

use std::sync::Arc;

use backporch_adapter::{Adapter, Registers};
use backporch_input::Source;
use backporch_raster::{Board, Plain};
use backporch_script::{Cpu, CpuModel, NORMAL_SPEED, Program, ROUTINES, Runner, SourcePicture};

/// Byte columns of the panorama.
pub const WIDTH: u32 = 960;
/// Rows of the panorama.
pub const HEIGHT: u32 = 200;

/// A byte of a panorama in which no two neighbouring columns are alike.
pub fn pixel(column: u32, row: u32) -> u8 {
    ((column % WIDTH).wrapping_mul(2_654_435_761).wrapping_add(row.wrapping_mul(40_503)) >> 9) as u8
}

/// What stands on the screen when the window has scrolled to a start address.
pub fn expected_pixel(start: u32, x: u32, row: u32) -> u8 {
    pixel(start * 2 + x, row)
}

pub fn panorama() -> Arc<SourcePicture> {
    let data = (0..HEIGHT).flat_map(|row| (0..WIDTH).map(move |column| pixel(column, row))).collect();
    Arc::new(SourcePicture::new(WIDTH, HEIGHT, WIDTH, data).unwrap())
}

pub fn class(name: &str, mode: &str) -> (Arc<Adapter>, Registers) {
    let adapter = Adapter::built_in(name).unwrap();
    let registers = adapter.start_up(adapter.mode(mode).unwrap());
    (adapter, registers)
}

/// A 256-colour board that shows the panorama at a start address.
pub fn linear_board(start: u32) -> Board<Plain> {
    board_of_chars(start, 40)
}

/// The same board at 256 pixels a line, the width at which the class scrolls.
pub fn narrow_board(start: u32) -> Board<Plain> {
    board_of_chars(start, 32)
}

/// A board with this many characters a line, sync moved along so that the picture stays in the middle.
fn board_of_chars(start: u32, chars: u32) -> Board<Plain> {
    let (adapter, mut registers) = class("linear-256", "320x200x256");
    let values = [("displayed", chars - 1), ("sync_position", 42 - (40 - chars) / 2), ("start_address", start)];
    for (name, value) in values {
        adapter.set(&mut registers, adapter.field(name).unwrap(), u64::from(value)).unwrap();
    }
    let width = chars * 8;
    let mut board = Board::plain(adapter, registers);
    let mut memory = vec![0; 65536];
    for row in 0..HEIGHT {
        for x in 0..width {
            memory[(start * 2 + row * width + x) as usize & 0xFFFF] = expected_pixel(start, x, row);
        }
    }
    board.load(&memory);
    board
}

pub fn cpu(name: &str, adapter: &Adapter) -> Cpu {
    let registers = adapter.start_up(adapter.default_mode());
    Cpu::new(Arc::new(CpuModel::built_in(name).unwrap()), adapter, &registers, NORMAL_SPEED)
}

pub fn program(text: &str, adapter: &Adapter) -> Arc<Program> {
    Arc::new(Program::from_source(&Source::built_in("test.routine.ron", text), adapter).unwrap())
}

pub fn runner(text: &str, board: Board<Plain>, cpu_name: &str) -> Runner {
    let adapter = Arc::clone(board.adapter());
    Runner::new(board, program(text, &adapter), cpu(cpu_name, &adapter), Some(panorama()), 0).unwrap()
}

/// A built-in scroll routine at the width it is for, 256 pixels, the panorama laid at `start`.
pub fn scroll(name: &str, start: u32) -> Runner {
    let text = ROUTINES.get(name).unwrap();
    let board = narrow_board(start);
    let cpu_name = program(text, board.adapter()).file().cpu.clone().unwrap();
    runner(text, board, &cpu_name)
}
