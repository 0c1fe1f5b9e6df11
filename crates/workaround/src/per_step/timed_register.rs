//! A register that is written at chosen lines, as a routine beside the beam does it: what a board then shows, and when each
//! write may come.
//!
//! A line's value is set as the line begins and the register restored as its last scan line has been shown. Whether the class
//! obeys such writes is found out on its plain board; the moments at which a write does the same, by drawing each.

use std::sync::Arc;

use backporch_adapter::{Adapter, Cell, FieldId, Registers};
use backporch_raster::{Board, Frame, Plain, QuietFrame, ScanLine, SegmentKind, Tap};

use super::frame_schedule::{LineValue, Slack, WriteWindow};
use super::proof::noise_memory;

/// Picture lines drawn below the one that is written at.
const BELOW: u32 = 2;

/// When the two writes of a line come, in dots from the first dot of its first and of its last scan line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Moments {
    pub set: i64,
    pub restore: i64,
}

/// A register, and how it is reached.
pub(crate) struct TimedRegister {
    adapter: Arc<Adapter>,
    field: FieldId,
    cell: Cell,
    /// Open to writes, the register at rest.
    registers: Registers,
    /// Selects the register.
    select: (u16, u8),
    data_port: u16,
    quiet: QuietFrame,
    char_dots: i64,
    line_chars: i64,
    /// Character clocks that a line shows at rest.
    displayed: i64,
    /// Scan lines of a picture line.
    repeats: i64,
    /// Picture lines of a row of memory.
    lines_of_row: u32,
}

impl TimedRegister {
    /// `None` where the register takes more than an index and one byte.
    pub fn new(adapter: &Arc<Adapter>, registers: &Registers, field: FieldId) -> Option<Self> {
        let [slice] = adapter.field_info(field).bits.as_slice() else { return None };
        let cell = slice.cell()?;
        let mut registers = registers.clone();
        if adapter.is_protected(&registers, cell) {
            adapter.set(&mut registers, adapter.protect_field()?, 0).ok()?;
        }
        let [select, (data_port, _)] = adapter.cell_writes(&registers, cell, 0)[..] else { return None };
        let quiet = QuietFrame::new(adapter, &registers, &Plain);
        let timing = quiet.timing();
        let first = |index| i64::from(quiet.line(0, 0, index).scan_line);
        Some(Self {
            field,
            cell,
            select,
            data_port,
            char_dots: i64::from(quiet.shown().char_dots),
            line_chars: i64::from(timing.chars()),
            displayed: i64::from(timing.displayed),
            lines_of_row: if quiet.format().uses_row_address() { timing.lines_per_row() } else { 1 },
            repeats: if quiet.picture_lines() > 1 { first(1) - first(0) } else { 1 },
            adapter: Arc::clone(adapter),
            registers,
            quiet,
        })
    }

    /// The registers a board needs so that the writes arrive.
    pub fn registers(&self) -> &Registers {
        &self.registers
    }

    /// The value is set as the line begins, and restored where display ends at rest.
    pub fn nominal(&self) -> Moments {
        Moments { set: 0, restore: self.displayed * self.char_dots }
    }

    /// The first frame of a board under a tap that begins at `start`, with the writes.
    pub fn frame<T: Tap>(
        &self,
        (start, memory): (u32, &[u8]),
        tap: T,
        lines: &[LineValue],
        moments: Moments,
    ) -> Option<Frame> {
        let mut board = self.board(start, memory, tap)?;
        self.write(&mut board, lines, moments);
        Some(board.run_frame())
    }

    fn board<T: Tap>(&self, start: u32, memory: &[u8], tap: T) -> Option<Board<T>> {
        let mut registers = self.registers.clone();
        self.adapter.set(&mut registers, self.adapter.start_address(), u64::from(start)).ok()?;
        let mut board = Board::new(Arc::clone(&self.adapter), registers, tap);
        board.load(memory);
        board.write_port(self.select.0, self.select.1);
        Some(board)
    }

    /// Does the writes, each at its moment.
    fn write<T: Tap>(&self, board: &mut Board<T>, lines: &[LineValue], moments: Moments) {
        let line_dots = self.line_chars * self.char_dots;
        let rest = self.byte(self.adapter.get(&self.registers, self.field));
        let of_line = |LineValue { line, value, .. }: &LineValue| {
            let first = i64::from(self.quiet.line(0, 0, *line).scan_line);
            let set = (first * line_dots + moments.set, self.byte(*value));
            [set, ((first + self.repeats - 1) * line_dots + moments.restore, rest)]
        };
        let mut writes: Vec<(i64, u8)> = lines.iter().flat_map(of_line).collect();
        writes.sort_by_key(|(dot, _)| *dot);
        for (dot, byte) in writes {
            board.run_to(dot.max(0) as u64);
            board.write_port(self.data_port, byte);
        }
    }

