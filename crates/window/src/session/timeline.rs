//! The frame timeline: the verdict of every frame shown lately.

use std::collections::BTreeMap;

use backporch_analysis::Verdict;

/// Most frames remembered.
const MOST: usize = 4096;

/// Verdicts by frame number.
#[derive(Clone, Debug, Default)]
pub struct FrameTimeline {
    verdicts: BTreeMap<u64, Verdict>,
}

impl FrameTimeline {
    /// The verdict of a frame, where it was shown.
    #[must_use]
    pub fn verdict(&self, frame: u64) -> Option<Verdict> {
        self.verdicts.get(&frame).copied()
    }

    /// The last frame of the past that has been shown.
    #[must_use]
    pub fn last(&self) -> u64 {
        self.verdicts.last_key_value().map_or(0, |(frame, _)| *frame)
    }

    /// SightingNotes the verdict of a frame.
    pub(crate) fn note(&mut self, frame: u64, verdict: Verdict) {
        self.verdicts.insert(frame, verdict);
        while self.verdicts.len() > MOST {
            self.verdicts.pop_first();
        }
    }

    /// Forgets every frame after `frame`: something new was done there.
    pub(crate) fn forget_after(&mut self, frame: u64) {
        self.verdicts.split_off(&(frame + 1));
    }
}
