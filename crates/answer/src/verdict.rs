//! How bad a frame is, as answers say it.

use backporch_analysis::Verdict;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How bad a frame is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum VerdictAnswer {
    /// As on the plain board.
    Clean,
    /// Every damaged line is right in its left half.
    EdgeDamaged,
    /// Anything more.
    Broken,
}

impl From<Verdict> for VerdictAnswer {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Clean => Self::Clean,
            Verdict::EdgeDamaged => Self::EdgeDamaged,
            Verdict::Broken => Self::Broken,
        }
    }
}

impl From<VerdictAnswer> for Verdict {
    fn from(verdict: VerdictAnswer) -> Self {
        match verdict {
            VerdictAnswer::Clean => Self::Clean,
            VerdictAnswer::EdgeDamaged => Self::EdgeDamaged,
            VerdictAnswer::Broken => Self::Broken,
        }
    }
}
