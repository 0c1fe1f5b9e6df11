//! The keys, laid out from the work.
//!
//! Left and right move through time, up and down move the register in hand;
//! the longer the hold (none, Shift, Ctrl) the finer the step in time and the
//! wider the step of the register. The number row looks, letters name what
//! they do: C, E and B note clean, edge-damaged and broken.

use backporch_analysis::Verdict;
use egui::{Key, Modifiers};

use crate::command::{Command, ViewCommand};
use crate::session::Look;

/// What a key does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Does {
    /// Asks the session.
    Session(Command),
    /// Asks the window.
    View(ViewCommand),
}

/// A key and what it does.
#[derive(Clone, Copy, Debug)]
pub struct Binding {
    /// Keys held with it.
    pub with: Modifiers,
    /// The key.
    pub key: Key,
    /// What it does.
    pub does: Does,
    /// The same in words.
    pub words: &'static str,
    /// Group it is listed under.
    pub group: Group,
    /// Whether holding it down does it again.
    pub repeats: bool,
}

/// Groups of keys, in the order of the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    /// Moving through time.
    Time,
    /// The register in hand.
    Register,
    /// How it is looked at.
    Look,
    /// What is on the bench.
    Bench,
    /// What was seen, and what is kept.
    Keep,
}

impl Group {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Time, Self::Register, Self::Look, Self::Bench, Self::Keep];

    /// In a word or two.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Time => "Time",
            Self::Register => "Register in hand",
            Self::Look => "Looking",
            Self::Bench => "Bench",
            Self::Keep => "Noting and keeping",
        }
    }
}

impl Binding {
    /// The key as it is written on a keyboard.
    #[must_use]
    pub fn cap(&self) -> String {
        let mut cap = String::new();
        for (held, name) in [(self.with.ctrl, "Ctrl "), (self.with.shift, "Shift "), (self.with.alt, "Alt ")] {
            if held {
                cap += name;
            }
        }
        cap + match self.key {
            Key::ArrowLeft => "\u{2190}",
            Key::ArrowRight => "\u{2192}",
            Key::ArrowUp => "\u{2191}",
            Key::ArrowDown => "\u{2193}",
            Key::PageUp => "PgUp",
            Key::PageDown => "PgDn",
            Key::Escape => "Esc",
            Key::Equals => "=",
            Key::Minus => "-",
            Key::OpenBracket => "[",
            Key::CloseBracket => "]",
            other => other.name(),
        }
    }
}

const NONE: Modifiers = Modifiers::NONE;
const SHIFT: Modifiers = Modifiers::SHIFT;
const CTRL: Modifiers = Modifiers::CTRL;

const fn once(with: Modifiers, key: Key, group: Group, does: Does, words: &'static str) -> Binding {
    Binding { with, key, does, words, group, repeats: false }
}

const fn held(with: Modifiers, key: Key, group: Group, does: Does, words: &'static str) -> Binding {
    Binding { with, key, does, words, group, repeats: true }
}

use Command as C;
use Does::{Session, View};
use ViewCommand as V;

