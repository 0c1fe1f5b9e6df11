//! `demo`: the whole story on built-in data.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{CompareAnswer, DiagnoseAnswer, ReportAnswer};

/// What the demo found and wrote.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DemoAnswer {
    /// The folder of the results.
    pub folder: String,
    /// The files written, in the order of the story.
    pub files: Vec<String>,
    /// Whose fault it is: as `compare` answers.
    pub comparison: CompareAnswer,
    /// What may be behind a few looks: as `diagnose` answers.
    pub diagnosis: DiagnoseAnswer,
    /// All of it as one page: as `report` answers.
    pub report: ReportAnswer,
}
