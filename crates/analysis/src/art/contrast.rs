//! Contrast of two colours.

use backporch_adapter::Rgba;

/// How far apart two colours look, 0 for the same one, 1 for black and white.
///
/// The distance in luma and the two colour differences of ITU-R BT.601, the
/// transform of the television sets of the time; a distance in colour alone
/// counts less than one in brightness, as it does for the eye.
#[must_use]
pub fn contrast(one: Rgba, other: Rgba) -> f32 {
    let difference = |channel: usize| (f32::from(one[channel]) - f32::from(other[channel])) / 255.0;
    let (red, green, blue) = (difference(0), difference(1), difference(2));
    let luma = 0.299 * red + 0.587 * green + 0.114 * blue;
    let of_blue = 0.564 * (blue - luma);
    let of_red = 0.713 * (red - luma);
    (luma * luma + of_blue * of_blue + of_red * of_red).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn grey(level: u8) -> Rgba {
        [level, level, level, 255]
    }

    /// Luma of pure red, green and blue: ITU-R BT.601.
    #[test]
    fn brightness_counts_most() {
        assert_eq!(contrast(grey(7), grey(7)), 0.0);
        assert!((contrast(grey(0), grey(255)) - 1.0).abs() < 1e-6);
        let of = |colour| contrast(grey(0), colour);
        assert!(of([0, 255, 0, 255]) > of([255, 0, 0, 255]));
        assert!(of([255, 0, 0, 255]) > of([0, 0, 255, 255]) && of([0, 0, 255, 255]) > 0.5);
        assert_eq!(contrast([1, 2, 3, 255], [9, 8, 7, 255]), contrast([9, 8, 7, 255], [1, 2, 3, 255]));
    }
}
