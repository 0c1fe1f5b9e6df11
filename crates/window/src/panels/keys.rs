//! The keys, laid out from the work.
//!
//! Left and right move through time, up and down move the active register;
//! the longer the hold (none, Shift, Ctrl) the finer the step in time and the
//! wider the step of the register. The number row chooses the view, letters name what
//! they do: C, E and B note clean, edge-damaged and broken.

use backporch_analysis::Verdict;
use egui::{Key, Modifiers};

use crate::command::{Command, ViewCommand};
use crate::session::BoardView;

/// What a key does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KeyAction {
    /// Asks the session.
    Session(Command),
    /// Asks the window.
    View(ViewCommand),
}

/// A key and what it does.
#[derive(Clone, Copy, Debug)]
pub struct KeyBinding {
    /// Keys held with it.
    pub with: Modifiers,
    /// The key.
    pub key: Key,
    /// What it does.
    pub action: KeyAction,
    /// The same in words.
    pub words: &'static str,
    /// KeyGroup it is listed under.
    pub group: KeyGroup,
    /// Whether holding it down does it again.
    pub repeats: bool,
}

/// Groups of keys, in the order of the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KeyGroup {
    /// Moving through time.
    Time,
    /// The register in active.
    Register,
    /// How the boards are shown.
    View,
    /// What is on the bench.
    Bench,
    /// What was seen, and what is saved.
    Save,
}

impl KeyGroup {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Time, Self::Register, Self::View, Self::Bench, Self::Save];

    /// In a word or two.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Time => "Time",
            Self::Register => "Active register",
            Self::View => "View",
            Self::Bench => "Bench",
            Self::Save => "Noting and saving",
        }
    }
}

impl KeyBinding {
    /// The key as it is written on a keyboard.
    #[must_use]
    pub fn label(&self) -> String {
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
            Key::Comma => ",",
            Key::Period => ".",
            Key::Slash => "/",
            other => other.name(),
        }
    }
}

const NONE: Modifiers = Modifiers::NONE;
const SHIFT: Modifiers = Modifiers::SHIFT;
const CTRL: Modifiers = Modifiers::CTRL;
const ALT: Modifiers = Modifiers::ALT;

const fn once(with: Modifiers, key: Key, group: KeyGroup, action: KeyAction, words: &'static str) -> KeyBinding {
    KeyBinding { with, key, action, words, group, repeats: false }
}

const fn held(with: Modifiers, key: Key, group: KeyGroup, action: KeyAction, words: &'static str) -> KeyBinding {
    KeyBinding { with, key, action, words, group, repeats: true }
}

use Command as C;
use KeyAction::{Session, View};
use ViewCommand as V;

