//! `report`: the page that was written.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::words;

/// A report page.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReportAnswer {
    /// The adapter profile.
    pub board: String,
    /// The quirks, in the order in which they act.
    pub quirks: Vec<String>,
    /// The page.
    pub file: String,
    /// Its size.
    pub bytes: usize,
    /// Steps of the sweep.
    pub steps: usize,
    /// Steps with damage.
    pub damaged_steps: usize,
    /// Mistakes of the routine, where the bench has one or they were given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hazards: Option<usize>,
    /// Picture lines that captures of the real screen show otherwise than meant, where captures were given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wrong_lines: Option<u32>,
}

impl ReportAnswer {
    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        let hazards = self.hazards.map_or_else(String::new, |count| format!(", {count} hazards of the routine"));
        let captures = self.wrong_lines.map_or_else(String::new, |count| {
            format!(", {} on captures not as meant", words::counted(u64::from(count), "line"))
        });
        format!(
            "{}, {}: {} of {} steps damaged{hazards}{captures}\n{}: {:.2} MB, opens in any browser\n",
            self.board,
            words::faults(&self.quirks),
            self.damaged_steps,
            self.steps,
            self.file,
            self.bytes as f64 / 1e6
        )
    }
}
