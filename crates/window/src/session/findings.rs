//! Findings: the sightings noted, and what was worked out from them and from the quirks.

use std::sync::Arc;

use backporch_analysis::PredictionCache;

use super::background::BackgroundTask;
use super::diagnosis::LiveDiagnosis;
use super::sighting_notes::SightingNotes;
use super::workarounds::LiveWorkarounds;

/// Sightings, suspects and workarounds.
#[derive(Debug, Default)]
pub struct Findings {
    pub(super) notes: SightingNotes,
    pub(super) search: BackgroundTask<LiveWorkarounds>,
    pub(super) diagnosis: BackgroundTask<LiveDiagnosis>,
    /// Revision of the sightings the diagnosis was asked about.
    pub(super) diagnosed: u64,
    /// Predictions made for earlier diagnoses of the same bench.
    pub(super) predictions: Arc<PredictionCache>,
    /// The workaround to try next, counted from 0.
    pub(super) next_workaround: usize,
}

impl Findings {
    /// Sightings noted.
    #[must_use]
    pub fn notes(&self) -> &SightingNotes {
        &self.notes
    }

    /// How far a search for workarounds under way is: settings judged, of all.
    #[must_use]
    pub fn searching(&self) -> Option<(u64, u64)> {
        self.search.progress()
    }

    /// What the last search found, while the boards are still the same.
    #[must_use]
    pub fn workarounds(&self) -> Option<&LiveWorkarounds> {
        self.search.result()
    }

    /// How far a diagnosis under way is: done, of all.
    #[must_use]
    pub fn diagnosing(&self) -> Option<(u64, u64)> {
        self.diagnosis.progress()
    }

    /// What follows from the sightings noted, once it was asked for and is there.
    #[must_use]
    pub fn diagnosis(&self) -> Option<&LiveDiagnosis> {
        self.diagnosis.result()
    }

    /// Whether the sightings are others than those the diagnosis was asked about.
    #[must_use]
    pub fn is_diagnosis_behind(&self) -> bool {
        self.diagnosed != self.notes.revision()
    }

    /// Drops the workarounds: the quirks are no longer the same.
    pub(super) fn forget_workarounds(&mut self) {
        self.search = BackgroundTask::Idle;
        self.next_workaround = 0;
    }

    /// Drops the suspects: a sighting they were to explain is taken back.
    pub(super) fn forget_diagnosis(&mut self) {
        self.diagnosis = BackgroundTask::Idle;
    }

    /// Drops all that was worked out on another bench; the sightings stay.
    pub(super) fn forget_results(&mut self) {
        self.forget_workarounds();
        self.forget_diagnosis();
        self.predictions = Arc::default();
    }
}