/// Every key there is.
pub const KEY_BINDINGS: &[KeyBinding] = &[
    once(NONE, Key::Space, KeyGroup::Time, Session(C::RunOrPause), "run, or pause"),
    held(NONE, Key::ArrowRight, KeyGroup::Time, Session(C::FrameOn), "one frame on"),
    held(NONE, Key::ArrowLeft, KeyGroup::Time, Session(C::FrameBack), "one frame back"),
    held(SHIFT, Key::ArrowRight, KeyGroup::Time, Session(C::LineOn), "one scan line on"),
    held(SHIFT, Key::ArrowLeft, KeyGroup::Time, Session(C::LineBack), "one scan line back"),
    held(CTRL, Key::ArrowRight, KeyGroup::Time, Session(C::CharOn), "one character clock on"),
    held(CTRL, Key::ArrowLeft, KeyGroup::Time, Session(C::CharBack), "one character clock back"),
    held(NONE, Key::I, KeyGroup::Time, Session(C::InstructionOn), "one instruction of the program on"),
    held(SHIFT, Key::I, KeyGroup::Time, Session(C::InstructionBack), "one instruction of the program back"),
    once(NONE, Key::Home, KeyGroup::Time, Session(C::FirstFrame), "the first frame"),
    once(CTRL, Key::Z, KeyGroup::Time, Session(C::Undo), "take back what was done last"),
    once(CTRL, Key::Y, KeyGroup::Time, Session(C::Redo), "do it again"),
    once(NONE, Key::J, KeyGroup::Time, View(V::Jump), "jump to a frame by number"),
    once(NONE, Key::Minus, KeyGroup::Time, Session(C::Slower), "slower, by halves"),
    once(NONE, Key::Equals, KeyGroup::Time, Session(C::Faster), "faster, up to the board's own rate"),
    once(NONE, Key::U, KeyGroup::Time, View(V::RunUntilChosen), "run until the chosen condition"),
    once(SHIFT, Key::U, KeyGroup::Time, View(V::OtherUntil), "choose another condition"),
    once(NONE, Key::Period, KeyGroup::Time, Session(C::NextHazard), "the next hazard of the routine"),
    once(NONE, Key::Comma, KeyGroup::Time, Session(C::PreviousHazard), "the hazard before"),
    held(NONE, Key::ArrowUp, KeyGroup::Register, Session(C::StepRegister(1)), "one step up"),
    held(NONE, Key::ArrowDown, KeyGroup::Register, Session(C::StepRegister(-1)), "one step down"),
    held(SHIFT, Key::ArrowUp, KeyGroup::Register, Session(C::StepRegister(8)), "eight steps up"),
    held(SHIFT, Key::ArrowDown, KeyGroup::Register, Session(C::StepRegister(-8)), "eight steps down"),
    held(NONE, Key::PageUp, KeyGroup::Register, Session(C::StepRegister(64)), "64 steps up"),
    held(NONE, Key::PageDown, KeyGroup::Register, Session(C::StepRegister(-64)), "64 steps down"),
    once(NONE, Key::End, KeyGroup::Register, Session(C::ResetRegister), "back to where the sweep began"),
    once(NONE, Key::V, KeyGroup::Register, View(V::Value), "type a value"),
    once(NONE, Key::N, KeyGroup::Register, Session(C::NextRegister), "the next register"),
    once(SHIFT, Key::N, KeyGroup::Register, Session(C::PreviousRegister), "the register before"),
    once(NONE, Key::F3, KeyGroup::Register, View(V::FilterRegisters), "filter the list of registers"),
    once(
        NONE,
        Key::Num0,
        KeyGroup::Register,
        View(V::ChangedRegisters),
        "only registers that differ from start-up, or all",
    ),
    once(NONE, Key::Num1, KeyGroup::View, Session(C::BoardView(BoardView::Faulty)), "the board as it stands"),
    once(NONE, Key::Num2, KeyGroup::View, Session(C::BoardView(BoardView::Plain)), "the plain board"),
    once(
        NONE,
        Key::Num3,
        KeyGroup::View,
        Session(C::BoardView(BoardView::Beside)),
        "plain and as it stands, side by side",
    ),
    once(NONE, Key::Num4, KeyGroup::View, Session(C::BoardView(BoardView::Difference)), "their difference"),
    once(NONE, Key::Num5, KeyGroup::View, Session(C::BoardView(BoardView::Blink)), "both, in turn"),
    once(NONE, Key::Num6, KeyGroup::View, Session(C::BoardView(BoardView::Built)), "the board as its class is built"),
    once(NONE, Key::Num7, KeyGroup::View, Session(C::BoardView(BoardView::Three)), "all three, side by side"),
    once(
        SHIFT,
        Key::F,
        KeyGroup::View,
        Session(C::BoardView(BoardView::Photograph)),
        "a photograph of the real screen and the board, side by side",
    ),
    once(
        CTRL,
        Key::F,
        KeyGroup::View,
        Session(C::BoardView(BoardView::PhotographBlink)),
        "the photograph and the board, in turn",
    ),
    once(
        ALT,
        Key::F,
        KeyGroup::View,
        Session(C::BoardView(BoardView::PhotographCorners)),
        "the photograph as it was taken, to correct corners",
    ),
    once(NONE, Key::R, KeyGroup::View, Session(C::RasterOrPicture), "whole raster, or active area"),
    once(NONE, Key::F, KeyGroup::View, View(V::Fit), "fit: on the tube in its true shape, or whole pixels"),
    once(NONE, Key::G, KeyGroup::View, View(V::Magnifier), "magnifier at the pointer, or none"),
    once(NONE, Key::F6, KeyGroup::View, View(V::Cursor), "arrows move the inspected pixel"),
    held(NONE, Key::Num9, KeyGroup::View, View(V::Closer), "twice as close to the picture"),
    held(NONE, Key::Num8, KeyGroup::View, View(V::Farther), "half as close, down to all of it"),
    held(ALT, Key::ArrowLeft, KeyGroup::View, View(V::Pan(-1, 0)), "closer look: to the left"),
    held(ALT, Key::ArrowRight, KeyGroup::View, View(V::Pan(1, 0)), "closer look: to the right"),
    held(ALT, Key::ArrowUp, KeyGroup::View, View(V::Pan(0, -1)), "closer look: up"),
    held(ALT, Key::ArrowDown, KeyGroup::View, View(V::Pan(0, 1)), "closer look: down"),
    once(NONE, Key::Y, KeyGroup::View, View(V::Strip), "damage map, thumbnails, or waveform"),
    once(NONE, Key::M, KeyGroup::View, Session(C::ToggleMapRows), "memory map in rows of the pitch, or of 256"),
    once(NONE, Key::L, KeyGroup::View, View(V::Theme), "light, or dark"),
    once(NONE, Key::Z, KeyGroup::View, View(V::Zoom), "all of it at once or twice the size"),
    once(NONE, Key::OpenBracket, KeyGroup::View, View(V::Left), "left panel, shown or hidden"),
    once(NONE, Key::CloseBracket, KeyGroup::View, View(V::Right), "right panel, shown or hidden"),
    once(SHIFT, Key::F10, KeyGroup::View, View(V::ContextMenu), "menu of what has the focus"),
    once(NONE, Key::H, KeyGroup::View, View(V::Help), "this list"),
    once(NONE, Key::Escape, KeyGroup::View, View(V::Close), "close what is open, or clear the inspected pixel"),
    once(NONE, Key::Q, KeyGroup::Bench, Session(C::AllQuirks), "all quirks off, or on"),
    once(SHIFT, Key::Q, KeyGroup::Bench, View(V::FitQuirk), "fit a quirk from the library"),
    once(NONE, Key::A, KeyGroup::Bench, Session(C::NextBoard), "the same bench on the next board"),
    once(SHIFT, Key::A, KeyGroup::Bench, Session(C::NextMonitor), "judge by the next monitor"),
    once(NONE, Key::W, KeyGroup::Bench, Session(C::Workarounds), "search for settings that hold"),
    once(SHIFT, Key::W, KeyGroup::Bench, Session(C::NextWorkaround), "try the next of them"),
    once(NONE, Key::O, KeyGroup::Bench, View(V::Open), "open a bench"),
    once(NONE, Key::F11, KeyGroup::Bench, View(V::Keyboard), "give the keyboard to the program, or take it back"),
    once(NONE, Key::T, KeyGroup::Bench, Session(C::Reload), "read its files again"),
    once(NONE, Key::C, KeyGroup::Save, Session(C::Note(Verdict::Clean)), "note a sighting: clean"),
    once(NONE, Key::E, KeyGroup::Save, Session(C::Note(Verdict::EdgeDamaged)), "note a sighting: edge-damaged"),
    once(NONE, Key::B, KeyGroup::Save, Session(C::Note(Verdict::Broken)), "note a sighting: broken"),
    once(NONE, Key::Slash, KeyGroup::Save, Session(C::NoteUntold), "note a sighting: could not tell"),
    once(NONE, Key::Enter, KeyGroup::Save, Session(C::PickLine), "pick the inspected line as an example, or let it go"),
    once(NONE, Key::X, KeyGroup::Save, Session(C::UndoNote), "take the newest note back"),
    once(NONE, Key::D, KeyGroup::Save, Session(C::Diagnose), "diagnose: which fault explains them"),
    once(SHIFT, Key::D, KeyGroup::Save, Session(C::NextSuspect), "put the next suspect on the board"),
    once(SHIFT, Key::S, KeyGroup::Save, Session(C::SaveSightings), "save the sightings"),
    once(NONE, Key::S, KeyGroup::Save, Session(C::SaveBench), "save the bench as it is set up"),
    once(CTRL, Key::S, KeyGroup::Save, Session(C::SaveCase), "save bench and sightings with all their files as a case"),
    once(NONE, Key::K, KeyGroup::Save, Session(C::SavePicture), "save the picture as a PNG"),
    once(SHIFT, Key::K, KeyGroup::Save, View(V::SaveWindow), "save the whole window as a PNG"),
    once(NONE, Key::P, KeyGroup::Save, Session(C::Record), "record the pictures, or end and write them"),
];

