//! The routine under the session, as the panels show it: its name, and the
//! mistakes of timing and order it has made.

use super::Session;
use super::hazards::HazardCount;

/// The routine that drives the boards.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RoutineView {
    /// Its title, or its name.
    pub title: String,
    /// Processor it runs on; none of a write trace.
    pub cpu: Option<String>,
    /// Its mistakes, by kind.
    pub hazards: Vec<HazardCount>,
}

impl Session {
    /// The routine that drives the boards, where the bench names one.
    #[must_use]
    pub fn routine(&self) -> Option<RoutineView> {
        let driver = self.transport.boards().driver()?;
        let name = self.setup.bench.routine().unwrap_or_default();
        let title = if driver.title().is_empty() { name } else { driver.title() };
        Some(RoutineView {
            title: title.to_string(),
            cpu: driver.cpu(),
            hazards: driver.hazards().by_kind.values().cloned().collect(),
        })
    }

    /// Takes in what the routine did to the active register, and that memory has changed.
    pub(crate) fn follow_routine(&mut self) {
        if self.transport.boards().driver().is_none() {
            return;
        }
        let value = self.setup.bench.adapter().get(&self.transport.boards().intended, self.sweep.active.field);
        if !self.sweep.active.is_pending() && value != self.sweep.active.value() {
            self.sweep.active.changed_to(value);
        }
    }
}
