//! The file form of an adapter profile (RON, one class of boards a file).

use backporch_input::Version1;
use backporch_signal::SyncPolarity;
use serde::{Deserialize, Serialize};

use crate::basis::Fact;
use crate::by_design::ByDesign;
use crate::format::Format;
use crate::memory_bus::{BusCase, MemoryBus};
use crate::mode::Mode;
use crate::port::{InputStatus0, LightPenCells, PortAt, StatusBit};
use crate::register::{Field, Slice};
use crate::timing::TimingRule;

/// An adapter profile as written. [`Adapter`](crate::Adapter) is the same, checked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AdapterProfile {
    /// Version of the file form.
    pub version: Version1,
    /// Name used on the command line and in bench files.
    pub name: String,
    /// What it is, for people.
    pub title: String,
    /// What is known of the class, and how well.
    pub facts: Vec<Fact>,
    /// What every board of the class does by design, in the order in which it acts.
    #[serde(default)]
    pub by_design: Vec<ByDesign>,
    /// Dots a second; the first of the clocks where a register chooses.
    pub dot_clock_hz: f64,
    /// Dots a second for each value of the clock select register, the last for
    /// those beyond; empty where the class has one clock.
    #[serde(default)]
    pub dot_clocks_hz: Vec<f64>,
    /// Polarity of sync where no register chooses it; left out where it is not known.
    #[serde(default)]
    pub sync_polarity: Option<SyncPolarity>,
    /// Video memory.
    pub memory: MemoryRule,
    /// What an access of the processor costs while registers hold certain values, before the memory's usual bus; the
    /// first whose condition holds.
    #[serde(default)]
    pub bus_cases: Vec<BusCase>,
    /// Named registers.
    pub registers: Vec<Field>,
    /// Bits that the hardware keeps and reads back though nothing here is decoded from them.
    #[serde(default)]
    pub kept: Vec<Slice>,
    /// Cells that take no writes while the write protection register is not 0.
    #[serde(default)]
    pub protected: Vec<Slice>,
    /// Ports.
    pub ports: Vec<PortAt>,
    /// Bits of the status port.
    pub status: Vec<StatusBit>,
    /// Input status 0, where the class has it.
    #[serde(default)]
    pub input_status_0: Option<InputStatus0>,
    /// The light-pen latch, where the class has one.
    #[serde(default)]
    pub light_pen: Option<LightPenCells>,
    /// Interrupt request that vertical sync raises, where the class can: 0 to 7.
    #[serde(default)]
    pub interrupt_request: Option<u8>,
    /// Registers to timing.
    pub timing: TimingRule,
    /// Decision table: the first format whose condition holds is shown.
    pub formats: Vec<Format>,
    /// Names of the formats in which the processor's accesses disturb the
    /// fetch while the beam displays: snow.
    #[serde(default)]
    pub snow: Vec<String>,
    /// Start-up values.
    pub modes: Vec<Mode>,
}

/// Video memory as the processor and the controller see it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MemoryRule {
    /// Size in bytes, a power of two up to 1 MiB.
    pub bytes: u32,
    /// Where the window begins in the processor's address space.
    pub window: u32,
    /// Size of the window in bytes; memory repeats inside a larger one.
    pub window_bytes: u32,
    /// How the processor reaches it.
    #[serde(default)]
    pub access: MemoryAccess,
    /// How the processor's bus meets it.
    #[serde(default)]
    pub bus: MemoryBus,
}

/// The processor's way to video memory.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum MemoryAccess {
    /// Byte by byte.
    #[default]
    Linear,
    /// Through a sequencer and graphics controller, to four planes of 64 KiB.
    Planes,
}
