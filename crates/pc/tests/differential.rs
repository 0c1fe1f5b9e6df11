//! The processors from the 80186 on against the reference library `unicorn`
//! (PyPI): registers, memory, ports and every flag the manuals define, for every
//! opcode and addressing form, on the random states that `differential.py` makes.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

use backporch_pc::registers::{SegmentRegister, Word};
use backporch_pc::{Bus, CpuRegisters, Far, Model, Processor, StepResult};

/// Memory as the generator fills it, and what was written over it.
#[derive(Default)]
struct Recorded {
    patched: BTreeMap<u32, u8>,
    written: BTreeMap<u32, u8>,
    ports: Vec<(u16, u16, u8)>,
}

fn fill(address: u32) -> u8 {
    (address.wrapping_mul(0x9E37_79B1) >> 13) as u8
}

fn port_byte(port: u16) -> u8 {
    port.wrapping_mul(0x35).wrapping_add(0x17) as u8
}

impl Bus for Recorded {
    fn read(&mut self, address: u32) -> u8 {
        self.fetch(address)
    }

    fn write(&mut self, address: u32, value: u8) {
        self.written.insert(address, value);
    }

    fn fetch(&self, address: u32) -> u8 {
        let changed = self.written.get(&address).or_else(|| self.patched.get(&address));
        changed.copied().unwrap_or_else(|| fill(address))
    }

    fn input(&mut self, port: u16) -> u8 {
        port_byte(port)
    }

    fn output(&mut self, port: u16, value: u8) {
        self.ports.push((port, u16::from(value), 1));
    }

    fn output_word(&mut self, port: u16, value: u16) {
        self.ports.push((port, value, 2));
    }

    fn elapse(&mut self, _clocks: u32) {}
}

/// Registers of a line: eight of them, four segments, where the next instruction lies, flags, two more segments.
const FIELDS: usize = 16;
const CODE: usize = 9;
const STACK: usize = 10;
const NEXT: usize = 12;
const FLAGS: usize = 13;

/// One line of the stream.
struct Case {
    code: Vec<u8>,
    before: [u32; FIELDS],
    patches: Vec<(u32, u32)>,
    after: [u32; FIELDS],
    mask: u16,
    memory: Vec<(u32, u32)>,
    ports: Vec<(u16, u16, u8)>,
    interrupt: Option<u8>,
}

impl Case {
    fn parse(line: &str) -> Self {
        let fields: Vec<&str> = line.split(' ').collect();
        let hex = |text: &str| u32::from_str_radix(text, 16).unwrap();
        let words = |text: &str| {
            let words: Vec<u32> = text.split('.').map(hex).collect();
            <[u32; FIELDS]>::try_from(words).unwrap()
        };
        let listed = |text: &str| -> Vec<(u32, String)> {
            let items = text.split(',').filter(|item| *item != "-");
            items.map(|item| item.split_once('=').map(|(key, value)| (hex(key), value.to_string())).unwrap()).collect()
        };
        let bytes = |text: &str| listed(text).into_iter().map(|(key, value)| (key, hex(&value))).collect();
        // Double words go to ports in halves.
        let port = |(port, text): (u32, String)| {
            let (value, size) = text.split_once('/').unwrap();
            let (port, value, size) = (port as u16, hex(value), hex(size) as u8);
            match size {
                4 => vec![(port, value as u16, 2), (port.wrapping_add(2), (value >> 16) as u16, 2)],
                _ => vec![(port, value as u16, size)],
            }
        };
        Self {
            code: (0..fields[0].len()).step_by(2).map(|at| hex(&fields[0][at..at + 2]) as u8).collect(),
            before: words(fields[1]),
            patches: bytes(fields[2]),
            after: words(fields[3]),
            mask: hex(fields[4]) as u16,
            memory: bytes(fields[5]),
            ports: listed(fields[6]).into_iter().flat_map(port).collect(),
            interrupt: (fields[7] != "-").then(|| hex(fields[7]) as u8),
        }
    }

