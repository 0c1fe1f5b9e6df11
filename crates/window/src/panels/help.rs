//! The overlay that lists what the keys do.

use egui::{Align2, Context, RichText, ScrollArea, Ui, Window};

use super::desk::Desk;
use super::keys::{Group, KEYS};
use super::look::{Colours, heading};

pub(crate) fn show(desk: &mut Desk, ctx: &Context) {
    let colours = desk.colours();
    let room = ctx.content_rect();
    let window = Window::new("What the keys do")
        .anchor(Align2::CENTER_CENTER, [0.0, 0.0])
        .collapsible(false)
        .resizable(false)
        .open(&mut desk.help);
    window.show(ctx, |ui| {
        ScrollArea::vertical().max_height(room.height() - 90.0).show(ui, |ui| {
            let two = room.width() > 700.0;
            ui.horizontal_top(|ui| {
                ui.vertical(|ui| {
                    ui.set_width(300.0);
                    [Group::Time, Group::Register].into_iter().for_each(|group| list(ui, &colours, group));
                    if !two {
                        [Group::Look, Group::Bench, Group::Keep]
                            .into_iter()
                            .for_each(|group| list(ui, &colours, group));
                    }
                });
                if two {
                    ui.add_space(20.0);
                    ui.vertical(|ui| {
                        ui.set_width(330.0);
                        [Group::Look, Group::Bench, Group::Keep]
                            .into_iter()
                            .for_each(|group| list(ui, &colours, group));
                    });
                }
            });
        });
    });
}

fn list(ui: &mut Ui, colours: &Colours, group: Group) {
    heading(ui, colours, group.words());
    egui::Grid::new(group.words()).num_columns(2).spacing([12.0, 1.0]).min_col_width(62.0).show(ui, |ui| {
        for binding in KEYS.iter().filter(|binding| binding.group == group) {
            ui.label(RichText::new(binding.cap()).monospace().color(colours.accent));
            ui.label(RichText::new(binding.words).small());
            ui.end_row();
        }
    });
}
