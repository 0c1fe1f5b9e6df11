//! Address: which byte of memory a place of the line is fetched from.
//!
//! Every action takes the linear address the stage before it chose, and changes
//! it. A row crossing is a carry of the counter into its row part; the counter
//! counts from the line's first byte as the stage before left it.

use backporch_raster::{Line, LineDependencies, Run};

use crate::language::{MOST_BYTES, actions};

actions! {
    /// What a fault does to the address of a byte.
    pub enum AddressAction {
        /// The row address can be reloaded only this many times a line: past the
        /// next crossing the column keeps counting within the old row.
        RowReload { row_bytes: PowerOfTwo(2, 65536), reloads: Between(0, 64) }
            => Byte, "with memory rows of {row_bytes} bytes the row address is reloaded at most {reloads} time(s) on a line; past the next crossing the column keeps counting within the old row";
        /// Memory comes a row at a time: a line begins in its own row and makes
        /// a few transfers more, each at the next crossing from the earliest
        /// byte on; which row they load does not follow the crossing.
        RowTransfer {
            row_bytes: PowerOfTwo(2, 65536), transfers: Between(0, 64), earliest: Between(0, 8191),
            line_lengths: Between(0, 1), bytes: Between(-65536, 65536)
        } => Byte, "a line begins in its own memory row of {row_bytes} bytes and makes {transfers} row transfer(s) more, each at the next row crossing from byte {earliest} on; whatever row is due there, the first loads the row of the byte at the line's base plus {line_lengths} line length(s) plus {bytes}, and each further one the row after";
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
        /// The pitch is off by this many bytes.
        PitchOff { bytes: Between(-1024, 1024) }
            => Byte, "each row begins {bytes} byte(s) further on than the pitch says, adding up from row to row";
        /// The line is fetched this many bytes further on.
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
    pub(crate) fn apply(&self, line: &Line, offset: u32, linear: u32) -> Run {
        let of_rows = |bytes: i64| moved(linear, i64::from(line.row) * bytes);
        match *self {
            Self::RowReload { row_bytes, reloads } => {
                row_reload(line, offset, linear, row_bytes.trailing_zeros(), reloads as u32)
            }
            Self::RowTransfer { .. } => match self.row_at(line, offset, linear) {
                Some(at) => Run { linear: at.shown << at.bits | at.column, len: at.len },
                None => moved(linear, 0),
            },
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
    pub(crate) fn apply_to_bank(&self, bank: u32) -> u32 {
        match *self {
            Self::WrongBank { bits } => bank ^ bits as u32,
            Self::RowReload { .. }
            | Self::RowTransfer { .. }
            | Self::CarryBroken { .. }
            | Self::RowCarryBroken { .. }
            | Self::BitsLow { .. }
            | Self::BitsHigh { .. }
            | Self::BitsSwapped { .. }
            | Self::Wrap { .. }
            | Self::PitchRounded { .. }
            | Self::PitchOff { .. }
            | Self::Moved { .. }
            | Self::RowsBack { .. } => bank,
        }
    }

    /// What it did at one byte, in plain words, where that says more than what it always does.
    pub(crate) fn words_at(&self, line: &Line, offset: u32, linear: u32) -> Option<String> {
        let at = self.row_at(line, offset, linear)?;
        let row = |number: u32| number & line.mask >> at.bits;
        let (due, shown) = (row(at.due), row(at.shown));
        Some(match at.made {
            None => {
                let byte = offset.saturating_sub(at.column);
                format!(
                    "row {due:X}h was due here; no transfer was made at byte {byte}, and row {shown:X}h began again"
                )
            }
            Some(Transfer { number: 1, of: 1, byte }) => {
                format!("row {due:X}h was due here; the line's one transfer loaded row {shown:X}h at byte {byte}")
            }
            Some(Transfer { number, of, byte }) => format!(
                "row {due:X}h was due here; transfer {number} of the line's {of} loaded row {shown:X}h at byte {byte}"
            ),
        })
    }

    /// What of a line may change what it does there.
    pub(crate) fn depends_on(&self) -> LineDependencies {
        let more = match self {
            Self::RowReload { .. }
            | Self::CarryBroken { .. }
            | Self::BitsLow { .. }
            | Self::BitsHigh { .. }
            | Self::BitsSwapped { .. }
            | Self::Wrap { .. }
            | Self::Moved { .. } => LineDependencies::empty(),
            Self::RowCarryBroken { .. } => LineDependencies::START | LineDependencies::PLACE | LineDependencies::LENGTH,
            Self::RowTransfer { .. } => LineDependencies::LENGTH,
            Self::PitchRounded { .. } | Self::RowsBack { .. } => LineDependencies::PLACE | LineDependencies::LENGTH,
            Self::PitchOff { .. } | Self::WrongBank { .. } => LineDependencies::PLACE,
        };
        LineDependencies::LINEAR | more
    }

    /// Whether it changes nothing on any board.
    pub(crate) fn is_no_op(&self) -> bool {
        match *self {
            Self::RowReload { row_bytes, reloads } => i64::from(row_bytes) * i64::from(reloads) >= MOST_BYTES,
            Self::BitsSwapped { one, other } => one == other,
            Self::PitchRounded { to } => to == 1,
            Self::PitchOff { bytes } | Self::Moved { bytes } => bytes == 0,
            Self::RowTransfer { .. }
            | Self::CarryBroken { .. }
            | Self::RowCarryBroken { .. }
            | Self::BitsLow { .. }
            | Self::BitsHigh { .. }
            | Self::Wrap { .. }
            | Self::RowsBack { .. }
            | Self::WrongBank { .. } => false,
        }
    }
}

/// A whole line moved by this many bytes.
fn moved(linear: u32, bytes: i64) -> Run {
    Run { linear: linear.wrapping_add(bytes as u32), len: u32::MAX }
}

/// Memory rows of `1 << bits` bytes, reloaded at most this many times on the line.
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

/// The memory row that a byte of a line is shown from.
struct RowAt {
    /// A row is `1 << bits` bytes.
    bits: u32,
    /// The row that counting on would have come to.
    due: u32,
    /// The row it is shown from.
    shown: u32,
    /// Byte of the row.
    column: u32,
    /// Bytes on from there that are counted on.
    len: u32,
    /// The last transfer made on the line so far, the one that begins it not counted.
    made: Option<Transfer>,
}

/// A row transfer on the way along a line.
struct Transfer {
    /// From 1.
    number: u32,
    /// Transfers the line has time for.
    of: u32,
    /// Byte of the line at which it is made.
    byte: u32,
}

impl AddressAction<i32> {
    /// Where a line that begins in its own row and loads others stands; `None` for other actions.
    fn row_at(&self, line: &Line, offset: u32, linear: u32) -> Option<RowAt> {
        let Self::RowTransfer { row_bytes, transfers, earliest, line_lengths, bytes } = *self else {
            return None;
        };
        // A power of two: no place needs a division.
        let (bits, within) = (row_bytes.trailing_zeros(), row_bytes as u32 - 1);
        let plain = line.plain_address(offset);
        let along = plain.wrapping_sub(line.linear);
        // The line's base as the stage before left it.
        let base = line.linear.wrapping_add(linear.wrapping_sub(plain)) & line.mask;
        // The line's first byte is no crossing: its row is there already.
        let earliest = earliest.max(1) as u32;
        let first = earliest + (base.wrapping_add(earliest).wrapping_neg() & within);
        let of = transfers as u32;
        let column = base.wrapping_add(along) & within;
        let made = along.checked_sub(first).map_or(0, |past| ((past >> bits) + 1).min(of)).checked_sub(1);
        let anchor = base.wrapping_add(line.bytes.wrapping_mul(line_lengths as u32)).wrapping_add(bytes as u32);
        let begun = base >> bits;
        let loaded = anchor >> bits;
        let to_end = within + 1 - column;
        // The row that is loaded where this one ends may be the one after it.
        let goes_on = of > 0 && made.is_none() && along + to_end == first && loaded == begun.wrapping_add(1);
        Some(RowAt {
            bits,
            due: base.wrapping_add(along) >> bits,
            shown: made.map_or(begun, |further| loaded.wrapping_add(further)),
            column,
            len: if goes_on { to_end + within + 1 } else { to_end },
            made: made.map(|further| Transfer { number: further + 1, of, byte: first + (further << bits) }),
        })
    }
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
