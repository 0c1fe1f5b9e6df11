//! A set of picture lines.

use crate::pattern::LinePattern;

/// Which of a frame's lines are bad.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct LineSet {
    height: u32,
    words: Box<[u64]>,
}

impl LineSet {
    /// None of `height` lines.
    #[must_use]
    pub fn none(height: u32) -> Self {
        Self { height, words: vec![0; height.div_ceil(64) as usize].into() }
    }

    /// All of `height` lines.
    #[must_use]
    pub fn all(height: u32) -> Self {
        let mut lines = Self::none(height);
        (0..height).for_each(|line| lines.mark(line));
        lines
    }

    /// The lines of `pattern`.
    #[must_use]
    pub fn of_pattern(height: u32, pattern: LinePattern) -> Self {
        let mut lines = Self::none(height);
        (pattern.phase..height).step_by(pattern.period.max(1) as usize).for_each(|line| lines.mark(line));
        lines
    }

    /// Lines of the frame.
    #[must_use]
    pub fn height(&self) -> u32 {
        self.height
    }

    /// Adds a line; one below the frame is left out.
    pub fn mark(&mut self, line: u32) {
        if line < self.height {
            self.words[(line / 64) as usize] |= 1 << (line % 64);
        }
    }

    /// Adds the lines of another frame.
    pub fn join(&mut self, other: &Self) {
        if other.height > self.height {
            let mut higher = Self::none(other.height);
            higher.words[..self.words.len()].copy_from_slice(&self.words);
            *self = higher;
        }
        self.words.iter_mut().zip(&other.words).for_each(|(mine, theirs)| *mine |= theirs);
    }

    /// Whether a line is in the set.
    #[must_use]
    pub fn has(&self, line: u32) -> bool {
        line < self.height && self.words[(line / 64) as usize] >> (line % 64) & 1 == 1
    }

    /// Number of lines in the set.
    #[must_use]
    pub fn count(&self) -> u32 {
        self.words.iter().map(|word| word.count_ones()).sum()
    }

    /// Share of the frame's lines, 0 to 1.
    #[must_use]
    pub fn share(&self) -> f64 {
        f64::from(self.count()) / f64::from(self.height.max(1))
    }

    /// The lines of the set, rising.
    pub fn iter(&self) -> impl Iterator<Item = u32> + '_ {
        (0..self.height).filter(|line| self.has(*line))
    }

    /// The first and the last line of the set.
    #[must_use]
    pub fn ends(&self) -> Option<(u32, u32)> {
        let first = self.words.iter().position(|word| *word != 0)?;
        let last = self.words.iter().rposition(|word| *word != 0)?;
        let bit = |word: usize, bit: u32| word as u32 * 64 + bit;
        Some((bit(first, self.words[first].trailing_zeros()), bit(last, 63 - self.words[last].leading_zeros())))
    }

    /// Number of lines in both sets over those in either, 0 to 1; 1 for two empty sets.
    #[must_use]
    pub fn likeness(&self, other: &Self) -> f64 {
        let pairs = self.words.iter().zip(&other.words);
        let both: u32 = pairs.map(|(one, two)| (one & two).count_ones()).sum();
        match self.count() + other.count() - both {
            0 => 1.0,
            either => f64::from(both) / f64::from(either),
        }
    }

    /// The pattern the set follows exactly, where it has one.
    #[must_use]
    pub fn pattern(&self) -> Option<LinePattern> {
        let mut lines = self.iter();
        let (first, second) = (lines.next()?, lines.next()?);
        let pattern = LinePattern { period: second - first, phase: first };
        let seen_enough = pattern.period * 3 <= self.height && pattern.phase < pattern.period;
        (seen_enough && *self == Self::of_pattern(self.height, pattern)).then_some(pattern)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    fn lines(height: u32, set: &BTreeSet<u32>) -> LineSet {
        let mut lines = LineSet::none(height);
        set.iter().for_each(|line| lines.mark(*line));
        lines
    }

    proptest! {
        #[test]
        fn it_is_a_set(height in 0..300_u32, set: BTreeSet<u16>, other: BTreeSet<u16>) {
            let inside = |set: &BTreeSet<u16>| -> BTreeSet<u32> {
                set.iter().map(|line| u32::from(*line) % 300).filter(|line| *line < height).collect()
            };
            let (set, other) = (inside(&set), inside(&other));
            let (one, two) = (lines(height, &set), lines(height, &other));
            prop_assert_eq!(one.iter().collect::<BTreeSet<_>>(), set.clone());
            prop_assert_eq!(one.count() as usize, set.len());
            prop_assert_eq!(one.ends(), set.first().copied().zip(set.last().copied()));
            let (both, either) = (set.intersection(&other).count(), set.union(&other).count());
            let expected = if either == 0 { 1.0 } else { both as f64 / either as f64 };
            prop_assert_eq!(one.likeness(&two), expected);
            let mut joined = one;
            joined.join(&two);
            prop_assert_eq!(joined.count() as usize, either);
        }

        #[test]
        fn patterns_are_those_of_a_list(height in 1..300_u32, period in 1..40_u32, phase in 0..40_u32, flipped: Option<u8>) {
            let mut marked: Vec<bool> = (0..height).map(|line| line >= phase && (line - phase).is_multiple_of(period)).collect();
            if let Some(at) = flipped {
                let at = usize::from(at) % marked.len();
                marked[at] = !marked[at];
            }
            let mut set = LineSet::none(height);
            marked.iter().enumerate().filter(|(_, bad)| **bad).for_each(|(line, _)| set.mark(line as u32));
            prop_assert_eq!(set.pattern(), LinePattern::find(&marked));
        }
    }
}
