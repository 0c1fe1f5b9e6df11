//! What is built in: boards, quirks, benches, monitors, processors, routines, sightings.

use backporch_adapter::AdapterProfile;
use backporch_quirk::Family;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// The adapter profiles.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BoardsAnswer {
    /// The profiles, by name.
    pub boards: Vec<BoardAnswer>,
}

/// An adapter profile in the list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BoardAnswer {
    /// Name used on the command line and in bench files.
    pub name: String,
    /// What it is, for people.
    pub title: String,
    /// Names of its modes.
    pub modes: Vec<String>,
}

/// An adapter profile in full: the fields of its file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BoardProfileAnswer {
    /// Name used on the command line and in bench files.
    pub name: String,
    /// What it is, for people.
    pub title: String,
    /// Dots a second; the first of the clocks where a register chooses.
    pub dot_clock_hz: f64,
    /// Start-up values of its modes, the first being the usual one.
    pub modes: Vec<ModeAnswer>,
    /// The rest of the profile's file: facts, memory, registers, ports, status, timing, formats.
    #[serde(flatten)]
    pub rest: Map<String, Value>,
}

/// A mode of a profile.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ModeAnswer {
    /// Name used on the command line and in bench files.
    pub name: String,
    /// What it is, for people.
    pub title: String,
    /// The rest of the mode: stored bytes, what the DAC starts with.
    #[serde(flatten)]
    pub rest: Map<String, Value>,
}

/// Families of faults.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct QuirksAnswer {
    /// The families.
    pub quirks: Vec<QuirkAnswer>,
}

/// A family of faults.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct QuirkAnswer {
    /// Name used on the command line and in bench files.
    pub name: String,
    /// What is wrong, in a few words.
    pub title: String,
    /// The physical cause.
    pub cause: String,
    /// How it looks on the screen.
    pub looks: String,
    /// How well it is known.
    pub standing: String,
    /// Number of its members, one for each choice of parameters.
    pub members: u64,
    /// What it does, a sentence an effect.
    pub does: Vec<String>,
    /// What is doubtful about the file.
    pub warnings: Vec<String>,
}

/// Built-in benches.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BenchesAnswer {
    /// The benches, by name.
    pub benches: Vec<EntryAnswer>,
}

/// Built-in monitors.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MonitorsAnswer {
    /// The monitors, by name.
    pub monitors: Vec<EntryAnswer>,
}

/// Built-in processor models.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProcessorsAnswer {
    /// The models, by name.
    pub processors: Vec<EntryAnswer>,
}

/// Built-in routines.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RoutinesAnswer {
    /// The routines, by name.
    pub routines: Vec<EntryAnswer>,
}

/// Built-in sightings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SightingsAnswer {
    /// The sightings, by name.
    pub sightings: Vec<EntryAnswer>,
}

/// Something built in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EntryAnswer {
    /// Name used on the command line and in files.
    pub name: String,
    /// What it is, for people.
    pub title: String,
}

impl BoardAnswer {
    /// A profile in the list.
    #[must_use]
    pub fn new(profile: &AdapterProfile) -> Self {
        Self {
            name: profile.name.clone(),
            title: profile.title.clone(),
            modes: profile.modes.iter().map(|mode| mode.name.clone()).collect(),
        }
    }

    /// Two lines for people.
    #[must_use]
    pub fn text(&self) -> String {
        format!("{:16}  {}\n{:18}modes: {}\n", self.name, self.title, "", self.modes.join(", "))
    }
}

impl BoardProfileAnswer {
    /// A profile in full.
    ///
    /// # Errors
    /// Where the profile cannot be written as JSON.
    pub fn new(profile: &AdapterProfile) -> Result<Self, serde_json::Error> {
        let mut fields = serde_json::to_value(profile)?;
        // The document has the version.
        if let Some(fields) = fields.as_object_mut() {
            fields.remove("version");
        }
        serde_json::from_value(fields)
    }
}

impl QuirkAnswer {
    /// A family in words.
    #[must_use]
    pub fn new(family: &Family) -> Self {
        Self {
            name: family.name().to_string(),
            title: family.title().to_string(),
            cause: family.cause().to_string(),
            looks: family.looks().to_string(),
            standing: family.standing().to_string(),
            members: family.count(),
            does: family.describe(),
            warnings: family.warnings(),
        }
    }

    /// One line for people.
    #[must_use]
    pub fn line(&self) -> String {
        format!("{:24}  {}\n", self.name, self.title)
    }

    /// The family in full, for people.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!(
            "{}: {}\n  cause   {}\n  looks   {}\n  known   {}\n  members {}\n",
            self.name, self.title, self.cause, self.looks, self.standing, self.members
        );
        for line in &self.does {
            text += &format!("  does    {line}\n");
        }
        for warning in &self.warnings {
            text += &format!("  warning {warning}\n");
        }
        text
    }
}

/// A line for each entry, for people.
#[must_use]
pub fn entries_text(entries: &[EntryAnswer]) -> String {
    entries.iter().map(|entry| format!("{:24}  {}\n", entry.name, entry.title)).collect()
}
