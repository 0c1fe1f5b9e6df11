//! The screen: the canvas in its place, the beam on it, and the finger.

use egui::{Color32, CornerRadius, Rect, Sense, Shape, Stroke, Ui, pos2, vec2};

use super::desk::{Desk, Screen};
use super::place::Place;
use super::settings::Fit;
use crate::session::{Finger, Pixels, Session, Side, Tile};

/// Where the canvas last stood, in points, and what is drawn on it.
///
/// `None` where the canvas has another size now, or was not laid out yet.
pub(crate) fn again(desk: &Desk, session: &Session) -> Option<(Rect, Vec<Shape>)> {
    let place = desk.place?;
    let canvas = desk.canvas();
    (place.size == (canvas.width, canvas.height)).then(|| (place.rect, marks(desk, session, &place)))
}

/// Beam, finger and other marks on the canvas.
fn marks(desk: &Desk, session: &Session, place: &Place) -> Vec<Shape> {
    let mut shapes = Vec::new();
    desk.canvas().tiles.iter().for_each(|tile| draw_on(desk, session, &mut shapes, place, tile));
    shapes
}

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui, session: &mut Session, screen: Screen, height: f32) {
    let colours = desk.colours();
    let (well, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click());
    let painter = ui.painter_at(well);
    let (width, height) = (desk.canvas().width, desk.canvas().height);
    if width == 0 || height == 0 {
        painter.rect_filled(well, CornerRadius::ZERO, colours.well);
        let words = "these registers show nothing: the active area is empty";
        painter.text(
            well.center(),
            egui::Align2::CENTER_CENTER,
            words,
            egui::FontId::proportional(14.0),
            colours.broken,
        );
        desk.place = None;
        return;
    }
    let scale = ui.ctx().pixels_per_point();
    let place = Place::within(well.shrink(8.0), (width, height), session.pixel_aspect() as f32, desk.fit, scale);
    desk.place = Some(place);
    // Repeated up to the display's pixels and then smoothed, a pixel keeps its edges at any size.
    desk.magnify = match desk.fit {
        Fit::Whole => 1,
        Fit::Shape => (place.pixel.y * scale).ceil().clamp(1.0, 3.0) as u32,
    };
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, said(session)));
    let at = response.hover_pos().and_then(|pos| place.pixel_at(pos));
    if let Some(at) = at {
        session.point(desk.canvas(), Some(at));
        if response.clicked()
            && let Some(finger) = session.finger()
        {
            let line = finger.provenance.picture_line;
            session.pick_line(line);
        }
    }
    around(&painter, well, place.rect, colours.well);
    let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
    painter.image(screen.texture, place.rect, whole, Color32::WHITE);
    painter.extend(marks(desk, session, &place));
    captions(desk, &painter, &place);
}

/// Fills what of `outer` lies outside `inner`, which lies in it: large fills are dear without a graphics card.
fn around(painter: &egui::Painter, outer: Rect, inner: Rect, colour: Color32) {
    let inner = inner.intersect(outer);
    let parts = [
        Rect::from_min_max(outer.min, pos2(outer.right(), inner.top())),
        Rect::from_min_max(pos2(outer.left(), inner.bottom()), outer.max),
        Rect::from_min_max(pos2(outer.left(), inner.top()), inner.left_bottom()),
        Rect::from_min_max(inner.right_top(), pos2(outer.right(), inner.bottom())),
    ];
    parts.into_iter().filter(Rect::is_positive).for_each(|part| {
        painter.rect_filled(part, CornerRadius::ZERO, colour);
    });
}

/// What the picture shows, for those who hear it.
fn said(session: &Session) -> String {
    let damage = session.damage();
    let (width, height) = session.frame(Side::Faulty).picture_size();
    format!(
        "screen, {} by {height} pixels, frame {}: {}, {} lines damaged",
        width,
        session.frame_shown(),
        damage.verdict().word(),
        damage.damaged_lines()
    )
}

/// Beam, finger, lines picked, and where the byte pointed at shows.
fn draw_on(desk: &Desk, session: &Session, shapes: &mut Vec<Shape>, place: &Place, tile: &Tile) {
    let colours = desk.colours();
    for line in session.notes().picked() {
        if let Some((_, y)) = session.on_tile(tile.side, 0, *line) {
            let rect = place.of(tile, 0, y, tile.width, 1);
            let tab = Rect::from_min_max(rect.left_top() - vec2(6.0, 0.0), rect.left_bottom());
            shapes.push(Shape::rect_filled(tab, 0.0, colours.edge));
            shapes.push(outline(rect, 0.0, 1.0, colours.edge));
        }
    }
    if !session.is_running() && session.is_mid_frame() && tile.side == Side::Faulty {
        beam(desk, session, shapes, place, tile);
    }
    if let Some(byte) = desk.byte {
        for Pixels { x, count, line } in session.shown_at(tile.side, byte) {
            if let Some((x, y)) = session.on_tile(tile.side, x, line) {
                shapes.push(outline(place.of(tile, x, y, count, 1).expand(3.0), 2.0, 2.0, colours.accent));
            }
        }
    }
    if let Some(Finger { side, provenance }) = session.finger()
        && *side == tile.side
        && let Some((x, y)) = session.on_tile(*side, provenance.x, provenance.picture_line)
    {
        let rect = place.of(tile, x, y, 1, 1).expand(1.0);
        shapes.push(outline(rect, 0.0, 1.0, Color32::BLACK));
        shapes.push(outline(rect.expand(1.0), 0.0, 1.5, Color32::WHITE));
    }
}

fn outline(rect: Rect, corner: f32, width: f32, colour: Color32) -> Shape {
    Shape::rect_stroke(rect, corner, Stroke::new(width, colour), egui::StrokeKind::Outside)
}

fn beam(desk: &Desk, session: &Session, shapes: &mut Vec<Shape>, place: &Place, tile: &Tile) {
    let colours = desk.colours();
    let Some((x, y)) = session.beam_on_tile() else {
        return;
    };
    let rect = place.of(tile, x.min(tile.width), y.min(tile.height), 1, 1);
    let row = place.of(tile, 0, y.min(tile.height), tile.width, 1);
    shapes.push(Shape::hline(row.x_range(), rect.bottom(), Stroke::new(1.0, colours.accent)));
    let here = rect.top() - 7.0..=rect.bottom() + 7.0;
    shapes.push(Shape::vline(rect.left(), here, Stroke::new(2.0, colours.accent)));
    let tip = pos2(row.left() - 3.0, rect.center().y);
    let arrow = vec![tip, tip + vec2(-7.0, -5.0), tip + vec2(-7.0, 5.0)];
    shapes.push(Shape::convex_polygon(arrow, colours.accent, Stroke::NONE));
}

/// Lettering on the ground behind pictures, which is dark in both themes.
const ON_WELL: Color32 = Color32::from_gray(190);

/// The boards' names over two tiles.
fn captions(desk: &Desk, painter: &egui::Painter, place: &Place) {
    let canvas = desk.canvas();
    if canvas.tiles.len() < 2 {
        return;
    }
    for tile in &canvas.tiles {
        let words = match tile.side {
            Side::Healthy => "healthy",
            Side::Faulty => "faulty",
        };
        let at = place.of(tile, 0, 0, 1, 1).left_top() - vec2(0.0, 4.0);
        let font = egui::FontId::proportional(12.0);
        painter.text(at, egui::Align2::LEFT_BOTTOM, words, font, ON_WELL);
    }
}
