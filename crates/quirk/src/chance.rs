//! Chance: numbers that depend only on the seed and on where they are asked for.
//!
//! No state is carried from one question to the next, so the answer does not
//! depend on how the beam was cut into stretches or on the number of threads.

/// A number that looks like chance, from three numbers.
///
/// The finaliser of SplitMix64: Steele, Lea, Flood, *Fast Splittable
/// Pseudorandom Number Generators* (2014), with the constants of its variant 13.
pub(crate) fn draw(seed: u64, one: u64, two: u64) -> u64 {
    mix(mix(mix(seed).wrapping_add(one)).wrapping_add(two))
}

/// A whole number from `-most` to `most`.
pub(crate) fn draw_around(seed: u64, one: u64, two: u64, most: i32) -> i32 {
    let span = 2 * most.unsigned_abs() + 1;
    (draw(seed, one, two) % u64::from(span)) as i32 - most.abs()
}

fn mix(value: u64) -> u64 {
    let value = value.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let value = (value ^ value >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let value = (value ^ value >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
    value ^ value >> 31
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first outputs of SplitMix64 from state 0, as its authors' reference gives them.
    #[test]
    fn the_mixer_is_the_published_one() {
        assert_eq!(mix(0), 0xE220_A839_7B1D_CDAF);
        assert_eq!(mix(0x9E37_79B9_7F4A_7C15), 0x6E78_9E6A_A1B9_65F4);
    }

    #[test]
    fn draws_spread_evenly() {
        let below = (0..100_000u64).filter(|at| draw(7, *at, at / 3) % 1000 < 250).count();
        assert!((24_000..26_000).contains(&below), "{below}");
    }
}
