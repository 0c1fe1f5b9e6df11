//! Programs that wait for what cannot come: found by letting a copy of the machine run ahead.
//!
//! A copy runs for a while. Where it goes round the same few instructions,
//! comes by with the same registers again and again, does nothing to the
//! board, and looks at no memory that changes, it will do so for ever: there
//! is nothing in the machine but what has come round by then.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use backporch_raster::Tap;

use super::{Machine, Over};
use crate::decode;
use crate::instruction::{Instruction, Operand, Operation};
use crate::registers::{CpuRegisters, Far, SegmentRegister, Word, flag};
use crate::stops::{Breakpoints, Stop};
use crate::trouble::Trouble;

/// How long the copy runs: several frames and ticks, in nanoseconds.
const AHEAD: u64 = 300_000_000;

/// A loop that waits has at most this many instructions, handlers included, and comes by in this many states.
const MOST_PLACES: usize = 256;
const MOST_STATES: usize = 16;

/// Instructions the copy executes at most.
const MOST_STEPS: u32 = 4_000_000;

/// Ports of the keyboard, its interrupt's vector, and the ends of firmware's ring of keys (Technical Reference, system board).
const KEYBOARD_PORTS: [u16; 2] = [0x60, 0x64];
const KEYBOARD_VECTOR: u32 = 9 * 4;
const KEY_RING: std::ops::Range<u32> = 0x41A..0x41E;

/// Why a wait cannot end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum StuckCause {
    /// It has halted, and interrupts are off.
    HaltedWithInterruptsOff,
    /// It goes round with interrupts off.
    InterruptsOff,
    /// The controller's mask lets no interrupt through.
    Masked(u8),
    /// An interrupt of the controller was never ended, so that others wait.
    NotEnded(u8),
    /// It waits for a port, which answers the same all the time.
    Port {
        /// The port.
        port: u16,
        /// What was read last.
        value: u8,
    },
    /// It asks for a key, or looks at what its keyboard's handler notes, and no key is to come.
    Key,
    /// Nothing it looks at changes.
    Nothing,
}

/// A program that waits for what cannot come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StuckWait {
    /// The instruction it waits at.
    pub at: Far,
    /// Why that cannot end.
    pub cause: StuckCause,
}

impl fmt::Display for StuckCause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::HaltedWithInterruptsOff => write!(f, "halted with interrupts off: nothing can wake it"),
            Self::InterruptsOff => write!(f, "it goes round with interrupts off, and nothing it looks at changes"),
            Self::Masked(mask) => write!(f, "every interrupt is masked (port 21h holds {mask:02X}h)"),
            Self::NotEnded(number) => {
                write!(f, "interrupt request {number} was never ended (20h to port 20h), so no other comes")
            }
            Self::Port { port, value } => {
                write!(f, "it waits for port {port:03X}h, which never says what it waits for (read last: {value:02X}h)")
            }
            Self::Key => write!(f, "it waits for a key, and none is to come"),
            Self::Nothing => write!(f, "it goes round, and nothing it looks at changes"),
        }
    }
}

impl<T: Tap + Clone> Machine<T> {
    /// Whether the program waits for what cannot come; where, and why.
    ///
    /// Looks some frames ahead on a copy; the machine itself stays as it is.
    pub fn stuck_wait(&mut self) -> Option<StuckWait> {
        if let Some(Over::Trouble(report)) = &self.over {
            let cause = StuckCause::HaltedWithInterruptsOff;
            return (report.trouble == Trouble::Asleep).then_some(StuckWait { at: report.at, cause });
        }
        if self.over.is_some() || self.waits_for_key || self.hardware.keyboard.has_more_after(self.hardware.clocks()) {
            return None;
        }
        let recorded = self.hardware.record.take();
        let mut ahead = self.clone();
        self.hardware.record.restore(recorded);
        ahead.record(true);
        ahead.set_breakpoints(Breakpoints::default());
        ahead.deadline = super::Deadline::Never;
        Look::default().at(&mut ahead)
    }
}

/// What was seen on the way.
#[derive(Default)]
struct Look {
    places: BTreeSet<Far>,
    read: BTreeSet<u32>,
    /// A place of the loop and the registers it was passed with.
    head: Option<Far>,
    states: Vec<CpuRegisters>,
    passes: u32,
    ports: BTreeMap<u16, PortSeen>,
    /// The first instruction that looked at memory.
    looks: Option<Far>,
    asks_for_key: Option<Far>,
    ever_on: bool,
    halted: bool,
}

/// A port that was read.
#[derive(Clone, Copy)]
struct PortSeen {
    at: Far,
    value: u8,
    /// Whether it always answered the same.
    is_steady: bool,
}

impl Look {
    fn at<T: Tap>(mut self, machine: &mut Machine<T>) -> Option<StuckWait> {
        let until = machine.nanoseconds() + AHEAD;
        let before = machine.hardware.memory().to_vec();
        for _ in 0..MOST_STEPS {
            if machine.nanoseconds() >= until {
                break;
            }
            if !self.step(machine) {
                return None;
            }
        }
        let settled = machine.nanoseconds() >= until && (self.passes > 1 || self.halted);
        let now = machine.hardware.memory();
        let changed = self.read.iter().any(|at| before.get(*at as usize) != now.get(*at as usize));
        (settled && !changed && machine.recorded().is_empty()).then(|| self.stuck_wait(machine))
    }

