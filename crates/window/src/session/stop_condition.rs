//! Running until something happens.

use backporch_adapter::Registers;
use backporch_analysis::{Damage, Verdict};
use backporch_input::number;
use backporch_pc::Far;

use super::breakpoint::Breakpoint;

/// What a run waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StopCondition {
    /// A frame that differs from the plain board's.
    Damage,
    /// A frame that is as the plain board's.
    Clean,
    /// A register that was changed.
    RegisterChange,
    /// A verdict other than the last frame's.
    OtherVerdict,
    /// A mistake of timing or order in the routine.
    Hazard,
    /// The beam at the beginning of a scan line.
    ScanLine(u32),
    /// A write to a port.
    PortWrite(u16),
    /// An instruction of the program that comes next.
    Instruction(Far),
}

impl StopCondition {
    /// All of them; those with a value with the first one.
    pub const ALL: [Self; 8] = [
        Self::Damage,
        Self::Clean,
        Self::OtherVerdict,
        Self::RegisterChange,
        Self::Hazard,
        Self::ScanLine(0),
        Self::PortWrite(0x3D4),
        Self::Instruction(Far { segment: 0, offset: 0 }),
    ];

    /// In words, after "run until".
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Damage => "a damaged frame",
            Self::Clean => "a clean frame",
            Self::RegisterChange => "a register changes",
            Self::OtherVerdict => "the verdict changes",
            Self::Hazard => "a hazard",
            Self::ScanLine(_) => "scan line",
            Self::PortWrite(_) => "a write to port",
            Self::Instruction(_) => "instruction",
        }
    }

    /// Its value, as one types it, where it has one.
    #[must_use]
    pub fn value(self) -> Option<String> {
        match self {
            Self::ScanLine(line) => Some(line.to_string()),
            Self::PortWrite(port) => Some(format!("0x{port:X}")),
            Self::Instruction(at) => Some(at.to_string()),
            _ => None,
        }
    }

    /// The same with another value; itself where it has none.
    ///
    /// # Errors
    /// Says what was found and what is allowed.
    pub fn with_value(self, text: &str) -> Result<Self, String> {
        let up_to = |most: u64| {
            let value = number(text.trim()).map_err(|error| error.to_string())?;
            if value <= most { Ok(value) } else { Err(format!("found {value}, allowed 0..={most}")) }
        };
        Ok(match self {
            Self::ScanLine(_) => Self::ScanLine(up_to(9999)? as u32),
            Self::PortWrite(_) => Self::PortWrite(up_to(0xFFFF)? as u16),
            Self::Instruction(_) => {
                Self::Instruction(text.parse().map_err(|error: backporch_pc::NoAddress| error.to_string())?)
            }
            other => other,
        })
    }

    /// The place at which a driven pair of boards stops for it.
    pub(crate) fn breakpoint(self) -> Option<Breakpoint> {
        match self {
            Self::PortWrite(port) => Some(Breakpoint::Port(port)),
            Self::Instruction(at) => Some(Breakpoint::Instruction(at)),
            _ => None,
        }
    }
}

/// A run under way: what it waits for, and how things stood when it began.
#[derive(Clone, Debug)]
pub(crate) struct PendingStop {
    pub condition: StopCondition,
    before: Registers,
    verdict: Verdict,
    hazards: usize,
}

impl PendingStop {
    pub fn new(condition: StopCondition, registers: &Registers, damage: &Damage, hazards: usize) -> Self {
        Self { condition, before: registers.clone(), verdict: damage.verdict(), hazards }
    }

    /// Whether the run stops after a frame.
    pub fn is_met(&self, registers: &Registers, damage: &Damage, hazards: usize) -> bool {
        let verdict = damage.verdict();
        match self.condition {
            StopCondition::Damage => verdict != Verdict::Clean,
            StopCondition::Clean => verdict == Verdict::Clean,
            StopCondition::OtherVerdict => verdict != self.verdict,
            StopCondition::Hazard => hazards > self.hazards,
            StopCondition::RegisterChange => *registers != self.before,
            // These stop inside a frame.
            StopCondition::ScanLine(_) | StopCondition::PortWrite(_) | StopCondition::Instruction(_) => false,
        }
    }
}
