//! The threshold matrix that ordered dithering goes by, for the built-in picture and for palettes alike.

/// Columns and rows after which the matrix repeats.
pub const MATRIX_SIDE: u32 = 8;

/// The threshold of a pixel, above 0 and below 1: the 8 by 8 ordered-dither matrix, each of whose 64
/// levels stands once (*An optimum method for two-level rendition of continuous-tone pictures*, 1973).
#[must_use]
pub fn threshold(column: i64, row: i64) -> f32 {
    let mut level = 0u8;
    for bit in 0..3 {
        let (x, y) = ((column >> bit & 1) as u8, (row >> bit & 1) as u8);
        level = level << 2 | (x ^ y) << 1 | y;
    }
    (f32::from(level) + 0.5) / 64.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn each_level_stands_once() {
        let side = i64::from(MATRIX_SIDE);
        let mut levels: Vec<u32> =
            (0..side * side).map(|cell| (threshold(cell % side, cell / side) * 64.0) as u32).collect();
        levels.sort_unstable();
        assert!(levels.into_iter().eq(0..64));
    }

    // The published matrix of side 2, (0 2; 3 1), is what the top level of the recursion shows.
    #[test]
    fn quarters_follow_the_published_matrix_of_side_2() {
        let quarter = |column, row| (threshold(column, row) * 4.0) as u32;
        assert_eq!([quarter(0, 0), quarter(1, 0), quarter(0, 1), quarter(1, 1)], [0, 2, 3, 1]);
    }

    proptest! {
        #[test]
        fn repeats_both_ways(column in -1000i64..1000, row in -1000i64..1000) {
            let side = i64::from(MATRIX_SIDE);
            prop_assert_eq!(threshold(column, row), threshold(column + side, row - side));
        }
    }
}
