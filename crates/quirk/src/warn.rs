//! Warnings: what a family says that can never come about.

use crate::family::Family;

impl Family {
    /// Conditions that can never hold and effects that never show, one sentence each.
    #[must_use]
    pub fn warnings(&self) -> Vec<String> {
        Vec::new()
    }
}
