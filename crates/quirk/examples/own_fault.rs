//! A fault of one's own as a Rust type, for what the quirk language does not say.
//!
//! The board here has a tired line buffer: the longer a line's fetch has gone
//! on without crossing a memory row, the more of a byte's lowest bits are
//! lost. No quirk file can let one number grow with another like this; a type
//! that implements [`Intercept`] can. It stands on a board as a stack of quirks does.
//!
//! ```text
//! cargo run -p backporch-quirk --example own_fault
//! ```

use backporch_adapter::Adapter;
use backporch_raster::{Board, Explain, Intercept, Line, LineReuse, Stages, Tap, View};

/// A line buffer whose bytes fade with their distance from the last row crossing.
#[derive(Clone, Copy, Debug)]
struct FadingBuffer {
    /// Bytes of a memory row.
    row_bytes: u32,
    /// Bytes after which one more bit is lost.
    bytes_a_bit: u32,
}

impl FadingBuffer {
    /// The bits of a byte that are lost, `offset` bytes along a line.
    fn lost(self, line: &Line, offset: u32) -> u8 {
        let since_crossing = (line.linear + offset) % self.row_bytes;
        let bits = (since_crossing / self.bytes_a_bit).min(8);
        ((1u32 << bits) - 1) as u8
    }
}

impl Intercept for FadingBuffer {
    fn stages(&self) -> Stages {
        Stages::FETCH
    }

    // The answer depends on nothing but the line and the place, so that the
    // frame is the same wherever the beam is stopped.
    fn fetch(&self, line: &Line, offset: u32, bytes: &mut [u8], _peek: &dyn Fn(u32) -> u8) {
        for (at, byte) in (offset..).zip(bytes) {
            *byte &= !self.lost(line, at);
        }
    }
}

// Nothing is reused from line to line, and nothing is explained.
impl LineReuse for FadingBuffer {}
impl Explain for FadingBuffer {}

/// Makes entry n of the palette a grey of level n / 4, and shows a ramp on every line.
fn show_a_ramp<T: Tap>(board: &mut Board<T>) {
    for entry in 0..=255u8 {
        board.write_port(0x3C8, entry);
        (0..3).for_each(|_| board.write_port(0x3C9, entry >> 2));
    }
    let picture: Vec<u8> = (0..64_000u32).map(|at| (at % 320 * 255 / 319) as u8).collect();
    board.load(&picture);
}

fn main() {
    let adapter = Adapter::built_in("linear-256").expect("a built-in adapter");
    let registers = adapter.start_up(adapter.default_mode());
    let fault = FadingBuffer { row_bytes: 256, bytes_a_bit: 32 };
    let mut plain = Board::plain(adapter.clone(), registers.clone());
    let mut faulty = Board::new(adapter, registers, fault);
    show_a_ramp(&mut plain);
    show_a_ramp(&mut faulty);

    let (right, wrong) = (plain.run_frame().picture(View::Picture), faulty.run_frame().picture(View::Picture));
    println!("pixels that differ from a plain board, of 320:");
    for line in 0..8 {
        let differing = right.row(line).iter().zip(wrong.row(line)).filter(|(one, two)| one != two).count();
        let from_crossing = line * 320 % 256;
        println!("  line {line}, which begins {from_crossing:3} bytes after a row crossing: {differing}");
    }
}
