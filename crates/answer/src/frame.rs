//! `frame`: what one frame shows, and where a pixel of it comes from.

use backporch_analysis::Verdict;
use backporch_raster::{AddressChange, Layer, Provenance, ValueChange};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::verdict::VerdictAnswer;
use crate::words;

/// One frame against that of the plain board of the same class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FrameAnswer {
    /// The adapter profile.
    pub board: String,
    /// The mode.
    pub mode: String,
    /// What the class does by design, in the order in which it acts; empty with `--plain`.
    pub by_design: Vec<String>,
    /// The faults, in the order in which they act.
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
    /// The file the picture was written to; null where only a pixel was asked for.
    pub file: Option<String>,
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
    /// Memory address the plain board fetches it from.
    pub plain_address: u32,
    /// Rows of memory that begin between the line's first byte and this one.
    pub row_crossings: u32,
    /// Start address in force, in bytes.
    pub start_address: u32,
    /// Bytes from one row to the next.
    pub pitch_bytes: u32,
    /// The registers that decided the address, and what they hold.
    pub decided_by: Vec<(String, u32)>,
    /// What was done to the address, in order.
    pub address_changes: Vec<AddressChangeAnswer>,
    /// What was done to what is shown there, other than to its address, in order.
    pub value_changes: Vec<ValueChangeAnswer>,
}

/// What was done to an address.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AddressChangeAnswer {
    /// Address before.
    pub before: u32,
    /// Address after.
    pub after: u32,
    /// What did it.
    #[serde(flatten)]
    pub change: ValueChangeAnswer,
}

/// What was done to what is shown at a place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ValueChangeAnswer {
    /// Name of what did it.
    pub quirk: String,
    /// Whether the class or this board does it.
    pub layer: LayerAnswer,
    /// Where it is known from that the class does it; null for a fault.
    pub source: Option<String>,
    /// What happened, in words.
    pub does: String,
}

/// Where a change stands above the plain board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LayerAnswer {
    /// Every board of the class does it.
    ByDesign,
    /// A fault of this board, known or suspected.
    Fault,
}

impl FrameAnswer {
    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!(
            "{} in {}, {}, frame {}: {}\n",
            self.board,
            self.mode,
            words::faults(&self.quirks),
            self.frame,
            Verdict::from(self.verdict).word(),
        );
        if let Some(file) = &self.file {
            text += &format!("{file}: {} x {}\n", self.width, self.height);
        }
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
        Self {
            x: found.x,
            line: found.picture_line,
            scan_line: found.scan_line,
            character_clock: found.char,
            row: found.row.0,
            row_address: found.row.1,
            value: found.value,
            address: found.address,
            plain_address: found.plain_address,
            row_crossings: found.crossings,
            start_address: found.start,
            pitch_bytes: found.pitch,
            decided_by: found.decided_by,
            address_changes: found.address_changes.into_iter().map(AddressChangeAnswer::from).collect(),
            value_changes: found.value_changes.into_iter().map(ValueChangeAnswer::from).collect(),
        }
    }
}

impl From<AddressChange> for AddressChangeAnswer {
    fn from(AddressChange { quirk, layer, does, before, after }: AddressChange) -> Self {
        Self { before, after, change: ValueChange { quirk, layer, does }.into() }
    }
}

impl From<ValueChange> for ValueChangeAnswer {
    fn from(ValueChange { quirk, layer, does }: ValueChange) -> Self {
        let (layer, source) = match layer {
            Layer::Design { source } => (LayerAnswer::ByDesign, Some(source)),
            Layer::Fault => (LayerAnswer::Fault, None),
        };
        Self { quirk, layer, source, does }
    }
}

impl ValueChangeAnswer {
    fn text(&self) -> String {
        match (self.layer, &self.source) {
            (LayerAnswer::ByDesign, Some(source)) => {
                format!("{}, as every board of this class does ({source})", self.does)
            }
            (LayerAnswer::ByDesign, None) => format!("{}, as every board of this class does", self.does),
            (LayerAnswer::Fault, _) => format!("{}, by the fault {}", self.does, self.quirk),
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
        text += &if self.address == self.plain_address {
            ", as the plain board does\n".to_string()
        } else {
            format!("; the plain board fetches {:05X}h\n", self.plain_address)
        };
        let decided: Vec<String> = self.decided_by.iter().map(|(name, value)| format!("{name} = {value}")).collect();
        text += &format!("  decided by {}; pitch {} bytes\n", decided.join(", "), self.pitch_bytes);
        for AddressChangeAnswer { before, after, change } in &self.address_changes {
            text += &format!("  {}: {before:05X}h became {after:05X}h\n", change.text());
        }
        for change in &self.value_changes {
            text += &format!("  {}\n", change.text());
        }
        text
    }
}
