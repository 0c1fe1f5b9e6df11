//! The memory map: video memory as a picture, what does not show of it dimmed.

use egui::{Color32, ColorImage, Painter, Pos2, Rect, Sense, Stroke, TextureOptions, Ui, Vec2, pos2, vec2};

use super::bar::panel_heading;
use super::theme::{monospace, secondary};
use super::workspace::Workspace;
use crate::session::{BoardSide, MemoryPicture, Session};

/// Points the map takes under its heading, at most, and those of the heading and of the line below.
const MOST: f32 = 300.0;
const AROUND: f32 = 54.0;
/// Height of a usual map over its width: 64 KiB in rows of 320 bytes, a byte a pixel.
const USUAL: f32 = 0.64;
/// Share of its side the map may take.
const SHARE: f32 = 0.34;

/// Columns a tall map may be folded into, and the points between them.
const MOST_COLUMNS: u32 = 12;
const GAP: f32 = 5.0;

/// Where the map stands, and how large a byte is on it. A map taller than its
/// room is folded into columns, read from the left.
struct MapLayout {
    rect: Rect,
    byte: Vec2,
    columns: u32,
    /// Rows of a column.
    rows: u32,
    row_bytes: u32,
}

/// Points the whole takes in a panel of some size, however long the map's rows are.
pub(crate) fn room(width: f32, height: f32) -> f32 {
    (width * USUAL).clamp(60.0, MOST).min(height * SHARE) + AROUND
}

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    panel_heading(workspace, ui, "MEMORY");
    let map = refresh(workspace, ui.ctx(), session);
    let room = vec2(ui.available_width(), (ui.available_height() - 20.0).clamp(40.0, MOST));
    let (columns, scale) = fold(&map, room);
    let rows = map.rows.div_ceil(columns);
    let byte = vec2(map.byte_pixels as f32, 1.0) * scale;
    let wide = (map.width() as f32 * scale + GAP) * columns as f32 - GAP;
    let (rect, response) = ui.allocate_exact_size(vec2(wide, rows as f32 * scale), Sense::hover());
    let layout = MapLayout { rect, byte, columns, rows, row_bytes: map.row_bytes };
    let painter = ui.painter_at(rect.expand(2.0));
    if let Some((_, texture, _)) = &workspace.textures.memory {
        layout.picture(&painter, texture.id(), map.rows, colours.well);
    }
    layout.wrap(&painter, &map, session.transport().memory().len() as u32, colours.broken);
    if let Some(inspected) = session.inspection().pixel() {
        let (plain, fetched) = (inspected.provenance.plain_address, inspected.provenance.address);
        if plain != fetched {
            layout.ring(&painter, &map, plain, colours.clean);
        }
        layout.ring(&painter, &map, fetched, Color32::WHITE);
    }
    workspace.byte = response
        .hover_pos()
        .and_then(|pos| layout.address_at(pos))
        .filter(|at| (*at as usize) < session.transport().memory().len());
    let label = format!(
        "memory map, {} bytes a row, {} bytes shown",
        map.row_bytes,
        session.inspection().shown_memory().coverage().count()
    );
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &label));
    ui.horizontal(|ui| match workspace.byte {
        Some(address) => {
            let byte = session.transport().memory().get(address as usize).copied().unwrap_or(0);
            let shows = session.shown_at(BoardSide::Faulty, address).len();
            ui.label(monospace(format!("{address:05X}h")).color(colours.accent));
            ui.label(secondary(&colours, format!("holds {byte:02X}h; shows at {shows} places")));
        }
        None => {
            let words = format!("rows of {} bytes; bright what shows, amber what entered last", map.row_bytes);
            ui.label(secondary(&colours, words));
        }
    });
}

/// Brings a changed map to the painter; gives its measures, without its pixels.
fn refresh(workspace: &mut Workspace, ctx: &egui::Context, session: &Session) -> MemoryPicture {
    let wanted = (session.inspection().memory_revision(), session.inspection().shown_memory().revision());
    if let Some((_, _, map)) = workspace.textures.memory.as_ref().filter(|(known, ..)| *known == wanted) {
        return map.clone();
    }
    let mut map = session.memory_map();
    let rgba = map.shaded(session.inspection().shown_memory());
    map.rgba.clear();
    let size = [map.width() as usize, map.rows as usize];
    let image = ColorImage::from_rgba_unmultiplied(size, rgba.as_flattened());
    let texture = ctx.load_texture("memory", image, TextureOptions::LINEAR);
    workspace.textures.memory = Some((wanted, texture, map.clone()));
    map
}

