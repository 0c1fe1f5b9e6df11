//! Which parts of the panels have changed since they were painted, so that no others are painted again.

use egui::epaint::ClippedShape;
use egui::{Rect, Shape, TextureId, TexturesDelta};

/// Bands the panels are painted in, from top to bottom, and cells of a band, from left to right.
pub(super) const BANDS: usize = 16;
const CELLS: usize = 24;

/// How far ahead a shape is looked for that others were put before, or that others before it are gone.
const LOOKED_AHEAD: usize = 48;

/// Points that a line may reach beyond its shape.
const FEATHER: f32 = 2.0;

/// The cells of the window that are to be painted again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Dirty([[bool; CELLS]; BANDS]);

impl Dirty {
    pub const NOTHING: Self = Self([[false; CELLS]; BANDS]);
    pub const ALL: Self = Self([[true; CELLS]; BANDS]);

    /// Whether nothing is to be painted again.
    pub fn is_nothing(&self) -> bool {
        *self == Self::NOTHING
    }

    /// Bands in which something is to be painted.
    pub fn bands(&self) -> usize {
        self.0.iter().filter(|band| band.contains(&true)).count()
    }

    /// Adds the cells under a rectangle of a window of some size, both in points.
    pub fn add(&mut self, rect: Rect, size: egui::Vec2) {
        if !rect.is_positive() || size.x <= 0.0 || size.y <= 0.0 {
            return;
        }
        let at = |place: f32, whole: f32, count: usize| ((place / whole * count as f32) as usize).min(count - 1);
        let (left, right) = (at(rect.left().max(0.0), size.x, CELLS), at(rect.right().max(0.0), size.x, CELLS));
        let (top, bottom) = (at(rect.top().max(0.0), size.y, BANDS), at(rect.bottom().max(0.0), size.y, BANDS));
        for band in &mut self.0[top..=bottom] {
            band[left..=right].fill(true);
        }
    }

    /// Adds what others have.
    pub fn join(&mut self, other: &Self) {
        for (cell, other) in self.0.as_flattened_mut().iter_mut().zip(other.0.as_flattened()) {
            *cell |= other;
        }
    }

    /// Takes the next band in which something is to be painted, from `from` on and round: its number, and where in
    /// a window of some size it is to be painted.
    pub fn take_band(&mut self, from: usize, size: egui::Vec2) -> Option<(usize, Rect)> {
        let band = (0..BANDS).map(|on| (from + on) % BANDS).find(|band| self.0[*band].contains(&true))?;
        let cells = &mut self.0[band];
        let first = cells.iter().position(|dirty| *dirty)?;
        let end = cells.iter().rposition(|dirty| *dirty)? + 1;
        cells.fill(false);
        let (wide, high) = (size.x / CELLS as f32, size.y / BANDS as f32);
        let place = Rect::from_x_y_ranges(
            first as f32 * wide..=end as f32 * wide,
            band as f32 * high..=(band + 1) as f32 * high,
        );
        Some((band, place))
    }
}

/// What differs between two layouts of a window of some size in points; textures may have new contents.
pub(super) fn changed(old: &[ClippedShape], new: &[ClippedShape], textures: &TexturesDelta, size: egui::Vec2) -> Dirty {
    let mut dirty = Dirty::NOTHING;
    // New letters are put beside the others; all of them anew have other places.
    let letters_anew = |(id, delta): &(TextureId, egui::epaint::ImageDelta)| *id == LETTERS && delta.is_whole();
    if textures.set.iter().any(letters_anew) {
        return Dirty::ALL;
    }
    let is_renewed = |shape: &ClippedShape| {
        let texture = texture_of(&shape.shape).filter(|id| *id != LETTERS);
        texture.is_some_and(|texture| textures.set.iter().any(|(id, _)| *id == texture))
    };
    let mut mark = |shape: &ClippedShape| {
        dirty.add(shape.shape.visual_bounding_rect().expand(FEATHER).intersect(shape.clip_rect), size);
    };
    let (mut from, mut at) = (0, 0);
    while from < old.len() && at < new.len() {
        if old[from] == new[at] {
            if is_renewed(&new[at]) {
                mark(&new[at]);
            }
            (from, at) = (from + 1, at + 1);
            continue;
        }
        let added = (1..LOOKED_AHEAD).find(|on| new.get(at + on) == old.get(from));
        let gone = (1..LOOKED_AHEAD).find(|on| old.get(from + on) == new.get(at));
        match (added, gone) {
            (Some(added), gone) if gone.is_none_or(|gone| added <= gone) => {
                new[at..at + added].iter().for_each(&mut mark);
                at += added;
            }
            (_, Some(gone)) => {
                old[from..from + gone].iter().for_each(&mut mark);
                from += gone;
            }
            (_, None) => {
                mark(&old[from]);
                mark(&new[at]);
                (from, at) = (from + 1, at + 1);
            }
        }
    }
    old[from..].iter().chain(&new[at..]).for_each(mark);
    dirty
}

