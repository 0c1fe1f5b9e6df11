//! The memory map: video memory as a picture, with what shows of it outlined.

use egui::{Color32, ColorImage, Painter, Rect, Sense, Stroke, TextureOptions, Ui, Vec2, pos2, vec2};

use super::bar::headed;
use super::desk::Desk;
use super::look::{faint, figures};
use crate::session::{Cover, Edge, MemoryMap, Rows, Session, Side};

/// Points the map takes under its heading, at most.
const MOST: f32 = 300.0;

/// Where the map stands, and how large a byte is on it.
struct Place {
    rect: Rect,
    byte: Vec2,
}

/// Points the whole takes in a panel of some width.
pub(crate) fn room(width: f32, session: &Session) -> f32 {
    let pitch = session.frame(Side::Faulty).picture_lines().find_map(|line| line.fetch).map_or(256, |line| line.pitch);
    let row = if session.rows() == Rows::Chips { 256 } else { pitch.max(1) };
    let rows = session.memory().len() as f32 / row as f32;
    let format = session.bench().adapter().format(session.bench().adapter().format_index(session.faulty_registers()));
    let per_byte =
        f32::from(format.char_dots / format.pixel_dots.max(1)) / format.address.bytes_per_char().max(1) as f32;
    (width * rows / (row as f32 * per_byte.max(0.5))).clamp(60.0, MOST) + 54.0
}

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui, session: &mut Session) {
    let colours = desk.colours();
    headed(desk, ui, "MEMORY");
    let map = session.memory_map();
    refresh(desk, ui.ctx(), session, &map);
    let room = vec2(ui.available_width(), (ui.available_height() - 20.0).clamp(40.0, MOST));
    let scale = (room.x / map.width() as f32).min(room.y / map.rows as f32);
    let size = vec2(map.width() as f32, map.rows as f32) * scale;
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    let byte = vec2(map.byte_pixels as f32, 1.0) * scale;
    let place = Place { rect, byte };
    let painter = ui.painter_at(rect.expand(2.0));
    painter.rect_filled(rect, 0.0, colours.well);
    if let Some((_, texture)) = &desk.textures.memory {
        let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        painter.image(texture.id(), rect, whole, Color32::WHITE);
    }
    place.outline(&painter, session.cover(), map.row_bytes, Stroke::new(1.5, colours.accent));
    place.outline(&painter, session.entered(), map.row_bytes, Stroke::new(1.5, colours.edge));
    place.wrap(&painter, &map, session.memory().len() as u32, colours.broken);
    if let Some(finger) = session.finger() {
        let (healthy, fetched) = (finger.provenance.healthy_address, finger.provenance.address);
        if healthy != fetched {
            place.ring(&painter, &map, healthy, colours.clean);
        }
        place.ring(&painter, &map, fetched, Color32::WHITE);
    }
    desk.byte = response.hover_pos().and_then(|pos| {
        let at = (pos - rect.min) / scale;
        map.address_at(at.x.max(0.0) as u32, at.y.max(0.0) as u32)
    });
    let label = format!("memory map, {} bytes a row, {} bytes shown", map.row_bytes, session.cover().count());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &label));
    ui.horizontal(|ui| match desk.byte {
        Some(address) => {
            let byte = session.memory().get(address as usize).copied().unwrap_or(0);
            let shows = session.shown_at(Side::Faulty, address).len();
            ui.label(figures(format!("{address:05X}h")).color(colours.accent));
            ui.label(faint(&colours, format!("holds {byte:02X}h; shows at {shows} places")));
        }
        None => {
            let words = format!("rows of {} bytes; shown outlined, entered last in amber", map.row_bytes);
            ui.label(faint(&colours, words));
        }
    });
}

/// Brings a changed map to the painter.
fn refresh(desk: &mut Desk, ctx: &egui::Context, session: &Session, map: &MemoryMap) {
    let stale = desk.textures.memory.as_ref().is_none_or(|(revision, _)| *revision != session.memory_revision());
    if !stale {
        return;
    }
    let size = [map.width() as usize, map.rows as usize];
    let image = ColorImage::from_rgba_unmultiplied(size, map.rgba.as_flattened());
    let texture = ctx.load_texture("memory", image, TextureOptions::LINEAR);
    desk.textures.memory = Some((session.memory_revision(), texture));
}

impl Place {
    fn at(&self, (byte, row): (u32, u32)) -> egui::Pos2 {
        self.rect.min + vec2(byte as f32, row as f32) * self.byte
    }

    fn outline(&self, painter: &Painter, cover: &Cover, row_bytes: u32, stroke: Stroke) {
        for Edge { from, to } in cover.outline(row_bytes) {
            painter.line_segment([self.at(from), self.at(to)], stroke);
        }
    }

    /// A dashed line where the last byte of memory is followed by the first.
    fn wrap(&self, painter: &Painter, map: &MemoryMap, bytes: u32, colour: Color32) {
        let (byte, row) = map.place_of(bytes.saturating_sub(1));
        let end = self.at((byte + 1, row));
        let down = vec2(0.0, self.byte.y);
        let line = [self.at((0, row)) + down, end + down, end, pos2(self.rect.right(), end.y)];
        painter.extend(egui::Shape::dashed_line(&line, Stroke::new(1.0, colour), 4.0, 3.0));
    }

    fn ring(&self, painter: &Painter, map: &MemoryMap, address: u32, colour: Color32) {
        let corner = self.at(map.place_of(address));
        let rect = Rect::from_min_size(corner, self.byte).expand(3.0);
        painter.rect_stroke(rect, 2.0, Stroke::new(2.0, Color32::BLACK), egui::StrokeKind::Outside);
        painter.rect_stroke(rect, 2.0, Stroke::new(1.5, colour), egui::StrokeKind::Outside);
    }
}