    /// Runs it; what differs, in words.
    fn check(&self, model: Model) -> Result<(), String> {
        let start = Far::new(self.before[CODE] as u16, self.before[NEXT] as u16);
        let mut bus = Recorded::default();
        for (address, byte) in &self.patches {
            bus.patched.insert(*address, *byte as u8);
        }
        for (at, byte) in self.code.iter().enumerate() {
            bus.patched.insert(start.linear() + at as u32, *byte);
        }
        let mut processor = Processor::by_tables(model);
        processor.registers = load(&self.before);
        let end = start.offset + self.code.len() as u16;
        for _ in 0..16 {
            let step = processor.step(&mut bus);
            let repeats = processor.registers.next() == start && is_repeated(&self.code);
            if step != StepResult::Done || !repeats || processor.registers.ip == end {
                break;
            }
        }
        match self.interrupt {
            Some(number) => self.check_interrupt(number, &processor, &bus),
            None => self.check_state(&processor.registers, &bus),
        }
    }

    /// `unicorn` leaves interrupts to its caller: that the right handler was
    /// entered can be known, and where it would come back to.
    fn check_interrupt(&self, number: u8, processor: &Processor, bus: &Recorded) -> Result<(), String> {
        let word = |address: u32| u16::from_le_bytes([fill(address), fill(address + 1)]);
        let entry = u32::from(number) * 4;
        let handler = Far::new(word(entry + 2), word(entry));
        let back = Far::new(self.before[STACK] as u16, processor.registers.word(Word::Sp)).linear();
        let back = u32::from(u16::from_le_bytes([bus.fetch(back), bus.fetch(back + 1)]));
        let found = (processor.registers.next(), back);
        let wanted = (handler, self.after[NEXT]);
        (found == wanted)
            .then_some(())
            .ok_or(format!("interrupt {number:02X}h: found {found:04X?}, wanted {wanted:04X?}"))
    }

    fn check_state(&self, registers: &CpuRegisters, bus: &Recorded) -> Result<(), String> {
        let found = store(registers);
        let without_flags = |mut words: [u32; FIELDS]| {
            words[FLAGS] = 0;
            words
        };
        let (here, there) = (without_flags(found), without_flags(self.after));
        if here != there {
            return Err(format!("registers: found {here:04X?}, wanted {there:04X?}"));
        }
        let (flags, wanted) = (found[FLAGS] as u16 & self.mask, self.after[FLAGS] as u16 & self.mask);
        if flags != wanted {
            return Err(format!("flags: found {flags:04X}, wanted {wanted:04X}"));
        }
        let wanted: BTreeMap<u32, u8> = self.memory.iter().map(|(address, byte)| (*address, *byte as u8)).collect();
        let touched: BTreeSet<u32> = wanted.keys().chain(bus.written.keys()).copied().collect();
        for address in touched {
            let before = bus.patched.get(&address).copied().unwrap_or_else(|| fill(address));
            let (found, wanted) = (bus.fetch(address), wanted.get(&address).copied().unwrap_or(before));
            if found != wanted {
                return Err(format!("memory {address:05X}: found {found:02X}, wanted {wanted:02X}"));
            }
        }
        if bus.ports != self.ports {
            return Err(format!("ports: found {:04X?}, wanted {:04X?}", bus.ports, self.ports));
        }
        Ok(())
    }
}

fn is_repeated(code: &[u8]) -> bool {
    let (opcode, prefixes) = code.split_last().expect("an instruction");
    matches!(opcode, 0x6C..=0x6F | 0xA4..=0xA7 | 0xAA..=0xAF) && prefixes.iter().any(|byte| matches!(byte, 0xF2 | 0xF3))
}

fn load(words: &[u32; FIELDS]) -> CpuRegisters {
    let mut registers = CpuRegisters::default();
    for (number, value) in (0..).zip(&words[..8]) {
        registers.set_double(Word::numbered(number), *value);
    }
    for (number, value) in (0..).zip(words[8..NEXT].iter().chain(&words[FLAGS + 1..])) {
        registers.set_segment(SegmentRegister::numbered(number), *value as u16);
    }
    registers.ip = words[NEXT] as u16;
    registers.set_all_flags(words[FLAGS] as u16);
    registers
}

