//! What a routine needs: what the search must keep, and what it may change.

use std::collections::BTreeSet;
use std::ops::RangeInclusive;

use backporch_input::{FormError, Number, Source, Version1, parse};
use serde::{Deserialize, Serialize};

/// Registers a search may change unless the need names others.
pub const MAY_CHANGE: [&str; 12] = [
    "displayed",
    "offset",
    "sync_position",
    "sync_width",
    "horizontal_total",
    "display_skew",
    "vertical_displayed",
    "vertical_sync_position",
    "vertical_total",
    "vertical_adjust",
    "max_scan_line",
    "start_address",
];

/// Which way the picture scrolls.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Direction {
    /// To the left or to the right.
    #[default]
    Horizontal,
    /// Up or down.
    Vertical,
    /// Both ways.
    Both,
}

/// Which start addresses the routine shows.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Starts {
    /// On and on, around all of memory.
    #[default]
    Endless,
    /// From one to another, both included, as the register holds them.
    Range {
        /// The first.
        from: Number,
        /// The last.
        to: Number,
    },
}

/// Where the picture begins in memory.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Origin {
    /// Where the range of start addresses says.
    #[default]
    Fixed,
    /// Anywhere: the whole range may move.
    Free,
}

/// The file form of a need: `*.need.ron`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NeedFile {
    /// Version of the file form.
    pub version: Version1,
    /// Which way the picture scrolls.
    #[serde(default)]
    pub direction: Direction,
    /// Pixels a horizontal step moves the picture; the smallest step of the board if left out.
    #[serde(default)]
    pub step_pixels: Option<Number>,
    /// Picture lines a vertical step moves it; the smallest step of the board if left out.
    #[serde(default)]
    pub step_lines: Option<Number>,
    /// Start addresses it shows.
    #[serde(default)]
    pub starts: Starts,
    /// Whether the range of start addresses may move.
    #[serde(default)]
    pub origin: Origin,
    /// Least pixels across; half of the bench's if left out.
    #[serde(default)]
    pub least_width: Option<Number>,
    /// Least picture lines; as many as the bench shows if left out.
    #[serde(default)]
    pub least_height: Option<Number>,
    /// Mode; the bench's if left out.
    #[serde(default)]
    pub mode: Option<String>,
    /// Registers that may change; all that the search knows if left out.
    #[serde(default)]
    pub may_change: Option<BTreeSet<String>>,
    /// Monitor, by name or path; the bench's if left out.
    #[serde(default)]
    pub monitor: Option<String>,
    /// Bytes of video memory the routine keeps for itself.
    #[serde(default)]
    pub keep_free: Number,
    /// Whether settings the monitor refuses are listed all the same.
    #[serde(default)]
    pub out_of_margin: bool,
}

/// What a routine needs, of the board it will run on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Need {
    /// Which way the picture scrolls.
    pub direction: Direction,
    /// Pixels a horizontal step moves the picture; the board's smallest step if `None`.
    pub step_pixels: Option<u32>,
    /// Picture lines a vertical step moves it; the board's smallest step if `None`.
    pub step_lines: Option<u32>,
    /// Start addresses, both ends included; `None` is endless.
    pub starts: Option<RangeInclusive<u32>>,
    /// Whether the range may move.
    pub origin: Origin,
    /// Least pixels across; half of the bench's if `None`.
    pub least_width: Option<u32>,
    /// Least picture lines; as many as the bench shows if `None`.
    pub least_height: Option<u32>,
    /// Names of the registers that may change.
    pub may_change: BTreeSet<String>,
    /// Bytes of video memory kept free.
    pub keep_free: u32,
    /// Whether settings the monitor refuses are listed all the same.
    pub out_of_margin: bool,
}

impl Default for Need {
    /// Every start address by the board's smallest horizontal step.
    fn default() -> Self {
        Self {
            direction: Direction::Horizontal,
            step_pixels: None,
            step_lines: None,
            starts: None,
            origin: Origin::Fixed,
            least_width: None,
            least_height: None,
            may_change: MAY_CHANGE.map(String::from).into(),
            keep_free: 0,
            out_of_margin: false,
        }
    }
}

impl Need {
    /// The only start addresses it shows; `None` where they are all of memory's, or may move.
    #[must_use]
    pub fn fixed_starts(&self) -> Option<&RangeInclusive<u32>> {
        self.starts.as_ref().filter(|_| self.origin == Origin::Fixed)
    }
}

impl NeedFile {
    /// Reads a need.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_source(source: &Source) -> Result<Self, FormError> {
        let file: Self = parse(source)?;
        let numbers = [
            ("step_pixels", file.step_pixels),
            ("step_lines", file.step_lines),
            ("least_width", file.least_width),
            ("least_height", file.least_height),
            ("keep_free", Some(file.keep_free)),
        ];
        for (field, number) in numbers {
            if let Some(number) = number.filter(|number| u64::from(*number) > u64::from(u32::MAX)) {
                return Err(source.fault(&[field], u64::from(number), format!("0..={}", u32::MAX)));
            }
        }
        if let Starts::Range { from, to } = &file.starts {
            let (from, to) = (u64::from(*from), u64::from(*to));
            if from > to || to > 0xFF_FFFF {
                return Err(source.fault(&["starts"], format!("{from} to {to}"), "a last address of FROM..=0xFFFFFF"));
            }
        }
        for name in file.may_change.iter().flatten() {
            if !MAY_CHANGE.contains(&name.as_str()) {
                return Err(source.fault(&["may_change"], name, MAY_CHANGE.join(", ")));
            }
        }
        Ok(file)
    }

    /// The need without what it says of bench and monitor.
    #[must_use]
    pub fn need(&self) -> Need {
        // Every number was checked when the file was read.
        let small = |number: Number| u64::from(number).min(u64::from(u32::MAX)) as u32;
        Need {
            direction: self.direction,
            step_pixels: self.step_pixels.map(small),
            step_lines: self.step_lines.map(small),
            starts: match self.starts {
                Starts::Endless => None,
                Starts::Range { from, to } => Some(small(from)..=small(to)),
            },
            origin: self.origin,
            least_width: self.least_width.map(small),
            least_height: self.least_height.map(small),
            may_change: self.may_change.clone().unwrap_or_else(|| MAY_CHANGE.map(String::from).into()),
            keep_free: small(self.keep_free),
            out_of_margin: self.out_of_margin,
        }
    }
}
