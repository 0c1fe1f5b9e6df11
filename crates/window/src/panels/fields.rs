//! Fields one types into: a frame, a value.

use backporch_input::number;
use egui::{Id, TextEdit, Ui};

use super::bar::named_field;
use crate::session::{StopCondition, WritePath};

/// What is being typed, where something is.
#[derive(Clone, Debug, Default)]
pub struct Fields {
    jump: Field,
    value: Field,
    /// The register being edited in the list.
    pub(crate) register: Option<RegisterEdit>,
    /// The value of what a run waits for, as it is being typed.
    until: Option<String>,
    /// Why the last value was refused.
    pub(crate) refused: Option<String>,
}

/// A register being edited.
#[derive(Clone, Debug)]
pub(crate) struct RegisterEdit {
    pub name: String,
    pub text: String,
    /// What Enter writes it through; Ctrl Enter always writes past the ports.
    pub path: WritePath,
}

/// One field.
#[derive(Clone, Debug, Default)]
struct Field {
    text: Option<String>,
    fresh: bool,
}

impl Fields {
    pub(crate) fn begin_jump(&mut self) {
        self.jump.begin();
    }

    pub(crate) fn begin_value(&mut self) {
        self.value.begin();
    }

    /// Whether something is being typed.
    pub(crate) fn is_open(&self) -> bool {
        [&self.jump, &self.value].iter().any(|field| field.text.is_some()) || self.register.is_some()
    }

    pub(crate) fn close(&mut self) {
        *self = Self::default();
    }

    /// Whether a frame to jump to is being typed.
    pub(crate) fn is_jumping(&self) -> bool {
        self.jump.text.is_some()
    }

    /// The field for a frame to jump to; a number, once it is entered.
    pub(crate) fn jump(&mut self, ui: &mut Ui, width: f32) -> Option<u64> {
        let text = self.jump.show(ui, "jump to frame", width)?;
        self.read(&text)
    }

    /// Whether a value of the active register is being typed.
    pub(crate) fn has_value(&self) -> bool {
        self.value.text.is_some()
    }

    /// The field for the value of the active register.
    pub(crate) fn value(&mut self, ui: &mut Ui, width: f32) -> Option<u64> {
        let text = self.value.show(ui, "value", width)?;
        self.read(&text)
    }

    /// The field for the value of what a run waits for, where it has one; the same with the value typed.
    pub(crate) fn until(&mut self, ui: &mut Ui, until: StopCondition) -> Option<StopCondition> {
        let value = until.value()?;
        let mut text = self.until.clone().unwrap_or(value);
        let response = ui.add(TextEdit::singleline(&mut text).id(Id::new("until value")).desired_width(74.0));
        let label = format!("value of: run until {}", until.words());
        named_field(&response, &label, &text);
        if !response.has_focus() {
            self.until = None;
            return None;
        }
        let typed = until.with_value(&text);
        self.until = Some(text);
        match typed {
            Ok(until) => {
                self.refused = None;
                Some(until)
            }
            Err(refused) => {
                self.refused = Some(refused);
                None
            }
        }
    }

    /// Reads a number, or says why it is none.
    pub(crate) fn read(&mut self, text: &str) -> Option<u64> {
        match number(text.trim()) {
            Ok(value) => {
                self.refused = None;
                Some(value)
            }
            Err(error) => {
                self.refused = Some(error.to_string());
                None
            }
        }
    }
}

impl Field {
    fn begin(&mut self) {
        *self = Self { text: Some(String::new()), fresh: true };
    }

    /// Shows the field where it is open; gives its text once it is entered.
    fn show(&mut self, ui: &mut Ui, name: &str, width: f32) -> Option<String> {
        let text = self.text.as_mut()?;
        let edit = TextEdit::singleline(text).id(Id::new(("field", name))).hint_text(name).desired_width(width);
        let response = ui.add(edit);
        named_field(&response, name, text);
        if self.fresh {
            response.request_focus();
            self.fresh = false;
            return None;
        }
        let entered = ui.input(|input| input.key_pressed(egui::Key::Enter));
        if response.lost_focus() {
            let text = self.text.take();
            return text.filter(|text| entered && !text.trim().is_empty());
        }
        None
    }
}
