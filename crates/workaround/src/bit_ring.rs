//! A bit for every start address, in a ring: address counters wrap around.
//!
//! The damage of a whole frame is the damage of its lines, and its lines begin
//! one pitch after the other. With one bit for each place a line can begin,
//! all start addresses are judged at once by turning the ring and laying it
//! over itself, sixty-four start addresses an operation.

/// Bits of a machine word.
const WORD: u32 = 64;

/// A ring of bits, a power of two in length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BitRing {
    /// Rings shorter than a word are repeated until they fill one.
    words: Vec<u64>,
    len: u32,
}

impl BitRing {
    /// All bits off. The length is rounded up to a power of two.
    #[must_use]
    pub fn new(len: u32) -> Self {
        let len = len.max(1).next_power_of_two();
        Self { words: vec![0; len.div_ceil(WORD) as usize], len }
    }

    /// A bit for each place below `len`, on where `on` says so.
    #[must_use]
    pub fn from_fn(len: u32, on: impl Fn(u32) -> bool) -> Self {
        let mut ring = Self::new(len);
        let last = ring.len - 1;
        for (word, at) in ring.words.iter_mut().zip(0..) {
            *word = (0..WORD).fold(0, |word, bit| word | u64::from(on((at * WORD + bit) & last)) << bit);
        }
        ring
    }

    /// Number of bits.
    #[must_use]
    pub fn len(&self) -> u32 {
        self.len
    }

    /// A ring has at least one bit.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        false
    }

    /// Whether a bit is on; places beyond the ring wrap around.
    #[must_use]
    pub fn has(&self, at: u32) -> bool {
        let at = at & (self.len - 1);
        self.words[(at / WORD) as usize] >> (at % WORD) & 1 != 0
    }

    /// Number of bits that are on.
    #[must_use]
    pub fn count(&self) -> u32 {
        let ones: u32 = self.words.iter().map(|word| word.count_ones()).sum();
        if self.len < WORD { ones / (WORD / self.len) } else { ones }
    }

    /// Whether any bit is on.
    #[must_use]
    pub fn any(&self) -> bool {
        self.words.iter().any(|word| *word != 0)
    }

    /// Turns every bit on.
    pub fn fill(&mut self) {
        self.words.fill(u64::MAX);
    }

    /// Turns on what is on in `other`, a ring of the same length.
    pub fn add(&mut self, other: &Self) {
        for (word, more) in self.words.iter_mut().zip(&other.words) {
            *word |= more;
        }
    }

    /// Turns on what is on in `other`, a ring of the same length, `ahead` places further on.
    pub fn add_ahead(&mut self, other: &Self, ahead: u32) {
        let ahead = ahead & (self.len - 1);
        let (skip, shift) = ((ahead / WORD) as usize, ahead % WORD);
        let (head, tail) = other.words.split_at(skip);
        let turned = tail.iter().chain(head);
        if shift == 0 {
            self.words.iter_mut().zip(turned).for_each(|(word, low)| *word |= low);
            return;
        }
        let after = tail[1..].iter().chain(head).chain(&tail[..1]);
        for ((word, low), high) in self.words.iter_mut().zip(turned).zip(after) {
            *word |= low >> shift | high << (WORD - shift);
        }
    }

    /// What is on at any of `times` places, `stride` apart, from each place on:
    /// bit `a` of the answer is on where bit `a + k × stride` is for some `k < times`.
    ///
    /// The covered stretch is doubled each time, so this takes as many turns as
    /// `times` has binary digits.
    #[must_use]
    pub fn over(&self, stride: u32, times: u32) -> Self {
        let mut covered = self.clone();
        if times == 0 {
            covered.words.fill(0);
            return covered;
        }
        let mut done = 1;
        while done < times {
            let more = done.min(times - done);
            let once = covered.clone();
            covered.add_ahead(&once, stride.wrapping_mul(more));
            done += more;
        }
        covered
    }

    /// The least power of two after which the bits repeat.
    #[must_use]
    pub fn period(&self) -> u32 {
        let mut ring = self.clone();
        loop {
            let half = ring.halved();
            let repeats = ring.len > 1 && half.count() * 2 == ring.count();
            if !repeats {
                return ring.len;
            }
            ring = half;
        }
    }

    /// The ring of half the length: on where either half is.
    ///
    /// Its bit `r` stands for all places that leave the rest `r`. A ring of one
    /// bit stays as it is.
    #[must_use]
    pub fn halved(&self) -> Self {
        match self.len {
            1 => self.clone(),
            len if len > WORD => {
                let (low, high) = self.words.split_at(self.words.len() / 2);
                let words = low.iter().zip(high).map(|(low, high)| low | high).collect();
                Self { words, len: len / 2 }
            }
            len => {
                let word = self.words[0];
                Self { words: vec![word | word.rotate_right(len / 2)], len: len / 2 }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn bits(ring: &BitRing) -> Vec<bool> {
        (0..ring.len()).map(|at| ring.has(at)).collect()
    }

    proptest! {
        /// The ring against plain arrays of truth values.
        #[test]
        fn turning_and_folding_are_what_they_say(
            size in 0u32..11, seed in any::<u64>(), sparse in 1u64..40, stride in any::<u32>(), times in 0u32..300,
        ) {
            let len = 1u32 << size;
            let on = |at: u32| (u64::from(at) ^ seed).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 40 & 0xFFF < 4096 / sparse;
            let ring = BitRing::from_fn(len, on);
            let plain: Vec<bool> = (0..len).map(on).collect();
            prop_assert_eq!(&bits(&ring), &plain);
            prop_assert_eq!(ring.count() as usize, plain.iter().filter(|on| **on).count());
            let at = |place: u64| plain[(place % u64::from(len)) as usize];

            let over = (0..len).map(|a| (0..times).any(|k| at(u64::from(a) + u64::from(k) * u64::from(stride)))).collect::<Vec<_>>();
            prop_assert_eq!(bits(&ring.over(stride, times)), over);

            let mut ahead = BitRing::new(len);
            ahead.add_ahead(&ring, stride);
            let turned = (0..len).map(|a| at(u64::from(a) + u64::from(stride))).collect::<Vec<_>>();
            prop_assert_eq!(bits(&ahead), turned);

            let period = ring.period();
            prop_assert!((0..len).all(|at| plain[at as usize] == plain[(at % period) as usize]));
            prop_assert!(period == 1 || (0..len).any(|at| plain[at as usize] != plain[(at % (period / 2)) as usize]));

            let half = ring.halved();
            let folded: Vec<bool> = (0..half.len()).map(|r| plain.iter().skip(r as usize).step_by(half.len() as usize).any(|on| *on)).collect();
            prop_assert_eq!(bits(&half), folded);
        }
    }
}
