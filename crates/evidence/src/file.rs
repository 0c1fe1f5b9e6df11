//! The file form of sightings: `*.sightings.ron`.

use std::collections::BTreeMap;

use backporch_input::{Number, Range, Version1};
use serde::{Deserialize, Serialize};

use backporch_analysis::{PictureLayout, Specimen, WhichFrame, WriteMoment};

/// Sightings as written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SightingsFile {
    /// Version of the file form.
    pub version: Version1,
    /// What they are of, for people.
    #[serde(default)]
    pub title: String,
    /// Bench with the board under suspicion: built in, or a path beside this
    /// file. Its own quirks play no part.
    pub bench: String,
    /// Share of sightings that are wrong, 0.001 to 0.5; 0.05 if left out.
    #[serde(default)]
    pub observer_errors: Option<f64>,
    /// The experiments.
    pub experiments: Vec<ExperimentFile>,
}

/// One setting, and what was seen while a register was stepped on it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExperimentFile {
    /// What it is, for people.
    #[serde(default)]
    pub title: String,
    /// Another class of board, or a profile beside this file; the bench's if left out.
    #[serde(default)]
    pub board: Option<String>,
    /// Another mode.
    #[serde(default)]
    pub mode: Option<String>,
    /// Whether the test card of a session was shown, in place of the bench's picture.
    #[serde(default)]
    pub card: bool,
    /// Whether the suspected board was looked at or another one.
    #[serde(default)]
    pub specimen: Specimen,
    /// Registers that differ from the bench's, by name.
    #[serde(default)]
    pub registers: BTreeMap<String, Number>,
    /// The register stepped; the start address if left out.
    #[serde(default)]
    pub over: Option<String>,
    /// When in the frame the registers are written.
    #[serde(default)]
    pub moment: WriteMoment,
    /// Whether the picture was looked at once it had settled, or while it moved.
    #[serde(default)]
    pub look: WhichFrame,
    /// Whether the picture was laid out again for these registers.
    #[serde(default)]
    pub picture: PictureLayout,
    /// What was seen.
    pub seen: Vec<SightingFile>,
}

impl ExperimentFile {
    /// A register stepped on the bench as it is, nothing seen yet.
    #[must_use]
    pub fn stepping(over: String) -> Self {
        Self {
            title: String::new(),
            board: None,
            mode: None,
            card: false,
            specimen: Specimen::default(),
            registers: BTreeMap::new(),
            over: Some(over),
            moment: WriteMoment::default(),
            look: WhichFrame::default(),
            picture: PictureLayout::default(),
            seen: Vec::new(),
        }
    }
}

/// What was seen at a step or over a range of steps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SightingFile {
    /// Stored values of the register stepped; the experiment's own if left out.
    #[serde(default)]
    pub at: Option<Range>,
    /// What was seen, in words.
    pub saw: String,
}
