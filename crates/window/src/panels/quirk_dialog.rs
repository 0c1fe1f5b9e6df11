//! The list of quirks to fit: by stage of the pipeline, each with a line on what is wrong, narrowed by words.

use backporch_quirk::Family;
use egui::{Align2, Context, Id, Key, Label, RichText, ScrollArea, TextEdit, Ui, Window};

use super::bar::{named, named_field};
use super::theme::{Colours, heading, secondary};
use super::workspace::Workspace;
use crate::session::Session;

/// A built-in quirk as it is listed.
#[derive(Clone, Debug)]
struct Entry {
    name: String,
    title: String,
    looks: String,
    stage: &'static str,
}

/// The list while it is open.
#[derive(Clone, Debug)]
pub(crate) struct QuirkList {
    text: String,
    /// In the order of the pipeline.
    entries: Vec<Entry>,
    fresh: bool,
}

impl QuirkList {
    /// All built-in quirks.
    pub fn built_in() -> Self {
        let entry = |family: Family| Entry {
            name: family.name().to_string(),
            title: family.title().to_string(),
            looks: family.looks().to_string(),
            stage: family.form().effects.first().map_or("", |effect| effect.does.stage()),
        };
        Self { text: String::new(), entries: Family::all_built_in().map(entry).collect(), fresh: true }
    }

    /// Those in which every word typed stands, stage by stage.
    fn found(&self) -> Vec<(&'static str, Vec<&Entry>)> {
        let wanted = self.text.to_lowercase();
        let has = |entry: &&Entry| {
            let all = [&entry.name, &entry.title, &entry.looks].map(|text| text.to_lowercase()).join(" ");
            wanted.split_whitespace().all(|word| all.contains(word) || entry.stage.contains(word))
        };
        let mut stages: Vec<(&'static str, Vec<&Entry>)> = Vec::new();
        for entry in self.entries.iter().filter(has) {
            match stages.iter_mut().find(|(stage, _)| *stage == entry.stage) {
                Some((_, entries)) => entries.push(entry),
                None => stages.push((entry.stage, vec![entry])),
            }
        }
        stages
    }
}

pub(crate) fn show(workspace: &mut Workspace, ctx: &Context, session: &mut Session) {
    let Some(mut list) = workspace.quirk_list.take() else {
        return;
    };
    let colours = workspace.colours();
    let mut chosen = None;
    let mut open = true;
    let room = ctx.content_rect().size();
    let window = Window::new("Fit a quirk")
        .anchor(Align2::CENTER_CENTER, [0.0, 0.0])
        .collapsible(false)
        .resizable(false)
        .fixed_size([(room.x - 60.0).min(560.0), (room.y - 90.0).min(560.0)])
        .open(&mut open);
    window.show(ctx, |ui| {
        ui.horizontal(|ui| {
            ui.label(secondary(&colours, "looked for"));
            let edit = TextEdit::singleline(&mut list.text).id(Id::new("quirks looked for")).desired_width(280.0);
            let response = ui.add(edit);
            named_field(&response, "quirks looked for", &list.text);
            if std::mem::take(&mut list.fresh) {
                response.request_focus();
            }
            let entered = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
            let found = list.found();
            let first = found.first().and_then(|(_, entries)| entries.first());
            chosen = first.filter(|_| entered).map(|entry| entry.name.clone());
            let count: usize = found.iter().map(|(_, entries)| entries.len()).sum();
            ui.label(secondary(&colours, format!("{count} of {}; Enter fits the first", list.entries.len())));
        });
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            for (stage, entries) in list.found() {
                heading(ui, &colours, &format!("at the stage: {stage}"));
                for entry in entries {
                    if listed(ui, &colours, entry) {
                        chosen = Some(entry.name.clone());
                    }
                }
            }
        });
    });
    match chosen {
        Some(name) => session.add_quirk(&name),
        None => workspace.quirk_list = Some(list).filter(|_| open),
    }
}

/// Name and what is wrong; whether it was pressed.
fn listed(ui: &mut Ui, colours: &Colours, entry: &Entry) -> bool {
    let press = ui.selectable_label(false, RichText::new(&entry.name).strong());
    named(&press, &format!("fit {}: {}", entry.name, entry.title));
    ui.add(Label::new(secondary(colours, &entry.title)).wrap());
    press.on_hover_text(&entry.looks).clicked()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quirks_are_found_by_words_and_stand_under_their_stage() {
        let mut list = QuirkList::built_in();
        let all = list.found();
        assert_eq!(all.iter().map(|(_, entries)| entries.len()).sum::<usize>(), Family::built_in_names().len());
        assert!(all.len() > 3 && all.iter().all(|(stage, _)| !stage.is_empty()));
        list.text = "Row reload".to_string();
        let found: Vec<&str> =
            list.found().iter().flat_map(|(_, entries)| entries.iter().map(|one| one.name.as_str())).collect();
        assert!(found.contains(&"row-reload") && found.len() < 10, "{found:?}");
    }
}
