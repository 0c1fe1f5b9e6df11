//! The six-bit levels of a palette DAC, as eight-bit colours.

use backporch_adapter::widen_dac as widened;

use crate::indexed::Colour;

/// The highest six-bit level.
pub const TOP_LEVEL: u8 = 63;

/// The six-bit level that shows an eight-bit value best.
#[must_use]
pub const fn level(value: u8) -> u8 {
    ((value as u16 * TOP_LEVEL as u16 + 127) / 255) as u8
}

/// The colour nearest to a given one that the DAC can show.
#[must_use]
pub fn shown(colour: Colour) -> Colour {
    colour.map(|value| widened(level(value)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_come_back() {
        for six in 0..=TOP_LEVEL {
            assert_eq!(level(widened(six)), six);
        }
        assert_eq!([widened(0), widened(1), widened(32), widened(63)], [0, 4, 130, 255]);
    }

    #[test]
    fn no_level_is_nearer() {
        for value in 0..=u8::MAX {
            let nearest = (0..=TOP_LEVEL).map(|six| widened(six).abs_diff(value)).min();
            assert_eq!(Some(shown([value; 3])[0].abs_diff(value)), nearest, "{value}");
        }
    }
}
