//! Damage line by line: which pixels of each line are not as on a healthy board.

use std::ops::RangeInclusive;

use backporch_raster::{Frame, View};

use crate::verdict::{fetch_differences, pixel_difference};

/// For each picture line, from the top, the pixels from the first to the last that are not as on a healthy board:
/// fetched from elsewhere, out of place in time, or of another colour. Pixels count from the left of the active area.
#[must_use]
pub fn line_damage(healthy: &Frame, faulty: &Frame) -> Vec<Option<RangeInclusive<u32>>> {
    let (right, wrong) = (healthy.picture(View::Picture), faulty.picture(View::Picture));
    let fetch = fetch_differences(healthy, faulty, right.width.max(wrong.width));
    let lines = fetch.into_iter().enumerate();
    lines.map(|(line, fetch)| both(fetch, pixel_difference(&right, &wrong, line))).collect()
}

/// The least range that holds both.
fn both(one: Option<RangeInclusive<u32>>, other: Option<RangeInclusive<u32>>) -> Option<RangeInclusive<u32>> {
    match (one, other) {
        (Some(one), Some(other)) => Some(*one.start().min(other.start())..=*one.end().max(other.end())),
        (one, other) => one.or(other),
    }
}