/// Columns in which the map is largest, and points a pixel then takes.
fn fold(map: &MemoryPicture, room: Vec2) -> (u32, f32) {
    let scale = |columns: u32| {
        let across = (room.x - GAP * (columns - 1) as f32) / (map.width() * columns).max(1) as f32;
        across.min(room.y / map.rows.div_ceil(columns).max(1) as f32)
    };
    let all = (1..=MOST_COLUMNS).map(|columns| (columns, scale(columns)));
    all.fold((1, scale(1)), |best, one| if one.1 > best.1 * 1.05 { one } else { best })
}

impl MapLayout {
    /// Points from one column to the next.
    fn stride(&self) -> f32 {
        self.row_bytes as f32 * self.byte.x + GAP
    }

    /// The corner of a byte; `column` says to which column a row on a fold counts.
    fn at(&self, byte: u32, row: u32, column: u32) -> Pos2 {
        let row = row as f32 - (column * self.rows) as f32;
        self.rect.min + vec2(column as f32 * self.stride() + byte as f32 * self.byte.x, row * self.byte.y)
    }

    fn column_of(&self, row: u32) -> u32 {
        row / self.rows.max(1)
    }

    fn corner(&self, (byte, row): (u32, u32)) -> Pos2 {
        self.at(byte, row, self.column_of(row))
    }

    fn address_at(&self, pos: Pos2) -> Option<u32> {
        let at = pos - self.rect.min;
        let column = (at.x / self.stride()).max(0.0) as u32;
        let byte = ((at.x - column as f32 * self.stride()) / self.byte.x) as u32;
        let row = (at.y / self.byte.y).max(0.0) as u32;
        let inside = column < self.columns && byte < self.row_bytes && row < self.rows;
        inside.then(|| (column * self.rows + row) * self.row_bytes + byte)
    }

    fn picture(&self, painter: &Painter, texture: egui::TextureId, all_rows: u32, ground: Color32) {
        let all_rows = all_rows.max(1);
        for column in 0..self.columns {
            let (from, to) = (column * self.rows, ((column + 1) * self.rows).min(all_rows));
            if from >= to {
                continue;
            }
            let rect = Rect::from_min_max(self.at(0, from, column), self.at(self.row_bytes, to, column));
            let part = |row: u32| row as f32 / all_rows as f32;
            painter.rect_filled(rect, 0.0, ground);
            let uv = Rect::from_min_max(pos2(0.0, part(from)), pos2(1.0, part(to)));
            painter.image(texture, rect, uv, Color32::WHITE);
        }
    }

    /// A dashed line where the last byte of memory is followed by the first.
    fn wrap(&self, painter: &Painter, map: &MemoryPicture, bytes: u32, colour: Color32) {
        let (byte, row) = map.place_of(bytes.saturating_sub(1));
        let column = self.column_of(row);
        let line = [
            self.at(0, row + 1, column),
            self.at(byte + 1, row + 1, column),
            self.at(byte + 1, row, column),
            self.at(self.row_bytes, row, column),
        ];
        painter.extend(egui::Shape::dashed_line(&line, Stroke::new(1.0, colour), 4.0, 3.0));
    }

    fn ring(&self, painter: &Painter, map: &MemoryPicture, address: u32, colour: Color32) {
        let rect = Rect::from_min_size(self.corner(map.place_of(address)), self.byte).expand(3.0);
        painter.rect_stroke(rect, 2.0, Stroke::new(2.0, Color32::BLACK), egui::StrokeKind::Outside);
        painter.rect_stroke(rect, 2.0, Stroke::new(1.5, colour), egui::StrokeKind::Outside);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(row_bytes: u32, rows: u32) -> MemoryPicture {
        MemoryPicture { row_bytes, byte_pixels: 2, rows, rgba: Vec::new() }
    }

    #[test]
    fn a_tall_map_is_folded_and_a_wide_one_is_not() {
        assert_eq!(fold(&map(320, 205), vec2(348.0, 300.0)).0, 1);
        let (columns, scale) = fold(&map(160, 1639), vec2(348.0, 300.0));
        assert!(columns > 1 && scale > 300.0 / 1639.0, "{columns} columns at {scale}");
    }

    #[test]
    fn every_byte_is_found_where_it_is_drawn() {
        let rect = Rect::from_min_size(pos2(7.0, 11.0), vec2(400.0, 300.0));
        let layout = MapLayout { rect, byte: vec2(2.0, 1.0), columns: 3, rows: 10, row_bytes: 16 };
        let map = map(16, 30);
        for address in 0..16 * 30 {
            let middle = layout.corner(map.place_of(address)) + layout.byte * 0.5;
            assert_eq!(layout.address_at(middle), Some(address));
        }
        let between = layout.at(16, 0, 0) + vec2(GAP / 2.0, 1.0);
        assert_eq!(layout.address_at(between), None, "between two columns there is nothing");
    }
}
