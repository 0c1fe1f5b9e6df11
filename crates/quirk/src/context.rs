//! Scenes: what is known at a place of the pipeline, and how a quantity reads there.

use std::num::NonZeroU32;

use backporch_adapter::Timing;
use backporch_raster::{LatchMoment, Line, MemoryWrite, PortWrite};

use crate::language::{Each, Quantity};

/// What each further place adds to a quantity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Slope {
    Level,
    Rising,
    Falling,
}

/// How a quantity stands at a place, and how it goes on along the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct QuantityReading {
    /// Its value.
    pub value: i64,
    /// Number of places, this one included, for which it goes on so.
    pub len: NonZeroU32,
    pub slope: Slope,
}

impl QuantityReading {
    #[inline]
    fn new(value: i64, slope: Slope, len: u32) -> Self {
        Self { value, slope, len: NonZeroU32::new(len).unwrap_or(NonZeroU32::MIN) }
    }

    #[inline]
    fn constant(value: impl Into<i64>) -> Self {
        Self::new(value.into(), Slope::Level, u32::MAX)
    }

    #[inline]
    fn rising(value: u32, len: u32) -> Self {
        Self::new(value.into(), Slope::Rising, len)
    }

    fn remainder(self, by: u32) -> Self {
        let remainder = division(self.value, by).1;
        Self::new(remainder.into(), self.slope, self.len.get().min(self.until_turn(remainder, by)))
    }

    fn quotient(self, by: u32) -> Self {
        let (quotient, remainder) = division(self.value, by);
        Self::new(quotient, Slope::Level, self.len.get().min(self.until_turn(remainder, by)))
    }

    /// Places until the remainder turns over.
    fn until_turn(self, remainder: u32, by: u32) -> u32 {
        match self.slope {
            Slope::Level => u32::MAX,
            Slope::Rising => by - remainder,
            Slope::Falling => remainder + 1,
        }
    }
}

/// A value divided by a number above 0, rounded down, and what is left.
#[inline]
pub(crate) fn division(value: i64, by: u32) -> (i64, u32) {
    // Most values are small, and small numbers are divided far faster.
    match u32::try_from(value) {
        Ok(value) => ((value / by).into(), value % by),
        Err(_) => (value.div_euclid(by.into()), value.rem_euclid(by.into()) as u32),
    }
}

/// Memory rows; their size is a power of two.
#[derive(Clone, Copy, Debug)]
struct MemoryRow {
    bits: u32,
}

impl MemoryRow {
    fn of(bytes: i32) -> Self {
        Self { bits: bytes.trailing_zeros() }
    }

    /// Place of an address in its row.
    fn place(self, address: u32) -> u32 {
        address & ((1 << self.bits) - 1)
    }

    /// Number of the row an address is in.
    fn number(self, address: u32) -> u32 {
        address >> self.bits
    }

    /// Bytes from an address to the end of its row, at least 1.
    fn left(self, address: u32) -> u32 {
        (1 << self.bits) - self.place(address)
    }
}

/// What is known where an effect decides whether to act.
pub(crate) trait Context {
    /// How a quantity without remainder or quotient reads here; `None` where that differs along the line.
    fn plain(&self, quantity: &Quantity<i32>) -> Option<QuantityReading>;

    /// What tells one question to chance from the next: the frame, and a number within it.
    fn occasion(&self, each: Each) -> Option<(u64, u64)>;

    /// The line, where there is one.
    fn line(&self) -> Option<&Line> {
        None
    }

    /// The port write, where there is one.
    fn write(&self) -> Option<&PortWrite> {
        None
    }

    /// How a quantity reads here; `None` where that differs along the line.
    #[inline]
    fn read(&self, quantity: &Quantity<i32>) -> Option<QuantityReading> {
        match quantity {
            Quantity::Remainder(..) | Quantity::Quotient(..) => self.divided(quantity),
            plain => self.plain(plain),
        }
    }

    /// The same for remainders and quotients.
    fn divided(&self, quantity: &Quantity<i32>) -> Option<QuantityReading> {
        match quantity {
            Quantity::Remainder(of, by) => Some(self.divided(of)?.remainder(*by as u32)),
            Quantity::Quotient(of, by) => Some(self.divided(of)?.quotient(*by as u32)),
            plain => self.plain(plain),
        }
    }
}

/// Nothing is known.
pub(crate) struct Nowhere;

