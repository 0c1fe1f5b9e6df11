//! What stops a program for good, in words.

use std::fmt;

use crate::processor::StepResult;
use crate::registers::{CpuRegisters, Far, SegmentRegister, Word};
use crate::stack_watch::Overrun;

/// Why a program cannot go on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// A port that is not present was read.
    PortRead(u16),
    /// A port that is not present was written.
    PortWritten(u16, u8),
    /// A device was asked for what it cannot do here: port and value.
    PortValue(u16, u8),
    /// Memory was written where there is none.
    Written(u32, u8),
    /// A service that is not present.
    Service {
        /// Interrupt number.
        interrupt: u8,
        /// AX, whose upper half names the service.
        ax: u16,
    },
    /// An interrupt without a handler.
    Interrupt(u8),
    /// The next instruction lies where there is no program.
    Nowhere,
    /// Bytes that are no instruction of the processor.
    Undefined,
    /// Protected mode.
    Protected,
    /// The processor shut down.
    Shutdown,
    /// The stack destroyed what was still needed.
    StackOverrun(Overrun),
    /// Halted with interrupts off.
    Asleep,
    /// A path that leads out of the folder.
    Outside(String),
    /// A file that is too large, or that the machine's own disk failed on.
    File(String),
}

impl Trouble {
    /// The trouble a step came to, if any.
    #[must_use]
    pub fn of(step: StepResult) -> Option<Self> {
        match step {
            StepResult::Undefined => Some(Self::Undefined),
            StepResult::Protected => Some(Self::Protected),
            StepResult::Shutdown => Some(Self::Shutdown),
            StepResult::Done | StepResult::Halted | StepResult::Service(_) => None,
        }
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::PortRead(port) => write!(f, "read port {port:04X}h, which is not present"),
            Self::PortWritten(port, value) => write!(f, "wrote {value:02X}h to port {port:04X}h, which is not present"),
            Self::PortValue(port, value) => {
                write!(f, "wrote {value:02X}h to port {port:04X}h, which asks for what is not present")
            }
            Self::Written(address, value) => {
                write!(f, "wrote {value:02X}h to {address:05X}h, where there is no memory to write")
            }
            Self::Service { interrupt, ax } => {
                write!(
                    f,
                    "asked interrupt {interrupt:02X}h for service {:02X}h (AX {ax:04X}h), which is not present",
                    ax >> 8
                )
            }
            Self::Interrupt(number) => write!(f, "interrupt {number:02X}h came, for which there is no handler"),
            Self::Nowhere => write!(f, "went to where there is no program"),
            Self::Undefined => write!(f, "met bytes that are no instruction of this processor"),
            Self::Protected => write!(f, "asked for protected mode: only real mode is here"),
            Self::Shutdown => write!(f, "shut the processor down: no stack or no interrupt table is left"),
            Self::StackOverrun(overrun) => write!(f, "overran its stack: {overrun}"),
            Self::Asleep => write!(f, "halted with interrupts off: nothing can wake it"),
            Self::Outside(path) => write!(f, "asked for {path}, which lies outside the program's folder"),
            Self::File(what) => write!(f, "{what}"),
        }
    }
}

/// Everything a person needs to find out why a program cannot go on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Report {
    /// What happened.
    pub trouble: Trouble,
    /// The instruction that did it.
    pub at: Far,
    /// Registers at that moment.
    pub registers: CpuRegisters,
    /// The last instructions, that one at the end, disassembled: address, bytes, text.
    pub last: Vec<String>,
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "stopped at {}: the program {}", self.at, self.trouble)?;
        writeln!(f, "{}", RegisterListing(&self.registers))?;
        self.last.iter().try_for_each(|line| writeln!(f, "  {line}"))
    }
}

/// Registers as people read them; what only an 80386 has, where something is in it.
#[derive(Debug)]
pub struct RegisterListing<'a>(pub &'a CpuRegisters);

impl fmt::Display for RegisterListing<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words = ["AX", "CX", "DX", "BX", "SP", "BP", "SI", "DI"];
        let double = |number| self.0.double(Word::numbered(number));
        let has_upper = (0..8).any(|number| double(number) > 0xFFFF);
        for (number, name) in (0..).zip(words) {
            if has_upper {
                write!(f, "E{name} {:08X}  ", double(number))?;
            } else {
                write!(f, "{name} {:04X}  ", double(number))?;
            }
        }
        writeln!(f)?;
        for (number, name) in (0..).zip(["ES", "CS", "SS", "DS", "FS", "GS"]) {
            let segment = self.0.segment(SegmentRegister::numbered(number));
            if number < 4 || segment != 0 {
                write!(f, "{name} {segment:04X}  ")?;
            }
        }
        write!(f, "IP {:04X}  flags {:04X}", self.0.ip, self.0.flags())
    }
}
