//! Predictions: what any board makes of an experiment set-up, held against the plain board.
//!
//! A tap is the whole board: what its class does by design, and faults on top of that.
//! [`ExperimentSetup::signature`] takes the cheapest way that is true for the stages a fault touches:
//!
//! ```text
//! address, settled latch, sync ─► fetch plan, no pixel drawn
//! bytes, pixels, colours       ─► frames of a board at rest
//! ports; latch while moving    ─► a board driven through its ports
//! ```

mod drawn;
mod driven;
mod planned;

use backporch_raster::{LineDependencies, Stages, Tap};

use crate::setup::{ExperimentSetup, Look, Specimen, WriteMoment};
use crate::signature::FrameSignature;

/// Frames after which a fault that has always shown the same is taken for steady.
const WATCHED_FRAMES: u64 = 4;

impl ExperimentSetup {
    /// What the suspected board shows if it is this one; another specimen shows what its class does by design.
    ///
    /// A fault that may look at the number of the frame is watched for some frames.
    #[must_use]
    pub fn signature<T: Tap + Clone>(&self, tap: &T) -> FrameSignature {
        match self.conditions.specimen {
            Specimen::Suspected => self.predicted(tap),
            Specimen::Another => self.by_design().clone(),
        }
    }

    /// What a board as its class is built shows, without any fault.
    #[must_use]
    pub fn by_design(&self) -> &FrameSignature {
        self.by_design.get_or_init(|| self.predicted(&self.bench.layers().by_design()))
    }

    fn predicted<T: Tap + Clone>(&self, tap: &T) -> FrameSignature {
        let stages = tap.stages();
        let moving = self.conditions.look == Look::Moving;
        let touches = |stage| stages.intersects(stage);
        let through_ports = touches(Stages::PORT) || moving && touches(Stages::LATCH | Stages::MEMORY);
        if through_ports || (moving && self.conditions.moment == WriteMoment::Retrace) {
            driven::signature(self, tap)
        } else if stages.is_empty() {
            self.clean()
        } else if touches(Stages::FETCH | Stages::PIXEL | Stages::COLOUR) {
            drawn::signature(self, tap, frames_watched(tap))
        } else {
            let first = planned::signature(self, tap, 0);
            (1..frames_watched(tap)).fold(first, |all, frame| all.merged_with(&planned::signature(self, tap, frame)))
        }
    }
}

/// Frames to be watched until a fault that comes and goes has shown itself.
fn frames_watched<T: Tap>(tap: &T) -> u64 {
    let by_frame = Stages::LATCH | Stages::COLOUR | Stages::SYNC;
    if tap.depends_on().contains(LineDependencies::FRAME) || tap.stages().intersects(by_frame) {
        WATCHED_FRAMES
    } else {
        1
    }
}

#[cfg(test)]
mod tests;