impl Context for Nowhere {
    fn plain(&self, _: &Quantity<i32>) -> Option<QuantityReading> {
        Some(QuantityReading::constant(0))
    }

    fn occasion(&self, _: Each) -> Option<(u64, u64)> {
        Some((0, 0))
    }
}

/// Any place of any line: whatever is measured may be anything.
pub(crate) struct Anywhere;

impl Context for Anywhere {
    fn plain(&self, _: &Quantity<i32>) -> Option<QuantityReading> {
        None
    }

    fn occasion(&self, _: Each) -> Option<(u64, u64)> {
        None
    }
}

/// Comparands are decided.
pub(crate) struct OfComparands<'a>(pub &'a Timing);

impl Context for OfComparands<'_> {
    fn plain(&self, quantity: &Quantity<i32>) -> Option<QuantityReading> {
        let Self(timing) = self;
        Some(QuantityReading::constant(match quantity {
            Quantity::Displayed => i64::from(timing.displayed),
            Quantity::Total => i64::from(timing.chars()),
            Quantity::SyncPosition => i64::from(timing.sync_start),
            Quantity::SyncWidth => i64::from(timing.sync_width),
            _ => 0,
        }))
    }

    fn occasion(&self, _: Each) -> Option<(u64, u64)> {
        Some((0, 0))
    }
}

/// A frame.
pub(crate) struct OfFrame(pub u64);

impl Context for OfFrame {
    fn plain(&self, _: &Quantity<i32>) -> Option<QuantityReading> {
        Some(QuantityReading::constant(self.0 as i64))
    }

    fn occasion(&self, _: Each) -> Option<(u64, u64)> {
        Some((self.0, 0))
    }
}

/// The start address is taken over.
pub(crate) struct AtTakeOver<'a>(pub &'a LatchMoment);

impl Context for AtTakeOver<'_> {
    fn plain(&self, quantity: &Quantity<i32>) -> Option<QuantityReading> {
        let Self(moment) = self;
        Some(QuantityReading::constant(match quantity {
            Quantity::Frame => moment.frame as i64,
            Quantity::Start => i64::from(moment.start),
            Quantity::SinceWrite => dots(moment.since_write),
            _ => 0,
        }))
    }

    fn occasion(&self, _: Each) -> Option<(u64, u64)> {
        Some((self.0.frame, 0))
    }
}

/// A port write, and the dots since the last one.
pub(crate) struct AtWrite<'a>(pub &'a PortWrite, pub Option<u64>);

impl Context for AtWrite<'_> {
    fn plain(&self, quantity: &Quantity<i32>) -> Option<QuantityReading> {
        let Self(write, since) = self;
        Some(QuantityReading::constant(match quantity {
            Quantity::Frame => write.frame as i64,
            Quantity::ScanLine => i64::from(write.scan_line),
            Quantity::Char => i64::from(write.char),
            Quantity::Port => i64::from(write.port),
            Quantity::Value => i64::from(write.value),
            Quantity::SinceLast => dots(*since),
            Quantity::LinesToLatch => i64::from(write.latch_line) - i64::from(write.scan_line),
            _ => 0,
        }))
    }

    fn occasion(&self, each: Each) -> Option<(u64, u64)> {
        Some((self.0.frame, if each == Each::Frame { 0 } else { self.0.dot }))
    }

    fn write(&self) -> Option<&PortWrite> {
        Some(self.0)
    }
}

/// A write to memory.
pub(crate) struct AtMemoryWrite<'a>(pub &'a MemoryWrite);

impl Context for AtMemoryWrite<'_> {
    fn plain(&self, quantity: &Quantity<i32>) -> Option<QuantityReading> {
        let Self(write) = self;
        Some(QuantityReading::constant(match quantity {
            Quantity::Frame => write.frame as i64,
            Quantity::ScanLine => i64::from(write.scan_line),
            Quantity::Char => i64::from(write.char),
            Quantity::Value => i64::from(write.value),
            _ => 0,
        }))
    }

    fn occasion(&self, each: Each) -> Option<(u64, u64)> {
        Some((self.0.frame, if each == Each::Frame { 0 } else { self.0.dot }))
    }
}

/// A line, no place of it being chosen yet.
pub(crate) struct AtLine<'a>(pub &'a Line);

