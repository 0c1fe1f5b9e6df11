//! Modes: what the registers start up with, and how firmware sets them.

use serde::{Deserialize, Serialize};

use crate::adapter::Adapter;
use crate::basis::Basis;
use crate::colour::{RGBI, intensity_in_bit_4, rgb64};
use crate::register::Bank;

/// A mode: its start-up values, and what firmware does to set it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mode {
    /// Name used on the command line and in bench files.
    pub name: String,
    /// What it is, for people.
    pub title: String,
    /// How firmware sets it, where firmware knows it.
    #[serde(default)]
    pub firmware: Option<FirmwareMode>,
    /// Stored bytes, bank by bank.
    pub registers: Vec<RegisterBlock>,
    /// What the DAC starts with.
    #[serde(default)]
    pub dac: DacColours,
}

/// How firmware sets a mode: function 00h of interrupt 10h. The registers get
/// the mode's start-up values.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FirmwareMode {
    /// Mode numbers (AL) that set it, without the bit that keeps memory; the
    /// one that stands for it first.
    pub numbers: Vec<u8>,
    /// Characters in a row, 40 or 80.
    pub columns: u8,
    /// First and last scan line of the text cursor that firmware notes.
    #[serde(default = "usual_cursor")]
    pub cursor: (u8, u8),
    /// Two bytes that the processor's window is filled with in turn.
    #[serde(default)]
    pub clears_with: (u8, u8),
    /// What the DAC gets, where that is not what the mode starts up with.
    #[serde(default)]
    pub dac: Option<DacColours>,
    /// Where the facts come from.
    pub basis: Basis,
}

/// Scan lines of the cursor of characters eight lines high (common practice).
fn usual_cursor() -> (u8, u8) {
    (6, 7)
}

impl FirmwareMode {
    /// The mode number that stands for it.
    #[must_use]
    pub fn number(&self) -> u8 {
        self.numbers.first().copied().unwrap_or_default()
    }
}

/// Consecutive cells of a bank and their start-up bytes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RegisterBlock {
    /// Bank of the cells.
    pub bank: Bank,
    /// First index.
    #[serde(default)]
    pub from: u8,
    /// One byte a cell.
    pub values: Vec<u8>,
}

/// Colours of the DAC.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum DacColours {
    /// A ramp of 64 greys, each four times.
    #[default]
    Grey,
    /// The sixteen RGBI colours; the others stay.
    Rgbi,
    /// The 64 colours of rgbRGB; the others stay.
    Rgb64,
    /// The sixteen RGBI colours four times, their intensity in bit 4; the others stay.
    Intensity,
    /// What a monochrome display makes of 64 colours: bit 3 lights, bit 4 lights brighter; the others stay (VGA register
    /// documentation; levels and what bit 4 does alone from memory).
    VideoAndIntensity,
    /// The sixteen RGBI colours, sixteen greys, nine rounds of 24 hues, black
    /// (from memory).
    Hues,
}

impl DacColours {
    /// The entries it sets and their 6-bit levels of red, green and blue.
    pub fn entries(self) -> impl Iterator<Item = (u8, [u8; 3])> {
        let last = match self {
            Self::Grey | Self::Hues => 255,
            Self::Rgbi => 15,
            Self::Rgb64 | Self::Intensity | Self::VideoAndIntensity => 63,
        };
        (0..=last).map(move |index| (index, self.levels(index)))
    }

    fn levels(self, index: u8) -> [u8; 3] {
        let [red, green, blue, _] = match self {
            Self::Grey => return [index >> 2; 3],
            Self::Hues if index >= 16 => return hue(index),
            Self::Rgb64 => rgb64(index),
            Self::Intensity => intensity_in_bit_4(index),
            Self::VideoAndIntensity => match index >> 3 & 3 {
                1 => return [0x2A; 3],
                3 => return [0x3F; 3],
                _ => return [0; 3],
            },
            Self::Rgbi | Self::Hues => RGBI[usize::from(index & 15)],
        };
        [red, green, blue].map(|level| level >> 2)
    }
}

/// Levels of the sixteen greys (from memory).
const GREYS: [u8; 16] = [0, 5, 8, 11, 14, 17, 20, 24, 28, 32, 36, 40, 45, 50, 56, 63];

/// Five levels from the weakest to the strongest of a hue, for three
/// intensities of three saturations each (from memory).
const HUES: [[u8; 5]; 9] = [
    [0, 16, 31, 47, 63],
    [31, 39, 47, 55, 63],
    [45, 49, 54, 58, 63],
    [0, 7, 14, 21, 28],
    [14, 17, 21, 24, 28],
    [20, 22, 24, 26, 28],
    [0, 4, 8, 12, 16],
    [8, 10, 12, 14, 16],
    [11, 12, 13, 15, 16],
];

/// The greys and hues of the entries from 16 on.
fn hue(index: u8) -> [u8; 3] {
    match index {
        ..32 => [GREYS[usize::from(index & 15)]; 3],
        32..248 => {
            let (round, hue) = (usize::from(index - 32) / 24, usize::from(index - 32) % 24);
            // From blue over magenta, red, yellow, green and cyan back to blue.
            let level = |distance: usize| HUES[round][4 - distance.saturating_sub(4).min(4)];
            let apart = |peak: usize| ((hue + 24 - peak) % 24).min((peak + 24 - hue) % 24);
            [level(apart(8)), level(apart(16)), level(apart(0))]
        }
        248.. => [0; 3],
    }
}

impl Adapter {
    /// The mode of that name.
    #[must_use]
    pub fn mode(&self, name: &str) -> Option<&Mode> {
        self.profile.modes.iter().find(|mode| mode.name == name)
    }

    /// The first mode of the profile, the one a bench gets that names none.
    #[must_use]
    pub fn default_mode(&self) -> &Mode {
        &self.profile.modes[0]
    }

    /// The mode that firmware sets for a mode number (AL of function 00h of
    /// interrupt 10h, without the bit that keeps memory).
    #[must_use]
    pub fn mode_numbered(&self, number: u8) -> Option<(&Mode, &FirmwareMode)> {
        self.firmware_modes().find(|(_, firmware)| firmware.numbers.contains(&number))
    }

    /// The text mode of most characters that firmware sets on this class with the ports where they usually are.
    #[must_use]
    pub fn firmware_text_mode(&self) -> Option<&FirmwareMode> {
        let shows_text = |mode: &Mode| self.format(self.format_index(&self.start_up(mode))).serialise.is_text();
        let stays = |mode: &Mode| !self.moves_ports(&self.start_up(mode));
        let text = self.firmware_modes().filter(|(mode, _)| shows_text(mode) && stays(mode));
        text.map(|(_, firmware)| firmware).max_by_key(|firmware| firmware.columns)
    }

    fn firmware_modes(&self) -> impl Iterator<Item = (&Mode, &FirmwareMode)> {
        self.profile.modes.iter().filter_map(|mode| Some((mode, mode.firmware.as_ref()?)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Six hues at full saturation stand four steps apart (common practice).
    #[test]
    fn hues_go_round() {
        let colours: Vec<[u8; 3]> = DacColours::Hues.entries().map(|(_, levels)| levels).collect();
        let found: Vec<[u8; 3]> = (0..6).map(|step| colours[32 + step * 4]).collect();
        assert_eq!(found, [[0, 0, 63], [63, 0, 63], [63, 0, 0], [63, 63, 0], [0, 63, 0], [0, 63, 63]]);
        assert_eq!((colours[33], colours[6]), ([16, 0, 63], [42, 21, 0]), "a hue, and brown");
    }
}
