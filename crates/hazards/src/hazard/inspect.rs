//! The inspector: four frames at a time, every check on each.

use std::collections::VecDeque;
use std::sync::Arc;

use backporch_adapter::Adapter;
use backporch_raster::Tap;
use backporch_script::{FrameRecord, Maker, Moment, Runner};
use backporch_signal::Monitor;

use super::memory::MemoryWatch;
use super::mid_picture::MidPictureWatch;
use super::panning::PanningWatch;
use super::seen::SeenFrame;
use super::setting::{JudgedBoard, MeantLayout, Surroundings};
use super::signal::SignalWatch;
use super::state::StateWatch;
use super::window::WindowWatch;
use super::{Hazard, HazardKind, start};

/// Looks at frame after frame and keeps what went wrong.
#[derive(Clone, Debug)]
pub struct Inspector {
    setting: JudgedBoard,
    /// The frames before the one judged, that one, and up to two after it.
    window: VecDeque<SeenFrame>,
    /// Position in the window of the next frame to be judged.
    next: usize,
    watches: Watches,
    hazards: Vec<Hazard>,
    frames: u64,
}

/// Everything that is remembered from frame to frame.
#[derive(Clone, Debug, Default)]
struct Watches {
    memory: MemoryWatch,
    mid_picture: MidPictureWatch,
    panning: PanningWatch,
    signal: SignalWatch,
    state: StateWatch,
    window: WindowWatch,
    /// The last write of the start address, and who made it.
    moved: (Option<u64>, Maker),
}

impl Watches {
    fn judge(&mut self, setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize) -> Vec<Hazard> {
        let frame = frames[judged];
        if let Some(access) = start::last_change(frame) {
            self.moved = (Some(access.at.dot), access.by);
        }
        let mut found = start::judge(setting, frames, judged);
        let over = self.window.judge(frame, setting.bytes_at_address(), &self.memory.book, self.moved);
        found.extend(self.memory.judge(setting, frames, judged));
        found.extend(self.mid_picture.judge(setting, frames, judged));
        found.extend(self.panning.judge(setting, frames, judged));
        found.extend(over);
        found.extend(self.signal.judge(setting, frames, judged));
        found.extend(self.state.judge(setting, frame));
        found
    }
}

/// Frames after a frame that have to be known before it is judged.
const AHEAD: usize = 2;
/// Frames before it that are remembered.
const BEHIND: usize = 2;

impl Inspector {
    /// For boards of this class.
    #[must_use]
    pub fn new(adapter: Arc<Adapter>, around: Surroundings) -> Self {
        Self {
            setting: JudgedBoard::new(adapter, around),
            window: VecDeque::new(),
            next: 0,
            watches: Watches::default(),
            hazards: Vec::new(),
            frames: 0,
        }
    }

    /// Looks at the next frame.
    pub fn see(&mut self, record: FrameRecord) {
        self.frames += 1;
        self.window.push_back(SeenFrame::new(record, &self.setting.adapter));
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
            self.hazards.extend(self.watches.state.stuck(moment, from, last));
        }
        while self.next < self.window.len() {
            self.judge_next();
        }
        self.hazards.extend(self.watches.memory.finish(&self.setting));
        self.hazards.sort_by_key(|hazard| (hazard.frame, hazard.line, hazard.dot, hazard.kind));
        // A torn address may be reported by its writes and by the frames around it.
        self.hazards
            .dedup_by(|next, one| [one.kind, next.kind] == [HazardKind::TornStart; 2] && one.frame == next.frame);
        self.hazards
    }

    fn judge_next(&mut self) {
        let window = std::mem::take(&mut self.window);
        let frames: Vec<&SeenFrame> = window.iter().collect();
        let judged = self.next;
        self.hazards.extend(self.watches.judge(&self.setting, &frames, judged));
        self.window = window;
        if judged < BEHIND {
            self.next += 1;
        } else {
            self.window.pop_front();
        }
    }
}

/// Runs a routine for this many frames and inspects them.
pub fn inspect<T: Tap>(
    runner: &mut Runner<T>,
    frames: u64,
    monitor: Option<Monitor>,
    layout: Option<MeantLayout>,
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
