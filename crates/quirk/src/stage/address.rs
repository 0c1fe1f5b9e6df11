//! Address: which byte of memory a place of the line is fetched from.
//!
//! Every action takes the linear address the stage before it chose, and bends
//! it. A row crossing is a carry of the counter into its row part; the counter
//! counts from the line's first byte as the stage before left it.

use backporch_raster::{Line, Run};

use crate::language::actions;

actions! {
    /// What a fault does to the address of a byte.
    pub enum AddressAction {
        /// The row address can be reloaded only so many times a line: past the
        /// next crossing the column keeps counting within the old row.
        RowReload { row_bytes: PowerOfTwo(2, 65536), reloads: Between(0, 64) }
            => Byte, "with memory rows of {row_bytes} bytes the row address is reloaded at most {reloads} time(s) on a line; past the next crossing the column keeps counting within the old row";
        /// Counting along the line, no carry reaches this address bit.
        CarryBroken { bit: Between(1, 19) }
            => Byte, "while the address counts along the line, no carry reaches address bit {bit}";
        /// In the adder that makes row starts, no carry reaches this address bit.
        RowCarryBroken { bit: Between(1, 19) }
            => Byte, "when the start of the next row is added up, no carry reaches address bit {bit}";
        /// Address bits stuck at 0.
        BitsLow { bits: Between(1, 0xFFFFF) }
            => Byte, "bits {bits:#} of the address read as 0";
        /// Address bits stuck at 1.
        BitsHigh { bits: Between(1, 0xFFFFF) }
            => Byte, "bits {bits:#} of the address read as 1";
        /// Two address bits exchanged.
        BitsSwapped { one: Between(0, 19), other: Between(0, 19) }
            => Byte, "address bits {one} and {other} are exchanged";
        /// Addresses start again at 0 from this size on.
        Wrap { bytes: Between(256, 0x100000) }
            => Byte, "memory starts again at its beginning after {bytes:#} bytes";
        /// The pitch is rounded down to a multiple.
        PitchRounded { to: Between(1, 4096) }
            => Byte, "the pitch is rounded down to a multiple of {to} bytes";
        /// The pitch is off by so many bytes.
        PitchOff { bytes: Between(-1024, 1024) }
            => Byte, "each row begins {bytes} byte(s) further on than the pitch says, adding up from row to row";
        /// The line is fetched so many bytes further on.
        Moved { bytes: Between(-65536, 65536) }
            => Byte, "the byte is fetched {bytes} byte(s) further on in memory";
        /// The line shows a row before its own.
        RowsBack { rows: Between(1, 255) }
            => Byte, "the row {rows} before is fetched again";
        /// Bits that choose the bank are turned over.
        WrongBank { bits: Between(1, 0xFFFFF) }
            => Line, "bits {bits:#} of the bank's address are turned over";
    }
}

impl AddressAction<i32> {
    /// Where byte `offset` of the line is fetched from, `linear` being where it
    /// was to come from, and for how many bytes on that holds if `linear` counts on.
    pub(crate) fn bend(&self, line: &Line, offset: u32, linear: u32) -> Run {
        let of_rows = |bytes: i64| moved(linear, i64::from(line.row) * bytes);
        match *self {
            Self::RowReload { row_bytes, reloads } => {
                row_reload(line, offset, linear, row_bytes.trailing_zeros(), reloads as u32)
            }
            Self::CarryBroken { bit } => row_reload(line, offset, linear, bit as u32, 0),
            Self::RowCarryBroken { bit } => moved(linear, -(row_carries(line, bit as u32) << bit)),
            Self::BitsLow { bits } => by_bits(linear, bits as u32, |linear| linear & !(bits as u32)),
            Self::BitsHigh { bits } => by_bits(linear, bits as u32, |linear| linear | bits as u32),
            Self::BitsSwapped { one, other } => {
                by_bits(linear, 1 << one | 1 << other, |linear| swapped(linear, one as u32, other as u32))
            }
            Self::Wrap { bytes } => wrapped(line, linear, bytes as u32),
            Self::PitchRounded { to } => of_rows(-i64::from(line.pitch % to as u32)),
            Self::PitchOff { bytes } => of_rows(bytes.into()),
            Self::Moved { bytes } => moved(linear, bytes.into()),
            Self::RowsBack { rows } => moved(linear, -i64::from(line.row.min(rows as u32) * line.pitch)),
            Self::WrongBank { .. } => moved(linear, 0),
        }
    }

    /// The bank the line is fetched from in place of `bank`.
    pub(crate) fn bend_bank(&self, bank: u32) -> u32 {
        match *self {
            Self::WrongBank { bits } => bank ^ bits as u32,
            _ => bank,
        }
    }
}

/// A whole line moved by so many bytes.
fn moved(linear: u32, bytes: i64) -> Run {
    Run { linear: linear.wrapping_add(bytes as u32), len: u32::MAX }
}

/// Memory rows of `1 << bits` bytes, reloaded at most so many times on the line.
fn row_reload(line: &Line, offset: u32, linear: u32, bits: u32, reloads: u32) -> Run {
    let row_bytes = 1 << bits;
    let first = linear.wrapping_sub(offset) & line.mask;
    let along = first % row_bytes + offset;
    let crossings = along >> bits;
    if crossings <= reloads {
        return Run { linear, len: ((reloads + 1) << bits) - along };
    }
    let lost = (crossings - reloads) << bits;
    Run { linear: linear.wrapping_sub(lost), len: row_bytes - along % row_bytes }
}

/// Carries into `bit` on the way from the frame's start to this row, one pitch a row.
fn row_carries(line: &Line, bit: u32) -> i64 {
    let low = (1u32 << bit) - 1;
    let start = line.start.wrapping_mul(line.unit) & line.mask;
    i64::from(((start & low) + line.row * (line.pitch & low)) >> bit)
}

/// A change of some bits: it holds until counting carries into the lowest of them.
fn by_bits(linear: u32, bits: u32, change: impl Fn(u32) -> u32) -> Run {
    let block = 1 << bits.trailing_zeros();
    Run { linear: change(linear), len: block - linear % block }
}

fn swapped(linear: u32, one: u32, other: u32) -> u32 {
    let differ = (linear >> one ^ linear >> other) & 1;
    linear ^ (differ << one | differ << other)
}

fn wrapped(line: &Line, linear: u32, bytes: u32) -> Run {
    let inside = linear & line.mask;
    let linear = inside % bytes;
    Run { linear, len: (bytes - linear).min(line.mask - inside + 1) }
}
