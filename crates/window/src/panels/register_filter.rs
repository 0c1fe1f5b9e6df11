//! Which registers the list shows: all, those whose name or purpose has some words in it, those that were changed.

use egui::{Id, TextEdit, Ui};

use super::bar::named_field;
use super::keys::{KeyAction, key_label};
use super::workspace::Workspace;
use crate::command::ViewCommand;
use crate::session::NamedRegister;

/// Points down that the filter takes.
const HIGH: f32 = 28.0;

/// What is looked for among the registers.
#[derive(Clone, Debug, Default)]
pub(crate) struct RegisterFilter {
    text: String,
    /// Only those that differ from start-up.
    pub changed_only: bool,
    /// Whether the field was just asked for.
    asked: bool,
}

impl RegisterFilter {
    /// Puts the keyboard into its field.
    pub fn ask(&mut self) {
        self.asked = true;
    }

    /// Whether a register is shown.
    pub fn shows(&self, row: &NamedRegister) -> bool {
        let has =
            |word: &str| [&row.name, &row.means, &row.cells].iter().any(|text| text.to_lowercase().contains(word));
        let wanted = self.text.to_lowercase();
        (row.differs() || !self.changed_only) && wanted.split_whitespace().all(has)
    }
}

/// Whether it is shown even where there is little room: asked for, typed into, or leaving registers out.
pub(crate) fn is_wanted(workspace: &Workspace, ctx: &egui::Context) -> bool {
    let filter = &workspace.register_filter;
    filter.asked || filter.changed_only || !filter.text.is_empty() || ctx.memory(|memory| memory.has_focus(id()))
}

fn id() -> Id {
    Id::new("register filter")
}

/// The field to filter by, and the switch for what was changed; the points it takes.
pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui) -> f32 {
    ui.horizontal(|ui| {
        let key = key_label(KeyAction::View(ViewCommand::FilterRegisters));
        let filter = &mut workspace.register_filter;
        let width = (ui.available_width() - 110.0).clamp(60.0, 220.0);
        let edit = TextEdit::singleline(&mut filter.text).id(id()).desired_width(width);
        let response = ui.add(edit.hint_text(format!("filter ({key})")));
        named_field(&response, "filter the registers", &filter.text);
        if std::mem::take(&mut filter.asked) {
            response.request_focus();
        }
        let key = key_label(KeyAction::View(ViewCommand::ChangedRegisters));
        let hint = format!("only what differs from start-up  ({key})");
        ui.checkbox(&mut filter.changed_only, "changed").on_hover_text(hint);
    });
    HIGH
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::Session;

    #[test]
    fn words_and_changes_are_found() {
        let mut session = Session::open("harbour-256-plain", &Default::default()).unwrap();
        session.set_active_register(5);
        let names = |filter: &RegisterFilter| -> Vec<String> {
            session.registers().into_iter().filter(|row| filter.shows(row)).map(|row| row.name).collect()
        };
        let filter = |text: &str, changed_only| RegisterFilter { text: text.to_string(), changed_only, asked: false };
        assert!(names(&filter("", false)).len() > 10);
        assert_eq!(names(&filter("", true)), ["start_address"]);
        assert!(names(&filter("SYNC pos", false)).contains(&"sync_position".to_string()));
        assert!(names(&filter("no such words", false)).is_empty());
    }
}