    fn byte(&self, value: u32) -> u8 {
        let mut registers = self.registers.clone();
        // A value too large leaves the register as it is, and the proof says so.
        let _ = self.adapter.set(&mut registers, self.field, u64::from(value));
        registers.cell(self.cell)
    }

    /// For each picture line of a row of memory: whether a line that shows one character clock less does just that, and leaves
    /// sync and all other lines alone.
    pub fn obeyed(&self) -> Vec<bool> {
        let memory = noise_memory(self.adapter.memory().bytes);
        let plain = self.frame((0, &memory), Plain, &[], self.nominal());
        let rest = self.adapter.get(&self.registers, self.field);
        let obeys = |line: u32| {
            let value = LineValue { line, value: rest.checked_sub(1)?, displayed: 0 };
            let written = self.frame((0, &memory), Plain, &[value], self.nominal())?;
            let plain = plain.as_ref()?;
            let pairs = plain.lines.iter().zip(&written.lines);
            let mut pairs = pairs.filter(|(one, two)| !plain.looks_like(one, &written, two));
            let shorter = |one: &ScanLine, two: &ScanLine| {
                let of_line = one.fetch.as_ref().is_some_and(|fetch| fetch.picture_line == line);
                let (all, left) = (values(plain, one), values(&written, two));
                of_line && left.len() < all.len() && all.starts_with(&left)
            };
            let alike = plain.lines.len() == written.lines.len()
                && pairs.all(|(one, two)| shorter(one, two) && sync(plain, one).eq(sync(&written, two)));
            Some(alike && !plain.eq(&written))
        };
        (0..self.lines_of_row).map(|line| obeys(self.lines_of_row + line).unwrap_or(false)).collect()
    }

    /// What decides how much room the writes of a line have: where in a row of memory it stands.
    pub fn kind_of(&self, value: &LineValue) -> u32 {
        value.line % self.lines_of_row
    }

    /// The moments at which the writes of a line do the same as at the nominal ones, the line beginning at `place`; each write
    /// is moved alone, a character clock at a time, up to the length of a line.
    pub fn slack<T: Tap + Clone>(&self, tap: &T, place: u32, value: LineValue) -> Option<Slack> {
        // The line of its kind in the second row stands for all.
        let value = LineValue { line: self.lines_of_row + value.line % self.lines_of_row, ..value };
        let first = self.quiet.line(0, 0, 0);
        let unit = first.unit.max(1);
        let start = place.wrapping_sub(first.pitch / unit) & (first.mask / unit);
        let memory = noise_memory(self.adapter.memory().bytes);
        let is_room = value.line + BELOW < self.quiet.picture_lines();
        let board = self.board(start, &memory, tap.clone()).filter(|_| is_room)?;
        let end =
            u64::from(self.quiet.line(0, 0, value.line + BELOW).scan_line) * (self.line_chars * self.char_dots) as u64;
        let drawn = |moments: Moments| {
            let mut board = board.clone();
            self.write(&mut board, &[value], moments);
            board.run_to(end);
            board.frame_so_far().clone()
        };
        let nominal = drawn(self.nominal());
        let same = |moments: Moments| {
            let moved = drawn(moments);
            let mut pairs = nominal.lines.iter().zip(&moved.lines);
            nominal.lines.len() == moved.lines.len() && pairs.all(|(one, two)| nominal.looks_like(one, &moved, two))
        };
        let window = |at: i64, moments: &dyn Fn(i64) -> Moments| {
            let edge = |by: i64| {
                let steps = (1..=self.line_chars).take_while(|step| same(moments(at + by * step)));
                at + by * steps.last().unwrap_or(0)
            };
            // A write takes effect at the first character clock that begins at or after its dot.
            WriteWindow { from: edge(-self.char_dots) - self.char_dots + 1, to: edge(self.char_dots) }
        };
        let Moments { set, restore } = self.nominal();
        Some(Slack {
            set: window(set, &|set| Moments { set, restore }),
            restore: window(restore, &|restore| Moments { set, restore }),
        })
    }
}

/// Pixel values of a scan line.
fn values(frame: &Frame, line: &ScanLine) -> Vec<u8> {
    frame.segments_of(line).iter().flat_map(|segment| frame.values_of(segment.kind).iter().copied()).collect()
}

/// Where a scan line's sync is, and how long the line is.
fn sync<'a>(frame: &'a Frame, line: &'a ScanLine) -> impl Iterator<Item = (u32, u32)> + 'a {
    let pulses = frame.segments_of(line).iter().filter(|segment| segment.kind == SegmentKind::Sync);
    pulses.map(|segment| (segment.dot, segment.dots)).chain([(line.dots, 0)])
}
