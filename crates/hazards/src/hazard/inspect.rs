//! The inspector: four frames at a time, every check on each.

use std::collections::VecDeque;
use std::sync::Arc;

use backporch_adapter::Adapter;
use backporch_raster::Tap;
use backporch_script::{FrameRecord, Moment, Runner};
use backporch_signal::Monitor;

use super::seen::Seen;
use super::setting::{Layout, Setting, Surroundings};
use super::state::StateWatch;
use super::{Hazard, HazardKind, memory, start};

/// Looks at frame after frame and keeps what went wrong.
#[derive(Clone, Debug)]
pub struct Inspector {
    setting: Setting,
    /// The frame before the one judged, that one, and up to two after it.
    window: VecDeque<Seen>,
    /// Position in the window of the next frame to be judged.
    next: usize,
    state: StateWatch,
    hazards: Vec<Hazard>,
    frames: u64,
}

/// Frames after a frame that have to be known before it is judged.
const AHEAD: usize = 2;
/// Frames before it that are remembered.
const BEHIND: usize = 1;

impl Inspector {
    /// For boards of this class.
    #[must_use]
    pub fn new(adapter: Arc<Adapter>, around: Surroundings) -> Self {
        Self {
            setting: Setting::new(adapter, around),
            window: VecDeque::new(),
            next: 0,
            state: StateWatch::default(),
            hazards: Vec::new(),
            frames: 0,
        }
    }

    /// Looks at the next frame.
    pub fn see(&mut self, record: FrameRecord) {
        self.frames += 1;
        self.window.push_back(Seen::new(record, &self.setting.adapter));
        while self.window.len() > self.next + AHEAD {
            self.judge_next();
        }
    }

    /// Frames seen.
    #[must_use]
    pub fn frames(&self) -> u64 {
        self.frames
    }

    /// Takes the hazards found since the last time, in the order in which they were found;
    /// [`finish`](Self::finish) gives those not taken.
    pub fn take_found(&mut self) -> Vec<Hazard> {
        std::mem::take(&mut self.hazards)
    }

    /// Judges the last frames too and gives all hazards, in order of frames.
    ///
    /// `waiting` is a wait that has not ended, and its first dot.
    #[must_use]
    pub fn finish(mut self, waiting: Option<(Moment, u64)>) -> Vec<Hazard> {
        if let (Some((moment, from)), Some(last)) = (waiting, self.window.back()) {
            self.hazards.extend(self.state.stuck(moment, from, last));
        }
        while self.next < self.window.len() {
            self.judge_next();
        }
        self.hazards.sort_by_key(|hazard| (hazard.frame, hazard.line, hazard.dot, hazard.kind));
        // A torn address may be told by its writes and by the frames around it.
        self.hazards
            .dedup_by(|next, one| [one.kind, next.kind] == [HazardKind::TornStart; 2] && one.frame == next.frame);
        self.hazards
    }

    fn judge_next(&mut self) {
        let window = std::mem::take(&mut self.window);
        let frames: Vec<&Seen> = window.iter().collect();
        let judged = self.next;
        let mut found = start::judge(&self.setting, &frames, judged);
        found.extend(memory::judge(&self.setting, &frames, judged));
        let mut state = std::mem::take(&mut self.state);
        found.extend(state.judge(&self.setting, frames[judged]));
        self.state = state;
        self.hazards.extend(found);
        self.window = window;
        if judged < BEHIND {
            self.next += 1;
        } else {
            self.window.pop_front();
        }
    }
}

/// Runs a routine for so many frames and inspects them.
pub fn inspect<T: Tap>(
    runner: &mut Runner<T>,
    frames: u64,
    monitor: Option<Monitor>,
    layout: Option<Layout>,
) -> Vec<Hazard> {
    let around = Surroundings {
        dot_clock: Some(runner.board().board().dot_clock()),
        cpu: Some(runner.cpu().clone()),
        poll_extra_clocks: runner.program().file().poll_extra_clocks,
        monitor,
        layout,
    };
    let mut inspector = Inspector::new(Arc::clone(runner.board().board().adapter()), around);
    for _ in 0..frames {
        inspector.see(runner.next_record());
    }
    inspector.finish(runner.waiting())
}
