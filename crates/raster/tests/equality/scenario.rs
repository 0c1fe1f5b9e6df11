//! Random cases: a board, its registers, its memory, and what happens to it at
//! which dot.

use std::ops::Range;

use backporch_adapter::{Adapter, Bank, Cell, Registers};
use proptest::collection::vec;
use proptest::prelude::*;

/// Boards and modes that cases start from.
const BOARDS: [(&str, &str); 20] = [
    ("colour-graphics", "320x200x4"),
    ("colour-graphics", "640x200x2"),
    ("colour-graphics", "text-40"),
    ("colour-graphics", "text-80"),
    ("linear-256", "320x200x256"),
    ("monochrome", "text-80"),
    ("monochrome", "720x348x2"),
    ("ega", "320x200x16"),
    ("ega", "640x350x16"),
    ("ega", "640x350-text"),
    ("vga", "320x200x256"),
    ("vga", "320x200x256-planar"),
    ("vga", "320x240x256-planar"),
    ("vga", "640x480x16"),
    ("vga", "320x200x16"),
    ("vga", "640x200x16"),
    ("vga", "320x200x4"),
    ("vga", "640x200x2"),
    ("vga", "720x400-text"),
    ("vga", "360x400-text"),
];

/// Stored values that make frames of a few hundred characters; `u64::MAX`
/// leaves a register as the mode has it.
const SMALL: [(&str, Range<u64>); 24] = [
    ("horizontal_total", 4..28),
    ("displayed", 1..22),
    ("sync_position", 8..26),
    ("sync_width", 0..6),
    ("vertical_adjust", 0..4),
    ("vertical_sync_position", 4..24),
    ("max_scan_line", 0..5),
    ("vertical_total", 4..28),
    ("vertical_displayed", 2..26),
    ("vertical_sync_width", 0..4),
    ("blank_start", 6..26),
    ("blank_end", 0..32),
    ("sync_end", 0..32),
    ("vertical_sync_end", 0..16),
    ("vertical_blank_start", 4..26),
    ("vertical_blank_end", 0..32),
    ("line_compare", 2..40),
    ("offset", 0..24),
    ("pixel_panning", 0..9),
    ("preset_row_scan", 0..6),
    ("byte_panning", 0..4),
    ("cursor_address", 0..40),
    ("start_address", 0..64),
    ("double_scan", 0..2),
];

/// Something that happens to a board.
#[derive(Clone, Debug)]
pub enum Event {
    /// Index port, index, byte: index and data written one after the other.
    Program(u16, u8, u8),
    WritePort(u16, u8),
    WriteMemory(u32, u8),
    ReadPort(u16),
    ReadMemory(u32),
}

/// One case.
#[derive(Clone, Debug)]
pub struct Scenario {
    pub adapter: &'static str,
    mode: &'static str,
    /// One value for each of the small registers, cut to its range.
    small: Vec<u64>,
    /// Cells set to any byte.
    odd: Vec<(u8, u8)>,
    seed: u32,
    pub stages: u8,
    /// Dots since the event before, and the event.
    pub events: Vec<(u64, Event)>,
}

impl Scenario {
    pub fn registers(&self, adapter: &Adapter) -> Registers {
        let mut registers = adapter.start_up(adapter.mode(self.mode).unwrap());
        for ((name, range), value) in SMALL.into_iter().zip(&self.small) {
            if let Some(field) = adapter.field(name) {
                let value = range.start + value % (range.end - range.start);
                let _ = adapter.set(&mut registers, field, value);
            }
        }
        for (position, value) in &self.odd {
            let cells =
                Bank::ALL.into_iter().flat_map(|bank| (0..bank.len()).filter_map(move |at| Cell::new(bank, at)));
            let cells: Vec<Cell> = cells.collect();
            registers.set_cell(cells[usize::from(*position) % cells.len()], *value);
        }
        registers
    }

    pub fn memory(&self, adapter: &Adapter) -> Vec<u8> {
        let byte = |at: u32| ((at ^ self.seed).wrapping_mul(2_654_435_761) >> 13) as u8;
        (0..adapter.memory().bytes).map(byte).collect()
    }
}

/// Ports that matter, and some that do not.
fn port() -> impl Strategy<Value = u16> {
    prop_oneof![
        4 => prop::sample::select(vec![0x3D4u16, 0x3D5, 0x3B4, 0x3B5]),
        2 => prop::sample::select(vec![0x3D8u16, 0x3D9, 0x3B8, 0x3BF, 0x3C2, 0x3DA, 0x3BA, 0x3DA, 0x3DB, 0x3DC, 0x3BB, 0x3B9]),
        3 => prop::sample::select(vec![0x3C0u16, 0x3C1, 0x3C4, 0x3C5, 0x3CE, 0x3CF]),
        2 => prop::sample::select(vec![0x3C6u16, 0x3C7, 0x3C8, 0x3C9]),
        1 => 0x3B0u16..0x3E0,
    ]
}

/// Small values as well as any: small ones reach more registers and counts.
fn value() -> impl Strategy<Value = u8> {
    prop_oneof![3 => 0u8..32, 1 => any::<u8>()]
}

fn event() -> impl Strategy<Value = Event> {
    let offset = || prop_oneof![0u32..128, 0x18000u32..0x18100, 0u32..0x20000];
    let index_port = prop::sample::select(vec![0x3D4u16, 0x3D4, 0x3B4, 0x3C4, 0x3CE, 0x3C0]);
    prop_oneof![
        8 => (index_port, 0u8..0x20, value()).prop_map(|(port, index, value)| Event::Program(port, index, value)),
        4 => (port(), value()).prop_map(|(port, value)| Event::WritePort(port, value)),
        3 => (offset(), any::<u8>()).prop_map(|(offset, value)| Event::WriteMemory(offset, value)),
        1 => port().prop_map(Event::ReadPort),
        1 => offset().prop_map(Event::ReadMemory),
    ]
}

/// Any case.
pub fn scenario() -> impl Strategy<Value = Scenario> {
    let gap = prop_oneof![3 => Just(0u64), 3 => 1u64..40, 2 => 40u64..900, 1 => 900u64..6000];
    let stages = prop_oneof![1 => Just(0u8), 1 => any::<u8>(), 1 => (0u8..8).prop_map(|bit| 1 << bit)];
    (
        prop::sample::select(BOARDS.to_vec()),
        vec(0u64..1000, SMALL.len()),
        vec((any::<u8>(), any::<u8>()), 0..4),
        any::<u32>(),
        stages,
        vec((gap, event()), 0..40),
    )
        .prop_map(|((adapter, mode), small, odd, seed, stages, events)| Scenario {
            adapter,
            mode,
            small,
            odd,
            seed,
            stages,
            events,
        })
}
