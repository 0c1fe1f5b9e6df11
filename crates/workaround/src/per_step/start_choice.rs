//! The best start address for each position.
//!
//! A position is where the picture begins in memory. The start address that says
//! so is the obvious one to show; a fault may make another one better. Each
//! start address votes with every byte of its frame for the position at which
//! that byte is right, so all start addresses are tried for all positions in
//! one pass over the frames.

use backporch_raster::Tap;
use num_integer::gcd;

use super::displacement::{DisplacedBytes, Displacements};
use super::frame_schedule::LineValue;
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
    let mut poll =
        Poll { setting, best: vec![Choice::default(); period as usize], votes: Vec::new(), stretches: Vec::new() };
    let row = setting.lines_of_row;
    if voters.clone().any(|voter| voter.lines.is_slow()) || !height.is_multiple_of(row) {
        for start in 0..period {
            poll.votes.clear();
            for voter in voters.clone() {
                (0..height).for_each(|index| poll.count(voter, start, index, 1));
            }
            poll.settle(start);
        }
        return poll.best;
    }
    // One pitch further on all rows but one are the same, so the start addresses are gone through pitch by pitch.
    let rows = height / row;
    let first_of_cycle = gcd(setting.pitch_units, period);
    for first in 0..first_of_cycle {
        poll.votes.clear();
        for voter in voters.clone() {
            (0..rows).for_each(|at| poll.count(voter, first, at * row, i64::from(row)));
        }
        for turn in 0..period / first_of_cycle {
            let start = first.wrapping_add(turn.wrapping_mul(setting.pitch_units)) & (period - 1);
            poll.settle(start);
            for voter in voters.clone() {
                poll.count(voter, start, 0, -i64::from(row));
                poll.count(voter, start, rows * row, i64::from(row));
            }
            poll.votes.retain(|(_, votes)| *votes > 0);
        }
    }
    poll.best
}

/// Votes under way.
struct Poll<'a> {
    setting: &'a Setting,
    best: Vec<Choice>,
    /// Bytes further on in memory, and the votes for what is shown from there.
    votes: Vec<(u32, i64)>,
    stretches: Vec<DisplacedBytes>,
}

impl Poll<'_> {
    /// Counts the votes of a picture line this many times.
    fn count<T: Tap>(&mut self, voter: &Voter<'_, T>, start: u32, index: u32, times: i64) {
        voter.lines.line(start, index, &mut self.stretches);
        for DisplacedBytes { len, by, .. } in &self.stretches {
            let Some(by) = by.filter(|by| by % self.setting.line.unit == 0) else { continue };
            let votes = times * voter.weight as i64 * i64::from(*len);
            match self.votes.iter_mut().find(|(known, _)| *known == by) {
                Some((_, sum)) => *sum += votes,
                None => self.votes.push((by, votes)),
            }
        }
    }

    /// Gives the votes of a start address to the positions they are for.
    fn settle(&mut self, start: u32) {
        let (setting, period) = (self.setting, self.best.len() as u32);
        let detour = |ahead: u32| ahead.min(setting.places - ahead);
        for (by, right) in &self.votes {
            let (back, right) = (by / setting.line.unit, *right as u64);
            let ahead = back.wrapping_neg() & (setting.places - 1);
            let known = &mut self.best[(start.wrapping_add(back) & (period - 1)) as usize];
            if right > known.right || right == known.right && detour(ahead) < detour(known.ahead) {
                *known = Choice { ahead, right };
            }
        }
    }
}

/// Everything wrong when `position` is meant and the start address `ahead` of it is shown, some lines, from the top, of other
/// lengths.
pub(crate) fn wrong_stretches<T: Tap>(
    setting: &Setting,
    height: u32,
    lines: &Displacements<'_, T>,
    (position, ahead): (u32, u32),
    shorter: &[LineValue],
) -> Vec<WrongStretch> {
    let (unit, mask) = (setting.line.unit, setting.line.mask);
    let wanted = ahead.wrapping_mul(unit).wrapping_neg() & mask;
    let start = position.wrapping_add(ahead) & (setting.places - 1);
    let (mut wrong, mut stretches) = (Vec::new(), Vec::new());
    let mut shorter = shorter.iter().peekable();
    for index in 0..height {
        match shorter.next_if(|one| one.line == index) {
            Some(one) => {
                let row = index / setting.lines_of_row;
                let place = start.wrapping_add(row.wrapping_mul(setting.pitch_units)) & (setting.places - 1);
                lines.line_of(place, one.displayed, &mut stretches);
            }
            None => lines.line(start, index, &mut stretches),
        }
        for DisplacedBytes { from, len, by } in stretches.iter().filter(|stretch| stretch.by != Some(wanted)) {
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
        let pixels =
            |bytes: u32| (u64::from(bytes) * u64::from(setting.width())).div_ceil(u64::from(setting.line.bytes)) as u32;
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
