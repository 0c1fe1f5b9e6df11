//! The damage map: a column for each step, a row for each line, the stronger the more of the line is damaged.

use std::ops::RangeInclusive;

use backporch_picture::mark::Mark;
use backporch_picture::write::WriteError;

use super::embed::EmbeddedPicture;

/// Columns at most; of longer sweeps each column stands for several steps.
const MOST_COLUMNS: usize = 512;

/// Rows at most; of taller pictures each row stands for several lines.
const MOST_ROWS: usize = 512;

/// How strongly the least damage shows, of 255: two pixels of a line must not be missed.
const FAINTEST: f64 = 70.0;

/// Pixels of a line that are damaged.
pub fn extent(damage: Option<&RangeInclusive<u32>>) -> u32 {
    damage.map_or(0, |pixels| pixels.end() + 1 - pixels.start())
}

/// How strongly a number of damaged pixels shows where the widest damage has `widest`, 0 for none up to 255.
fn strength(pixels: u32, widest: u32) -> u8 {
    match pixels {
        0 => 0,
        _ => (FAINTEST + (255.0 - FAINTEST) * f64::from(pixels) / f64::from(widest.max(1))).round().min(255.0) as u8,
    }
}

/// Draws the map from the damaged pixels of every line in every step, and the verdict of each step.
pub fn draw(steps: &[(Mark, Vec<u32>)]) -> Result<EmbeddedPicture, WriteError> {
    let widest = widest(steps);
    let lines = steps.iter().map(|(_, lines)| lines.len()).max().unwrap_or(0).max(1);
    let (columns, rows) = (steps.len().clamp(1, MOST_COLUMNS), lines.min(MOST_ROWS));
    let mut pixels = vec![[0; 4]; columns * rows];
    for (step, (mark, extents)) in steps.iter().enumerate() {
        let column = step * columns / steps.len();
        let [red, green, blue] = mark.colour();
        for (line, extent) in extents.iter().enumerate() {
            let (pixel, strength) = (&mut pixels[line * rows / lines * columns + column], strength(*extent, widest));
            // Where several steps or lines share a pixel, the worst of them shows.
            if strength > pixel[3] {
                *pixel = [red, green, blue, strength];
            }
        }
    }
    EmbeddedPicture::of(&pixels, columns as u32)
}

/// Damaged pixels of the worst line.
pub fn widest(steps: &[(Mark, Vec<u32>)]) -> u32 {
    steps.iter().flat_map(|(_, extents)| extents).copied().max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_damage_shows_and_the_most_is_solid() {
        assert_eq!((extent(None), extent(Some(&(318..=319)))), (0, 2));
        assert_eq!(strength(0, 320), 0);
        assert!(strength(1, 320) >= 70);
        assert_eq!(strength(320, 320), 255);
    }

    #[test]
    fn long_sweeps_are_brought_together_without_losing_damage() {
        let mut steps = vec![(Mark::Clean, vec![0; 1000]); 3000];
        steps[1234] = (Mark::Broken, vec![0; 1000]);
        steps[1234].1[777] = 200;
        let image = draw(&steps).expect("drawn");
        assert_eq!((image.width(), image.height()), (512, 512));
        let one = draw(&[(Mark::Clean, vec![])]).expect("drawn");
        assert_eq!((one.width(), one.height()), (1, 1));
        let clean = draw(&vec![(Mark::Clean, vec![0; 1000]); 3000]).expect("drawn");
        assert_ne!(image, clean);
    }
}