/// The binding that does something, for labels beside buttons.
#[must_use]
pub fn key_label(action: KeyAction) -> String {
    KEY_BINDINGS.iter().find(|binding| binding.action == action).map(KeyBinding::label).unwrap_or_default()
}

/// What an event asks for, where it is a key that does something.
pub(crate) fn asked(event: &egui::Event) -> Option<KeyAction> {
    let egui::Event::Key { key, pressed: true, repeat, modifiers, .. } = event else {
        return None;
    };
    let binding = KEY_BINDINGS.iter().find(|binding| binding.key == *key && modifiers.matches_exact(binding.with))?;
    (binding.repeats || !repeat).then_some(binding.action)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_does_two_things_and_no_thing_is_left_without_a_key() {
        for (at, one) in KEY_BINDINGS.iter().enumerate() {
            for other in &KEY_BINDINGS[at + 1..] {
                assert!((one.with, one.key) != (other.with, other.key), "{}", one.label());
                assert!(one.action != other.action, "{}", one.words);
            }
        }
        for group in KeyGroup::ALL {
            assert!(KEY_BINDINGS.iter().any(|binding| binding.group == group), "{}", group.words());
        }
        for view in BoardView::ALL {
            assert!(!key_label(Session(C::BoardView(view))).is_empty());
        }
    }

    #[test]
    fn caps_are_what_stands_on_the_keys() {
        assert_eq!(key_label(Session(C::FrameOn)), "\u{2192}");
        assert_eq!(key_label(Session(C::LineBack)), "Shift \u{2190}");
        assert_eq!(key_label(View(V::SaveWindow)), "Shift K");
    }
}
