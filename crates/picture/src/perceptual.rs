//! Colours as the eye weighs them: sRGB to linear light and on to Oklab, where distance is difference seen.
//!
//! All roots and powers are taken by portable code, so every machine finds the same nearest colour.

use std::sync::LazyLock;

use crate::indexed::Colour;

/// A colour in linear light, 0 to 1 each of red, green and blue.
pub(crate) type Linear = [f32; 3];

/// A colour in Oklab: lightness 0 to 1, then green to red and blue to yellow.
pub(crate) type Lab = [f32; 3];

/// Linear light of an sRGB value (IEC 61966-2-1).
pub(crate) fn linear(colour: Colour) -> Linear {
    static TABLE: LazyLock<[f32; 256]> = LazyLock::new(|| {
        std::array::from_fn(|value| {
            let part = value as f32 / 255.0;
            if part <= 0.040_45 { part / 12.92 } else { libm::powf((part + 0.055) / 1.055, 2.4) }
        })
    });
    colour.map(|value| TABLE[usize::from(value)])
}

/// Oklab of linear light; the matrices are those of *A perceptual color space for image processing*.
pub(crate) fn lab(light: Linear) -> Lab {
    const TO_CONES: [[f32; 3]; 3] = [
        [0.412_221_46, 0.536_332_55, 0.051_445_995],
        [0.211_903_5, 0.680_699_5, 0.107_396_96],
        [0.088_302_46, 0.281_718_85, 0.629_978_7],
    ];
    const TO_LAB: [[f32; 3]; 3] = [
        [0.210_454_26, 0.793_617_8, -0.004_072_047],
        [1.977_998_5, -2.428_592_2, 0.450_593_7],
        [0.025_904_037, 0.782_771_77, -0.808_675_77],
    ];
    times(&TO_LAB, times(&TO_CONES, light).map(libm::cbrtf))
}

fn times(matrix: &[[f32; 3]; 3], [x, y, z]: [f32; 3]) -> [f32; 3] {
    matrix.map(|[a, b, c]| a * x + b * y + c * z)
}

/// The square of the difference seen between two colours.
pub(crate) fn difference(a: Lab, b: Lab) -> f32 {
    let [l, m, n] = [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
    l * l + m * m + n * n
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use quantette::{color_space::srgb8_to_oklab, deps::palette::Srgb};

    proptest! {
        // Reference: the colour conversion of the `palette` library.
        #[test]
        fn agrees_with_the_reference_library(colour: [u8; 3]) {
            let [r, g, b] = colour;
            let reference = srgb8_to_oklab(&[Srgb::new(r, g, b)])[0];
            let ours = lab(linear(colour));
            for (a, b) in ours.into_iter().zip([reference.l, reference.a, reference.b]) {
                prop_assert!((a - b).abs() < 1e-4, "{ours:?} {reference:?}");
            }
        }
    }
}
