//! The time of a frame as a form can say it.

use std::time::Duration;

use super::RecordError;

const BILLION: u64 = 1_000_000_000;

/// The fraction of seconds nearest to a duration whose two parts fit 16 bits, as APNG asks.
pub(super) fn fraction(duration: Duration) -> Result<(u16, u16), RecordError> {
    const MOST: u64 = u16::MAX as u64;
    let most = Duration::from_secs(MOST - 1);
    if duration > most {
        return Err(RecordError::TooLong { found: duration, most });
    }
    // Below the limit checked above, nanoseconds fit 64 bits.
    let nanoseconds = duration.as_nanos() as u64;
    if nanoseconds == 0 {
        return Ok((0, 1));
    }
    let most_denominator = (u128::from(MOST - 1) * u128::from(BILLION) / u128::from(nanoseconds)).clamp(1, MOST.into());
    let (over, under) = nearest_fraction(nanoseconds.into(), BILLION.into(), most_denominator);
    Ok((over as u16, under as u16))
}

/// The fraction nearest to `over / under` with a denominator of at most `most`, by continued fractions.
fn nearest_fraction(over: u128, under: u128, most: u128) -> (u128, u128) {
    let (mut n, mut d) = (over, under);
    let (mut older, mut newer) = ((0, 1), (1, 0));
    while d != 0 {
        let whole = n / d;
        let next = (older.0 + whole * newer.0, older.1 + whole * newer.1);
        if next.1 > most {
            break;
        }
        (older, newer) = (newer, next);
        (n, d) = (d, n - whole * d);
    }
    if d == 0 {
        return newer;
    }
    // Between the last two convergents there may be one that is nearer still.
    let steps = (most - older.1) / newer.1;
    let between = (older.0 + steps * newer.0, older.1 + steps * newer.1);
    let off = |(a, b): (u128, u128)| (a * under).abs_diff(b * over);
    let nearer = off(between) * newer.1 < off(newer) * between.1;
    if nearer { between } else { newer }
}

/// Time passing, read in hundredths of a second.
#[derive(Debug, Default)]
pub(super) struct Hundredths {
    passed: Duration,
    /// Hundredths that frames were given.
    given: u64,
}

impl Hundredths {
    /// Lets a frame pass.
    pub(super) fn pass(&mut self, lasts: Duration) {
        self.passed = self.passed.saturating_add(lasts);
    }

    /// Hundredths up to the one nearest to now that no frame was given yet.
    pub(super) fn left(&self) -> u64 {
        let nanoseconds = self.passed.as_nanos();
        let now = (nanoseconds + 5_000_000) / 10_000_000;
        u64::try_from(now).unwrap_or(u64::MAX).saturating_sub(self.given)
    }

    /// Gives hundredths to a frame.
    pub(super) fn give(&mut self, hundredths: u64) {
        self.given = self.given.saturating_add(hundredths);
    }

    /// All that was given.
    pub(super) fn given(&self) -> Duration {
        Duration::from_millis(self.given.saturating_mul(10))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn frame_rates_become_fractions() {
        let seconds = |duration| fraction(duration).map(|(over, under)| f64::from(over) / f64::from(under));
        assert_eq!(fraction(Duration::from_millis(20)).ok(), Some((1, 50)));
        assert_eq!(fraction(Duration::from_secs(3)).ok(), Some((3, 1)));
        assert_eq!(fraction(Duration::ZERO).ok(), Some((0, 1)));
        // 25.175 MHz over 800 dots and 449 lines, from *VESA Display Monitor Timing*'s dot clock.
        let frame = Duration::from_secs_f64(800.0 * 449.0 / 25.175e6);
        assert!((seconds(frame).unwrap_or(0.0) - frame.as_secs_f64()).abs() < 1e-9);
        assert!(fraction(Duration::from_secs(70_000)).is_err());
    }

    proptest! {
        #[test]
        fn fractions_are_near(nanoseconds in 1_000_000u64..65_000_000_000_000) {
            let duration = Duration::from_nanos(nanoseconds);
            let (over, under) = fraction(duration)?;
            let said = f64::from(over) / f64::from(under);
            let off = (said - duration.as_secs_f64()).abs();
            // A denominator up to q comes within 1/2q; from a thousandth of a second on that is ample.
            let room = 0.5 / (65534.0 / duration.as_secs_f64()).clamp(1.0, 65535.0).floor();
            prop_assert!(off <= room + 1e-9, "{said} for {duration:?}");
        }

        #[test]
        fn no_other_fraction_is_nearer(over in 1u128..200, under in 1u128..200, most in 1u128..20) {
            let (a, b) = nearest_fraction(over, under, most);
            let off = |a: u128, b: u128| (a * under).abs_diff(b * over) as f64 / (b * under) as f64;
            for q in 1..=most {
                let p = over * q / under;
                prop_assert!(off(a, b) <= off(p, q).min(off(p + 1, q)) + 1e-12);
            }
        }

        #[test]
        fn hundredths_never_drift(lasts in prop::collection::vec(1u64..90_000_000, 1..60)) {
            let mut clock = Hundredths::default();
            let mut passed = 0;
            for nanoseconds in lasts {
                passed += nanoseconds;
                clock.pass(Duration::from_nanos(nanoseconds));
                let left = clock.left();
                if left >= 2 {
                    clock.give(left);
                    let off = clock.given().as_nanos().abs_diff(passed.into());
                    prop_assert!(off <= 5_000_000);
                }
            }
        }
    }
}
