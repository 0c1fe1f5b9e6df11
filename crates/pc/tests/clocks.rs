//! Instruction clocks against the published tables, form by form.

use std::collections::BTreeSet;

use backporch_pc::clocks::{self, table};
use backporch_pc::instruction::Operation;
use backporch_pc::registers::{SegmentRegister, Word, flag};
use backporch_pc::{Bus, Far, Model, Processor, StepResult};

/// Where the examples stand.
const CODE: Far = Far { segment: 0x1000, offset: 0x0100 };

/// Memory full of one-byte instructions, and a count of what the bus did.
#[derive(Default)]
struct Counting {
    code: Vec<u8>,
    clocks: u32,
    words: u32,
}

impl Bus for Counting {
    fn read(&mut self, address: u32) -> u8 {
        self.fetch(address)
    }

    fn write(&mut self, _address: u32, _value: u8) {}

    fn read_word(&mut self, address: u32) -> u16 {
        self.words += 1;
        u16::from_le_bytes([self.fetch(address), self.fetch(address + 1)])
    }

    fn write_word(&mut self, _address: u32, _value: u16) {
        self.words += 1;
    }

    fn fetch(&self, address: u32) -> u8 {
        let at = address.wrapping_sub(CODE.linear()) as usize;
        self.code.get(at).copied().unwrap_or(0x90)
    }

    fn input(&mut self, _port: u16) -> u8 {
        0
    }

    fn output(&mut self, _port: u16, _value: u8) {}

    fn input_word(&mut self, _port: u16) -> u16 {
        self.words += 1;
        0
    }

    fn output_word(&mut self, _port: u16, _value: u16) {
        self.words += 1;
    }

    fn elapse(&mut self, clocks: u32) {
        self.clocks += clocks;
    }
}

struct Example {
    code: Vec<u8>,
    p8086: Option<u32>,
    p80186: Option<u32>,
    p80286: Option<u32>,
    p80386: Option<u32>,
    text: String,
    settings: String,
}

fn examples() -> Vec<Example> {
    let lines = include_str!("clocks.txt").lines().filter(|line| !line.starts_with('#'));
    let parse = |line: &str| {
        let fields: Vec<&str> = line.split('|').map(str::trim).collect();
        Example {
            code: fields[0].split(' ').map(|byte| u8::from_str_radix(byte, 16).unwrap()).collect(),
            p8086: fields[1].parse().ok(),
            p80186: fields[2].parse().ok(),
            p80286: fields[3].parse().ok(),
            p80386: fields[4].parse().ok(),
            text: fields[5].to_string(),
            settings: fields.get(6).copied().unwrap_or("").to_string(),
        }
    };
    lines.map(parse).collect()
}

fn processor(model: Model, settings: &str) -> Processor {
    let mut processor = Processor::by_tables(model);
    let registers = &mut processor.registers;
    let words = [(Word::Ax, 1), (Word::Bx, 0x10), (Word::Cx, 4), (Word::Sp, 0x100), (Word::Bp, 0x80)];
    words.into_iter().for_each(|(register, value)| registers.set_word(register, value));
    registers.set_word(Word::Si, 0x20);
    registers.set_word(Word::Di, 0x40);
    registers.set_segment(SegmentRegister::Ss, 0x3000);
    registers.go_to(CODE);
    for setting in settings.split_whitespace() {
        let value = |text: &str| u16::from_str_radix(text, 16).unwrap();
        match setting.split_once('=') {
            Some(("cx", text)) => registers.set_word(Word::Cx, value(text)),
            Some(("ax", text)) => registers.set_word(Word::Ax, value(text)),
            Some(("si", text)) => registers.set_word(Word::Si, value(text)),
            _ if setting == "zero" => registers.put(flag::ZERO, true),
            _ if setting == "overflow" => registers.put(flag::OVERFLOW, true),
            other => panic!("{other:?}"),
        }
    }
    processor
}

