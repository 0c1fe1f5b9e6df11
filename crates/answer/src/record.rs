//! `record`: what was recorded.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::words;

/// A recording.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RecordAnswer {
    /// The adapter profile.
    pub board: String,
    /// The quirks, in the order in which they act.
    pub quirks: Vec<String>,
    /// Form of the recording.
    pub form: RecordingAnswer,
    /// The file or folder that was written.
    pub file: String,
    /// Frames of the board.
    pub frames: u32,
    /// Frames that the recording shows.
    pub shown: u32,
    /// Length of the recording in seconds.
    pub seconds: f64,
    /// Time of the board in seconds.
    pub board_seconds: f64,
    /// How many times as slow as the board it is shown.
    pub slow: f64,
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Colours that gave way to similar ones in the frame that lost most.
    pub colours_lost: u32,
    /// Frames with damage.
    pub damaged_frames: u32,
}

/// Form of a recording.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RecordingAnswer {
    /// Every frame, all colours, true time.
    Apng,
    /// 256 colours a frame, time in hundredths of a second.
    Gif,
    /// A folder of PNG frames.
    Png,
}

impl RecordAnswer {
    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        let slow = if self.slow == 1.0 { String::new() } else { format!(", {} times as slow as the board", self.slow) };
        let mut text = format!(
            "{}, {}: {} frames, {} with damage\n{}: {} x {}, {:.3} seconds{slow}\n",
            self.board,
            words::faults(&self.quirks),
            self.frames,
            self.damaged_frames,
            self.file,
            self.width,
            self.height,
            self.seconds
        );
        if self.shown < self.frames {
            text += &format!(
                "a GIF counts in hundredths of a second and viewers take no less than two: {} of {} frames are shown; \
                 --slow or an APNG has them all\n",
                self.shown, self.frames
            );
        }
        if self.colours_lost > 0 {
            text += &format!(
                "a GIF has 256 colours a frame: up to {} of the rarest gave way to similar ones; an APNG has them all\n",
                self.colours_lost
            );
        }
        text
    }
}
