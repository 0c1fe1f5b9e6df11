//! Menus that hang on things: opened by the pointer's second button, or by a key on what has the focus.

use egui::{Id, Popup, Pos2, Response, SetOpenCommand, Ui};

use super::workspace::Workspace;

/// Menus opened by the key.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct MenuKey {
    /// The menu of what has the focus was just asked for.
    asked: bool,
    /// What the menu hangs on that the key opened.
    on: Option<Id>,
}

impl MenuKey {
    /// Asks for the menu of what has the focus.
    pub fn ask(&mut self) {
        self.asked = true;
    }

    /// Whether it was asked for and nothing had one.
    pub fn is_left(&mut self) -> bool {
        std::mem::take(&mut self.asked)
    }
}

impl Workspace {
    /// The menu of a thing, while it is open: where the pointer was, or at a place of the thing where a key opened it.
    pub(crate) fn context_menu(&mut self, thing: &Response, at: Pos2, add: impl FnOnce(&mut Self, &mut Ui)) {
        let opens = thing.has_focus() && std::mem::take(&mut self.menu_key.asked);
        if opens {
            self.menu_key.on = Some(thing.id);
        } else if thing.secondary_clicked() {
            self.menu_key.on = None;
        }
        let by_key = self.menu_key.on == Some(thing.id);
        let mut popup = Popup::context_menu(thing);
        if by_key {
            popup = popup.at_position(at);
        }
        if opens {
            popup = popup.open_memory(Some(SetOpenCommand::Bool(true)));
        }
        let shown = popup.show(|ui| {
            let first = ui.next_auto_id();
            add(self, ui);
            first
        });
        match shown {
            // The arrows go on from its first entry.
            Some(first) if opens => thing.ctx.memory_mut(|memory| memory.request_focus(first.inner)),
            None if by_key => {
                self.menu_key.on = None;
                thing.request_focus();
            }
            _ => {}
        }
    }
}
