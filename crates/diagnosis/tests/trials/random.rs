//! Numbers drawn at random, the same for the same seed on every machine.

/// A stream of random numbers: the splitmix64 generator (Steele, Lea and
/// Flood, *Fast Splittable Pseudorandom Number Generators*, 2014).
#[derive(Clone, Debug)]
pub struct Random(u64);

impl Random {
    /// The stream of that number under a seed.
    #[must_use]
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut random = Self(seed ^ stream.wrapping_mul(0xD1B5_4A32_D192_ED03));
        random.bits();
        random
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        mix(self.0)
    }

    /// A whole number below `end`, 0 where that is 0.
    pub fn below(&mut self, end: u64) -> u64 {
        if end == 0 { 0 } else { self.bits() % end }
    }

    /// A number from 0 to below 1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A position drawn by weight.
    pub fn weighted(&mut self, weights: &[f64]) -> usize {
        let mut left = self.unit() * weights.iter().sum::<f64>();
        for (at, weight) in weights.iter().enumerate() {
            left -= weight;
            if left < 0.0 {
                return at;
            }
        }
        weights.len().saturating_sub(1)
    }

    /// One of the items.
    pub fn one_of<T: Copy>(&mut self, items: &[T]) -> Option<T> {
        items.get(self.below(items.len() as u64) as usize).copied()
    }
}

/// A number scattered over all 64 bits.
pub(super) fn mix(number: u64) -> u64 {
    let z = (number ^ number >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let z = (z ^ z >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ z >> 31
}