/// Clocks and word transfers of an example, a jump's target counted in.
fn measure(model: Model, example: &Example) -> (u32, u32) {
    let mut processor = processor(model, &example.settings);
    let mut bus = Counting { code: example.code.clone(), ..Counting::default() };
    // A repeated string compares memory with itself, or with what is not there: four steps.
    while processor.step(&mut bus) == StepResult::Done && processor.registers.next() == CODE {}
    let words = bus.words;
    // The next instruction is a NOP of 3 clocks; a jump's clocks include its length.
    if !processor.is_halted() {
        assert_eq!(processor.step(&mut bus), StepResult::Done);
        bus.clocks -= 3;
    }
    (bus.clocks, words)
}

#[test]
fn every_example_takes_its_published_clocks() {
    for example in examples() {
        let figures = [
            (Model::P8086, example.p8086),
            (Model::P80186, example.p80186),
            (Model::P80286, example.p80286),
            (Model::P80386, example.p80386),
        ];
        for (model, published) in figures {
            match published {
                Some(clocks) => {
                    assert_eq!(measure(model, &example).0, clocks, "{} on the {}", example.text, model.name())
                }
                None => {
                    let bus = Counting { code: example.code.clone(), ..Counting::default() };
                    let operation = processor(model, "").decode(&bus, CODE).operation;
                    assert_eq!(operation, Operation::Undefined, "{} on the {}", example.text, model.name());
                }
            }
        }
    }
}

/// The 8088 pays four clocks for each word transfer, and the table says how
/// many there are.
#[test]
fn the_8088_pays_for_every_published_transfer() {
    for example in examples().iter().filter(|example| example.p8086.is_some()) {
        let (on_8088, _) = measure(Model::P8088, example);
        let (_, words) = measure(Model::P8086, example);
        let odd = example.code.windows(2).any(|pair| matches!(pair, [0x47, 1 | 3]));
        let on_8086 = example.p8086.unwrap() - if odd { 4 * words } else { 0 };
        assert_eq!(on_8088, on_8086 + 4 * words, "{}", example.text);
        let row = row_of(Model::P8086, &example.code);
        let times = match row.class {
            table::Class::RepeatedString(_) if example.settings == "cx=0" => 0,
            table::Class::RepeatedString(_) => 4,
            _ => 1,
        };
        let not_taken = example.text == "into, not taken";
        let is_byte =
            matches!(row.shape, table::Shape::MemoryByte) || example.text.contains("byte") || example.code[0] == 0xA0;
        if !not_taken && !is_byte && row.class != table::Class::Only(Operation::Xlat) {
            assert_eq!(words, u32::from(row.transfers) * times, "{}", example.text);
        }
    }
}

fn row_of(model: Model, code: &[u8]) -> &'static table::TimingRow {
    let bus = Counting { code: code.to_vec(), ..Counting::default() };
    let instruction = Processor::by_tables(model).decode(&bus, CODE);
    let opcode = code[usize::from(instruction.prefixes)];
    clocks::row(&instruction, opcode).unwrap_or_else(|| panic!("{code:02X?} has no row"))
}

#[test]
fn every_row_of_the_tables_has_an_example() {
    let position = |row: &table::TimingRow| table::ROWS.iter().position(|other| other == row).unwrap();
    let covered: BTreeSet<usize> =
        examples().iter().map(|example| position(row_of(Model::P80386, &example.code))).collect();
    let missing: Vec<_> = table::ROWS.iter().enumerate().filter(|(at, _)| !covered.contains(at)).collect();
    assert!(missing.is_empty(), "{missing:?}");
}

/// No opcode that a model executes is without its clocks.
#[test]
fn every_known_instruction_has_a_row() {
    for model in Model::ALL {
        for first in 0..=255u8 {
            for second in 0..=255u8 {
                let code = [first, second, second, 0, 0, 0];
                let bus = Counting { code: code.to_vec(), ..Counting::default() };
                let instruction = Processor::by_tables(model).decode(&bus, CODE);
                if matches!(instruction.operation, Operation::Undefined | Operation::TooLong) {
                    continue;
                }
                let opcode = code.get(usize::from(instruction.prefixes)).copied().unwrap_or(0x90);
                assert!(clocks::row(&instruction, opcode).is_some(), "{} {code:02X?} {instruction:?}", model.name());
            }
        }
    }
}
