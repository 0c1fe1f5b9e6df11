//! Scenes: what is known at a place of the pipeline, and how a quantity reads there.

use backporch_adapter::Timing;
use backporch_raster::{LatchMoment, Line, MemoryWrite, PortWrite};

use crate::language::{Each, Quantity};

/// How a quantity stands at a place, and how it goes on along the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Reading {
    /// Its value.
    pub value: i64,
    /// What each further place adds.
    pub slope: i64,
    /// Number of places, this one included, for which that is so; at least 1.
    pub len: u32,
}

impl Reading {
    fn steady(value: impl Into<i64>) -> Self {
        Self { value: value.into(), slope: 0, len: u32::MAX }
    }

    fn rising(value: u32, len: u32) -> Self {
        Self { value: value.into(), slope: 1, len }
    }

    fn remainder(self, by: i64) -> Self {
        let value = self.value.rem_euclid(by);
        Self { value, len: self.len.min(self.until_turn(value, by)), ..self }
    }

    fn quotient(self, by: i64) -> Self {
        let len = self.len.min(self.until_turn(self.value.rem_euclid(by), by));
        Self { value: self.value.div_euclid(by), slope: 0, len }
    }

    /// Places until the remainder turns over.
    fn until_turn(self, remainder: i64, by: i64) -> u32 {
        match self.slope {
            0 => u32::MAX,
            slope if slope > 0 => (by - remainder) as u32,
            _ => (remainder + 1) as u32,
        }
    }
}

