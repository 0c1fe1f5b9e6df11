//! The keyboard while it belongs to the program: keys of this one to keys of that one.

use backporch_machine::Key as ProgramKey;
use egui::{Context, Event, Key, Modifiers};

use super::keys::{Does, KEYS};
use crate::command::ViewCommand;

/// The keyboard of the program: which of the keys that are held with others are down.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Keyboard {
    held: Modifiers,
}

impl Keyboard {
    /// Takes what is typed away from the panels: keys that went down or up, in order.
    /// The key that takes the keyboard back stays.
    pub fn take(&mut self, ctx: &Context) -> Vec<(ProgramKey, bool)> {
        let mut typed = Vec::new();
        ctx.input_mut(|input| {
            let modifiers = input.modifiers;
            let mut turn = |was: bool, is: bool, name: &str| {
                if was != is {
                    typed.extend(ProgramKey::named(name).ok().map(|key| (key, is)));
                }
            };
            turn(self.held.shift, modifiers.shift, "shift");
            turn(self.held.ctrl, modifiers.ctrl, "ctrl");
            turn(self.held.alt, modifiers.alt, "alt");
            self.held = modifiers;
            input.events.retain(|event| match event {
                Event::Key { key, .. } if takes_back(*key) => true,
                Event::Key { key, physical_key, pressed, .. } => {
                    typed.extend(key_of(physical_key.unwrap_or(*key)).map(|key| (key, *pressed)));
                    false
                }
                Event::Text(_) | Event::Copy | Event::Cut | Event::Paste(_) => false,
                _ => true,
            });
        });
        if !typed.is_empty() {
            // Otherwise Space and Enter would press a button, too.
            ctx.memory_mut(|memory| memory.focused().into_iter().for_each(|id| memory.surrender_focus(id)));
        }
        typed
    }
}

fn takes_back(key: Key) -> bool {
    KEYS.iter().any(|binding| binding.does == Does::View(ViewCommand::Keyboard) && binding.key == key)
}

/// The program's key that stands where a key of this keyboard stands; `None` where it has none there.
fn key_of(key: Key) -> Option<ProgramKey> {
    let name = match key {
        Key::Escape => "esc".to_string(),
        Key::Space => "space".to_string(),
        Key::Enter => "enter".to_string(),
        Key::Backspace => "backspace".to_string(),
        Key::Tab => "tab".to_string(),
        Key::ArrowLeft => "left".to_string(),
        Key::ArrowRight => "right".to_string(),
        Key::ArrowUp => "up".to_string(),
        Key::ArrowDown => "down".to_string(),
        Key::PageUp => "page-up".to_string(),
        Key::PageDown => "page-down".to_string(),
        Key::Minus => "-".to_string(),
        Key::Equals => "=".to_string(),
        Key::Plus => "plus".to_string(),
        Key::OpenBracket => "[".to_string(),
        Key::CloseBracket => "]".to_string(),
        Key::Backslash => "\\".to_string(),
        Key::Semicolon => ";".to_string(),
        Key::Quote => "'".to_string(),
        Key::Backtick => "`".to_string(),
        Key::Comma => ",".to_string(),
        Key::Period => ".".to_string(),
        Key::Slash => "/".to_string(),
        // Letters, figures, F1 to F10, Home, End, Insert, Delete: by their names.
        other => other.name().to_lowercase(),
    };
    ProgramKey::named(&name).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_that_both_have_is_found_where_it_stands() {
        let reached: std::collections::BTreeSet<&str> =
            Key::ALL.iter().filter_map(|key| key_of(*key)).map(ProgramKey::name).collect();
        // Held with others, or on the block of figures, which this side does not tell apart.
        let others = ["shift", "right-shift", "ctrl", "alt", "minus", "centre"];
        let missing: Vec<&str> = ProgramKey::all()
            .map(ProgramKey::name)
            .filter(|name| !reached.contains(name) && !others.contains(name))
            .collect();
        assert!(missing.is_empty(), "{missing:?}");
        assert_eq!(key_of(Key::A).map(ProgramKey::name), Some("a"));
        assert_eq!(key_of(Key::Num7).map(ProgramKey::name), Some("7"));
        assert_eq!(key_of(Key::F11), None);
    }
}
