//! What has changed from one frame to the next.

use image::{RgbImage, imageops};

/// A rectangle of a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct ChangedRectangle {
    pub(super) x: u32,
    pub(super) y: u32,
    pub(super) width: u32,
    pub(super) height: u32,
}

impl ChangedRectangle {
    /// The least rectangle outside of which two frames of the same size are equal: of equal frames one
    /// pixel, since a frame of an animation may not be empty.
    pub(super) fn changed(before: Option<&RgbImage>, now: &RgbImage) -> Self {
        let (width, height) = now.dimensions();
        let Some(before) = before.filter(|before| before.dimensions() == now.dimensions()) else {
            return Self { x: 0, y: 0, width, height };
        };
        let row_bytes = width as usize * 3;
        let rows = before.as_raw().chunks_exact(row_bytes).zip(now.as_raw().chunks_exact(row_bytes));
        let mut changed: Option<Self> = None;
        for ((old, new), y) in rows.zip(0..).filter(|((old, new), _)| old != new) {
            let differs = |(old, new): (&[u8], &[u8])| old != new;
            let mut pixels = old.chunks_exact(3).zip(new.chunks_exact(3));
            let left = pixels.clone().position(differs).unwrap_or(0) as u32;
            let right = pixels.rposition(differs).unwrap_or(0) as u32;
            let row = Self { x: left, y, width: right + 1 - left, height: 1 };
            changed = Some(changed.map_or(row, |part| part.with(row)));
        }
        changed.unwrap_or(Self { x: 0, y: 0, width: 1, height: 1 })
    }

    /// The least rectangle that holds both.
    fn with(self, other: Self) -> Self {
        let (x, y) = (self.x.min(other.x), self.y.min(other.y));
        let right = (self.x + self.width).max(other.x + other.width);
        let bottom = (self.y + self.height).max(other.y + other.height);
        Self { x, y, width: right - x, height: bottom - y }
    }

    /// The part cut out of a frame.
    pub(super) fn of(self, frame: &RgbImage) -> RgbImage {
        imageops::crop_imm(frame, self.x, self.y, self.width, self.height).to_image()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn laid_over_the_frame_before_it_gives_the_new_one(
            size in (1u32..12, 1u32..12),
            dots in prop::collection::vec((0u32..12, 0u32..12, any::<u8>()), 0..5),
        ) {
            let before = RgbImage::new(size.0, size.1);
            let mut now = before.clone();
            for (x, y, value) in dots {
                now.put_pixel(x % size.0, y % size.1, Rgb([0, value, 0]));
            }
            let part = ChangedRectangle::changed(Some(&before), &now);
            let mut laid = before.clone();
            imageops::replace(&mut laid, &part.of(&now), part.x.into(), part.y.into());
            prop_assert_eq!(laid, now.clone());
            let edge = |x: u32, y: u32| before.get_pixel(x, y) != now.get_pixel(x, y);
            let touched = (0..size.1).any(|y| edge(part.x, y)) && (0..size.0).any(|x| edge(x, part.y));
            prop_assert!(touched || before == now, "wider than need be");
            let whole = ChangedRectangle { x: 0, y: 0, width: size.0, height: size.1 };
            prop_assert_eq!(ChangedRectangle::changed(None, &now), whole);
        }
    }
}
