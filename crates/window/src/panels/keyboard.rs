//! The keyboard while it belongs to the program: keys of this one to keys of that one.

use backporch_pc::Key as ProgramKey;
use egui::{Event, Key, Modifiers};

use super::keys::{self, KeyAction};
use crate::command::ViewCommand;

/// The keyboard of the program: which of the keys that are held with others are down.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct HeldKeys {
    held: Modifiers,
}

impl HeldKeys {
    /// What an event types: keys of the program that went down or up, in order;
    /// `None` where it is no business of a keyboard.
    pub fn typed(&mut self, event: &Event) -> Option<Vec<(ProgramKey, bool)>> {
        match event {
            Event::Key { key, physical_key, pressed, modifiers, repeat, .. } => {
                let mut typed = self.hold(*modifiers);
                // A held key repeats by the machine's own clock.
                let turned = key_of(physical_key.unwrap_or(*key)).filter(|_| !repeat);
                typed.extend(turned.map(|key| (key, *pressed)));
                Some(typed)
            }
            Event::Text(_) | Event::Copy | Event::Cut | Event::Paste(_) => Some(Vec::new()),
            _ => None,
        }
    }

    /// Keys held with others that went down or up.
    pub fn hold(&mut self, modifiers: Modifiers) -> Vec<(ProgramKey, bool)> {
        let held = std::mem::replace(&mut self.held, modifiers);
        let turned = [
            (held.shift, modifiers.shift, "shift"),
            (held.ctrl, modifiers.ctrl, "ctrl"),
            (held.alt, modifiers.alt, "alt"),
        ];
        let turned = turned.into_iter().filter(|(was, is, _)| was != is);
        turned.filter_map(|(_, is, name)| ProgramKey::named(name).ok().map(|key| (key, is))).collect()
    }
}

/// Whether an event is the key that takes the keyboard back.
pub(crate) fn takes_back(event: &Event) -> bool {
    keys::asked(event) == Some(KeyAction::View(ViewCommand::Keyboard))
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
