//! `window`: how frames were paced while the window was open.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How frames were paced.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WindowAnswer {
    /// Frames a second of the board.
    pub rate_hz: f64,
    /// Frames that were due.
    pub frames_due: u32,
    /// Frames that came late.
    pub frames_late: u32,
    /// Share of late frames, 0 to 1.
    pub share_late: f64,
    /// Median time from a key to its picture, in milliseconds; left out without keys.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub input_to_picture_ms: Option<f64>,
}

impl WindowAnswer {
    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!(
            "{} frames due at {:.2} Hz, {} late ({:.1} %)\n",
            self.frames_due,
            self.rate_hz,
            self.frames_late,
            self.share_late * 100.0
        );
        if let Some(input) = self.input_to_picture_ms {
            text += &format!("from a key to its picture: {input:.1} ms (median)\n");
        }
        text
    }
}
