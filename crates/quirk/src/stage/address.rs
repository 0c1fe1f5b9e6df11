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
    }
}

impl AddressAction<i32> {
    /// Where byte `offset` of the line is fetched from, `linear` being where it
    /// was to come from, and for how many bytes on that holds if `linear` counts on.
    pub(crate) fn bend(&self, line: &Line, offset: u32, linear: u32) -> Run {
        match *self {
            Self::RowReload { row_bytes, reloads } => {
                row_reload(line, offset, linear, row_bytes as u32, reloads as u32)
            }
            Self::CarryBroken { bit } => row_reload(line, offset, linear, 1 << bit, 0),
            Self::RowCarryBroken { bit } => moved(linear, -i64::from(row_carries(line, bit as u32)) << bit),
        }
    }
}

/// A whole line moved by so many bytes.
fn moved(linear: u32, bytes: i64) -> Run {
    Run { linear: linear.wrapping_add(bytes as u32), len: u32::MAX }
}

fn row_reload(line: &Line, offset: u32, linear: u32, row_bytes: u32, reloads: u32) -> Run {
    let first = linear.wrapping_sub(offset) & line.mask;
    let along = first % row_bytes + offset;
    let crossings = along / row_bytes;
    if crossings <= reloads {
        return Run { linear, len: (reloads + 1) * row_bytes - along };
    }
    let lost = (crossings - reloads) * row_bytes;
    Run { linear: linear.wrapping_sub(lost), len: row_bytes - along % row_bytes }
}

/// Carries into `bit` on the way from the frame's start to this row, one pitch a row.
fn row_carries(line: &Line, bit: u32) -> u32 {
    let low = (1u32 << bit) - 1;
    let start = line.start.wrapping_mul(line.unit) & line.mask;
    ((start & low) + line.row * (line.pitch & low)) >> bit
}
