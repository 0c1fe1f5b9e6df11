//! Running until something happens.

use backporch_adapter::Registers;
use backporch_analysis::{Damage, Verdict};

/// What a run waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Until {
    /// A frame that differs from the healthy board's.
    Damage,
    /// A frame that is as the healthy board's.
    Clean,
    /// A register that was changed.
    RegisterChange,
    /// A verdict other than the last frame's.
    OtherVerdict,
    /// A mistake of timing or order in the routine.
    Hazard,
}

impl Until {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Damage, Self::Clean, Self::OtherVerdict, Self::RegisterChange, Self::Hazard];

    /// In words, after "run until".
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Damage => "a damaged frame",
            Self::Clean => "a clean frame",
            Self::RegisterChange => "a register changes",
            Self::OtherVerdict => "the verdict changes",
            Self::Hazard => "a hazard",
        }
    }
}

/// A run under way: what it waits for, and how things stood when it began.
#[derive(Clone, Debug)]
pub(crate) struct Wait {
    pub until: Until,
    before: Registers,
    verdict: Verdict,
    hazards: usize,
}

impl Wait {
    pub fn new(until: Until, registers: &Registers, damage: &Damage, hazards: usize) -> Self {
        Self { until, before: registers.clone(), verdict: damage.verdict(), hazards }
    }

    /// Whether the wait is over after a frame.
    pub fn is_over(&self, registers: &Registers, damage: &Damage, hazards: usize) -> bool {
        let verdict = damage.verdict();
        match self.until {
            Until::Damage => verdict != Verdict::Clean,
            Until::Clean => verdict == Verdict::Clean,
            Until::OtherVerdict => verdict != self.verdict,
            Until::Hazard => hazards > self.hazards,
            Until::RegisterChange => *registers != self.before,
        }
    }
}
