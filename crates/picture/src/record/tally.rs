//! At most 256 colours for a frame.

use std::collections::HashMap;

use image::RgbImage;

use crate::indexed::{Colour, MOST_COLOURS};
use crate::perceptual::{Lab, difference, lab, linear};

/// A frame in indices.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct IndexedFrame {
    pub(super) indices: Vec<u8>,
    pub(super) palette: Vec<Colour>,
    /// Colours that gave way to others.
    pub(super) lost: u32,
}

/// Brings a frame into its own colours, or where these are too many, into its most frequent ones.
pub(super) fn reduce(frame: &RgbImage) -> IndexedFrame {
    let mut colours = Colours::default();
    let row_bytes = frame.width().max(1) as usize * 3;
    let mut places: Vec<u32> = Vec::with_capacity(frame.as_raw().len() / 3);
    let mut before: &[u8] = &[];
    for row in frame.as_raw().chunks_exact(row_bytes) {
        // Enlarged pictures repeat their rows.
        if row == before {
            colours.again(&mut places, row_bytes / 3)
        } else {
            places.extend(row.chunks_exact(3).map(|pixel| colours.place([pixel[0], pixel[1], pixel[2]])))
        }
        before = row;
    }
    colours.reduced(&places)
}

/// Every colour met, with the number of its pixels.
#[derive(Debug, Default)]
struct Colours {
    places: HashMap<Colour, u32>,
    found: Vec<(Colour, u32)>,
    last: Option<(Colour, u32)>,
}

impl Colours {
    /// The place of a colour among those found, one pixel more counted.
    fn place(&mut self, colour: Colour) -> u32 {
        let place = match self.last {
            Some((last, place)) if last == colour => place,
            _ => *self.places.entry(colour).or_insert_with(|| {
                self.found.push((colour, 0));
                self.found.len() as u32 - 1
            }),
        };
        self.last = Some((colour, place));
        self.found[place as usize].1 += 1;
        place
    }

    /// The last `count` places once more.
    fn again(&mut self, places: &mut Vec<u32>, count: usize) {
        let first = places.len() - count;
        places.extend_from_within(first..);
        for place in &places[first + count..] {
            self.found[*place as usize].1 += 1;
        }
    }

    fn reduced(self, places: &[u32]) -> IndexedFrame {
        let mut order: Vec<u32> = (0..self.found.len() as u32).collect();
        order.sort_by_key(|place| {
            let (colour, pixels) = self.found[*place as usize];
            (std::cmp::Reverse(pixels), colour)
        });
        let (kept, lost) = order.split_at(order.len().min(MOST_COLOURS));
        let palette: Vec<Colour> = kept.iter().map(|place| self.found[*place as usize].0).collect();
        let mut index = vec![0; self.found.len()];
        for (place, at) in kept.iter().zip(0..=255) {
            index[*place as usize] = at;
        }
        let looks: Vec<Lab> = palette.iter().map(|colour| lab(linear(*colour))).collect();
        for place in lost {
            let wanted = lab(linear(self.found[*place as usize].0));
            let off = |at: &u8| difference(looks[usize::from(*at)], wanted);
            let nearest = (0..=255).min_by(|a, b| off(a).total_cmp(&off(b)));
            index[*place as usize] = nearest.unwrap_or(0);
        }
        IndexedFrame {
            indices: places.iter().map(|place| index[*place as usize]).collect(),
            palette,
            lost: lost.len() as u32,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn a_frame_of_few_colours_is_kept_exactly() {
        let frame = RgbImage::from_fn(40, 30, |x, y| Rgb([(x / 4) as u8, (y / 3) as u8, 7]));
        let IndexedFrame { indices, palette, lost } = reduce(&frame);
        assert_eq!((palette.len(), lost), (100, 0));
        let back: Vec<u8> = indices.iter().flat_map(|index| palette[usize::from(*index)]).collect();
        assert_eq!(&back, frame.as_raw());
    }

    #[test]
    fn the_rarest_colours_give_way_to_their_likes() {
        // 256 greys in columns of ten pixels; one pixel almost as one of them.
        let mut frame = RgbImage::from_fn(256, 10, |x, _| Rgb([x as u8; 3]));
        frame.put_pixel(200, 4, Rgb([200, 200, 201]));
        let reduced = reduce(&frame);
        assert_eq!((reduced.palette.len(), reduced.lost), (256, 1));
        let index = reduced.indices[4 * 256 + 200];
        assert_eq!(reduced.palette[usize::from(index)], [200; 3]);
    }
}
