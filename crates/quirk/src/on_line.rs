//! Which effects of a stage may act on a line, settled before its places are asked.
//!
//! What does not depend on the line is settled once and for all when a stack
//! is made; what does, once a line; only what is left is asked at every place.

use backporch_raster::Line;

use crate::compiled_condition::{CompiledCondition, ConditionResult};
use crate::compiled_effect::CompiledEffect;
use crate::context::{Anywhere, AtLine};

/// This many effects of a stage are settled beforehand; those above are asked at every place.
const SETTLED: usize = 64;

/// Which effects of one stage act: all along the line, or depending on the place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct OnLine {
    /// Effects that act all along the line.
    all_along: u64,
    /// Effects that act somewhere on it perhaps.
    in_places: u64,
    /// Effects past the settled ones.
    beyond: u32,
}

impl OnLine {
    /// The same as two numbers.
    pub fn marks(self) -> [u64; 2] {
        [self.all_along, self.in_places]
    }

    /// Whether any of some effects acts all along the line, or any is past the settled ones.
    pub fn has_any_of(self, effects: u64) -> bool {
        self.all_along & effects != 0 || self.beyond > 0
    }

    /// Notes what is known of an effect, `None` meaning that it depends on the place.
    pub fn settle(&mut self, position: usize, holds: Option<bool>) {
        match holds {
            Some(true) => self.all_along |= 1 << position,
            Some(false) => {}
            None => self.in_places |= 1 << position,
        }
    }

    /// Whether no effect acts anywhere on the line.
    pub fn is_none(self) -> bool {
        self.all_along | self.in_places == 0 && self.beyond == 0
    }

    /// Positions of the effects that may act, in stacking order.
    pub fn positions(self) -> impl DoubleEndedIterator<Item = usize> {
        Bits(self.all_along | self.in_places).chain(SETTLED..SETTLED + self.beyond as usize)
    }

    /// What an effect says of a place: settled, or asked by `ask`.
    pub fn answer(self, position: usize, ask: impl FnOnce() -> ConditionResult) -> ConditionResult {
        if position < SETTLED && self.all_along >> position & 1 == 1 { ConditionResult::constant(true) } else { ask() }
    }
}

/// What a stack decides_at of the effects of one stage before any line is drawn.
#[derive(Clone, Debug, Default)]
pub(crate) struct Settled {
    known: OnLine,
    /// Effects to be asked about every line.
    to_ask: Vec<usize>,
    /// Those of them that act by notes, as bits.
    pub by_notes: u64,
}

impl Settled {
    /// Adds the next effect of the stage; what acts by notes is asked about them, not about its condition.
    pub fn add(&mut self, position: usize, condition: &CompiledCondition, by_notes: bool) {
        self.by_notes |= u64::from(by_notes) << position.min(SETTLED - 1);
        match position < SETTLED {
            false => self.known.beyond += 1,
            true if by_notes || !condition.is_same_on_all_lines() => self.to_ask.push(position),
            true => self.known.settle(position, condition.ask(&Anywhere).holds),
        }
    }

    /// What was settled for a line, found again in its marks.
    pub fn again(&self, [all_along, in_places]: [u64; 2]) -> OnLine {
        OnLine { all_along, in_places, ..self.known }
    }

    /// Settles the effects for one line, asking those that depend on it.
    pub fn on_line(&self, mut ask: impl FnMut(usize) -> Option<bool>) -> OnLine {
        let mut found = self.known;
        for position in &self.to_ask {
            found.settle(*position, ask(*position));
        }
        found
    }

    /// Settles effects whose conditions say when they act.
    pub fn asking<A>(&self, effects: &[CompiledEffect<A>], line: &Line) -> OnLine {
        let context = AtLine(line);
        self.on_line(|position| effects[position].condition.ask(&context).holds)
    }
}

/// The positions of the bits that are set, from the lowest on.
#[derive(Clone, Copy, Debug)]
struct Bits(u64);

impl Iterator for Bits {
    type Item = usize;

    fn next(&mut self) -> Option<usize> {
        let lowest = (self.0 != 0).then(|| self.0.trailing_zeros() as usize)?;
        self.0 &= self.0 - 1;
        Some(lowest)
    }
}

impl DoubleEndedIterator for Bits {
    fn next_back(&mut self) -> Option<usize> {
        let highest = (self.0 != 0).then(|| 63 - self.0.leading_zeros() as usize)?;
        self.0 &= !(1 << highest);
        Some(highest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_come_in_order_both_ways() {
        let mut seven = OnLine::default();
        for position in 0..7 {
            seven.settle(position, [Some(true), None, Some(false)][position % 3]);
        }
        assert_eq!(seven.positions().collect::<Vec<_>>(), [0, 1, 3, 4, 6]);
        assert_eq!(seven.positions().rev().collect::<Vec<_>>(), [6, 4, 3, 1, 0]);
        let many = OnLine { beyond: 3, ..seven };
        assert_eq!(many.positions().collect::<Vec<_>>(), [0, 1, 3, 4, 6, 64, 65, 66]);
        assert!(OnLine::default().is_none() && !many.is_none());
    }
}
