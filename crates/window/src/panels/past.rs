//! What was done, to be taken back and done again, and other courses of events to go over to.

use egui::{Label, RichText, Ui};

use super::bar::{button, named};
use super::theme::secondary;
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::Session;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let past = session.past();
    let colours = workspace.colours();
    let (done, undone) = (past.done.as_deref(), past.undone.as_deref());
    let words = match (done, undone) {
        (Some(done), _) => format!("last: {done}"),
        (None, Some(undone)) => format!("to be done again: {undone}"),
        (None, None) => "nothing was done yet".to_string(),
    };
    ui.add_space(5.0);
    ui.horizontal(|ui| {
        ui.label(RichText::new("PAST").small().strong().color(colours.accent));
        ui.add(Label::new(secondary(&colours, &words)).truncate()).on_hover_text(words);
    });
    let mut chosen = None;
    ui.horizontal(|ui| {
        for (words, label, command, what) in [
            ("undo", "take back what was done last", Command::Undo, &past.done),
            ("redo", "do it again", Command::Redo, &past.undone),
        ] {
            ui.add_enabled_ui(what.is_some(), |ui| button(workspace, ui, words, label, command));
        }
        ui.add_enabled_ui(!past.courses.is_empty(), |ui| {
            let menu = ui.menu_button(format!("go over ({})", past.courses.len()), |ui| {
                for (at, words) in past.courses.iter().enumerate().rev() {
                    let press = ui.button(words);
                    named(&press, &format!("go over to what was done {words}"));
                    if press.clicked() {
                        chosen = Some(at);
                        ui.close();
                    }
                }
            });
            named(&menu.response, "other courses of events to go over to");
        });
    });
    if let Some(at) = chosen {
        session.take_course(at);
    }
}
