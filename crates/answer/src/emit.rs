//! `emit`: what was handed back to the real machine.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::words;

/// Register settings for the real machine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum EmitsAnswer {
    /// They were emitted.
    Emitted(Box<EmitAnswer>),
    /// There is nothing to emit.
    Nothing(NothingToEmitAnswer),
}

/// What was emitted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EmitAnswer {
    /// The adapter profile.
    pub board: String,
    /// The mode that has to be set first.
    pub mode: String,
    /// Registers that differ from the mode's start-up values.
    pub registers: BTreeMap<String, u32>,
    /// The port writes in a safe order: port and value.
    pub writes: Vec<(u16, u8)>,
    /// Files that were written.
    pub out: Vec<String>,
    /// Start addresses that a test program steps through.
    pub steps: Option<u32>,
    /// Looks that a test session asks for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub looks: Option<usize>,
    /// Modes that a survey measures.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub modes: Option<Vec<String>>,
    /// What a test session leaves out, and why.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<String>,
    /// Read this before it is run on a real monitor; null where the signal stays as it is.
    pub caution: Option<String>,
    /// What the bench's monitor gets on the way there from the mode's start-up values; null where the signal stays as it is or no
    /// monitor is named.
    #[serde(default)]
    pub passing: Option<String>,
    /// What was emitted, where it was written to no file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}

/// Why there is nothing to emit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NothingToEmitAnswer {
    /// Why.
    pub reason: String,
}

impl EmitsAnswer {
    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        match self {
            Self::Emitted(answer) => answer.text(),
            Self::Nothing(answer) => format!("Nothing to emit: {}.\n", answer.reason),
        }
    }
}

impl EmitAnswer {
    fn text(&self) -> String {
        let registers = words::settings(&self.registers);
        let what = if registers.is_empty() { "the start-up values" } else { &registers };
        let mut text = match (self.looks, &self.modes) {
            (_, Some(modes)) => format!(
                "{}: a survey of its machine in {}: {}; it writes SURVEY.TXT, for calibrate\n",
                self.board,
                words::counted(modes.len() as u64, "mode"),
                modes.join(", ")
            ),
            (None, None) => format!("{} in {}: {what}\n{} port writes\n", self.board, self.mode, self.writes.len()),
            (Some(looks), None) => format!(
                "{}: a session of {}; it says what comes, asks by keys and writes ANSWERS.TXT, for diagnose --answers\n",
                self.board,
                words::counted(looks as u64, "look")
            ),
        };
        self.left_out.iter().for_each(|one| text += &format!("left out: {one}\n"));
        if let Some(steps) = self.steps {
            let steps = words::counted(u64::from(steps), "step");
            text += &format!("{steps}; any key goes on, backspace back, escape ends it\n");
        }
        for path in &self.out {
            text += &format!("written: {path}\n");
        }
        if let Some(passing) = &self.passing {
            text += &format!("\n{passing}\n");
        }
        if let Some(caution) = &self.caution {
            text += &format!("\n{caution}\n");
        }
        text
    }
}
