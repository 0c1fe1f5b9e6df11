//! `pack` and `unpack`: what lies in a case.

use backporch_input::{CaseFile, Holds};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A case that was made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PackAnswer {
    /// The case that was written.
    pub file: String,
    /// Its length in bytes.
    pub bytes: usize,
    /// What lies in it, the bench first.
    pub files: Vec<CaseFileAnswer>,
}

/// A case that was unpacked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct UnpackAnswer {
    /// The case that was read.
    pub case: String,
    /// The folder that was written.
    pub folder: String,
    /// The bench file in it.
    pub bench: String,
    /// What lay in the case, the bench first.
    pub files: Vec<CaseFileAnswer>,
}

/// A file in a case.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CaseFileAnswer {
    /// Its name in the case, parts divided by `/`.
    pub name: String,
    /// What it is there for.
    pub holds: HoldsAnswer,
    /// Its length in bytes.
    pub bytes: u64,
    /// Its SHA-256 in hexadecimal digits.
    pub sha256: String,
}

/// What a file in a case is there for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum HoldsAnswer {
    /// The bench.
    Bench,
    /// What the bench names, or its program reads.
    Part,
    /// Sightings.
    Sightings,
    /// The answers of a test session.
    Answers,
    /// A survey.
    Survey,
    /// Anything else that was handed along.
    Other,
}

impl HoldsAnswer {
    fn word(self) -> &'static str {
        match self {
            Self::Bench => "bench",
            Self::Part => "part of it",
            Self::Sightings => "sightings",
            Self::Answers => "answers",
            Self::Survey => "survey",
            Self::Other => "handed along",
        }
    }
}

impl From<Holds> for HoldsAnswer {
    fn from(holds: Holds) -> Self {
        match holds {
            Holds::Bench => Self::Bench,
            Holds::Part => Self::Part,
            Holds::Sightings => Self::Sightings,
            Holds::Answers => Self::Answers,
            Holds::Survey => Self::Survey,
            Holds::Other => Self::Other,
        }
    }
}

impl From<&CaseFile> for CaseFileAnswer {
    fn from(file: &CaseFile) -> Self {
        Self { name: file.name.clone(), holds: file.holds.into(), bytes: file.bytes, sha256: file.sha256.clone() }
    }
}

/// A line for each file.
fn listed(files: &[CaseFileAnswer]) -> String {
    let width = files.iter().map(|file| file.name.chars().count()).max().unwrap_or(0);
    let line =
        |file: &CaseFileAnswer| format!("  {:width$}  {:12}  {} bytes\n", file.name, file.holds.word(), file.bytes);
    files.iter().map(line).collect()
}

fn counted(files: &[CaseFileAnswer]) -> String {
    match files.len() {
        1 => "1 file".to_string(),
        count => format!("{count} files"),
    }
}

impl PackAnswer {
    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        format!("{}: {}, {} bytes\n{}", self.file, counted(&self.files), self.bytes, listed(&self.files))
    }
}

impl UnpackAnswer {
    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        format!("{}: {} of {}\n{}", self.folder, counted(&self.files), self.case, listed(&self.files))
    }
}
