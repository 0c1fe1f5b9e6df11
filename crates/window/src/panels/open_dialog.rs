//! The list of benches to open: those built in, those that lie about, or one typed.

use egui::{Align2, Context, Key, RichText, ScrollArea, TextEdit, Window};

use super::bar::named;
use super::theme::{heading, secondary};
use super::workspace::Workspace;
use crate::session::Session;

pub(crate) fn show(workspace: &mut Workspace, ctx: &Context, session: &mut Session) {
    let Some(mut list) = workspace.bench_list.take() else {
        return;
    };
    let colours = workspace.colours();
    let mut chosen = None;
    let mut open = true;
    let window = Window::new("Open a bench, or sightings")
        .anchor(Align2::CENTER_CENTER, [0.0, 0.0])
        .collapsible(false)
        .resizable(false)
        .default_width(420.0)
        .open(&mut open);
    window.show(ctx, |ui| {
        ui.horizontal(|ui| {
            let label = ui.label(secondary(&colours, "bench: a name, or a path"));
            let edit = TextEdit::singleline(&mut list.text).desired_width(260.0);
            let response = ui.add(edit).labelled_by(label.id);
            if std::mem::take(&mut list.fresh) {
                response.request_focus();
            }
            let entered = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
            if entered && !list.text.trim().is_empty() {
                chosen = Some(list.text.trim().to_string());
            }
        });
        ScrollArea::vertical().max_height(320.0).show(ui, |ui| {
            let mut entry = |ui: &mut egui::Ui, name: &str, shown: &str| {
                let response = ui.selectable_label(session.name() == name, RichText::new(shown).monospace());
                named(&response, &format!("open {shown}"));
                if response.clicked() {
                    chosen = Some(name.to_string());
                }
            };
            heading(ui, &colours, "BUILT IN");
            for name in backporch_bench::BENCHES.names() {
                entry(ui, name, name);
            }
            heading(ui, &colours, "BUILT-IN SIGHTINGS");
            for name in backporch_evidence::SIGHTINGS.names() {
                entry(ui, name, name);
            }
            if !list.files.is_empty() {
                heading(ui, &colours, "FILES");
            }
            for file in &list.files {
                let name = file.to_string_lossy();
                entry(ui, &name, name.trim_start_matches("./"));
            }
        });
        ui.label(secondary(&colours, "Or drop a bench file, sightings, or a program on the window."));
    });
    match chosen {
        Some(name) => workspace.open(session, &name),
        None => workspace.bench_list = Some(list).filter(|_| open),
    }
}
