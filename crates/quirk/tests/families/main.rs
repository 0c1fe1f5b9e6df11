//! Every built-in family on a small case computed by hand: it does what its
//! text says. The addresses follow from the boards' profiles (the 64 KiB
//! 256-colour class: words of 2 bytes, 320 bytes a line, lines shown twice;
//! the colour-graphics class: 80 bytes a line, two banks of 8 KiB).

mod address;
mod all;
mod colour;
mod fetch;
mod latch;
mod pixel;
mod port;
mod sync;

use std::collections::BTreeMap;
use std::sync::Arc;

use backporch_adapter::{Adapter, Registers};
use backporch_quirk::{Family, QuirkStack};
use backporch_raster::{Board, Frame, Plan, QuietFrame};

/// A built-in family with its first values, as a stack of one.
pub(crate) fn stack(name: &str) -> QuirkStack {
    with(name, &[])
}

/// A built-in family with these values.
pub(crate) fn with(name: &str, values: &[(&str, i64)]) -> QuirkStack {
    let family = Family::built_in(name).unwrap_or_else(|| panic!("no family {name}"));
    let values: BTreeMap<String, i64> = values.iter().map(|(name, value)| ((*name).to_owned(), *value)).collect();
    QuirkStack::new(vec![family.close(&values).unwrap()], 1)
}

/// One adapter under some registers.
pub(crate) struct Setup {
    pub(crate) adapter: Arc<Adapter>,
    pub(crate) registers: Registers,
}

/// The 64 KiB 256-colour class, 320 × 200.
pub(crate) fn linear(values: &[(&str, u64)]) -> Setup {
    setup("linear-256", "320x200x256", values)
}

/// The colour-graphics class in a mode.
pub(crate) fn colour_graphics(mode: &str, values: &[(&str, u64)]) -> Setup {
    setup("colour-graphics", mode, values)
}

fn setup(adapter: &str, mode: &str, values: &[(&str, u64)]) -> Setup {
    let adapter = Adapter::built_in(adapter).unwrap();
    let mut registers = adapter.start_up(adapter.mode(mode).unwrap());
    for (name, value) in values {
        adapter.set(&mut registers, adapter.field(name).unwrap(), *value).unwrap();
    }
    Setup { adapter, registers }
}

/// The byte that lies at an address of every test's memory: no two near ones are alike.
pub(crate) fn byte(address: u32) -> u8 {
    (address.wrapping_mul(2_654_435_761) >> 15) as u8
}

impl Setup {
    pub(crate) fn board(&self, tap: QuirkStack) -> Board<QuirkStack> {
        let mut board = Board::new(Arc::clone(&self.adapter), self.registers.clone(), tap);
        let memory: Vec<u8> = (0..self.adapter.memory().bytes).map(byte).collect();
        board.load(&memory);
        board
    }

    pub(crate) fn plain(&self) -> Board<QuirkStack> {
        self.board(QuirkStack::default())
    }

    pub(crate) fn plan(&self, tap: &QuirkStack) -> Plan {
        QuietFrame::new(&self.adapter, &self.registers, tap).plan(tap)
    }

    /// Addresses and lengths of the spans of a picture line.
    pub(crate) fn spans(&self, tap: &QuirkStack, line: usize) -> Vec<(u32, u32)> {
        let plan = self.plan(tap);
        plan.spans_of(&plan.lines[line]).iter().map(|span| (span.address, span.len)).collect()
    }

    /// Dots of a scan line's character clock in the first frame.
    pub(crate) fn dot(&self, scan_line: u64, char: u64) -> u64 {
        let timing = self.adapter.timing(&self.registers);
        let char_dots = u64::from(self.adapter.format(self.adapter.format_index(&self.registers)).char_dots);
        (scan_line * u64::from(timing.chars()) + char) * char_dots
    }
}

/// Writes a register by index and data port.
pub(crate) fn program(board: &mut Board<QuirkStack>, index: u8, value: u8) {
    board.write_port(0x3D4, index);
    board.write_port(0x3D5, value);
}

/// The stored value of a register.
pub(crate) fn stored(board: &Board<QuirkStack>, name: &str) -> u32 {
    let field = board.adapter().field(name).unwrap();
    board.adapter().get(board.registers(), field)
}

/// The start address under which a frame's scan lines were fetched.
pub(crate) fn starts(frame: &Frame) -> Vec<u32> {
    frame.lines.iter().filter_map(|line| line.fetch.map(|line| line.start)).collect()
}

/// Pixel values of a scan line.
pub(crate) fn values(frame: &Frame, scan_line: usize) -> Vec<u8> {
    let segments = frame.segments_of(&frame.lines[scan_line]).iter();
    segments.flat_map(|segment| frame.values_of(segment.kind).to_vec()).collect()
}

/// The bytes at addresses, as a line of the 256-colour class shows them.
pub(crate) fn bytes(addresses: impl IntoIterator<Item = u32>) -> Vec<u8> {
    addresses.into_iter().map(byte).collect()
}
