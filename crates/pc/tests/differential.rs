//! The processor against the reference library `unicorn` (PyPI): registers,
//! memory, ports and every flag the manuals define, for every opcode and
//! addressing form, on the random states that `differential.py` makes.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

use backporch_pc::registers::{Segment, Word};
use backporch_pc::{Bus, Far, Model, Processor, Registers, Step};

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

/// One line of the stream.
struct Case {
    code: Vec<u8>,
    before: [u16; 14],
    patches: Vec<(u32, u32)>,
    after: [u16; 14],
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
            let words: Vec<u16> = text.split('.').map(|word| hex(word) as u16).collect();
            <[u16; 14]>::try_from(words).unwrap()
        };
        let listed = |text: &str| -> Vec<(u32, String)> {
            let items = text.split(',').filter(|item| *item != "-");
            items.map(|item| item.split_once('=').map(|(key, value)| (hex(key), value.to_string())).unwrap()).collect()
        };
        let bytes = |text: &str| listed(text).into_iter().map(|(key, value)| (key, hex(&value))).collect();
        let port = |(port, text): (u32, String)| {
            let (value, size) = text.split_once('/').unwrap();
            (port as u16, hex(value) as u16, hex(size) as u8)
        };
        Self {
            code: (0..fields[0].len()).step_by(2).map(|at| hex(&fields[0][at..at + 2]) as u8).collect(),
            before: words(fields[1]),
            patches: bytes(fields[2]),
            after: words(fields[3]),
            mask: hex(fields[4]) as u16,
            memory: bytes(fields[5]),
            ports: listed(fields[6]).into_iter().map(port).collect(),
            interrupt: (fields[7] != "-").then(|| hex(fields[7]) as u8),
        }
    }

    /// Runs it; what differs, in words.
    fn check(&self) -> Result<(), String> {
        let start = Far::new(self.before[9], self.before[12]);
        let mut bus = Recorded::default();
        for (address, byte) in &self.patches {
            bus.patched.insert(*address, *byte as u8);
        }
        for (at, byte) in self.code.iter().enumerate() {
            bus.patched.insert(start.linear() + at as u32, *byte);
        }
        let mut processor = Processor::by_tables(Model::P80286);
        processor.registers = load(&self.before);
        let end = self.before[12] + self.code.len() as u16;
        for _ in 0..16 {
            let step = processor.step(&mut bus);
            let repeats = processor.registers.next() == start && is_repeated(&self.code);
            if step != Step::Done || !repeats || processor.registers.ip == end {
                break;
            }
        }
        match self.interrupt {
            Some(number) => self.check_interrupt(number, &processor, &bus),
            None => self.check_state(&processor.registers, &bus),
        }
    }

    /// `unicorn` leaves interrupts to its caller: that the right handler was
    /// entered can be told, and where it would come back to.
    fn check_interrupt(&self, number: u8, processor: &Processor, bus: &Recorded) -> Result<(), String> {
        let word = |address: u32| u16::from_le_bytes([fill(address), fill(address + 1)]);
        let entry = u32::from(number) * 4;
        let handler = Far::new(word(entry + 2), word(entry));
        let back = Far::new(self.before[10], processor.registers.word(Word::Sp)).linear();
        let back = u16::from_le_bytes([bus.fetch(back), bus.fetch(back + 1)]);
        let found = (processor.registers.next(), back);
        let wanted = (handler, self.after[12]);
        (found == wanted)
            .then_some(())
            .ok_or(format!("interrupt {number:02X}h: found {found:04X?}, wanted {wanted:04X?}"))
    }

    fn check_state(&self, registers: &Registers, bus: &Recorded) -> Result<(), String> {
        let found = store(registers);
        if found[..13] != self.after[..13] {
            return Err(format!("registers: found {:04X?}, wanted {:04X?}", &found[..13], &self.after[..13]));
        }
        let (flags, wanted) = (found[13] & self.mask, self.after[13] & self.mask);
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
    code.iter().any(|byte| matches!(byte, 0xF2 | 0xF3)) && code.len() <= 3
}

fn load(words: &[u16; 14]) -> Registers {
    let mut registers = Registers::default();
    for number in 0..8u8 {
        registers.set_word(Word::numbered(number), words[usize::from(number)]);
    }
    for number in 0..4u8 {
        registers.set_segment(Segment::numbered(number), words[8 + usize::from(number)]);
    }
    registers.ip = words[12];
    registers.set_flags(words[13]);
    registers
}

fn store(registers: &Registers) -> [u16; 14] {
    std::array::from_fn(|index| match index {
        0..8 => registers.word(Word::numbered(index as u8)),
        8..12 => registers.segment(Segment::numbered(index as u8)),
        12 => registers.ip,
        _ => registers.flags(),
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

fn generator(python: &str) -> Child {
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/differential.py");
    let rounds = std::env::var("BACKPORCH_ROUNDS").unwrap_or_else(|_| "1".to_string());
    Command::new(python).arg(script).arg(rounds).stdout(Stdio::piped()).spawn().unwrap()
}

#[test]
fn every_instruction_does_what_the_reference_library_does() {
    let Some(python) = python() else {
        backporch_test_tools::missing("a Python with the package unicorn");
        return;
    };
    let mut child = generator(&python);
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let (mut cases, mut failures) = (0, BTreeMap::<Vec<u8>, (usize, String)>::new());
    for line in lines {
        let line = line.unwrap();
        let case = Case::parse(&line);
        cases += 1;
        if let Err(difference) = case.check() {
            let opcode = case.code.iter().copied().filter(|byte| !matches!(byte, 0x26 | 0x2E | 0x36 | 0x3E)).take(1);
            failures.entry(opcode.collect()).or_insert((0, format!("{line}\n  {difference}"))).0 += 1;
        }
    }
    assert!(child.wait().unwrap().success(), "the generator failed");
    for (opcode, (count, example)) in &failures {
        println!("{opcode:02X?}: {count} differ, for example {example}");
    }
    assert!(failures.is_empty(), "{} opcodes differ", failures.len());
    assert!(cases > 30_000, "the stream was short: {cases} cases");
    println!("{cases} cases equal");
}
