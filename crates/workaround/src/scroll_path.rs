//! Steps and origins: which of the clean start addresses a scroll can path on.
//!
//! A scroll shows `origin + k × stride`. Endless ones go around all of memory,
//! so they show every start address that leaves the same rest by the greatest
//! common divisor of the stride and the ring; a range shows this many, from an
//! origin that is fixed or free.

use std::ops::RangeInclusive;

use num_integer::gcd;

use crate::bit_ring::BitRing;
use crate::requirements::Origin;

/// Which start addresses a scroll shows at some stride.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ScrollPath {
    /// All that leave one rest; the rest is free.
    Around {
        /// Greatest common divisor of the stride and the ring.
        class: u32,
    },
    /// `count` of them, `stride` apart.
    Along {
        /// Address units from one to the next.
        stride: u32,
        /// Number of start addresses.
        count: u32,
        /// The only origin, where it is fixed.
        origin: Option<u32>,
    },
}

/// An origin and how many of its start addresses are clean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OriginScore {
    /// First start address.
    pub origin: u32,
    /// Clean start addresses.
    pub clean: u32,
}

impl ScrollPath {
    /// The path at a stride through `starts`, or around a ring of `ring` start addresses.
    #[must_use]
    pub fn new(starts: Option<&RangeInclusive<u32>>, origin: Origin, stride: u32, ring: u32) -> Self {
        match starts {
            None => Self::Around { class: gcd(stride.max(1), ring) },
            Some(range) => Self::Along {
                stride: stride.max(1),
                count: ((range.end() - range.start()) / stride.max(1)).saturating_add(1).min(ring),
                origin: (origin == Origin::Fixed).then_some(range.start() & (ring - 1)),
            },
        }
    }

    /// Start addresses shown, on a ring of `ring`.
    #[must_use]
    pub fn count(&self, ring: u32) -> u32 {
        match self {
            Self::Around { class } => ring / class,
            Self::Along { count, .. } => *count,
        }
    }

    /// Number of origins it may have.
    #[must_use]
    pub fn origins(&self, ring: u32) -> u32 {
        match self {
            Self::Around { class } => *class,
            Self::Along { origin: Some(_), .. } => 1,
            Self::Along { origin: None, .. } => ring,
        }
    }

    /// The start addresses from an origin, in the order they are shown.
    pub fn starts(&self, origin: u32, ring: u32) -> impl Iterator<Item = u32> + Clone + use<> {
        let (stride, count) = match self {
            Self::Around { class } => (*class, ring / class),
            Self::Along { stride, count, .. } => (*stride, *count),
        };
        (0..count).map(move |k| origin.wrapping_add(k.wrapping_mul(stride)) & (ring - 1))
    }

    /// The origins from which every start address is clean: off in the answer,
    /// whose length is the number of origins rounded up to a power of two.
    #[must_use]
    pub fn spoilt_origins(&self, bad: &BitRing) -> BitRing {
        match self {
            Self::Around { class } => {
                let mut folded = bad.clone();
                while folded.len() > *class {
                    folded = folded.halved();
                }
                folded
            }
            Self::Along { stride, count, origin: None } => bad.over(*stride, *count),
            Self::Along { origin: Some(origin), .. } => {
                BitRing::from_fn(1, |_| self.starts(*origin, bad.len()).any(|start| bad.has(start)))
            }
        }
    }

    /// The origin of a position in the answer of [`ScrollPath::spoilt_origins`].
    #[must_use]
    pub fn origin(&self, position: u32) -> u32 {
        match self {
            Self::Along { origin: Some(origin), .. } => *origin,
            _ => position,
        }
    }

    /// The origin with most clean start addresses, the lowest of several.
    #[must_use]
    pub fn best(&self, bad: &BitRing) -> OriginScore {
        let ring = bad.len();
        match self {
            Self::Along { stride, count, origin: None } => best_stretch(bad, *stride, *count),
            _ => {
                let clean = |origin| self.starts(origin, ring).filter(|start| !bad.has(*start)).count() as u32;
                let score = |origin| OriginScore { origin, clean: clean(origin) };
                let all = (0..self.origins(ring)).map(|position| score(self.origin(position)));
                all.reduce(better).unwrap_or(OriginScore { origin: 0, clean: 0 })
            }
        }
    }
}

fn better(one: OriginScore, other: OriginScore) -> OriginScore {
    if other.clean > one.clean { other } else { one }
}

/// The best of all stretches of `count` start addresses, `stride` apart: each
/// cycle of the ring is walked once, one start address entering, one leaving.
fn best_stretch(bad: &BitRing, stride: u32, count: u32) -> OriginScore {
    let ring = bad.len();
    let cycles = gcd(stride, ring);
    let clean = |place: u32| u32::from(!bad.has(place));
    let mut best = OriginScore { origin: u32::MAX, clean: 0 };
    for first in 0..cycles {
        let at = |k: u32| first.wrapping_add(k.wrapping_mul(stride)) & (ring - 1);
        let mut sum: u32 = (0..count).map(|k| clean(at(k))).sum();
        for k in 0..ring / cycles {
            let origin = at(k);
            if sum > best.clean || sum == best.clean && origin < best.origin {
                best = OriginScore { origin, clean: sum };
            }
            sum = sum + clean(at(k.wrapping_add(count))) - clean(at(k));
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Every origin counted one by one.
        #[test]
        fn the_best_origin_is_the_best(
            size in 0u32..9, seed in any::<u64>(), stride in 1u32..600, from in 0u32..600, more in 0u32..600,
            endless in any::<bool>(), free in any::<bool>(),
        ) {
            let ring = 1u32 << size;
            let bad = BitRing::from_fn(ring, |at| (u64::from(at) ^ seed).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 61 < 2);
            let origin = if free { Origin::Free } else { Origin::Fixed };
            let range = from..=from + more;
            let path = ScrollPath::new((!endless).then_some(&range), origin, stride, ring);
            let count = |origin: u32| path.starts(origin, ring).filter(|start| !bad.has(*start)).count() as u32;
            let origins: Vec<u32> = (0..path.origins(ring)).map(|position| path.origin(position)).collect();
            let most = origins.iter().map(|origin| count(*origin)).max().unwrap();
            let best = path.best(&bad);
            prop_assert_eq!(best.clean, most);
            prop_assert_eq!(count(best.origin), most);
            let spoilt = path.spoilt_origins(&bad);
            for (position, origin) in origins.iter().enumerate() {
                prop_assert_eq!(spoilt.has(position as u32), count(*origin) < path.count(ring));
            }
        }

        /// Walking on and on meets exactly the start addresses that leave the rest.
        #[test]
        fn endless_walks_go_around(size in 0u32..10, stride in 1u32..2000, origin in 0u32..100) {
            let ring = 1u32 << size;
            let path = ScrollPath::new(None, Origin::Fixed, stride, ring);
            let mut met: Vec<u32> = (0..ring).map(|k| (origin + k * stride) % ring).collect();
            met.sort_unstable();
            met.dedup();
            let mut shown: Vec<u32> = path.starts(origin % ring, ring).collect();
            shown.sort_unstable();
            prop_assert_eq!(shown, met);
        }
    }
}
