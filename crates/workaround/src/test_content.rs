//! Trying a line with several contents: does a fault change any of them?
//!
//! What a fault does to bytes on their way depends on the bytes. A line counts
//! as touched from the first byte at which any of a few telling contents comes
//! out changed. A fault that spares all of them and still strikes the picture
//! at hand is met later, when the candidate is rendered.

use backporch_raster::{Line, LineEffects, Stages, Tap};

use crate::setting::Pixels;

/// Contents tried.
const TRIALS: u32 = 8;

/// The first byte of the line that comes out changed under any content.
pub(crate) fn first_changed<T: Tap>(tap: &T, line: &Line, pixels: Pixels, here: &LineEffects) -> u32 {
    let changed = |trial| first_changed_of(tap, line, pixels, here, trial);
    (0..TRIALS).map(changed).min().unwrap_or(u32::MAX)
}

fn first_changed_of<T: Tap>(tap: &T, line: &Line, pixels: Pixels, here: &LineEffects, trial: u32) -> u32 {
    let mut first = u32::MAX;
    if here.stages.contains(Stages::FETCH) {
        let value = |at| sample(trial, at);
        first = first_difference(line.bytes, value, |bytes, peek| tap.fetch_on(line, here, 0, bytes, peek));
    }
    if here.stages.contains(Stages::PIXEL) {
        let value = |x| sample(trial, x) & pixels.most;
        let x = first_difference(pixels.count, value, |values, peek| tap.pixels_on(line, here, 0, values, peek));
        // Counted back to the byte a pixel comes from.
        let byte = u64::from(x) * u64::from(line.bytes) / u64::from(pixels.count.max(1));
        first = first.min(if x == u32::MAX { x } else { byte as u32 });
    }
    first
}

/// The first place whose content comes out changed; `u32::MAX` where none does.
fn first_difference(len: u32, content: impl Fn(u32) -> u8, change: impl FnOnce(&mut [u8], &dyn Fn(u32) -> u8)) -> u32 {
    let mut changed: Vec<u8> = (0..len).map(&content).collect();
    change(&mut changed, &content);
    (0..len).zip(changed).find(|(at, value)| content(*at) != *value).map_or(u32::MAX, |(at, _)| at)
}

/// Constant, alternating, rising and scattered bytes.
fn sample(trial: u32, at: u32) -> u8 {
    match trial {
        0 => 0x00,
        1 => 0xFF,
        2 => 0x55,
        3 => 0xAA,
        4 => at as u8,
        _ => ((at + 1).wrapping_mul(0x9E37_79B1).wrapping_mul(trial) >> 13) as u8,
    }
}
