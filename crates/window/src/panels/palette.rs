//! The palette: the colour of every value a pixel may have.

use egui::{Color32, Rect, Sense, Ui, vec2};

use super::bar::panel_heading;
use super::workspace::Workspace;
use crate::session::Session;

/// Colours a row.
const ACROSS: usize = 16;
/// Points a colour is high.
const HIGH: f32 = 9.0;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    panel_heading(workspace, ui, "PALETTE");
    let colours = session.palette();
    let size = vec2(ui.available_width(), colours.len().div_ceil(ACROSS) as f32 * HIGH);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    let cell = vec2(rect.width() / ACROSS as f32, HIGH);
    for (value, [red, green, blue, _]) in colours.iter().copied().enumerate() {
        let corner = rect.min + vec2((value % ACROSS) as f32, (value / ACROSS) as f32) * cell;
        ui.painter().rect_filled(Rect::from_min_size(corner, cell), 0.0, Color32::from_rgb(red, green, blue));
    }
    let label = format!("palette, {} colours", colours.len());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &label));
    let pointed = response.hover_pos().map(|pos| (pos - rect.min) / cell);
    let value = pointed.map(|at| at.y as usize * ACROSS + (at.x as usize).min(ACROSS - 1));
    if let Some((value, [red, green, blue, _])) = value.and_then(|value| Some((value, *colours.get(value)?))) {
        response.on_hover_text(format!("value {value} ({value:02X}h): red {red}, green {green}, blue {blue}"));
    }
}
