//! A frame as the inspector remembers it: what was fetched when, and what happened.

use backporch_adapter::{Adapter, Registers};
use backporch_raster::{Frame, Line};
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
pub(crate) struct ScreenRead {
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

/// Pixel values, a bit each.
type Values = [u64; 4];

/// A place in the picture from which on some value has another colour than above.
#[derive(Clone, Copy, Debug)]
struct ColourSplit {
    /// Dot since the board was made.
    dot: u64,
    /// Dot at which the palette before was shown first.
    since: u64,
}

/// One frame.
#[derive(Clone, Debug)]
pub(crate) struct SeenFrame {
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
    splits: Vec<ColourSplit>,
    longest: u32,
    bytes_per_char: u32,
    char_dots: u32,
}

impl SeenFrame {
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
            splits: colour_splits(frame),
            lines,
            fetches,
        }
    }

    /// Whether the beam is in the picture at a dot: after its first byte and before its last.
    pub fn is_in_picture(&self, dot: u64) -> bool {
        let first = self.lines.iter().find(|line| line.fetch.is_some());
        first.is_some_and(|first| (first.first_dot + 1..self.active_end).contains(&dot))
    }

    /// Whether some pixel value is shown in one colour before a write at this dot and in another after it.
    pub fn colours_split_at(&self, dot: u64) -> bool {
        let next = self.splits.partition_point(|split| split.dot < dot);
        self.splits.get(next).is_some_and(|split| split.since < dot)
    }

    /// Whether lines after a write at this dot are shown in another way than those before it: panned, from another
    /// page, in another format.
    pub fn lines_split_at(&self, dot: u64) -> bool {
        let after = self.lines.partition_point(|line| line.first_dot < dot);
        let (before, after) = self.lines.split_at(after);
        let Some(last) = before.iter().rev().find_map(|line| line.fetch) else { return false };
        let like = |line: &Line| line.row_address == last.row_address;
        let Some(next) = after.iter().filter_map(|line| line.fetch).find(like) else { return false };
        let way = |line: &Line| (line.pan, line.format, line.bank, line.spread, line.repeat, line.holes);
        way(&last) != way(&next)
    }

    /// The first line below a split screen's edge, where there is one.
    pub fn below_split(&self) -> Option<Line> {
        let lines: Vec<Line> = self.lines.iter().filter_map(|line| line.fetch).collect();
        let restarts = |pair: &&[Line]| {
            let (one, two) = (&pair[0], &pair[1]);
            let goes_on = (one.linear + one.pitch) & one.mask;
            two.linear == 0 && one.linear != 0 && goes_on != 0
        };
        lines.windows(2).find(restarts).map(|pair| pair[1])
    }

    /// Its dots.
    pub fn length(&self) -> u64 {
        self.end_dot - self.first_dot
    }

    /// How the first line that begins after a dot was fetched.
    pub fn line_after(&self, dot: u64) -> Option<Line> {
        self.lines.iter().filter(|line| line.first_dot > dot).find_map(|line| line.fetch)
    }

    /// How the first line was fetched.
    pub fn first_line(&self) -> Option<Line> {
        self.lines.iter().find_map(|line| line.fetch)
    }

    /// Every place from which an address was read, in no order.
    pub fn reads(&self, address: u32) -> impl Iterator<Item = ScreenRead> + '_ {
        let end = self.fetches.partition_point(|fetch| fetch.address <= address);
        let near = self.fetches[..end].iter().rev();
        let near = near.take_while(move |fetch| address - fetch.address < self.longest);
        near.filter(move |fetch| address - fetch.address < fetch.len).map(move |fetch| {
            let at = fetch.at + (address - fetch.address);
            let line = &self.lines[fetch.line as usize];
            let line_dot = at / self.bytes_per_char * self.char_dots;
            ScreenRead {
                dot: line.first_dot + u64::from(line_dot),
                line: fetch.line,
                line_dot,
                row: line.fetch.map_or(0, |line| line.row),
                at,
            }
        })
    }

    /// First read of an address.
    pub fn first_read(&self, address: u32) -> Option<ScreenRead> {
        self.reads(address).min_by_key(|read| read.dot)
    }

    /// Last read of an address.
    pub fn last_read(&self, address: u32) -> Option<ScreenRead> {
        self.reads(address).max_by_key(|read| read.dot)
    }

    /// How the picture moved since the frame before, where it did.
    pub fn movement_from(&self, before: &Self) -> Option<WindowMovement> {
        let start = self.first_line()?.start;
        self.movement(before.start?, start)
    }

    /// How its picture moves when the start address changes so, where it does.
    pub fn movement(&self, from: u32, to: u32) -> Option<WindowMovement> {
        let line = self.first_line()?;
        let units = i64::from(to) - i64::from(from);
        if units == 0 || line.pitch == 0 {
            return None;
        }
        let around = i64::from(line.mask) + 1;
        let bytes = (units * i64::from(line.unit) + around / 2).rem_euclid(around) - around / 2;
        let pitch = i64::from(line.pitch);
        let rows = (bytes + pitch / 2).div_euclid(pitch);
        let movement = WindowMovement { rows, bytes: bytes - rows * pitch, width: line.bytes, height: self.rows };
        (movement.rows != 0 || movement.bytes != 0).then_some(movement)
    }
}

