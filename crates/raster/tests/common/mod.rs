//! Boards for the tests, and short ways to program them.
#![allow(dead_code, reason = "every test file uses its own part")]

use std::sync::Arc;

use backporch_adapter::{ADAPTERS, Adapter};
use backporch_input::Source;
use backporch_raster::{Board, Frame, Span};

/// A plain board in a mode's start-up state.
pub fn board(adapter: &str, mode: &str) -> Board {
    start(Adapter::built_in(adapter).unwrap(), mode)
}

/// A board of a class of its own: a built-in profile with some of its text replaced.
pub fn variant(adapter: &str, mode: &str, replaced: &str, by: &str) -> Board {
    let (name, text) = ADAPTERS.entries().iter().find(|(name, _)| *name == adapter).unwrap();
    assert!(text.contains(replaced), "{adapter} has {replaced}");
    let source = Source::built_in(*name, text.replace(replaced, by));
    start(Adapter::from_source(&source).unwrap(), mode)
}

fn start(adapter: Arc<Adapter>, mode: &str) -> Board {
    let registers = adapter.start_up(adapter.mode(mode).unwrap());
    Board::plain(adapter, registers)
}

/// Sets named registers, now.
pub fn set(board: &mut Board, values: &[(&str, u64)]) {
    let adapter = Arc::clone(board.adapter());
    for (name, value) in values {
        board.set(adapter.field(name).unwrap(), *value).unwrap();
    }
}

/// Writes a register of the CRT controller at 3D4h.
pub fn crtc(board: &mut Board, index: u8, value: u8) {
    board.write_port(0x3D4, index);
    board.write_port(0x3D5, value);
}

/// Writes a register behind an index port and the data port after it.
pub fn indexed(board: &mut Board, port: u16, index: u8, value: u8) {
    board.write_port(port, index);
    board.write_port(port + 1, value);
}

/// Writes a register of the attribute controller.
pub fn attribute(board: &mut Board, index: u8, value: u8) {
    board.read_port(0x3DA);
    board.write_port(0x3C0, index | 0x20);
    board.write_port(0x3C0, value);
}

/// Fills memory with noise that tells every byte from its neighbours.
pub fn noise(board: &mut Board) {
    let bytes = board.memory().len() as u32;
    let noise: Vec<u8> = (0..bytes).map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    board.load(&noise);
}

/// Address and length of every span of a scan line.
pub fn spans(frame: &Frame, line: usize) -> Vec<(u32, u32)> {
    let spans = frame.spans_of(&frame.lines[line]).iter();
    spans.map(|span: &Span| (span.address, span.len)).collect()
}

/// Address of the first byte of a scan line.
pub fn first(frame: &Frame, line: usize) -> u32 {
    spans(frame, line)[0].0
}

/// Pixel values of a picture line.
pub fn pixels(frame: &Frame, line: u32) -> Vec<u8> {
    let (width, _) = frame.picture_size();
    (0..width).map(|x| frame.value_at(x, line).unwrap()).collect()
}