/// The texture that holds the letters, and the white of what is filled.
const LETTERS: TextureId = TextureId::Managed(0);

/// The texture that a shape shows, where it shows one.
fn texture_of(shape: &Shape) -> Option<TextureId> {
    match shape {
        Shape::Mesh(mesh) => Some(mesh.texture_id),
        Shape::Rect(rect) => rect.brush.as_ref().map(|brush| brush.fill_texture_id),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::{Color32, pos2, vec2};

    const SIZE: egui::Vec2 = vec2(2400.0, 1600.0);

    fn at(x: f32, y: f32, colour: Color32) -> ClippedShape {
        let rect = Rect::from_min_size(pos2(x, y), vec2(10.0, 10.0));
        ClippedShape { clip_rect: Rect::EVERYTHING, shape: Shape::rect_filled(rect, 0.0, colour) }
    }

    fn dirty_of(rects: &[(f32, f32)]) -> Dirty {
        let mut dirty = Dirty::NOTHING;
        for (x, y) in rects {
            dirty.add(Rect::from_min_size(pos2(*x, *y), vec2(10.0, 10.0)).expand(FEATHER), SIZE);
        }
        dirty
    }

    #[test]
    fn only_what_differs_is_painted_again() {
        let all: Vec<ClippedShape> = (0..20).map(|row| at(130.0, 130.0 + row as f32 * 20.0, Color32::WHITE)).collect();
        let none = TexturesDelta::default();
        assert!(changed(&all, &all, &none, SIZE).is_nothing());
        let mut other = all.clone();
        other[7] = at(130.0, 270.0, Color32::RED);
        assert_eq!(changed(&all, &other, &none, SIZE), dirty_of(&[(130.0, 270.0)]));
        // One more, and one less: the others are the same.
        let mut more = all.clone();
        more.insert(3, at(1500.0, 900.0, Color32::RED));
        assert_eq!(changed(&all, &more, &none, SIZE), dirty_of(&[(1500.0, 900.0)]));
        assert_eq!(changed(&more, &all, &none, SIZE), dirty_of(&[(1500.0, 900.0)]));
        // Moved: from there and to here.
        let mut moved = all.clone();
        moved[0] = at(2000.0, 1500.0, Color32::WHITE);
        assert_eq!(changed(&all, &moved, &none, SIZE), dirty_of(&[(130.0, 130.0), (2000.0, 1500.0)]));
    }

    #[test]
    fn bands_are_taken_one_by_one_and_as_narrow_as_they_can_be() {
        let mut dirty = dirty_of(&[(130.0, 130.0), (330.0, 130.0), (2000.0, 1520.0)]);
        assert_eq!(dirty.bands(), 2);
        let (band, place) = dirty.take_band(5, SIZE).unwrap();
        assert_eq!((band, place), (15, Rect::from_min_max(pos2(1900.0, 1500.0), pos2(2100.0, 1600.0))));
        let (band, place) = dirty.take_band(band + 1, SIZE).unwrap();
        assert_eq!((band, place), (1, Rect::from_min_max(pos2(100.0, 100.0), pos2(400.0, 200.0))));
        assert!(dirty.is_nothing() && dirty.take_band(0, SIZE).is_none());
    }
}