/// By how much the window moved over the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct WindowMovement {
    rows: i64,
    bytes: i64,
    width: u32,
    height: u32,
}

impl WindowMovement {
    /// Whether the window shows half of the rows it showed before, or more; where it does not, a page was flipped, which may
    /// lie close to the other, and there is no edge at which anything enters.
    pub fn overlaps(&self) -> bool {
        2 * self.rows.unsigned_abs() <= u64::from(self.height) && self.bytes.unsigned_abs() < u64::from(self.width)
    }

    /// Whether what stands here is outside the window, or elsewhere in it, after the movement.
    pub fn leaves(&self, read: &ScreenRead) -> bool {
        let column = i64::from(read.at) - self.bytes;
        let row = i64::from(read.row) - self.rows;
        !(0..i64::from(self.width)).contains(&column) || !(0..i64::from(self.height)).contains(&row)
    }

    /// Whether what stands here was outside the window before.
    pub fn enters(&self, read: &ScreenRead) -> bool {
        let column = i64::from(read.at) + self.bytes;
        let row = i64::from(read.row) + self.rows;
        !(0..i64::from(self.width)).contains(&column) || !(0..i64::from(self.height)).contains(&row)
    }
}

/// Where pixel values change their colour in the picture, shown both above and below.
fn colour_splits(frame: &Frame) -> Vec<ColourSplit> {
    if frame.palettes.len() < 2 {
        return Vec::new();
    }
    // Values shown under one palette after another, and the dot of the first.
    let mut shown: Vec<(u64, usize, Values)> = Vec::new();
    let mut dot = frame.first_dot;
    for line in &frame.lines {
        for segment in frame.segments_of(line).iter().filter(|segment| segment.kind.pixel_dots().is_some()) {
            let palette = usize::from(segment.palette);
            if shown.last().is_none_or(|(_, last, _)| *last != palette) {
                shown.push((dot + u64::from(segment.dot), palette, [0; 4]));
            }
            if let Some((_, _, values)) = shown.last_mut() {
                let mut last = None;
                for value in frame.values_of(segment.kind) {
                    if last != Some(*value) {
                        values[usize::from(value >> 6)] |= 1 << (value & 63);
                        last = Some(*value);
                    }
                }
            }
        }
        dot += u64::from(line.dots);
    }
    let and = |one: &Values, two: &Values| -> Values { std::array::from_fn(|at| one[at] & two[at]) };
    let or = |one: &Values, two: &Values| -> Values { std::array::from_fn(|at| one[at] | two[at]) };
    let mut below = vec![[0; 4]; shown.len()];
    for at in (0..shown.len().saturating_sub(1)).rev() {
        below[at] = or(&below[at + 1], &shown[at + 1].2);
    }
    let mut above = [0; 4];
    let mut splits = Vec::new();
    for at in 1..shown.len() {
        let (since, old, values) = &shown[at - 1];
        above = or(&above, values);
        let (dot, new, _) = &shown[at];
        let (old, new) = (&frame.palettes[*old].colours, &frame.palettes[*new].colours);
        let both = and(&above, &below[at - 1]);
        let is_both = |value: usize| both[value >> 6] >> (value & 63) & 1 != 0;
        if (0..256).any(|value| is_both(value) && old[value] != new[value]) {
            splits.push(ColourSplit { dot: *dot, since: *since });
        }
    }
    splits
}
