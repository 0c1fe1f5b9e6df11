//! The damage map: a column for every value of the active register, a row for every line of the picture, so
//! that periods and regimes show at a glance; a click goes to value and line.

use backporch_analysis::Verdict;
use egui::{Color32, ColorImage, Rect, Sense, Stroke, StrokeKind, TextureOptions, Ui, pos2, vec2};

use super::stops::FocusStop;
use super::theme::{Colours, secondary};
use super::workspace::Workspace;
use crate::session::{BoardSide, Session, Thumbnail, Thumbnails};

/// Points down, without the line below it.
const HIGH: f32 = 60.0;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), HIGH), Sense::click_and_drag());
    let scale = ui.ctx().pixels_per_point();
    let texture = texture(workspace, ui.ctx(), session.sweep().thumbnails(), (HIGH * scale) as usize);
    let (first, last) = session.sweep().thumbnails().range();
    let count = last - first + 1;
    let wide = rect.width() / count as f32;
    let painter = ui.painter_at(rect.expand(2.0));
    painter.rect_filled(rect, 0.0, colours.well);
    let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
    painter.image(texture, rect, whole, Color32::WHITE);
    let value = session.sweep().active().value();
    if (first..=last).contains(&value) {
        let left = rect.left() + (value - first) as f32 * wide;
        let column = Rect::from_min_size(pos2(left, rect.top()), vec2(wide, rect.height()));
        painter.rect_stroke(column, 0.0, Stroke::new(1.5, colours.accent), StrokeKind::Outside);
    }
    workspace.note_stop(ui, FocusStop::Strip, &response);
    let at = |pos: egui::Pos2| first + (((pos.x - rect.left()) / wide).max(0.0) as u32).min(count - 1);
    let label = label(session);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &label));
    if let Some(pos) = response.interact_pointer_pos().filter(|_| response.clicked() || response.dragged()) {
        go(session, at(pos), (pos.y - rect.top()) / rect.height());
    }
    ui.horizontal(|ui| match response.hover_pos() {
        Some(pos) => {
            let share = (pos.y - rect.top()) / rect.height();
            ui.add(egui::Label::new(secondary(&colours, step_words(session, at(pos), share))).truncate());
        }
        None => {
            let words =
                format!("{first} to {last}, a column a value, a row a line; by design in amber, beyond it in pink");
            ui.add(egui::Label::new(secondary(&colours, words)).truncate());
        }
    });
}

/// Goes to a value, and to a place of the line at some share of the height: where it is damaged, where it is.
fn go(session: &mut Session, value: u32, share: f32) {
    session.set_active_register(value);
    let lines = session.inspection().damage().damaged.len() as u32;
    let line = line_at(share, lines);
    let x = session.inspection().damage().x.as_ref().map_or(0, |x| *x.start());
    session.inspect_pixel(BoardSide::Faulty, x, line);
}

fn line_at(share: f32, lines: u32) -> u32 {
    ((share.clamp(0.0, 1.0) * lines as f32) as u32).min(lines.saturating_sub(1))
}

/// What is known of a value and of a line of it.
fn step_words(session: &Session, value: u32, share: f32) -> String {
    let Some(cell) = session.sweep().thumbnails().get(value) else {
        return format!("{value}: not drawn yet");
    };
    let damage = &cell.step.damage;
    let line = line_at(share, damage.damaged.len() as u32);
    let is = |lines: &[bool]| lines.get(line as usize).copied().unwrap_or(false);
    let how = if !is(&damage.damaged) && !is(&damage.visible) {
        "as meant"
    } else if is(&cell.beyond.damaged) || is(&cell.beyond.visible) {
        "damaged beyond the design"
    } else {
        "damaged by design"
    };
    format!("{value}: {}, {} lines; line {line} {how}", cell.step.verdict.word(), damage.damaged_lines())
}

fn label(session: &Session) -> String {
    let thumbnails = session.sweep().thumbnails();
    let (first, last) = thumbnails.range();
    let drawn = (first..=last).filter_map(|at| thumbnails.get(at));
    let bad = drawn.filter(|cell| cell.step.verdict != Verdict::Clean).count();
    let mut words = format!("damage map, {} {first} to {last}, {bad} values damaged", session.sweep().active().name());
    if let Some(period) = thumbnails.period() {
        words += &format!(", repeating every {period}");
    }
    words
}

/// The map as a texture, drawn anew where a cell has changed.
fn texture(workspace: &mut Workspace, ctx: &egui::Context, thumbnails: &Thumbnails, rows: usize) -> egui::TextureId {
    let wanted = (thumbnails.revision(), rows, workspace.theme);
    if let Some((_, texture)) = workspace.textures.damage.as_ref().filter(|(known, _)| *known == wanted) {
        return texture.id();
    }
    let colours = workspace.colours();
    let (first, last) = thumbnails.range();
    let columns: Vec<Vec<Color32>> = (first..=last)
        .map(|at| thumbnails.get(at).map_or_else(Vec::new, |cell| column(cell, rows, &colours)))
        .collect();
    let pixel = |x: usize, y: usize| columns[x].get(y).copied().unwrap_or(Color32::TRANSPARENT);
    let size = [columns.len(), rows.max(1)];
    let pixels = (0..size[1]).flat_map(|y| (0..size[0]).map(move |x| (x, y))).map(|(x, y)| pixel(x, y)).collect();
    let image = ColorImage::new(size, pixels);
    let texture = ctx.load_texture("damage map", image, TextureOptions::NEAREST);
    let id = texture.id();
    workspace.textures.damage = Some((wanted, texture));
    id
}

/// A value's column, `rows` high: a row that stands for several lines has the mean of their colours.
fn column(cell: &Thumbnail, rows: usize, colours: &Colours) -> Vec<Color32> {
    let lines = cell.step.damage.damaged.len().max(1);
    let of_line = |line: usize| line_colour(cell, line, colours);
    let row = |row: usize| {
        let (from, to) = (row * lines / rows, ((row + 1) * lines / rows).max(row * lines / rows + 1));
        mean((from..to).map(of_line))
    };
    (0..rows).map(row).collect()
}

fn line_colour(cell: &Thumbnail, line: usize, colours: &Colours) -> Color32 {
    let is = |lines: &[bool]| lines.get(line).copied().unwrap_or(false);
    let damage = &cell.step.damage;
    let is_beyond_design = is(&cell.beyond.damaged) || is(&cell.beyond.visible);
    let colour = if is_beyond_design { colours.broken } else { colours.edge };
    if is(&damage.visible) {
        colour
    } else if is(&damage.damaged) {
        // Fetched from elsewhere, though it looks the same in this picture.
        colour.gamma_multiply(0.55)
    } else {
        Color32::TRANSPARENT
    }
}

fn mean(colours: impl Iterator<Item = Color32>) -> Color32 {
    let (mut sums, mut count) = ([0u32; 4], 0);
    for colour in colours {
        sums.iter_mut().zip(colour.to_array()).for_each(|(sum, level)| *sum += u32::from(level));
        count += 1;
    }
    let [red, green, blue, opacity] = sums.map(|sum| (sum / count.max(1)) as u8);
    Color32::from_rgba_premultiplied(red, green, blue, opacity)
}
