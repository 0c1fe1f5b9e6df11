//! `frame`: what one frame shows, and where a pixel of it comes from.

use backporch_analysis::Verdict;
use backporch_raster::Provenance;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::verdict::VerdictAnswer;
use crate::words;

/// One frame against that of a healthy board of the same class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FrameAnswer {
    /// The adapter profile.
    pub board: String,
    /// The mode.
    pub mode: String,
    /// The quirks, in the order in which they act.
    pub quirks: Vec<String>,
    /// Number of the frame, from 0.
    pub frame: u64,
    /// Width of the file's picture in pixels.
    pub width: u32,
    /// Height of the file's picture in pixels.
    pub height: u32,
    /// How bad the frame is.
    pub verdict: VerdictAnswer,
    /// Picture lines whose fetched addresses or timing differ.
    pub damaged_lines: u32,
    /// Picture lines whose pixels differ.
    pub visible_lines: u32,
    /// Whether the registers give a stable signal.
    pub stable: bool,
    /// The file the picture was written to.
    pub file: String,
    /// Where the pixel that was asked for comes from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pixel: Option<PixelAnswer>,
}

/// Provenance of a pixel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PixelAnswer {
    /// Pixels from the left of the active area.
    pub x: u32,
    /// Picture line from the top.
    pub line: u32,
    /// Scan line of the frame, from 0.
    pub scan_line: u32,
    /// Character clock of the scan line, from 0.
    pub character_clock: u32,
    /// Row of the controller, from 0.
    pub row: u32,
    /// Scan line within the row.
    pub row_address: u8,
    /// Value of the pixel.
    pub value: u8,
    /// Memory address it was fetched from.
    pub address: u32,
    /// Memory address a healthy board fetches it from.
    pub healthy_address: u32,
    /// Rows of memory that begin between the line's first byte and this one.
    pub row_crossings: u32,
    /// Start address in force, in bytes.
    pub start_address: u32,
    /// Bytes from one row to the next.
    pub pitch_bytes: u32,
    /// The registers that decided the address, and what they hold.
    pub decided_by: Vec<(String, u32)>,
    /// What each quirk did to the address, in order.
    pub bends: Vec<AddressChangeAnswer>,
}

/// What a quirk did to an address.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AddressChangeAnswer {
    /// The quirk.
    pub quirk: String,
    /// Address before.
    pub before: u32,
    /// Address after.
    pub after: u32,
}

impl FrameAnswer {
    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!(
            "{} in {}, {}, frame {}: {}\n{}: {} x {}\n",
            self.board,
            self.mode,
            words::quirks(&self.quirks),
            self.frame,
            Verdict::from(self.verdict).word(),
            self.file,
            self.width,
            self.height
        );
        if self.damaged_lines + self.visible_lines > 0 {
            text += &format!("{} lines damaged, {} visible\n", self.damaged_lines, self.visible_lines);
        }
        if !self.stable {
            text += "no stable signal: a monitor would show nothing\n";
        }
        text + &self.pixel.as_ref().map_or_else(String::new, PixelAnswer::text)
    }
}

impl From<Provenance> for PixelAnswer {
    fn from(found: Provenance) -> Self {
        let change = |bend: backporch_raster::AddressChange| AddressChangeAnswer {
            quirk: bend.quirk,
            before: bend.before,
            after: bend.after,
        };
        Self {
            x: found.x,
            line: found.picture_line,
            scan_line: found.scan_line,
            character_clock: found.char,
            row: found.row.0,
            row_address: found.row.1,
            value: found.value,
            address: found.address,
            healthy_address: found.plain_address,
            row_crossings: found.crossings,
            start_address: found.start,
            pitch_bytes: found.pitch,
            decided_by: found.decided_by,
            bends: found.address_changes.into_iter().map(change).collect(),
        }
    }
}

impl PixelAnswer {
    /// The provenance in words.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!(
            "pixel {}, line {}: value {}\n  \
             scan line {}, character clock {}, row {} line {}\n  \
             fetched from {:05X}h, {} row crossing(s) after the line's first byte",
            self.x,
            self.line,
            self.value,
            self.scan_line,
            self.character_clock,
            self.row,
            self.row_address,
            self.address,
            self.row_crossings,
        );
        text += &if self.address == self.healthy_address {
            ", as a healthy board does\n".to_string()
        } else {
            format!("; a healthy board fetches {:05X}h\n", self.healthy_address)
        };
        let decided: Vec<String> = self.decided_by.iter().map(|(name, value)| format!("{name} = {value}")).collect();
        text += &format!("  decided by {}; pitch {} bytes\n", decided.join(", "), self.pitch_bytes);
        for change in &self.bends {
            text += &format!("  bent by {}: {:05X}h became {:05X}h\n", change.quirk, change.before, change.after);
        }
        text
    }
}
