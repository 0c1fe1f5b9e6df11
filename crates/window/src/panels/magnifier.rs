//! The magnifier: the pixels round the pointer, large, in a corner of the screen.

use egui::{Color32, Mesh, Pos2, Rect, Shape, Stroke, StrokeKind, Vec2, pos2, vec2};

use super::canvas_layout::CanvasLayout;
use super::theme::Colours;
use crate::session::Canvas;

/// Pixels to either side of the one in the middle, across and down.
const ACROSS: i64 = 12;
const DOWN: i64 = 8;
/// Points a pixel is high.
const HIGH: f32 = 9.0;
/// Share of the picture it covers at most, across and down.
const MOST: f32 = 0.6;

/// What shows the pixels round `at`, in the corner of `seen` farthest from it; nothing where there is no room.
pub(crate) fn shapes(
    canvas: &Canvas,
    layout: &CanvasLayout,
    seen: Rect,
    at: (u32, u32),
    colours: &Colours,
) -> Vec<Shape> {
    let aspect = (layout.pixel.x / layout.pixel.y).clamp(0.25, 4.0);
    let cell = vec2(HIGH * aspect, HIGH);
    let size = vec2((2 * ACROSS + 1) as f32, (2 * DOWN + 1) as f32) * cell;
    let shrink = (seen.width() * MOST / size.x).min(seen.height() * MOST / size.y).min(1.0);
    if shrink * HIGH < 3.0 {
        return Vec::new();
    }
    let (cell, size) = (cell * shrink, size * shrink);
    let rect = Rect::from_min_size(corner(seen, size, layout.point_of(at)), size);
    let mut mesh = Mesh::default();
    let middle = (i64::from(at.0), i64::from(at.1));
    for (row, y) in (middle.1 - DOWN..=middle.1 + DOWN).enumerate() {
        for (column, x) in (middle.0 - ACROSS..=middle.0 + ACROSS).enumerate() {
            let place = Rect::from_min_size(rect.min + vec2(column as f32, row as f32) * cell, cell);
            mesh.add_colored_rect(place, pixel(canvas, x, y));
        }
    }
    let inspected = Rect::from_center_size(rect.center(), cell);
    vec![
        Shape::rect_filled(rect.expand(2.0), 0.0, colours.well),
        Shape::mesh(mesh),
        Shape::rect_stroke(rect, 0.0, Stroke::new(1.5, colours.accent), StrokeKind::Outside),
        Shape::rect_stroke(inspected, 0.0, Stroke::new(1.0, Color32::BLACK), StrokeKind::Outside),
        Shape::rect_stroke(inspected.expand(1.0), 0.0, Stroke::new(1.0, Color32::WHITE), StrokeKind::Outside),
    ]
}

/// The colour of a pixel of the canvas; none outside it.
fn pixel(canvas: &Canvas, x: i64, y: i64) -> Color32 {
    let inside = (0..i64::from(canvas.width)).contains(&x) && (0..i64::from(canvas.height)).contains(&y);
    let at = y * i64::from(canvas.width) + x;
    let found = inside.then(|| canvas.rgba.get(at as usize)).flatten();
    found.map_or(Color32::TRANSPARENT, |[red, green, blue, opacity]| {
        Color32::from_rgba_unmultiplied(*red, *green, *blue, *opacity)
    })
}

/// The corner of `seen` away from a point, for something of some size.
fn corner(seen: Rect, size: Vec2, away_from: Pos2) -> Pos2 {
    let seen = seen.shrink(6.0);
    let x = if away_from.x < seen.center().x { seen.right() - size.x } else { seen.left() };
    let y = if away_from.y < seen.center().y { seen.bottom() - size.y } else { seen.top() };
    pos2(x, y)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_stands_away_from_the_pointer_and_inside() {
        let seen = Rect::from_min_size(pos2(100.0, 50.0), vec2(600.0, 400.0));
        for at in [pos2(110.0, 60.0), pos2(690.0, 60.0), pos2(110.0, 440.0), pos2(690.0, 440.0)] {
            let rect = Rect::from_min_size(corner(seen, vec2(225.0, 153.0), at), vec2(225.0, 153.0));
            assert!(seen.contains_rect(rect) && !rect.contains(at), "{rect:?} at {at:?}");
        }
    }

    #[test]
    fn beyond_the_picture_there_is_nothing() {
        let canvas = Canvas { width: 2, height: 1, rgba: vec![[1, 2, 3, 255], [4, 5, 6, 255]], tiles: Vec::new() };
        assert_eq!(pixel(&canvas, 1, 0), Color32::from_rgb(4, 5, 6));
        for (x, y) in [(-1, 0), (2, 0), (0, 1), (0, -1)] {
            assert_eq!(pixel(&canvas, x, y), Color32::TRANSPARENT);
        }
    }
}