/// What is known where an effect decides whether to act.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Scene<'a> {
    Nothing,
    Comparands(&'a Timing),
    Frame(u64),
    TakeOver(&'a LatchMoment),
    /// A port write, and the dots since the last one.
    Write(&'a PortWrite, Option<u64>),
    MemoryWrite(&'a MemoryWrite),
    Line(&'a Line),
    Byte(&'a Line, u32),
    Pixel(&'a Line, u32),
}

impl Scene<'_> {
    /// How a quantity reads here; `None` where that differs along the line.
    pub fn read(&self, quantity: &Quantity<i32>) -> Option<Reading> {
        match quantity {
            Quantity::Remainder(of, by) => Some(self.read(of)?.remainder(i64::from(*by))),
            Quantity::Quotient(of, by) => Some(self.read(of)?.quotient(i64::from(*by))),
            _ => match *self {
                Self::Line(_) if quantity.changes_along_a_line() => None,
                Self::Line(line) => Some(of_line(line, quantity)),
                Self::Byte(line, at) => Some(of_byte(line, at, quantity)),
                Self::Pixel(line, x) => Some(of_pixel(line, x, quantity)),
                Self::Comparands(timing) => Some(of_comparands(timing, quantity)),
                Self::Frame(frame) => Some(Reading::steady(frame as i64)),
                Self::TakeOver(moment) => Some(of_take_over(moment, quantity)),
                Self::Write(write, since) => Some(of_write(write, since, quantity)),
                Self::MemoryWrite(write) => Some(of_memory_write(write, quantity)),
                Self::Nothing => Some(Reading::steady(0)),
            },
        }
    }

    /// The line, where there is one.
    pub fn line(&self) -> Option<&Line> {
        match self {
            Self::Line(line) | Self::Byte(line, _) | Self::Pixel(line, _) => Some(line),
            _ => None,
        }
    }

    /// The port write, where there is one.
    pub fn write(&self) -> Option<&PortWrite> {
        match self {
            Self::Write(write, _) => Some(write),
            _ => None,
        }
    }

    /// What tells one question to chance from the next, and for how many places on they are one.
    pub fn occasion(&self, each: Each) -> Option<(u64, u64, u32)> {
        let (frame, line, place) = match *self {
            Self::Nothing | Self::Comparands(_) => (0, 0, Some(0)),
            Self::Frame(frame) => (frame, 0, Some(0)),
            Self::TakeOver(moment) => (moment.frame, 0, Some(0)),
            Self::Write(write, _) => (write.frame, 0, Some(write.dot)),
            Self::MemoryWrite(write) => (write.frame, 0, Some(write.dot)),
            Self::Line(line) => (line.frame, line.scan_line, None),
            Self::Byte(line, at) | Self::Pixel(line, at) => (line.frame, line.scan_line, Some(u64::from(at))),
        };
        match each {
            Each::Frame => Some((frame, 0, u32::MAX)),
            Each::Line => Some((frame, u64::from(line) + 1, u32::MAX)),
            Each::Place | Each::Write => Some((frame, u64::from(line) << 32 | place?, 1)),
        }
    }
}

fn of_line(line: &Line, quantity: &Quantity<i32>) -> Reading {
    let value = match quantity {
        Quantity::Frame => return Reading::steady(line.frame as i64),
        Quantity::Line => line.picture_line,
        Quantity::ScanLine => line.scan_line,
        Quantity::Row => line.row,
        Quantity::RowAddress => u32::from(line.row_address),
        Quantity::Start => line.start,
        Quantity::FirstByte => line.linear,
        Quantity::Pitch => line.pitch,
        Quantity::Displayed => line.displayed,
        Quantity::Bytes => line.bytes,
        Quantity::PixelBits => u32::from(line.pixel_bits),
        Quantity::LineCrossings(row) => {
            let row = *row as u32;
            (line.linear % row + line.bytes.saturating_sub(1)) / row
        }
        Quantity::Tail(row, allowed) => {
            let row = *row as u32;
            let crossed = (*allowed as u32 + 1) * row - line.linear % row;
            line.bytes.saturating_sub(crossed)
        }
        _ => 0,
    };
    Reading::steady(value)
}

fn of_byte(line: &Line, at: u32, quantity: &Quantity<i32>) -> Reading {
    let in_row = |row: &i32| (line.linear % *row as u32 + at) % *row as u32;
    match quantity {
        Quantity::Byte => Reading::rising(at, u32::MAX),
        Quantity::BytesLeft => falling(line.bytes, at),
        Quantity::Char => Reading::rising(at, u32::MAX).quotient(i64::from(line.char_bytes.max(1))),
        Quantity::Crossings(row) => {
            let along = line.linear % *row as u32 + at;
            Reading { value: i64::from(along / *row as u32), slope: 0, len: *row as u32 - in_row(row) }
        }
        Quantity::ToCrossing(row) => {
            let left = *row as u32 - in_row(row);
            Reading { value: i64::from(left), slope: -1, len: left }
        }
        Quantity::SinceCrossing(row) => Reading::rising(at.min(in_row(row)), *row as u32 - in_row(row)),
        line_wide => of_line(line, line_wide),
    }
}

fn of_pixel(line: &Line, x: u32, quantity: &Quantity<i32>) -> Reading {
    match quantity {
        Quantity::X => Reading::rising(x, u32::MAX),
        Quantity::PixelsLeft => falling(line.pixels(), x),
        Quantity::Char => Reading::rising(x, u32::MAX).quotient(i64::from(line.char_pixels.max(1))),
        line_wide => of_line(line, line_wide),
    }
}

fn falling(all: u32, at: u32) -> Reading {
    Reading { value: i64::from(all) - i64::from(at), slope: -1, len: u32::MAX }
}

fn of_comparands(timing: &Timing, quantity: &Quantity<i32>) -> Reading {
    Reading::steady(match quantity {
        Quantity::Displayed => i64::from(timing.displayed),
        Quantity::Total => i64::from(timing.chars()),
        Quantity::SyncPosition => i64::from(timing.sync_start),
        Quantity::SyncWidth => i64::from(timing.sync_width),
        _ => 0,
    })
}

/// A time that never was reads as a very long one.
fn dots(since: Option<u64>) -> i64 {
    since.map_or(i64::from(i32::MAX), |dots| dots.min(i32::MAX as u64) as i64)
}

fn of_take_over(moment: &LatchMoment, quantity: &Quantity<i32>) -> Reading {
    Reading::steady(match quantity {
        Quantity::Frame => moment.frame as i64,
        Quantity::Start => i64::from(moment.start),
        Quantity::SinceWrite => dots(moment.since_write),
        _ => 0,
    })
}

fn of_write(write: &PortWrite, since: Option<u64>, quantity: &Quantity<i32>) -> Reading {
    Reading::steady(match quantity {
        Quantity::Frame => write.frame as i64,
        Quantity::ScanLine => i64::from(write.scan_line),
        Quantity::Char => i64::from(write.char),
        Quantity::Port => i64::from(write.port),
        Quantity::Value => i64::from(write.value),
        Quantity::SinceLast => dots(since),
        Quantity::LinesToLatch => i64::from(write.latch_line) - i64::from(write.scan_line),
        _ => 0,
    })
}

fn of_memory_write(write: &MemoryWrite, quantity: &Quantity<i32>) -> Reading {
    Reading::steady(match quantity {
        Quantity::Frame => write.frame as i64,
        Quantity::ScanLine => i64::from(write.scan_line),
        Quantity::Char => i64::from(write.char),
        Quantity::Value => i64::from(write.value),
        _ => 0,
    })
}
