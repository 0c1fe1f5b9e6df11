//! Scenes: one board setting looked at, and what any fault makes of it.
//!
//! A scene is everything about a look that does not depend on the fault:
//! registers, memory, the healthy frame. [`Scene::outcome`] then predicts a
//! fault by the cheapest road that is true for the stages it touches:
//!
//! ```text
//! address, settled latch, sync ─► fetch plan, no pixel drawn
//! bytes, pixels, colours       ─► one frame of a board at rest
//! ports; latch while moving    ─► a board driven through its ports
//! ```

mod drawn;
pub(crate) mod driven;
mod planned;

use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::{Arc, OnceLock};

use backporch_adapter::{Adapter, FieldId, Registers};
use backporch_bench::Bench;
use backporch_raster::{Frame, Healthy, Line, LineFacts, QuietFrame, Stages, Tap};
use serde::{Deserialize, Serialize};

use crate::outcome::Outcome;

/// Frames after which a fault that has always shown the same is taken for steady.
const WATCHED_FRAMES: u64 = 4;

/// Which board was looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Specimen {
    /// The board under suspicion.
    #[default]
    Suspected,
    /// Another board: of the same class, or of another one.
    Another,
}

/// When in the frame the registers are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Moment {
    /// While the beam is in the active area, far from any latch.
    #[default]
    ActiveArea,
    /// Just after vertical retrace has begun.
    Retrace,
    /// Whenever the user's routine does.
    Routine,
}

/// Which frame is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Look {
    /// The picture at rest, once nothing changes any more.
    #[default]
    Settled,
    /// The picture while it moves: the first frame after the writes.
    Moving,
}

/// Where the picture lies.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Laid {
    /// Laid out again for the registers of the experiment.
    #[default]
    Again,
    /// Left as it was laid for the bench.
    Once,
}

/// How a scene comes about.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Staging {
    /// Which board.
    pub specimen: Specimen,
    /// When the registers are written.
    pub moment: Moment,
    /// When one looks.
    pub look: Look,
    /// Where the picture lies.
    pub laid: Laid,
}

/// One setting looked at.
#[derive(Debug)]
pub struct Scene {
    bench: Arc<Bench>,
    registers: Registers,
    before: Registers,
    changes: Vec<(FieldId, u32)>,
    staging: Staging,
    quiet: QuietFrame,
    lines: Vec<Line>,
    width: u32,
    key: u64,
    memory: OnceLock<Vec<u8>>,
    memory_before: OnceLock<Vec<u8>>,
    at_rest: OnceLock<Frame>,
    driven: OnceLock<driven::Meant>,
}

impl Scene {
    /// The bench with `settings` in its registers, reached from the bench's own.
    ///
    /// Every value must fit its register; one that does not is left out.
    #[must_use]
    pub fn new(bench: Arc<Bench>, settings: &[(FieldId, u32)], staging: Staging) -> Self {
        let adapter = bench.adapter();
        let before = bench.registers().clone();
        let mut registers = before.clone();
        let mut changes = Vec::new();
        for (field, value) in settings {
            let fits = adapter.set(&mut registers, *field, u64::from(*value)).is_ok();
            if fits && adapter.get(&before, *field) != *value {
                changes.push((*field, *value));
            }
        }
        let quiet = QuietFrame::new(adapter, &registers, &Healthy);
        let lines: Vec<Line> = (0..quiet.picture_lines()).map(|line| quiet.line(0, quiet.start(), line)).collect();
        let format = quiet.format();
        let chars = lines.first().map_or(0, |line| line.bytes / format.address.bytes_per_char().max(1));
        let width = chars * format.pixels_per_char();
        let key = key(&bench, &registers, &staging);
        Self {
            key,
            registers,
            before,
            changes,
            staging,
            quiet,
            lines,
            width,
            bench,
            memory: OnceLock::new(),
            memory_before: OnceLock::new(),
            at_rest: OnceLock::new(),
            driven: OnceLock::new(),
        }
    }

