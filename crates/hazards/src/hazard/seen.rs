//! A frame as the inspector remembers it: what was fetched when, and what happened.

use backporch_adapter::{Adapter, Registers};
use backporch_raster::Line;
use backporch_script::{Event, FrameRecord};

/// Consecutive bytes fetched on one scan line.
#[derive(Clone, Copy, Debug)]
struct Fetch {
    address: u32,
    len: u32,
    /// Offset of the first byte on its line.
    at: u32,
    /// Scan line.
    line: u32,
}

/// A place on the screen from which a byte was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Read {
    /// Dots since the board was made.
    pub dot: u64,
    /// Scan line.
    pub line: u32,
    /// Dot of the line.
    pub line_dot: u32,
    /// Character row.
    pub row: u32,
    /// Offset on the line.
    pub at: u32,
}

/// A scan line that showed memory.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SeenLine {
    pub fetch: Option<Line>,
    pub first_dot: u64,
}

/// One frame.
#[derive(Clone, Debug)]
pub(crate) struct Seen {
    pub number: u64,
    pub first_dot: u64,
    pub end_dot: u64,
    pub active_end: u64,
    pub latch_dot: u64,
    /// Scan line of the take-over, and dot of that line.
    pub latch_place: (u32, u32),
    pub start: Option<u32>,
    pub unstable: bool,
    pub uneven: bool,
    pub registers: Registers,
    pub lines: Vec<SeenLine>,
    pub rows: u32,
    pub events: Vec<Event>,
    fetches: Vec<Fetch>,
    longest: u32,
    bytes_per_char: u32,
    char_dots: u32,
}

impl Seen {
    pub fn new(record: FrameRecord, adapter: &Adapter) -> Self {
        let frame = &record.frame;
        let mut dot = frame.first_dot;
        let mut lines = Vec::with_capacity(frame.lines.len());
        let mut fetches: Vec<Fetch> = Vec::new();
        for (number, line) in frame.lines.iter().enumerate() {
            lines.push(SeenLine { fetch: line.fetch, first_dot: dot });
            dot += u64::from(line.dots);
            // What the registers mean, not what the class or a fault made of it: neither is the routine's mistake.
            let spans = line.fetch.iter().flat_map(Line::plain_spans);
            fetches.extend(spans.map(|span| Fetch {
                address: span.address,
                len: span.len,
                at: span.at,
                line: number as u32,
            }));
        }
        fetches.sort_by_key(|fetch| fetch.address);
        let format = lines.iter().find_map(|line| line.fetch).map_or(0, |line| line.format);
        let format = adapter.format(format as usize);
        let widths = frame.lines.first().map(|line| line.dots);
        Self {
            number: frame.number,
            first_dot: frame.first_dot,
            end_dot: record.end_dot(),
            active_end: record.active_end(),
            latch_dot: record.latch_dot(),
            latch_place: (record.latch_line, record.latch_line_dots),
            start: record.start(),
            unstable: frame.unstable,
            uneven: frame.lines.iter().any(|line| Some(line.dots) != widths),
            rows: lines.iter().filter_map(|line| line.fetch).map(|line| line.row + 1).max().unwrap_or(0),
            longest: fetches.iter().map(|fetch| fetch.len).max().unwrap_or(0),
            bytes_per_char: format.address.bytes_per_char().max(1),
            char_dots: u32::from(format.char_dots),
            registers: record.registers,
            events: record.events,
            lines,
            fetches,
        }
    }

    /// How the first line was fetched.
    pub fn first_line(&self) -> Option<Line> {
        self.lines.iter().find_map(|line| line.fetch)
    }

    /// Every place from which an address was read, in no order.
    pub fn reads(&self, address: u32) -> impl Iterator<Item = Read> + '_ {
        let end = self.fetches.partition_point(|fetch| fetch.address <= address);
        let near = self.fetches[..end].iter().rev();
        let near = near.take_while(move |fetch| address - fetch.address < self.longest);
        near.filter(move |fetch| address - fetch.address < fetch.len).map(move |fetch| {
            let at = fetch.at + (address - fetch.address);
            let line = &self.lines[fetch.line as usize];
            let line_dot = at / self.bytes_per_char * self.char_dots;
            Read {
                dot: line.first_dot + u64::from(line_dot),
                line: fetch.line,
                line_dot,
                row: line.fetch.map_or(0, |line| line.row),
                at,
            }
        })
    }

    /// First read of an address.
    pub fn first_read(&self, address: u32) -> Option<Read> {
        self.reads(address).min_by_key(|read| read.dot)
    }

    /// Last read of an address.
    pub fn last_read(&self, address: u32) -> Option<Read> {
        self.reads(address).max_by_key(|read| read.dot)
    }

    /// How the picture moved since the frame before, where it did.
    pub fn movement_from(&self, before: &Self) -> Option<Movement> {
        let (line, start) = (self.first_line()?, before.start?);
        let units = i64::from(line.start) - i64::from(start);
        if units == 0 || line.pitch == 0 {
            return None;
        }
        let around = i64::from(line.mask) + 1;
        let bytes = (units * i64::from(line.unit) + around / 2).rem_euclid(around) - around / 2;
        let pitch = i64::from(line.pitch);
        let rows = (bytes + pitch / 2).div_euclid(pitch);
        let movement = Movement { rows, bytes: bytes - rows * pitch, width: line.bytes, height: self.rows };
        (movement.rows != 0 || movement.bytes != 0).then_some(movement)
    }
}

/// By how much the window moved over the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Movement {
    rows: i64,
    bytes: i64,
    width: u32,
    height: u32,
}

impl Movement {
    /// Whether what stands here was outside the window before.
    pub fn enters(&self, read: &Read) -> bool {
        let column = i64::from(read.at) + self.bytes;
        let row = i64::from(read.row) + self.rows;
        !(0..i64::from(self.width)).contains(&column) || !(0..i64::from(self.height)).contains(&row)
    }
}
