//! Our processor on a captured instruction.

use std::collections::BTreeMap;

use backporch_pc::registers::{SegmentRegister, Word};
use backporch_pc::{Bus, BusCycle, CpuRegisters, CycleKind, Model, Processor, StepResult};

use super::capture::{Capture, Seen};

/// Memory of one capture, and the cycles our bus unit made.
#[derive(Default)]
struct Memory {
    bytes: BTreeMap<u32, u8>,
    cycles: Vec<(u64, Seen)>,
}

impl Bus for Memory {
    fn read(&mut self, address: u32) -> u8 {
        self.fetch(address)
    }

    fn write(&mut self, address: u32, value: u8) {
        self.bytes.insert(address, value);
    }

    fn fetch(&self, address: u32) -> u8 {
        self.bytes.get(&address).copied().unwrap_or(0x90)
    }

    fn input(&mut self, _port: u16) -> u8 {
        0xFF
    }

    fn output(&mut self, _port: u16, _value: u8) {}

    fn elapse(&mut self, _clocks: u32) {}

    fn cycle(&mut self, cycle: BusCycle) -> u32 {
        let kind = match cycle.kind {
            CycleKind::Fetch => 'C',
            CycleKind::Read => 'R',
            CycleKind::Write => 'W',
            CycleKind::Input => 'I',
            CycleKind::Output => 'O',
        };
        self.cycles.push((cycle.start, Seen { kind, address: cycle.address }));
        0
    }
}

/// Memory before, as it lies with address line 20 held low.
fn memory(capture: &Capture) -> BTreeMap<u32, u8> {
    capture.initial.ram.iter().map(|(address, byte)| (address & 0xF_FFFF, *byte)).collect()
}

/// What ours made of it.
pub struct Outcome {
    pub clocks: u64,
    pub cycles: Vec<(u64, Seen)>,
    /// The first difference in registers, defined flags or memory.
    pub difference: Option<String>,
}

const NAMES: [&str; 8] = ["ax", "cx", "dx", "bx", "sp", "bp", "si", "di"];
const SEGMENTS: [&str; 4] = ["es", "cs", "ss", "ds"];

fn load(values: &BTreeMap<String, u16>) -> CpuRegisters {
    let mut registers = CpuRegisters::default();
    for (number, name) in (0..).zip(NAMES) {
        registers.set_word(Word::numbered(number), values[name]);
    }
    for (number, name) in (0..).zip(SEGMENTS) {
        registers.set_segment(SegmentRegister::numbered(number), values[name]);
    }
    registers.ip = values["ip"];
    registers.set_flags(values["flags"]);
    registers
}

fn difference(capture: &Capture, registers: &CpuRegisters, memory: &Memory, flags_mask: u16) -> Option<String> {
    let mut wanted = capture.initial.regs.clone();
    wanted.extend(capture.after.regs.clone());
    let wanted_registers = load(&wanted);
    for (number, name) in (0..).zip(NAMES) {
        let (found, wanted) = (registers.word(Word::numbered(number)), wanted_registers.word(Word::numbered(number)));
        if found != wanted {
            return Some(format!("{name}: found {found:04X}, wanted {wanted:04X}"));
        }
    }
    for (number, name) in (0..).zip(SEGMENTS) {
        let (found, wanted) = (
            registers.segment(SegmentRegister::numbered(number)),
            wanted_registers.segment(SegmentRegister::numbered(number)),
        );
        if found != wanted {
            return Some(format!("{name}: found {found:04X}, wanted {wanted:04X}"));
        }
    }
    if registers.ip != wanted_registers.ip {
        return Some(format!("ip: found {:04X}, wanted {:04X}", registers.ip, wanted_registers.ip));
    }
    let (found, wanted) = (registers.flags() & flags_mask, wanted_registers.flags() & flags_mask);
    if found != wanted {
        return Some(format!("flags: found {found:04X}, wanted {wanted:04X}"));
    }
    // Flags an interrupt pushed are as undefined as the flags themselves.
    let flags_at = (registers.segment(SegmentRegister::Ss), registers.word(Word::Sp).wrapping_add(4));
    let pushed = [0, 1].map(|more| backporch_pc::Far::new(flags_at.0, flags_at.1.wrapping_add(more)).linear());
    let interrupted = capture.after.regs.contains_key("cs");
    for (address, wanted) in &capture.after.ram {
        let address = &(address & 0xF_FFFF);
        let mask = match pushed.iter().position(|at| at == address).filter(|_| interrupted) {
            Some(half) => flags_mask.to_le_bytes()[half],
            None => 0xFF,
        };
        let found = memory.fetch(*address);
        if found & mask != wanted & mask {
            return Some(format!("memory {address:05X}: found {found:02X}, wanted {wanted:02X}"));
        }
    }
    None
}

/// Executes it on an 8086 whose queue is as captured.
pub fn run_8086(capture: &Capture, flags_mask: u16) -> Option<Outcome> {
    let mut memory = Memory { bytes: memory(capture), ..Memory::default() };
    let mut processor = Processor::new(Model::P8086);
    processor.registers = load(&capture.initial.regs);
    processor.start_at(1000, capture.initial.queue.len() as u8);
    let start = processor.clock();
    let before = processor.registers.next();
    loop {
        match processor.step(&mut memory) {
            StepResult::Done => {}
            _ => return None,
        }
        if processor.registers.next() != before || !processor.is_repeating() {
            break;
        }
    }
    let registers = processor.registers;
    let outcome = difference(capture, &registers, &memory, flags_mask);
    // The next instruction is a NOP of three clocks, its first byte the end of this one.
    let mut after = Memory { bytes: memory.bytes.clone(), cycles: memory.cycles };
    after.bytes.insert(registers.next().linear(), 0x90);
    processor.memory_changed([registers.next().linear()]);
    processor.step(&mut after);
    let clocks = processor.clock() - start - 3;
    let cycles = after.cycles.into_iter().map(|(clock, seen)| (clock - start, seen));
    // The clock of a capture's first row is the one after the first byte was taken.
    let cycles = cycles.filter(|(clock, _)| *clock <= clocks).map(|(clock, seen)| (clock - 1, seen)).collect();
    Some(Outcome { clocks, cycles, difference: outcome })
}

/// Executes it on an 80286 that has just jumped there, and the HLT behind it.
pub fn run_80286(capture: &Capture, flags_mask: u16) -> Option<Outcome> {
    let mut memory = Memory { bytes: memory(capture), ..Memory::default() };
    let mut processor = Processor::new(Model::P80286);
    processor.registers = load(&capture.initial.regs);
    processor.start_at(1000, 0);
    let start = processor.clock();
    let mut steps = 0;
    while !processor.is_halted() {
        match processor.step(&mut memory) {
            StepResult::Done if steps < 10_000 => steps += 1,
            _ => return None,
        }
    }
    let difference = difference(capture, &processor.registers, &memory, flags_mask);
    // The last row is the halt's own bus cycle, two clocks after the instruction's end.
    Some(Outcome { clocks: processor.clock() - start + 2, cycles: memory.cycles, difference })
}
