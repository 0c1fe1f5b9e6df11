//! Where the canvas stands on the display.

use egui::{Pos2, Rect, Vec2, pos2, vec2};

use super::settings::PictureFit;
use crate::session::{Tile, TubePlace};

/// Width of a tube over its height.
const TUBE: f32 = 4.0 / 3.0;

/// Where the canvas stands on the display, and how large its pixels are.
#[derive(Clone, Copy, Debug)]
pub(crate) struct CanvasLayout {
    pub rect: Rect,
    pub pixel: Vec2,
    /// Pixels of the canvas it was laid out for.
    pub size: (u32, u32),
}

impl CanvasLayout {
    /// As large as it goes inside `room`.
    pub fn within(room: Rect, size: (u32, u32), aspect: f32, fit: PictureFit, scale: f32) -> Self {
        let (width, height) = (size.0 as f32, size.1 as f32);
        let aspect = if aspect.is_finite() && aspect > 0.0 { aspect } else { 1.0 };
        // A pixel is `aspect` wide where it is 1 high.
        let high = (room.width() / (width * aspect)).min(room.height() / height);
        // What does not fit at one pixel each is shown smaller rather than cut off.
        let fits = room.width() * scale >= width && room.height() * scale >= height;
        let pixel = match fit {
            PictureFit::Whole if fits => {
                let times = |room: f32, pixels: f32| (room * scale / pixels).floor().max(1.0);
                let (most_across, most_down) = (times(room.width(), width), times(room.height(), height));
                let across = most_across.min((most_down * aspect).round().max(1.0));
                let down = (across / aspect).round().clamp(1.0, most_down);
                vec2(across, down) / scale
            }
            PictureFit::Shape | PictureFit::Whole => vec2(high * aspect, high),
        };
        let points = vec2(width * pixel.x, height * pixel.y);
        let corner = room.center() - points / 2.0;
        // On the display's own grid, so that whole pixels stay whole.
        let snapped = pos2((corner.x * scale).round() / scale, (corner.y * scale).round() / scale);
        Self { rect: Rect::from_min_size(snapped, points), pixel, size }
    }

    /// On a tube of 4 : 3 as large as it goes inside `room`, at the place a monitor would draw it; and the tube.
    pub fn on_tube(room: Rect, size: (u32, u32), place: TubePlace, scale: f32) -> (Self, Rect) {
        // What lies beside the tube has to fit, too.
        let left = place.x.min(0.0);
        let top = place.y.min(0.0);
        let across = (place.x + place.width).max(1.0) - left;
        let down = (place.y + place.height).max(1.0) - top;
        let high = (room.height() / down).min(room.width() / (across * TUBE));
        let tube = vec2(high * TUBE, high);
        let all = vec2(across, down) * tube;
        let corner = room.center() - all / 2.0 - vec2(left, top) * tube;
        let snap = |at: Pos2| pos2((at.x * scale).round() / scale, (at.y * scale).round() / scale);
        let points = vec2(place.width, place.height) * tube;
        let rect = Rect::from_min_size(snap(corner + vec2(place.x, place.y) * tube), points);
        let pixel = vec2(points.x / size.0.max(1) as f32, points.y / size.1.max(1) as f32);
        (Self { rect, pixel, size }, Rect::from_min_size(snap(corner), tube))
    }

    /// The middle of a pixel of the canvas, in points.
    pub fn point_of(&self, (x, y): (u32, u32)) -> Pos2 {
        self.rect.min + vec2(x as f32 + 0.5, y as f32 + 0.5) * self.pixel
    }

    /// The pixel of the canvas at a point of the display.
    pub fn pixel_at(&self, pos: Pos2) -> Option<(u32, u32)> {
        let at = (pos - self.rect.min) / self.pixel;
        let inside = at.x >= 0.0 && at.y >= 0.0 && at.x < self.size.0 as f32 && at.y < self.size.1 as f32;
        inside.then_some((at.x as u32, at.y as u32))
    }

    /// The display's rectangle of some pixels of a tile.
    pub fn of(&self, tile: &Tile, x: u32, y: u32, wide: u32, high: u32) -> Rect {
        let corner = self.rect.min + vec2((tile.x + x) as f32, y as f32) * self.pixel;
        Rect::from_min_size(corner, vec2(wide as f32, high as f32) * self.pixel)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn placed(size: (u32, u32), fit: PictureFit) -> CanvasLayout {
        CanvasLayout::within(Rect::from_min_size(Pos2::ZERO, vec2(599.0, 520.0)), size, 5.0 / 6.0, fit, 1.0)
    }

    #[test]
    fn the_tube_stands_still_while_the_picture_changes() {
        let room = Rect::from_min_size(Pos2::ZERO, vec2(599.0, 520.0));
        let whole = CanvasLayout::on_tube(room, (320, 200), TubePlace::WHOLE, 1.0);
        assert!((whole.0.rect.aspect_ratio() - 4.0 / 3.0).abs() < 1e-2);
        assert_eq!(whole.0.rect.min, whole.1.min);
        // 256 of 320 pixels, a tenth further right.
        let place = TubePlace { x: 0.1, width: 0.8, ..TubePlace::WHOLE };
        let (narrow, tube) = CanvasLayout::on_tube(room, (256, 200), place, 1.0);
        assert_eq!(tube, whole.1);
        assert!((narrow.pixel - whole.0.pixel).length() < 1e-3, "a pixel is as large as before");
        assert!((narrow.rect.left() - tube.left() - tube.width() * 0.1).abs() <= 1.0);
        // Beyond the tube's edge nothing is cut off.
        let beyond = TubePlace { x: -0.2, width: 1.5, ..TubePlace::WHOLE };
        let (beyond, _) = CanvasLayout::on_tube(room, (480, 200), beyond, 1.0);
        assert!(room.expand(1.0).contains_rect(beyond.rect), "{:?}", beyond.rect);
    }

    #[test]
    fn whole_pixels_stay_whole_and_nothing_is_cut_off() {
        let whole = placed((256, 200), PictureFit::Whole);
        assert_eq!(whole.pixel, vec2(2.0, 2.0));
        let beside = placed((648, 200), PictureFit::Whole);
        assert!(beside.rect.width() <= 599.5, "{:?}", beside.rect);
        let shape = placed((320, 200), PictureFit::Shape);
        // A 4 : 3 tube (common practice): 320 x 200 pixels are five sixths as wide as high.
        assert!((shape.rect.aspect_ratio() - 4.0 / 3.0).abs() < 1e-3);
    }
}
