//! The overlay that lists what the keys do.

use egui::{Align2, Context, Label, RichText, ScrollArea, Sense, Ui, Window};

use super::keys::{KEY_BINDINGS, KeyAction, KeyGroup};
use super::theme::{Colours, heading};
use super::workspace::Workspace;

pub(crate) fn show(workspace: &mut Workspace, ctx: &Context) {
    let colours = workspace.colours();
    let mut open = true;
    let room = ctx.content_rect().shrink(40.0);
    let columns = ((room.width() / COLUMN) as usize).clamp(1, COLUMNS.len());
    let width = columns as f32 * COLUMN;
    let window = Window::new("What the keys do")
        .anchor(Align2::CENTER_CENTER, [0.0, 0.0])
        .collapsible(false)
        .resizable(false)
        .default_width(width)
        .open(&mut open);
    let mut chosen = None;
    window.show(ctx, |ui| {
        let most = room.height() - 50.0;
        ScrollArea::vertical().max_height(most).min_scrolled_height(most).show(ui, |ui| {
            ui.horizontal_top(|ui| {
                for column in 0..columns {
                    ui.vertical(|ui| {
                        ui.set_width(COLUMN - 20.0);
                        // Groups of columns there is no room for go below, in turn.
                        let groups = COLUMNS.iter().skip(column).step_by(columns);
                        groups.flat_map(|groups| groups.iter()).for_each(|group| {
                            chosen = chosen.or(list(ui, &colours, *group));
                        });
                    });
                    ui.add_space(14.0);
                }
            });
        });
    });
    workspace.help = open;
    if let Some(action) = chosen {
        workspace.help = false;
        workspace.act(action);
    }
}

/// Points of a column.
const COLUMN: f32 = 384.0;

/// Groups of keys, column by column where there is room for all three.
const COLUMNS: [&[KeyGroup]; 3] =
    [&[KeyGroup::Time, KeyGroup::Save], &[KeyGroup::Register, KeyGroup::Bench], &[KeyGroup::View]];

/// A group's keys; what one does, once its row is clicked on.
fn list(ui: &mut Ui, colours: &Colours, group: KeyGroup) -> Option<KeyAction> {
    let mut chosen = None;
    heading(ui, colours, group.words());
    egui::Grid::new(group.words()).num_columns(2).spacing([12.0, 1.0]).min_row_height(19.0).min_col_width(62.0).show(
        ui,
        |ui| {
            for binding in KEY_BINDINGS.iter().filter(|binding| binding.group == group) {
                ui.label(RichText::new(binding.label()).monospace().color(colours.accent));
                let row = ui.add(Label::new(RichText::new(binding.words).small()).sense(Sense::click()));
                row.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Button, true, binding.words));
                if row.clicked() {
                    chosen = Some(binding.action);
                }
                ui.end_row();
            }
        },
    );
    chosen
}
