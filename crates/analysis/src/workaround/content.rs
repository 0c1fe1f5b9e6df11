//! Trying a line with several contents: does a fault change any of them?
//!
//! What a fault does to bytes on their way depends on the bytes. A line counts
//! as touched from the first byte at which any of a few telling contents comes
//! out changed. A fault that spares all of them and still strikes the picture
//! at hand is met later, when the candidate is rendered.

use backporch_raster::{Acting, Line, Stages, Tap};

use super::setting::Pixels;

/// Contents tried.
const TRIALS: u32 = 8;

/// The first byte of the line that comes out changed under any content.
pub(super) fn first_changed<T: Tap>(tap: &T, line: &Line, pixels: Pixels, here: &Acting) -> u32 {
    let changed = |trial| first_changed_of(tap, line, pixels, here, trial);
    (0..TRIALS).map(changed).min().unwrap_or(u32::MAX)
}

fn first_changed_of<T: Tap>(tap: &T, line: &Line, pixels: Pixels, here: &Acting, trial: u32) -> u32 {
    let in_bytes = match here.stages.contains(Stages::FETCH) {
        true => {
            first_difference(line.bytes, |at| sample(trial, at), |bytes, peek| tap.fetch(line, here, 0, bytes, peek))
        }
        false => None,
    };
    let in_pixels = match here.stages.contains(Stages::PIXEL) {
        true => {
            let value = |x| sample(trial, x) & pixels.most;
            first_difference(pixels.count, value, |values, peek| tap.pixels(line, here, 0, values, peek))
        }
        false => None,
    };
    // Counted back to the byte a pixel comes from.
    let in_pixels = in_pixels.map(|x| (u64::from(x) * u64::from(line.bytes) / u64::from(pixels.count.max(1))) as u32);
    in_bytes.into_iter().chain(in_pixels).min().unwrap_or(u32::MAX)
}

fn first_difference(
    len: u32,
    content: impl Fn(u32) -> u8,
    change: impl FnOnce(&mut [u8], &dyn Fn(u32) -> u8),
) -> Option<u32> {
    let mut changed: Vec<u8> = (0..len).map(&content).collect();
    change(&mut changed, &content);
    (0..len).zip(changed).find(|(at, value)| content(*at) != *value).map(|(at, _)| at)
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