fn store(registers: &CpuRegisters) -> [u32; FIELDS] {
    std::array::from_fn(|index| match index {
        0..8 => registers.double(Word::numbered(index as u8)),
        8..NEXT => u32::from(registers.segment(SegmentRegister::numbered(index as u8 - 8))),
        NEXT => u32::from(registers.ip),
        FLAGS => u32::from(registers.flags()),
        _ => u32::from(registers.segment(SegmentRegister::numbered(index as u8 - 10))),
    })
}

/// The Python that has `unicorn`: the one `tests/run` sets up, or the system's.
fn python() -> Option<String> {
    let named = std::env::var("BACKPORCH_PYTHON").ok();
    let candidates = named.into_iter().chain(["python3".to_string()]);
    let has = |python: &String| {
        let tried = Command::new(python).args(["-c", "import unicorn"]).stderr(Stdio::null()).status();
        tried.is_ok_and(|status| status.success())
    };
    candidates.into_iter().find(has)
}

fn generator(python: &str, model: Model) -> Child {
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/differential.py");
    let rounds = std::env::var("BACKPORCH_ROUNDS").unwrap_or_else(|_| "1".to_string());
    // An 80186 does what the 80286's stream asks, but for what `sets_apart` names.
    let stream = if model == Model::P80386 { model } else { Model::P80286 };
    Command::new(python).arg(script).arg(stream.name()).arg(rounds).stdout(Stdio::piped()).spawn().unwrap()
}

/// Whether a case of the 80286's stream shows what sets it apart from the 80186: what PUSH SP pushes, the flags' upper bits
/// on the stack, where a failed division comes back to, and a carry of AAA and AAS (iAPX 286 Programmer's Reference,
/// differences from the 8086). `tests/processor.rs` holds these.
fn sets_apart(case: &Case) -> bool {
    let pushes_sp = case.code[0] == 0x54 || case.code.ends_with(&[0xFF, 0xF4]);
    pushes_sp || case.code[0] == 0x9C || case.interrupt == Some(0)
}

fn check_all(model: Model, least: usize) {
    let Some(python) = python() else {
        backporch_test_tools::missing("a Python with the package unicorn");
        return;
    };
    let mut child = generator(&python, model);
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let (mut cases, mut failures) = (0, BTreeMap::<Vec<u8>, (usize, String)>::new());
    for line in lines {
        let line = line.unwrap();
        let case = Case::parse(&line);
        if model == Model::P80186 && sets_apart(&case) {
            continue;
        }
        cases += 1;
        if let Err(difference) = case.check(model) {
            let is_prefix = |byte: &u8| matches!(byte, 0x26 | 0x2E | 0x36 | 0x3E | 0x64..=0x67);
            let opcode: Vec<u8> = case.code.iter().copied().skip_while(is_prefix).take(2).collect();
            let shown = if opcode[0] == 0x0F { 2 } else { 1 };
            failures.entry(opcode[..shown].to_vec()).or_insert((0, format!("{line}\n  {difference}"))).0 += 1;
        }
    }
    assert!(child.wait().unwrap().success(), "the generator failed");
    for (opcode, (count, example)) in &failures {
        println!("{opcode:02X?}: {count} differ, for example {example}");
    }
    assert!(failures.is_empty(), "{} opcodes differ on the {}", failures.len(), model.name());
    assert!(cases > least, "the stream was short: {cases} cases");
    println!("{cases} cases equal on the {}", model.name());
}

#[test]
fn every_instruction_of_the_80186_does_what_the_reference_library_does() {
    check_all(Model::P80186, 30_000);
}

#[test]
fn every_instruction_of_the_80286_does_what_the_reference_library_does() {
    check_all(Model::P80286, 30_000);
}

#[test]
fn every_instruction_of_the_80386_does_what_the_reference_library_does() {
    check_all(Model::P80386, 7_000);
}
