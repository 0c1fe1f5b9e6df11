//! Centring: where sync has to stand for a picture to stand in the middle.
//!
//! A monitor's sweep starts from sync, so what fixes the place of a picture on
//! the glass is the share of a line (or frame) that passes between the start of
//! sync and the picture's middle. A picture of another width is centred where
//! that share is the same as for the picture the mode starts up with.

use backporch_signal::Axis;

/// A place for sync, in the units of the counter that makes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Centred {
    /// Steps from the start of the active area to the start of sync.
    pub sync_start: u32,
    /// How far right of (or below) the middle the picture stands, in dots (or
    /// lines), rounded to the nearest: what the step size leaves over.
    pub off: i32,
}

/// An axis to be laid out, in dots or lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AxisLayout {
    /// Active units.
    pub active: u32,
    /// Units of the sync pulse.
    pub sync: u32,
    /// All units.
    pub total: u32,
    /// Units of a step of the sync position.
    pub step: u32,
    /// Units that have to lie between the active area and sync.
    pub before: u32,
    /// Units that have to lie between sync and the next active area.
    pub after: u32,
}

impl AxisLayout {
    /// The sync position that centres the picture best, `reference` being the
    /// axis of a picture known to stand in the middle.
    ///
    /// `None` where no position leaves room for what has to lie before and after sync.
    #[must_use]
    pub fn centred(&self, reference: &Axis) -> Option<Centred> {
        let step = i64::from(self.step.max(1));
        let least = (i64::from(self.active) + i64::from(self.before) + step - 1).div_euclid(step);
        let most = (i64::from(self.total) - i64::from(self.sync) - i64::from(self.after)).div_euclid(step);
        if least > most {
            return None;
        }
        // Twice the reference total is the common denominator of everything below.
        let denominator = 2 * i64::from(reference.total());
        let to_middle = 2 * i64::from(reference.sync() + reference.back_porch()) + i64::from(reference.active());
        let total = i64::from(self.total);
        let exact = denominator * total + i64::from(reference.total()) * i64::from(self.active) - total * to_middle;
        let nearest = rounded(exact, denominator * step).clamp(least, most);
        let off = rounded(exact - nearest * step * denominator, denominator);
        Some(Centred { sync_start: nearest as u32, off: off as i32 })
    }

    /// How far right of the middle a given sync position puts the picture.
    ///
    /// `None` where it leaves no room for what has to lie before and after sync.
    #[must_use]
    pub fn off(&self, reference: &Axis, sync_start: u32) -> Option<i32> {
        let at = sync_start * self.step;
        let fits = at >= self.active + self.before && at + self.sync + self.after <= self.total;
        let best = self.centred(reference)?;
        fits.then(|| best.off + (best.sync_start as i32 - sync_start as i32) * self.step as i32)
    }
}

/// `number / by` to the nearest, halves towards more.
fn rounded(number: i64, by: i64) -> i64 {
    (2 * number + by).div_euclid(2 * by)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn reference() -> Axis {
        // The 64 KiB class's start-up line: 40 characters shown, sync at 42, 6 long, of 50.
        Axis::new(640, 672, 96, 800).unwrap()
    }

    fn of_chars(chars: u32) -> AxisLayout {
        AxisLayout { active: chars * 16, sync: 96, total: 800, step: 16, before: 16, after: 32 }
    }

    /// Narrowing 40 characters to 32 and centring by sync position leaves 4
    /// characters at each side (common practice): sync moves 4 characters in.
    #[test]
    fn thirty_two_characters_stand_in_the_middle() {
        assert_eq!(of_chars(40).centred(&reference()), Some(Centred { sync_start: 42, off: 0 }));
        assert_eq!(of_chars(32).centred(&reference()), Some(Centred { sync_start: 38, off: 0 }));
    }

    #[test]
    fn an_odd_character_leaves_half_of_one() {
        let half = of_chars(33).centred(&reference()).unwrap();
        assert_eq!(half.off.abs(), 8);
        assert_eq!(of_chars(33).off(&reference(), half.sync_start), Some(half.off));
    }

    #[test]
    fn too_wide_has_no_place() {
        assert_eq!(of_chars(42).centred(&reference()), None);
        assert_eq!(of_chars(40).off(&reference(), 40), None, "no room before sync");
    }

    proptest! {
        /// No other position that leaves room is nearer to the middle, which
        /// is computed here in floating point from the share of the line.
        #[test]
        fn nothing_is_nearer(active in 1u32..60, sync in 1u32..16, total in 20u32..120, before in 0u32..3, after in 0u32..3, step in 1u32..20) {
            let layout = AxisLayout { active: active * step, sync: sync * step, total: total * step, step, before: before * step, after: after * step };
            let reference = reference();
            let share = f64::from(reference.sync() + reference.back_porch()) + f64::from(reference.active()) / 2.0;
            let share = share / f64::from(reference.total());
            let middle = |start: u32| f64::from(layout.total) - f64::from(start * step) + f64::from(layout.active) / 2.0;
            let off = |start: u32| middle(start) - share * f64::from(layout.total);
            let fits = |start: &u32| start * step >= layout.active + layout.before && start * step + layout.sync + layout.after <= layout.total;
            let best = (0..200).filter(fits).map(|start| off(start).abs()).fold(f64::INFINITY, f64::min);
            match layout.centred(&reference) {
                None => prop_assert!(best.is_infinite()),
                Some(found) => {
                    prop_assert!(fits(&found.sync_start));
                    prop_assert!((off(found.sync_start).abs() - best).abs() < 1e-6);
                    prop_assert!((f64::from(found.off) - off(found.sync_start)).abs() <= 0.5 + 1e-6);
                }
            }
        }
    }
}
