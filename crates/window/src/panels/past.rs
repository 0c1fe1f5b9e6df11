//! What was done, to be taken back and done again, and other courses of events to go over to.

use egui::{Label, RichText, Ui};

use super::bar::{button, named, panel_heading};
use super::theme::secondary;
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::Session;

/// Courses of events listed, the newest first.
const MOST: usize = 4;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let past = session.past();
    let colours = workspace.colours();
    panel_heading(workspace, ui, "PAST");
    ui.horizontal(|ui| {
        for (words, label, command, what) in [
            ("undo", "take back what was done last", Command::Undo, &past.done),
            ("redo", "do it again", Command::Redo, &past.undone),
        ] {
            ui.add_enabled_ui(what.is_some(), |ui| button(workspace, ui, words, label, command));
        }
        let (done, undone) = (past.done.as_deref(), past.undone.as_deref());
        let told = match (done, undone) {
            (Some(done), _) => format!("last: {done}"),
            (None, Some(undone)) => format!("taken back: {undone}"),
            (None, None) => "nothing was done yet".to_string(),
        };
        ui.add(Label::new(secondary(&colours, &told)).truncate()).on_hover_text(told);
    });
    let mut chosen = None;
    for (at, words) in past.courses.iter().enumerate().rev().take(MOST) {
        ui.horizontal(|ui| {
            let press = ui.small_button("go over");
            named(&press, &format!("go over to what was done {words}"));
            if press.clicked() {
                chosen = Some(at);
            }
            ui.add(Label::new(RichText::new(words).small()).truncate()).on_hover_text(words);
        });
    }
    if let Some(at) = chosen {
        session.take_course(at);
    }
}