    /// One instruction; `false` where the program is on its way after all.
    fn step<T: Tap>(&mut self, machine: &mut Machine<T>) -> bool {
        let registers = machine.processor.registers;
        let at = registers.next();
        self.halted = machine.processor.is_halted();
        self.ever_on |= registers.has(flag::INTERRUPT);
        let in_firmware = at.segment == crate::rom::SEGMENT;
        let mut input = None;
        if !self.halted && !in_firmware {
            let model = machine.processor.model();
            let fetch = |offset| machine.hardware.peek(Far::new(at.segment, offset).linear());
            let instruction = decode::decode(model, at.offset, fetch);
            self.read.extend(read_by(&instruction, &registers));
            if looks_at_memory(&instruction) {
                self.looks.get_or_insert(at);
            }
            input = port_read_by(&instruction, &registers);
            if instruction.operation == Operation::Int && matches!(instruction.immediate, 0x16 | 0x21) {
                self.asks_for_key.get_or_insert(at);
            }
            self.places.insert(at);
            // A place that has been passed before lies on the loop.
            if self.head.is_none() && self.places.len() < self.passes as usize {
                self.head = Some(at);
                self.passes = 0;
            }
            if self.head.is_none_or(|head| head == at) {
                self.passes += 1;
            }
            if self.head == Some(at) && !self.states.contains(&registers) {
                self.states.push(registers);
            }
        }
        let stop = machine.step();
        if let Some(port) = input {
            let value = machine.processor.registers.byte(crate::registers::Byte::Al);
            let seen = self.ports.entry(port).or_insert(PortSeen { at, value, is_steady: true });
            *seen = PortSeen { at, value, is_steady: seen.is_steady && seen.value == value };
        }
        let goes_on = match stop {
            None => true,
            Some(Stop::Frame(frame)) => {
                machine.recycle(*frame);
                true
            }
            Some(_) => false,
        };
        // Reads of the status port are recorded where they do something; a wait reads.
        let acted = machine.recorded().iter().any(|access| access.kind != crate::record::AccessKind::PortRead);
        if !acted {
            machine.hardware.record.take();
        }
        goes_on && !acted && self.places.len() <= MOST_PLACES && self.states.len() <= MOST_STATES
    }

    fn stuck_wait<T: Tap>(self, machine: &Machine<T>) -> StuckWait {
        let at = self.head.unwrap_or_else(|| machine.trail.last());
        let controller = &machine.hardware.controller;
        let keyboard = |(port, _): &(&u16, &PortSeen)| KEYBOARD_PORTS.contains(*port);
        let port = |steady: bool| {
            let found =
                self.ports.iter().find(|(port, seen)| seen.is_steady == steady && !KEYBOARD_PORTS.contains(*port));
            found.map(|(port, seen)| StuckWait {
                at: seen.at,
                cause: StuckCause::Port { port: *port, value: seen.value },
            })
        };
        let key = |at| StuckWait { at, cause: StuckCause::Key };
        let blocked = match (self.ever_on, controller.blocks(), controller.masks_all()) {
            (false, ..) => Some(StuckCause::InterruptsOff),
            (_, Some(number), _) => Some(StuckCause::NotEnded(number)),
            (.., Some(mask)) => Some(StuckCause::Masked(mask)),
            _ => None,
        };
        let notes_keys = machine.hardware.peek_word(KEYBOARD_VECTOR + 2) != crate::rom::SEGMENT;
        let looks_for_keys = self.looks.filter(|_| blocked.is_none() && (notes_keys || self.reads_key_ring()));
        let asks_for_key = self.asks_for_key.or_else(|| self.ports.iter().find(keyboard).map(|(_, seen)| seen.at));
        let by_key = asks_for_key.or(looks_for_keys).map(key);
        // A port that changes is what such a loop goes by, not what it waits for.
        let changing =
            || port(false).filter(|_| !matches!(blocked, Some(StuckCause::NotEnded(_) | StuckCause::Masked(_))));
        by_key
            .filter(|_| looks_for_keys.is_some() || port(true).is_none())
            .or_else(|| port(true))
            .or_else(changing)
            .unwrap_or(StuckWait { at, cause: blocked.unwrap_or(StuckCause::Nothing) })
    }

    /// Whether the loop looks at firmware's ring of keys.
    fn reads_key_ring(&self) -> bool {
        self.read.range(KEY_RING).next().is_some()
    }
}

/// Whether an instruction takes a value from memory to look at it.
fn looks_at_memory(instruction: &Instruction) -> bool {
    let compares = matches!(instruction.operation, Operation::Cmp | Operation::Test) && instruction.has_memory();
    compares || instruction.source == Operand::Memory && instruction.operation != Operation::Lea
}

/// Addresses an instruction reads, as far as it says them itself.
fn read_by(instruction: &Instruction, registers: &CpuRegisters) -> Vec<u32> {
    let word = |register| registers.word(register);
    let mut from = Vec::new();
    if instruction.has_memory() && instruction.operation != Operation::Lea {
        from.extend(instruction.memory.place(registers));
    }
    if matches!(instruction.operation, Operation::Lods | Operation::Cmps | Operation::Movs) {
        from.push(Far::new(registers.segment(instruction.memory.segment), word(Word::Si)));
    }
    if matches!(instruction.operation, Operation::Scas | Operation::Cmps) {
        from.push(Far::new(registers.segment(SegmentRegister::Es), word(Word::Di)));
    }
    let bytes = |at: Far| [0, 1].map(|more| at.plus(more).linear());
    from.into_iter().flat_map(bytes).collect()
}

/// The port an instruction reads.
fn port_read_by(instruction: &Instruction, registers: &CpuRegisters) -> Option<u16> {
    let operand = match instruction.operation {
        Operation::In => instruction.source,
        _ => return None,
    };
    match operand {
        Operand::Immediate => Some(instruction.immediate as u16 & 0xFF),
        _ => Some(registers.word(Word::Dx)),
    }
}
