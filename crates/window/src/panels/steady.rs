//! What keeps its place: rooms whose size does not hang on what stands in them, so that nothing jumps.

use egui::{Align, Label, Layout, Response, RichText, ScrollArea, Ui, WidgetText, text::LayoutJob, vec2};

use super::theme::Colours;

/// Something in a room of some width, in a row.
pub(crate) fn slot<R>(ui: &mut Ui, width: f32, add: impl FnOnce(&mut Ui) -> R) -> R {
    let size = vec2(width.min(ui.available_width()), ui.spacing().interact_size.y);
    let inner = ui.allocate_ui_with_layout(size, Layout::left_to_right(Align::Center), |ui| {
        ui.set_width(size.x);
        add(ui)
    });
    inner.inner
}

/// Something in a room of some height; what does not fit is scrolled to. `name` tells rooms apart.
pub(crate) fn room(ui: &mut Ui, name: &str, height: f32, add: impl FnOnce(&mut Ui)) {
    let size = vec2(ui.available_width(), height);
    ui.allocate_ui_with_layout(size, Layout::top_down(Align::Min), |ui| {
        ui.set_min_height(height);
        ScrollArea::vertical().id_salt(name).max_height(height).auto_shrink(false).show(ui, add);
    });
}

/// Something in a room that is at least so high.
pub(crate) fn at_least(ui: &mut Ui, height: f32, add: impl FnOnce(&mut Ui)) {
    ui.allocate_ui_with_layout(vec2(ui.available_width(), height), Layout::top_down(Align::Min), |ui| {
        ui.set_min_height(height);
        add(ui);
    });
}

/// Words that take the height of this many rows of text, whatever they are; what does not fit is shown under the
/// pointer.
pub(crate) fn rows(ui: &mut Ui, words: RichText, rows: usize) -> Response {
    let text = WidgetText::from(words);
    let height = ui.text_style_height(&egui::TextStyle::Body);
    let job = text.into_layout_job(ui.style(), egui::FontSelection::Default, Align::BOTTOM);
    let high = job.sections.first().map_or(height, |first| {
        let font = first.format.font_id.clone();
        ui.fonts_mut(|fonts| fonts.row_height(&font))
    });
    let size = vec2(ui.available_width(), high * rows as f32);
    let layout = Layout::top_down(Align::Min);
    let inner = ui.allocate_ui_with_layout(size, layout, |ui| {
        ui.set_min_size(size);
        ui.add(shortened((*job).clone(), rows))
    });
    inner.inner
}

/// Words cut short after this many rows.
pub(crate) fn shortened(mut job: LayoutJob, rows: usize) -> Label {
    job.wrap.max_rows = rows;
    Label::new(job).wrap()
}

/// How far a background task is, in a row of its own.
pub(crate) fn progress(ui: &mut Ui, colours: &Colours, what: &str, done: u64, all: u64) {
    let share = done as f32 / all.max(1) as f32;
    ui.add(egui::ProgressBar::new(share).desired_height(6.0).fill(colours.accent));
    ui.label(super::theme::secondary(colours, format!("{done} of {all} {what}")));
}