impl Context for AtLine<'_> {
    fn plain(&self, quantity: &Quantity<i32>) -> Option<QuantityReading> {
        of_line(self.0, quantity)
    }

    fn occasion(&self, each: Each) -> Option<(u64, u64)> {
        (each != Each::Place).then(|| of_place(self.0, 0, each))
    }

    fn line(&self) -> Option<&Line> {
        Some(self.0)
    }
}

/// A byte of a line.
pub(crate) struct AtByte<'a>(pub &'a Line, pub u32);

impl Context for AtByte<'_> {
    fn plain(&self, quantity: &Quantity<i32>) -> Option<QuantityReading> {
        of_byte(self.0, self.1, quantity)
    }

    fn occasion(&self, each: Each) -> Option<(u64, u64)> {
        Some(of_place(self.0, self.1, each))
    }

    fn line(&self) -> Option<&Line> {
        Some(self.0)
    }
}

/// A pixel of a line.
pub(crate) struct AtPixel<'a>(pub &'a Line, pub u32);

impl Context for AtPixel<'_> {
    fn plain(&self, quantity: &Quantity<i32>) -> Option<QuantityReading> {
        of_pixel(self.0, self.1, quantity)
    }

    fn occasion(&self, each: Each) -> Option<(u64, u64)> {
        Some(of_place(self.0, self.1, each))
    }

    fn line(&self) -> Option<&Line> {
        Some(self.0)
    }
}

/// The frame, and a number for the frame, the scan line or the place.
fn of_place(line: &Line, at: u32, each: Each) -> (u64, u64) {
    let scan_line = u64::from(line.scan_line) << 32;
    match each {
        Each::Frame => (line.frame, 0),
        Each::Line => (line.frame, scan_line | u64::from(u32::MAX)),
        Each::Place | Each::Write => (line.frame, scan_line | u64::from(at)),
    }
}

/// What all places of a line share; `None` for what they do not.
#[inline]
fn of_line(line: &Line, quantity: &Quantity<i32>) -> Option<QuantityReading> {
    let value = match quantity {
        Quantity::Frame => return Some(QuantityReading::constant(line.frame as i64)),
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
            let row = MemoryRow::of(*row);
            row.number(row.place(line.linear) + line.bytes.saturating_sub(1))
        }
        Quantity::Tail(row, allowed) => {
            let row = MemoryRow::of(*row);
            let crossed = ((*allowed as u32 + 1) << row.bits) - row.place(line.linear);
            line.bytes.saturating_sub(crossed)
        }
        _ => return None,
    };
    Some(QuantityReading::constant(value))
}

#[inline]
fn of_byte(line: &Line, at: u32, quantity: &Quantity<i32>) -> Option<QuantityReading> {
    let along = |row: &i32| {
        let row = MemoryRow::of(*row);
        let along = row.place(line.linear) + at;
        (row.number(along), row.place(along), row.left(along))
    };
    Some(match quantity {
        Quantity::Byte => QuantityReading::rising(at, u32::MAX),
        Quantity::BytesLeft => falling(line.bytes, at),
        Quantity::Char => QuantityReading::rising(at, u32::MAX).quotient(line.char_bytes.max(1)),
        Quantity::Crossings(row) => {
            let (crossings, _, left) = along(row);
            QuantityReading::new(crossings.into(), Slope::Level, left)
        }
        Quantity::ToCrossing(row) => {
            let (_, _, left) = along(row);
            QuantityReading::new(left.into(), Slope::Falling, left)
        }
        Quantity::SinceCrossing(row) => {
            let (_, place, left) = along(row);
            QuantityReading::rising(at.min(place), left)
        }
        line_wide => return of_line(line, line_wide),
    })
}

#[inline]
fn of_pixel(line: &Line, x: u32, quantity: &Quantity<i32>) -> Option<QuantityReading> {
    Some(match quantity {
        Quantity::X => QuantityReading::rising(x, u32::MAX),
        Quantity::PixelsLeft => falling(line.pixels(), x),
        Quantity::Char => QuantityReading::rising(x, u32::MAX).quotient(line.char_pixels.max(1)),
        line_wide => return of_line(line, line_wide),
    })
}

fn falling(all: u32, at: u32) -> QuantityReading {
    QuantityReading::new(i64::from(all) - i64::from(at), Slope::Falling, u32::MAX)
}

/// A time that never was reads as a very long one.
fn dots(since: Option<u64>) -> i64 {
    since.map_or(i64::from(i32::MAX), |dots| dots.min(i32::MAX as u64) as i64)
}