/// Every key there is.
pub const KEYS: &[Binding] = &[
    once(NONE, Key::Space, Group::Time, Session(C::RunOrPause), "run, or pause"),
    held(NONE, Key::ArrowRight, Group::Time, Session(C::FrameOn), "one frame on"),
    held(NONE, Key::ArrowLeft, Group::Time, Session(C::FrameBack), "one frame back"),
    held(SHIFT, Key::ArrowRight, Group::Time, Session(C::LineOn), "one scan line on"),
    held(SHIFT, Key::ArrowLeft, Group::Time, Session(C::LineBack), "one scan line back"),
    held(CTRL, Key::ArrowRight, Group::Time, Session(C::CharOn), "one character clock on"),
    held(CTRL, Key::ArrowLeft, Group::Time, Session(C::CharBack), "one character clock back"),
    held(NONE, Key::I, Group::Time, Session(C::InstructionOn), "one instruction of the program on"),
    held(SHIFT, Key::I, Group::Time, Session(C::InstructionBack), "one instruction of the program back"),
    once(NONE, Key::Home, Group::Time, Session(C::FirstFrame), "the first frame"),
    once(NONE, Key::J, Group::Time, View(V::Jump), "jump to a frame by number"),
    once(NONE, Key::Minus, Group::Time, Session(C::Slower), "slower, by halves"),
    once(NONE, Key::Equals, Group::Time, Session(C::Faster), "faster, up to the board's own rate"),
    once(NONE, Key::U, Group::Time, View(V::RunUntilChosen), "run until the chosen condition"),
    once(SHIFT, Key::U, Group::Time, View(V::OtherUntil), "choose another condition"),
    held(NONE, Key::ArrowUp, Group::Register, Session(C::Step(1)), "one step up"),
    held(NONE, Key::ArrowDown, Group::Register, Session(C::Step(-1)), "one step down"),
    held(SHIFT, Key::ArrowUp, Group::Register, Session(C::Step(8)), "eight steps up"),
    held(SHIFT, Key::ArrowDown, Group::Register, Session(C::Step(-8)), "eight steps down"),
    held(NONE, Key::PageUp, Group::Register, Session(C::Step(64)), "64 steps up"),
    held(NONE, Key::PageDown, Group::Register, Session(C::Step(-64)), "64 steps down"),
    once(NONE, Key::End, Group::Register, Session(C::ToOrigin), "back to where the sweep began"),
    once(NONE, Key::V, Group::Register, View(V::Value), "type a value"),
    once(NONE, Key::N, Group::Register, Session(C::OtherRegister { next: true }), "take the next register in hand"),
    once(SHIFT, Key::N, Group::Register, Session(C::OtherRegister { next: false }), "take the one before in hand"),
    once(NONE, Key::Num1, Group::Look, Session(C::Look(Look::Faulty)), "the board under its quirks"),
    once(NONE, Key::Num2, Group::Look, Session(C::Look(Look::Healthy)), "the healthy board"),
    once(NONE, Key::Num3, Group::Look, Session(C::Look(Look::Beside)), "both, side by side"),
    once(NONE, Key::Num4, Group::Look, Session(C::Look(Look::Difference)), "their difference"),
    once(NONE, Key::Num5, Group::Look, Session(C::Look(Look::Blink)), "both, in turn"),
    once(NONE, Key::R, Group::Look, Session(C::RasterOrPicture), "whole raster, or active area"),
    once(NONE, Key::F, Group::Look, View(V::Fit), "fit: true shape, whole pixels"),
    once(NONE, Key::M, Group::Look, Session(C::MapRows), "memory map in rows of the pitch, or of 256"),
    once(NONE, Key::L, Group::Look, View(V::Theme), "light, or dark"),
    once(NONE, Key::Z, Group::Look, View(V::Zoom), "all of it at once or twice the size"),
    once(NONE, Key::OpenBracket, Group::Look, View(V::Left), "left panel, shown or hidden"),
    once(NONE, Key::CloseBracket, Group::Look, View(V::Right), "right panel, shown or hidden"),
    once(NONE, Key::H, Group::Look, View(V::Help), "this list"),
    once(NONE, Key::Escape, Group::Look, View(V::Close), "close what is open, or take the finger off"),
    once(NONE, Key::Q, Group::Bench, Session(C::AllQuirks), "all quirks off, or on"),
    once(NONE, Key::A, Group::Bench, Session(C::NextBoard), "the same bench on the next board"),
    once(SHIFT, Key::A, Group::Bench, Session(C::NextMonitor), "let the next monitor judge"),
    once(NONE, Key::W, Group::Bench, Session(C::Workarounds), "search for settings that hold"),
    once(SHIFT, Key::W, Group::Bench, Session(C::NextWorkaround), "try the next of them"),
    once(NONE, Key::O, Group::Bench, View(V::Open), "open a bench"),
    once(NONE, Key::F11, Group::Bench, View(V::Keyboard), "give the keyboard to the program, or take it back"),
    once(NONE, Key::T, Group::Bench, Session(C::Reload), "take its files in again"),
    once(NONE, Key::C, Group::Keep, Session(C::Note(Verdict::Clean)), "note a sighting: clean"),
    once(NONE, Key::E, Group::Keep, Session(C::Note(Verdict::EdgeDamaged)), "note a sighting: edge-damaged"),
    once(NONE, Key::B, Group::Keep, Session(C::Note(Verdict::Broken)), "note a sighting: broken"),
    once(NONE, Key::X, Group::Keep, Session(C::TakeBack), "take the newest note back"),
    once(NONE, Key::D, Group::Keep, Session(C::Diagnose), "diagnose: who could have caused them"),
    once(SHIFT, Key::D, Group::Keep, Session(C::NextSuspect), "put the next suspect on the board"),
    once(SHIFT, Key::S, Group::Keep, Session(C::SaveSightings), "save the sightings"),
    once(NONE, Key::S, Group::Keep, Session(C::SaveBench), "save the bench as it is set up"),
    once(NONE, Key::K, Group::Keep, Session(C::KeepPicture), "keep the picture as a PNG"),
    once(SHIFT, Key::K, Group::Keep, View(V::KeepWindow), "keep the whole window as a PNG"),
    once(NONE, Key::P, Group::Keep, Session(C::Record), "record the pictures, or end and write them"),
];

/// The binding that does something, for labels beside buttons.
#[must_use]
pub fn cap_of(does: Does) -> String {
    KEYS.iter().find(|binding| binding.does == does).map(Binding::cap).unwrap_or_default()
}

/// What an event asks for, where it is a key that does something.
pub(crate) fn asked(event: &egui::Event) -> Option<Does> {
    let egui::Event::Key { key, pressed: true, repeat, modifiers, .. } = event else {
        return None;
    };
    let binding = KEYS.iter().find(|binding| binding.key == *key && modifiers.matches_exact(binding.with))?;
    (binding.repeats || !repeat).then_some(binding.does)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_does_two_things_and_no_thing_is_left_without_a_key() {
        for (at, one) in KEYS.iter().enumerate() {
            for other in &KEYS[at + 1..] {
                assert!((one.with, one.key) != (other.with, other.key), "{}", one.cap());
                assert!(one.does != other.does, "{}", one.words);
            }
        }
        for group in Group::ALL {
            assert!(KEYS.iter().any(|binding| binding.group == group), "{}", group.words());
        }
        for look in Look::ALL {
            assert!(!cap_of(Session(C::Look(look))).is_empty());
        }
    }

    #[test]
    fn caps_are_what_stands_on_the_keys() {
        assert_eq!(cap_of(Session(C::FrameOn)), "\u{2192}");
        assert_eq!(cap_of(Session(C::LineBack)), "Shift \u{2190}");
        assert_eq!(cap_of(View(V::KeepWindow)), "Shift K");
    }
}
