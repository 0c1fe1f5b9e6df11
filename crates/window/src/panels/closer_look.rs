//! A closer look at the screen: how far it is magnified, and round which place.

use egui::{Rect, Vec2, pos2, vec2};

use super::canvas_layout::CanvasLayout;

/// Nearest one can come, in times the size that fits.
const NEAREST: f32 = 32.0;

/// How far the picture is magnified, and how far it is moved from the middle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct CloserLook {
    times: f32,
    /// Points by which the middle of the picture lies beside that of its room.
    moved: Vec2,
}

impl Default for CloserLook {
    fn default() -> Self {
        Self { times: 1.0, moved: Vec2::ZERO }
    }
}

impl CloserLook {
    /// Whether the picture is larger than what fits.
    pub fn is_closer(self) -> bool {
        self.times > 1.0
    }

    /// Times the size that fits.
    pub fn times(self) -> f32 {
        self.times
    }

    /// Comes closer by a factor, or goes back below 1; what lies at `fixed`, in points from the
    /// middle of the room, stays where it is.
    pub fn closer(&mut self, factor: f32, fixed: Vec2) {
        let times = (self.times * factor).clamp(1.0, NEAREST);
        let grown = times / self.times;
        self.moved = fixed - (fixed - self.moved) * grown;
        self.times = times;
        if !self.is_closer() {
            *self = Self::default();
        }
    }

    /// Moves the picture by points.
    pub fn move_by(&mut self, by: Vec2) {
        if self.is_closer() {
            self.moved += by;
        }
    }

    /// The layout magnified and moved, with no more of its room left empty than must be.
    pub fn apply(&mut self, layout: CanvasLayout, room: Rect) -> CanvasLayout {
        if !self.is_closer() {
            return layout;
        }
        let size = layout.rect.size() * self.times;
        let slack = ((size - room.size()) / 2.0).max(Vec2::ZERO);
        self.moved = vec2(self.moved.x.clamp(-slack.x, slack.x), self.moved.y.clamp(-slack.y, slack.y));
        let middle = pos2(room.center().x + self.moved.x, room.center().y + self.moved.y);
        CanvasLayout { rect: Rect::from_center_size(middle, size), pixel: layout.pixel * self.times, ..layout }
    }
}

#[cfg(test)]
mod tests {
    use egui::Pos2;

    use super::super::settings::PictureFit;
    use super::*;

    #[test]
    fn the_pixel_under_the_pointer_stays_there() {
        let room = Rect::from_min_size(Pos2::ZERO, vec2(640.0, 400.0));
        let fit = CanvasLayout::within(room, (320, 200), 1.0, PictureFit::Whole, 1.0);
        let mut look = CloserLook::default();
        let pointer = pos2(400.0, 130.0);
        let before = fit.pixel_at(pointer);
        for _ in 0..5 {
            look.closer(1.5, pointer - room.center());
            assert_eq!(look.apply(fit, room).pixel_at(pointer), before);
        }
        // It is moved no further than to its edge, and comes back whole.
        look.move_by(vec2(1e5, -1e5));
        let moved = look.apply(fit, room);
        assert_eq!((moved.rect.left(), moved.rect.bottom()), (room.left(), room.bottom()));
        for _ in 0..9 {
            look.closer(0.5, Vec2::ZERO);
        }
        assert_eq!(look, CloserLook::default());
        assert_eq!(look.apply(fit, room).rect, fit.rect);
    }
}
