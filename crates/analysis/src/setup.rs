//! Experiment set-ups: one board setting that is looked at, and how.
//!
//! A set-up holds everything about a look that does not depend on the fault: registers, memory, the frame as it was
//! meant, and what a board as its class is built shows.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::{Arc, OnceLock};

use backporch_adapter::{Adapter, FieldId, Registers};
use backporch_bench::Bench;
use backporch_quirk::QuirkStack;
use backporch_raster::{Board, Frame, Intercept, Line, Plain, QuietFrame, Stages};
use serde::{Deserialize, Serialize};

use crate::predict::SettledBoard;
use crate::redraw::MemoryRedraw;
use crate::signature::FrameSignature;
use crate::signature::frames::HeldAgainst;

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
pub enum WriteMoment {
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
pub enum WhichFrame {
    /// The picture at rest, once nothing changes any more.
    #[default]
    Settled,
    /// The picture while it moves: the first frame after the writes.
    Moving,
}

/// Where the picture lies.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum PictureLayout {
    /// Laid out again for the registers of the experiment.
    #[default]
    Again,
    /// Left as it was laid for the bench.
    Once,
}

/// How a setup comes about.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Conditions {
    /// Which board.
    pub specimen: Specimen,
    /// When the registers are written.
    pub moment: WriteMoment,
    /// When one looks.
    pub look: WhichFrame,
    /// Where the picture lies.
    pub layout: PictureLayout,
}

/// One setting looked at.
#[derive(Debug)]
pub struct ExperimentSetup {
    pub(crate) bench: Arc<Bench>,
    pub(crate) registers: Registers,
    pub(crate) before: Registers,
    pub(crate) changes: Vec<(FieldId, u32)>,
    pub(crate) conditions: Conditions,
    pub(crate) quiet: QuietFrame,
    pub(crate) lines: Vec<Line>,
    /// Stages at which the class does anything by design.
    pub(crate) design_stages: Stages,
    held: HeldAgainst,
    width: u32,
    key: u64,
    memory: OnceLock<Vec<u8>>,
    memory_before: OnceLock<Vec<u8>>,
    pub(crate) at_rest: OnceLock<Frame>,
    /// Pixel values of each picture line as meant, end to end.
    pub(crate) meant_values: OnceLock<Vec<Vec<u8>>>,
    /// A board as its class is built at the moment of the writes, its beam passed on to there.
    pub(crate) at_the_writes: OnceLock<Board<QuirkStack>>,
    /// Where the writes leave a plain board.
    pub(crate) written: OnceLock<SettledBoard>,
    pub(crate) redraw: OnceLock<MemoryRedraw>,
    pub(crate) driven: OnceLock<Meant>,
    pub(crate) by_design: OnceLock<FrameSignature>,
}

/// What the plain board shows when it is driven through its ports.
#[derive(Debug)]
pub(crate) struct Meant {
    /// In the frame of the writes, written at the set-up's moment; where the picture is looked at while it moves.
    pub during: Option<Frame>,
    /// In the frame looked at, written in the active area: what a routine means to show.
    pub after: Frame,
}

impl ExperimentSetup {
    /// The bench with `settings` in its registers, reached from the bench's own.
    ///
    /// Every value must fit its register; one that does not is left out.
    #[must_use]
    pub fn new(bench: Arc<Bench>, settings: &[(FieldId, u32)], conditions: Conditions) -> Self {
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
        let quiet = QuietFrame::new(adapter, &registers, &Plain);
        let lines: Vec<Line> = (0..quiet.picture_lines()).map(|line| quiet.line(0, quiet.start(), line)).collect();
        let format = quiet.format();
        let chars = lines.first().map_or(0, |line| line.bytes / format.address.bytes_per_char().max(1));
        let width = chars * format.pixels_per_char();
        let key = key(&bench, &registers, &conditions);
        let held =
            if bench.is_test_card() { HeldAgainst::Visible { covered: bench.card_label() } } else { HeldAgainst::All };
        Self {
            held,
            key,
            design_stages: bench.layers().by_design().stages(),
            registers,
            before,
            changes,
            conditions,
            quiet,
            lines,
            width,
            bench,
            memory: OnceLock::new(),
            memory_before: OnceLock::new(),
            at_rest: OnceLock::new(),
            meant_values: OnceLock::new(),
            at_the_writes: OnceLock::new(),
            written: OnceLock::new(),
            redraw: OnceLock::new(),
            driven: OnceLock::new(),
            by_design: OnceLock::new(),
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

    /// Equal for setups that look the same under every fault.
    #[must_use]
    pub fn key(&self) -> u64 {
        self.key
    }

    /// How it comes about.
    #[must_use]
    pub fn conditions(&self) -> &Conditions {
        &self.conditions
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

    /// The frame as it was meant.
    #[must_use]
    pub fn clean(&self) -> FrameSignature {
        let (width, height) = self.size();
        FrameSignature::clean(width, height).with_pitch(self.pitch())
    }

    /// Pixels from the start of a line to that of the next one in memory.
    #[must_use]
    pub fn pitch(&self) -> u32 {
        let line = self.lines.first();
        line.map_or(0, |line| (u64::from(line.pitch) * u64::from(self.width) / u64::from(line.bytes.max(1))) as u32)
    }

    /// What of its frames is held against what was meant. Of the test card a person knows every number, and marks what
    /// differs to the pixel; of any other picture only the addresses are sure to tell.
    pub(crate) fn held(&self) -> HeldAgainst {
        self.held
    }

    /// Whether the picture is sheared on the plain board, too: not laid out
    /// again though the pitch has changed.
    #[must_use]
    pub fn is_sheared(&self) -> bool {
        let of_bench = QuietFrame::new(self.adapter(), &self.before, &Plain);
        self.conditions.layout == PictureLayout::Once
            && of_bench.line(0, 0, 0).pitch != self.lines.first().map_or(0, |line| line.pitch)
    }

    /// Video memory as the experiment finds it.
    pub(crate) fn memory(&self) -> &[u8] {
        match self.conditions.layout {
            PictureLayout::Again => self.memory.get_or_init(|| self.bench.memory(&self.registers).into_owned()),
            PictureLayout::Once => self.memory_before(),
        }
    }

    /// Video memory as laid for the bench.
    pub(crate) fn memory_before(&self) -> &[u8] {
        self.memory_before.get_or_init(|| self.bench.memory(&self.before).into_owned())
    }
}

/// Bench, registers and conditions in one number; the hasher's keys are fixed.
fn key(bench: &Bench, registers: &Registers, conditions: &Conditions) -> u64 {
    let mut hasher = DefaultHasher::new();
    let adapter = bench.adapter();
    (bench.name(), adapter.name(), &bench.mode().name, conditions).hash(&mut hasher);
    bench.layers().design().iter().for_each(|behaviour| behaviour.name.hash(&mut hasher));
    for (field, _) in adapter.fields() {
        (adapter.get(bench.registers(), field), adapter.get(registers, field)).hash(&mut hasher);
    }
    hasher.finish()
}