    /// The class of the board.
    #[must_use]
    pub fn adapter(&self) -> &Arc<Adapter> {
        self.bench.adapter()
    }

    /// The registers looked at.
    #[must_use]
    pub fn registers(&self) -> &Registers {
        &self.registers
    }

    /// Equal for scenes that look the same under every fault.
    #[must_use]
    pub fn key(&self) -> u64 {
        self.key
    }

    /// How it comes about.
    #[must_use]
    pub fn staging(&self) -> &Staging {
        &self.staging
    }

    /// Pixels of a line and lines of the picture.
    #[must_use]
    pub fn size(&self) -> (u32, u32) {
        (self.width, self.lines.len() as u32)
    }

    /// Bytes a line shows.
    #[must_use]
    pub fn line_bytes(&self) -> u32 {
        self.lines.first().map_or(0, |line| line.bytes)
    }

    /// The frame of a healthy board.
    #[must_use]
    pub fn clean(&self) -> Outcome {
        let (width, height) = self.size();
        Outcome::clean(width, height)
    }

    /// Whether the picture is sheared on a healthy board, too: not laid out
    /// again though the pitch has changed.
    #[must_use]
    pub fn is_sheared(&self) -> bool {
        let of_bench = QuietFrame::new(self.adapter(), &self.before, &Healthy);
        self.staging.laid == Laid::Once
            && of_bench.line(0, 0, 0).pitch != self.lines.first().map_or(0, |line| line.pitch)
    }

    /// What a board with this fault shows.
    ///
    /// A fault that may look at the number of the frame is watched for some frames.
    #[must_use]
    pub fn outcome<T: Tap + Clone>(&self, tap: &T) -> Outcome {
        if self.staging.specimen == Specimen::Another {
            return self.clean();
        }
        let stages = tap.stages();
        let moving = self.staging.look == Look::Moving;
        let touches = |stage| stages.intersects(stage);
        let through_ports = touches(Stages::PORT) || moving && touches(Stages::LATCH | Stages::MEMORY);
        if through_ports || (moving && self.staging.moment == Moment::Retrace) {
            driven::outcome(self, tap)
        } else if stages.is_empty() {
            self.clean()
        } else if touches(Stages::FETCH | Stages::PIXEL | Stages::COLOUR) {
            drawn::outcome(self, tap, frames_watched(tap))
        } else {
            let first = planned::outcome(self, tap, 0);
            (1..frames_watched(tap)).fold(first, |all, frame| all.beside(&planned::outcome(self, tap, frame)))
        }
    }

    /// Video memory as the experiment finds it.
    fn memory(&self) -> &[u8] {
        match self.staging.laid {
            Laid::Again => self.memory.get_or_init(|| self.bench.memory(&self.registers).into_owned()),
            Laid::Once => self.memory_before(),
        }
    }

    /// Video memory as laid for the bench.
    fn memory_before(&self) -> &[u8] {
        self.memory_before.get_or_init(|| self.bench.memory(&self.before).into_owned())
    }
}

/// Bench, registers and staging in one number; the hasher's keys are fixed.
fn key(bench: &Bench, registers: &Registers, staging: &Staging) -> u64 {
    let mut hasher = DefaultHasher::new();
    let adapter = bench.adapter();
    (bench.name(), adapter.name(), &bench.mode().name, staging).hash(&mut hasher);
    for (field, _) in adapter.fields() {
        (adapter.get(bench.registers(), field), adapter.get(registers, field)).hash(&mut hasher);
    }
    hasher.finish()
}

/// Frames to be watched until a fault that comes and goes has shown itself.
fn frames_watched<T: Tap>(tap: &T) -> u64 {
    let by_frame = Stages::LATCH | Stages::COLOUR | Stages::SYNC;
    match tap.looks_at().contains(LineFacts::FRAME) || tap.stages().intersects(by_frame) {
        true => WATCHED_FRAMES,
        false => 1,
    }
}

#[cfg(test)]
mod tests;
