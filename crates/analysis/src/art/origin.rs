//! The best picture origin: which column to begin with so that least is seen.
//!
//! A fault of addresses takes the same places of the screen from the same
//! wrong places of memory, whatever the picture. So the wrong places are found
//! once, and every column of the picture is tried against them.

use backporch_adapter::{Registers, Rgba};
use backporch_bench::Bench;
use backporch_picture::indexed::Indexed;
use backporch_picture::lay::bits_per_pixel;
use backporch_raster::{Plain, QuietFrame, Stages, Tap};
use rayon::prelude::*;

use super::contrast;

/// A column to begin the picture with, and what it gains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BestColumn {
    /// Columns by which the picture is moved to the left.
    pub shift: u32,
    /// What is seen then, over all start addresses.
    pub weight: f64,
    /// What is seen with the picture as it is.
    pub weight_now: f64,
}

/// A pixel of the picture, and the one that is shown in its place: row and
/// column from the left edge of the memory row.
#[derive(Clone, Copy, Debug)]
struct Swap {
    right: (u32, u32),
    shown: (u32, u32),
}

/// The column of the bench's picture that shows least of a fault of addresses
/// at `starts`, the least move of several.
///
/// `None` where there is no picture, or where the fault does more than change
/// addresses, so that the picture itself decides what is damaged.
#[must_use]
pub fn best_column<T: Tap + Clone + Sync>(
    bench: &Bench,
    registers: &Registers,
    tap: &T,
    starts: &[u32],
) -> Option<BestColumn> {
    let art = bench.picture()?;
    if !Stages::ADDRESS.contains(tap.stages()) {
        return None;
    }
    let swaps: Vec<Swap> = starts.par_iter().map(|start| swaps(bench, registers, tap, *start)).flatten().collect();
    let palette = bench.adapter().palette(registers);
    let weights = Weights { art, colours: &palette.colours };
    let seen: Vec<f64> = (0..art.width()).into_par_iter().map(|shift| weights.of(&swaps, shift)).collect();
    let best = (0..).zip(&seen).reduce(|one, other| if *other.1 < *one.1 { other } else { one })?;
    Some(BestColumn { shift: best.0, weight: *best.1, weight_now: seen[0] })
}

struct Weights<'a> {
    art: &'a Indexed,
    colours: &'a [Rgba; 256],
}

impl Weights<'_> {
    fn of(&self, swaps: &[Swap], shift: u32) -> f64 {
        let pixel = |(row, column): (u32, u32)| {
            let column = (u64::from(column) + u64::from(shift)) % u64::from(self.art.width());
            let at = u64::from(row) * u64::from(self.art.width()) + column;
            self.art.indices()[at as usize]
        };
        let weight = |swap: &Swap| {
            let (right, shown) = (pixel(swap.right), pixel(swap.shown));
            if right == shown {
                return 0.0;
            }
            f64::from(contrast(self.colours[usize::from(right)], self.colours[usize::from(shown)]))
        };
        swaps.iter().map(weight).sum()
    }
}

/// Every pixel that comes from a wrong place at one start address, both places in the picture.
fn swaps<T: Tap + Clone>(bench: &Bench, registers: &Registers, tap: &T, start: u32) -> Vec<Swap> {
    let adapter = bench.adapter();
    let mut registers = registers.clone();
    if adapter.set(&mut registers, adapter.start_address(), u64::from(start)).is_err() {
        return Vec::new();
    }
    let quiet = QuietFrame::new(adapter, &registers, &Plain);
    let (Some(art), Some(place), Ok(bits)) = (bench.picture(), bench.picture_place(&registers), bits_per_pixel(&quiet))
    else {
        return Vec::new();
    };
    let per_byte = 8 / bits;
    let homes = homes(&quiet, place.start, art.height(), adapter.memory().bytes);
    let plan = quiet.plan(tap);
    let mut swaps = Vec::new();
    for line in &plan.lines {
        for (offset, shown) in
            plan.spans_of(line).iter().flat_map(|span| (span.at..).zip(span.address..span.address + span.len))
        {
            let right = line.line.memory(line.line.plain_address(offset));
            let known = |address: u32| homes.get(address as usize).copied().flatten();
            let (true, Some(right), Some(shown)) = (right != shown, known(right), known(shown)) else {
                continue;
            };
            swaps.extend((0..per_byte).map(|pixel| {
                let of = |(row, byte): (u32, u32)| (row, place.column + byte * per_byte + pixel);
                Swap { right: of(right), shown: of(shown) }
            }));
        }
    }
    swaps
}

/// For each byte of memory, the row of the picture laid there and the byte of that row.
fn homes(quiet: &QuietFrame, start: u32, rows: u32, bytes: u32) -> Vec<Option<(u32, u32)>> {
    let mut homes = vec![None; bytes as usize];
    for row in 0..rows {
        let line = quiet.line(0, start, row);
        for offset in 0..line.pitch.max(line.bytes) {
            if let Some(home) = homes.get_mut(line.memory(line.plain_address(offset)) as usize) {
                *home = Some((row, offset));
            }
        }
    }
    homes
}
