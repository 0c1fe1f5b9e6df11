//! The list of what can be opened: opened lately, built in, lying about, or typed; narrowed by words.

use egui::{Align2, Context, Key, Label, RichText, ScrollArea, TextEdit, Window};

use super::bar::named;
use super::bench_list::ListedBench;
use super::theme::{Colours, heading, secondary};
use super::workspace::Workspace;
use crate::session::Session;

pub(crate) fn show(workspace: &mut Workspace, ctx: &Context, session: &mut Session) {
    let Some(mut list) = workspace.bench_list.take() else {
        return;
    };
    let colours = workspace.colours();
    let mut chosen = None;
    let mut open = true;
    let room = ctx.content_rect().size();
    let window = Window::new("Open a bench, a case, or sightings")
        .anchor(Align2::CENTER_CENTER, [0.0, 0.0])
        .collapsible(false)
        .resizable(false)
        .fixed_size([(room.x - 60.0).min(620.0), (room.y - 110.0).min(480.0)])
        .open(&mut open);
    window.show(ctx, |ui| {
        ui.horizontal(|ui| {
            let label = ui.label(secondary(&colours, "words to look for, a name, or a path"));
            let edit = TextEdit::singleline(&mut list.text).desired_width(260.0);
            let response = ui.add(edit).labelled_by(label.id);
            if std::mem::take(&mut list.fresh) {
                response.request_focus();
            }
            let entered = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
            let typed = list.text.trim();
            if entered && !typed.is_empty() {
                // What is named in full, or else the only one that has the words typed.
                let found: Vec<&ListedBench> = list.found().into_iter().flat_map(|(_, listed)| listed).collect();
                let is_named = found.iter().any(|one| one.name == typed);
                let first = found.first().filter(|first| !is_named && found.iter().all(|one| one.name == first.name));
                chosen = Some(first.map_or_else(|| typed.to_string(), |first| first.name.clone()));
            }
        });
        ScrollArea::vertical().auto_shrink(false).max_height(ui.available_height() - 22.0).show(ui, |ui| {
            for (words, listed) in list.found() {
                heading(ui, &colours, words);
                for one in listed {
                    if entry(ui, &colours, one, words, session.name() == one.name) {
                        chosen = Some(one.name.clone());
                    }
                }
            }
        });
        ui.label(secondary(&colours, "Or drop a bench, a case, sightings, or a program on the window."));
    });
    match chosen {
        Some(name) => workspace.open(session, &name),
        None => workspace.bench_list = Some(list).filter(|_| open),
    }
}

/// Name and title; whether it was pressed.
fn entry(ui: &mut egui::Ui, colours: &Colours, listed: &ListedBench, section: &str, is_open: bool) -> bool {
    let pressed = ui.horizontal(|ui| {
        let response = ui.selectable_label(is_open, RichText::new(&listed.shown).monospace());
        // What was opened lately may stand in another section as well.
        let again = if section == "OPENED LATELY" { "open again" } else { "open" };
        named(&response, &format!("{again} {}", listed.shown));
        ui.add(Label::new(secondary(colours, &listed.title)).truncate());
        response.clicked()
    });
    pressed.inner
}
