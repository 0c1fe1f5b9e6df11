//! The best start address for each position.
//!
//! A position is where the picture begins in memory. The start address that says
//! so is the obvious one to show; a fault may make another one better. Each
//! start address votes with every byte of its frame for the position at which
//! that byte is right, so all start addresses are tried for all positions in
//! one pass over the frames.

use backporch_raster::Tap;

use super::displacement::{Displacements, Stretch};
use crate::setting::Setting;

/// One suspect's lines, and its part of the votes.
pub(crate) struct Voter<'a, T> {
    pub lines: Displacements<'a, T>,
    /// Votes a byte has.
    pub weight: u64,
}

/// The start address to show for a position.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Choice {
    /// Address units beyond the position, wrapping around.
    pub ahead: u32,
    /// Votes for what is shown right.
    pub right: u64,
}

/// Where and how much of a frame is wrong.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Wrong {
    /// Pixels that show another place of memory than meant.
    pub pixels: u32,
    /// Columns from the left edge in which those of the left half lie.
    pub left: u32,
    /// Columns from the right edge in which those of the right half lie.
    pub right: u32,
}

/// One stretch of a line that is shown from the wrong place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct WrongStretch {
    pub index: u32,
    pub from: u32,
    pub len: u32,
    /// Bytes from the picture's first byte to the one shown, negative before it; `None` from another bank.
    pub shows: Option<i64>,
}

/// The best start address for each position up to `period`, of a picture of `height` lines.
pub(crate) fn choices<'v, T: Tap + 'v>(
    setting: &Setting,
    height: u32,
    voters: impl Iterator<Item = &'v Voter<'v, T>> + Clone,
    period: u32,
) -> Vec<Choice> {
    let unit = setting.line.unit;
    let mut best = vec![Choice::default(); period as usize];
    let mut votes: Vec<(u32, u64)> = Vec::new();
    let mut stretches = Vec::new();
    for start in 0..period {
        votes.clear();
        for voter in voters.clone() {
            for index in 0..height {
                voter.lines.line(start, index, &mut stretches);
                for Stretch { len, by, .. } in &stretches {
                    let Some(by) = by.filter(|by| by % unit == 0) else { continue };
                    let votes_now = voter.weight * u64::from(*len);
                    match votes.iter_mut().find(|(known, _)| *known == by) {
                        Some((_, sum)) => *sum += votes_now,
                        None => votes.push((by, votes_now)),
                    }
                }
            }
        }
        for (by, right) in &votes {
            let back = by / unit;
            let ahead = back.wrapping_neg() & (setting.places - 1);
            let position = start.wrapping_add(back) & (period - 1);
            let known = &mut best[position as usize];
            let detour = |ahead: u32| ahead.min(setting.places - ahead);
            if *right > known.right || *right == known.right && detour(ahead) < detour(known.ahead) {
                *known = Choice { ahead, right: *right };
            }
        }
    }
    best
}

/// Everything wrong when `position` is meant and the start address `ahead` of it is shown.
pub(crate) fn wrong_stretches<T: Tap>(
    setting: &Setting,
    height: u32,
    lines: &Displacements<'_, T>,
    (position, ahead): (u32, u32),
) -> Vec<WrongStretch> {
    let (unit, mask) = (setting.line.unit, setting.line.mask);
    let wanted = ahead.wrapping_mul(unit).wrapping_neg() & mask;
    let start = position.wrapping_add(ahead) & (setting.places - 1);
    let (mut wrong, mut stretches) = (Vec::new(), Vec::new());
    for index in 0..height {
        lines.line(start, index, &mut stretches);
        for Stretch { from, len, by } in stretches.iter().filter(|stretch| stretch.by != Some(wanted)) {
            let shows = by.map(|by| {
                let off = by.wrapping_sub(wanted) & mask;
                let off = if off > mask / 2 { i64::from(off) - i64::from(mask) - 1 } else { i64::from(off) };
                i64::from(index / setting.lines_of_row) * i64::from(setting.line.pitch) + i64::from(*from) + off
            });
            wrong.push(WrongStretch { index, from: *from, len: *len, shows });
        }
    }
    wrong
}

impl Wrong {
    /// Counts wrong stretches.
    pub(crate) fn of(setting: &Setting, stretches: &[WrongStretch]) -> Self {
        let pixels = |bytes: u32| (u64::from(bytes) * u64::from(setting.width())).div_ceil(u64::from(setting.line.bytes)) as u32;
        let mut wrong = Self::default();
        let half = setting.line.bytes / 2;
        for WrongStretch { from, len, .. } in stretches {
            wrong.pixels += pixels(*len);
            let end = from + len;
            if *from < half {
                wrong.left = wrong.left.max(pixels(end.min(half)));
            }
            if end > half {
                wrong.right = wrong.right.max(pixels(setting.line.bytes - (*from).max(half)));
            }
        }
        wrong
    }

    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.pixels == 0
    }
}
