//! Predictions: what any board makes of an experiment set-up, held against the plain board.
//!
//! A tap is the whole board: what its class does by design, and faults on top of that.
//! [`ExperimentSetup::signature`] takes the cheapest way that is true for the stages a fault touches:
//!
//! ```text
//! address, settled latch, sync ─► fetch plan, no pixel drawn
//! bytes, pixels, colours       ─► frames of a board at rest
//! ports                        ─► as without them, where all writes arrive and it is looked at later; else:
//! latch while moving           ─► a board driven through its ports
//! ```

mod drawn;
mod driven;
mod planned;

pub(crate) use driven::SettledBoard;

use backporch_raster::{LineDependencies, Stages, Tap};

use crate::setup::{ExperimentSetup, Specimen, WhichFrame, WriteMoment};
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
        self.by_design.get_or_init(|| {
            let tap = self.bench.layers().by_design();
            if self.is_at_rest(&tap) { self.at_rest(&tap) } else { driven::signature(self, &tap) }
        })
    }

    fn predicted<T: Tap + Clone>(&self, tap: &T) -> FrameSignature {
        if !self.is_at_rest(tap) {
            driven::signature(self, tap)
        } else if !tap.acts_at_rest() && tap.stages().contains(self.design_stages) {
            self.by_design().clone()
        } else {
            self.at_rest(tap)
        }
    }

    /// Whether the board is seen at rest, in the registers it was meant to have.
    fn is_at_rest<T: Tap + Clone>(&self, tap: &T) -> bool {
        let moving = self.conditions.look == WhichFrame::Moving;
        let touches = |stages| tap.stages().intersects(stages);
        // What acts on writes alone, and lets those arrive, is not seen later.
        let acts_later = touches(Stages::LATCH | Stages::MEMORY);
        let is_set = !touches(Stages::PORT) || !moving && !acts_later && driven::is_set(self, tap);
        let latches = touches(Stages::LATCH | Stages::MEMORY) || self.conditions.moment == WriteMoment::Retrace;
        is_set && !(moving && latches)
    }

    /// A board at rest in the setup's registers.
    fn at_rest<T: Tap + Clone>(&self, tap: &T) -> FrameSignature {
        let stages = tap.stages();
        if stages.is_empty() {
            self.clean()
        } else if stages.intersects(Stages::FETCH | Stages::PIXEL | Stages::COLOUR) {
            drawn::signature(self, tap, frames_watched(tap))
        } else {
            planned::signature_of_frames(self, tap, frames_watched(tap))
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
