//! Emitted tables and programs against compilers, assemblers, disassemblers and boards.

mod listing;

use std::path::Path;
use std::process::{Command, Output};
use std::sync::Arc;

use backporch_adapter::{Adapter, Registers};
use backporch_emit::{Code, ProgramError, SteppedStarts, TestProgram, WriteTable};
use backporch_raster::{Board, Frame, Plain, View};
use iced_x86::{CpuidFeature, Decoder, DecoderOptions, Formatter, NasmFormatter};

const BOARDS: [(&str, &str); 3] =
    [("linear-256", "320x200x256"), ("colour-graphics", "320x200x4"), ("colour-graphics", "640x200x2")];

/// The adapter, and registers as a workaround would change them.
fn changed(board: &str, mode: &str) -> (Arc<Adapter>, Registers) {
    let adapter = Adapter::built_in(board).unwrap();
    let mut registers = adapter.start_up(adapter.mode(mode).unwrap());
    let narrow = if board == "linear-256" { 31 } else { 32 };
    for (name, value) in [("displayed", narrow), ("sync_position", 38), ("start_address", 0x123)] {
        adapter.set(&mut registers, adapter.field(name).unwrap(), value).unwrap();
    }
    (adapter, registers)
}

fn table(board: &str, mode: &str) -> WriteTable {
    let (adapter, registers) = changed(board, mode);
    WriteTable::new(&adapter, adapter.mode(mode).unwrap(), &registers)
}

fn program(board: &str, mode: &str) -> (Code, Vec<u8>) {
    let (adapter, registers) = changed(board, mode);
    let mode = adapter.mode(mode).unwrap();
    let sweep = SteppedStarts { from: 0x123, stride: 3, count: 5 };
    let program = TestProgram { adapter: &adapter, mode, registers: &registers, sweep };
    (program.assemble().unwrap(), program.memory().unwrap())
}

/// Runs a tool in a folder; `None` where it is not installed.
fn run(program: &str, arguments: &[&str], folder: &Path) -> Option<Output> {
    backporch_test_tools::output(Command::new(program).args(arguments).current_dir(folder))
}

fn passed(output: &Output) {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

fn noise() -> Vec<u8> {
    (0..65536u32).map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8).collect()
}

fn settled(board: &mut Board<Plain>, frames: u32) -> Frame {
    for _ in 0..frames {
        board.run_frame();
    }
    board.run_frame()
}

/// The frame a board shows that had these port writes at these dots.
fn fed(board: &str, mode: &str, writes: &[(u64, u16, u8)]) -> Frame {
    let adapter = Adapter::built_in(board).unwrap();
    let registers = adapter.start_up(adapter.mode(mode).unwrap());
    let mut board = Board::plain(adapter, registers);
    board.load(&noise());
    for (dot, port, value) in writes {
        board.run_to(*dot);
        board.write_port(*port, *value);
    }
    settled(&mut board, 3)
}

/// Every form fed back as port writes gives the frame of the registers it was made from.
#[test]
fn tables_fed_back_give_the_identical_frame() {
    for (board, mode) in BOARDS {
        let (adapter, registers) = changed(board, mode);
        let mut direct = Board::plain(adapter, registers);
        direct.load(&noise());
        let wanted = settled(&mut direct, 3);
        let table = table(board, mode);
        for (form, writes) in [
            ("trace", read_trace(&table.to_trace())),
            ("CSV", read_csv(&table.to_csv())),
            ("C", read_c(&table.to_c("table"))),
        ] {
            let got = fed(board, mode, &writes);
            assert_eq!(got.picture(View::Raster), wanted.picture(View::Raster), "{board} {mode} {form}");
            assert_eq!(got.spans, wanted.spans, "{board} {mode} {form}");
        }
    }
}

fn read_trace(text: &str) -> Vec<(u64, u16, u8)> {
    let row = |line: &str| {
        let fields: Vec<&str> = line.split(',').collect();
        assert_eq!(fields[1], "port");
        (fields[0].parse().unwrap(), fields[2].parse().unwrap(), fields[3].parse().unwrap())
    };
    let mut lines = text.lines();
    assert_eq!(lines.next(), Some("dot,kind,address,value"));
    lines.map(row).collect()
}

fn read_csv(text: &str) -> Vec<(u64, u16, u8)> {
    let row = |line: &str| {
        let mut fields = line.split(',').skip(1);
        (0, fields.next().unwrap().parse().unwrap(), fields.next().unwrap().parse().unwrap())
    };
    text.lines().skip(1).map(row).collect()
}

fn read_c(text: &str) -> Vec<(u64, u16, u8)> {
    let row = |line: &str| {
        let numbers = line.trim().strip_prefix("{ 0x")?;
        let (port, rest) = numbers.split_once(", 0x")?;
        let (value, _) = rest.split_once(',')?;
        Some((0, u16::from_str_radix(port, 16).unwrap(), u8::from_str_radix(value, 16).unwrap()))
    };
    text.lines().filter_map(row).collect()
}

/// Horizontal writes fall into retrace, the start address into the active area.
#[test]
fn traces_keep_to_their_moments() {
    for (board, mode) in BOARDS {
        let adapter = Adapter::built_in(board).unwrap();
        let registers = adapter.start_up(adapter.mode(mode).unwrap());
        let mut beam = Board::plain(Arc::clone(&adapter), registers);
        let mut selected = 0;
        for (dot, port, value) in table(board, mode).timed() {
            beam.run_to(*dot);
            match port {
                0x3D4 => selected = *value,
                0x3D5 if selected < 4 => assert!(beam.beam().vertical_sync, "{board} register {selected}"),
                0x3D5 if selected == 0x0C || selected == 0x0D => {
                    assert!(beam.beam().scan_line > 1 && !beam.beam().vertical_sync, "{board} register {selected}");
                }
                _ => {}
            }
            beam.write_port(*port, *value);
        }
    }
}

#[test]
fn the_caution_stands_with_every_change_of_sync() {
    let moved = table("linear-256", "320x200x256");
    for text in [moved.to_c("t"), moved.to_assembly("t")] {
        assert!(text.contains("switch off at once"));
    }
    let adapter = Adapter::built_in("linear-256").unwrap();
    let mode = adapter.default_mode();
    assert_eq!(WriteTable::new(&adapter, mode, &adapter.start_up(mode)).caution(), None);
}

#[test]
fn the_header_compiles() {
    let folder = tempfile::tempdir().unwrap();
    for (board, mode) in BOARDS {
        let table = table(board, mode);
        std::fs::write(folder.path().join("table.h"), table.to_c("scroll table")).unwrap();
        let count = table.transition().ports().count();
        let program = format!(
            "#include \"table.h\"\nint main(void) {{ return scroll_table_length == {count} && scroll_table[0].port ? 0 : 1; }}\n"
        );
        std::fs::write(folder.path().join("main.c"), program).unwrap();
        let flags = ["-std=c89", "-pedantic", "-Wall", "-Wextra", "-Werror", "main.c", "-o", "main"];
        let Some(compiled) = run("gcc", &flags, folder.path()) else {
            return;
        };
        passed(&compiled);
        passed(&run("./main", &[], folder.path()).unwrap());
    }
}

#[test]
fn the_include_assembles() {
    let folder = tempfile::tempdir().unwrap();
    for (board, mode) in BOARDS {
        let table = table(board, mode);
        std::fs::write(folder.path().join("table.inc"), table.to_assembly("scroll table")).unwrap();
        std::fs::write(folder.path().join("main.asm"), "bits 16\n%include \"table.inc\"\ndw scroll_table_length\n")
            .unwrap();
        let Some(assembled) = run("nasm", &["-f", "bin", "-Werror", "main.asm", "-o", "main.bin"], folder.path())
        else {
            return;
        };
        passed(&assembled);
        let bytes = std::fs::read(folder.path().join("main.bin")).unwrap();
        let (entries, length) = bytes.split_at(bytes.len() - 2);
        let writes: Vec<(u16, u8)> = table.transition().ports().collect();
        assert_eq!(usize::from(u16::from_le_bytes([length[0], length[1]])), writes.len());
        let read: Vec<(u16, u8)> =
            entries.chunks(4).map(|entry| (u16::from_le_bytes([entry[0], entry[1]]), entry[2])).collect();
        assert_eq!(read, writes);
    }
}

/// Address, bytes and text of the instructions in a listing.
fn listed(listing: &str, code_len: usize) -> Vec<(usize, String, String)> {
    let row = |line: &str| {
        let (address, rest) = line.split_once("  ")?;
        let address = usize::from_str_radix(address, 16).ok()?;
        let (bytes, text) = rest.split_once("  ")?;
        (address < 0x100 + code_len).then(|| (address, bytes.trim().to_string(), text.trim().to_string()))
    };
    listing.lines().filter_map(row).collect()
}

#[test]
fn programs_disassemble_to_their_listing() {
    let folder = tempfile::tempdir().unwrap();
    for (board, mode) in BOARDS {
        let (code, _) = program(board, mode);
        let listed = listed(code.listing(), code.code_len());
        let instructions = &code.bytes()[..code.code_len()];

        let mut formatter = NasmFormatter::new();
        let mut position = 0;
        for instruction in Decoder::with_ip(16, instructions, 0x100, DecoderOptions::NONE) {
            let mut text = String::new();
            formatter.format(&instruction, &mut text);
            let end = position + instruction.len();
            let bytes: String = instructions[position..end].iter().map(|byte| format!("{byte:02X}")).collect();
            let at = listed.iter().find(|(address, ..)| *address == 0x100 + position);
            assert_eq!(at, Some(&(0x100 + position, bytes, text)), "{board} {mode}");
            // The boards of the time stood in machines with the first of its line.
            let features = instruction.cpuid_features();
            assert!(features.iter().all(|feature| *feature == CpuidFeature::INTEL8086), "{instruction}");
            position = end;
        }
        assert_eq!(position, code.code_len());

        // A disassembler of another make finds the same bytes at the same addresses.
        std::fs::write(folder.path().join("code.bin"), instructions).unwrap();
        let Some(output) = run("ndisasm", &["-b", "16", "-o", "0x100", "code.bin"], folder.path()) else {
            return;
        };
        let found: Vec<(usize, String, String)> = String::from_utf8(output.stdout)
            .unwrap()
            .lines()
            .map(|line| {
                let mut words = line.split_whitespace();
                let address = usize::from_str_radix(words.next().unwrap(), 16).unwrap();
                let bytes = words.next().unwrap().to_string();
                (address, bytes, words.next().unwrap().to_string())
            })
            .collect();
        let mnemonic = |text: &str| text.split_whitespace().next().unwrap_or("").to_string();
        let stated: Vec<(usize, String, String)> =
            listed.iter().map(|(address, bytes, text)| (*address, bytes.clone(), mnemonic(text))).collect();
        let alike = |text: &str| match text {
            "jz" => "je".to_string(),
            "jnz" => "jne".to_string(),
            "jc" => "jb".to_string(),
            other => other.to_string(),
        };
        let found: Vec<_> = found.into_iter().map(|(at, bytes, text)| (at, bytes, alike(&text))).collect();
        assert_eq!(found, stated, "{board} {mode}");
    }
}

/// The whole file is in the listing, data too.
#[test]
fn listings_hold_every_byte() {
    for (board, mode) in BOARDS {
        let (code, _) = program(board, mode);
        assert_eq!(listing::bytes_of(code.listing()), code.bytes());
    }
}

/// What the program does on a processor of another make: the picture it lays,
/// the ports it writes, the steps it takes, the text mode it restores.
#[test]
fn programs_do_what_they_say() {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/run_program.py");
    let folder = tempfile::tempdir().unwrap();
    for (board, mode) in BOARDS {
        let (code, memory) = program(board, mode);
        let adapter = Adapter::built_in(board).unwrap();
        std::fs::write(folder.path().join("test.com"), code.bytes()).unwrap();
        let python = std::env::var("BACKPORCH_PYTHON").unwrap_or_else(|_| "python3".to_string());
        let window = format!("{}", adapter.memory().window);
        let arguments = [script.to_str().unwrap(), "test.com", &window, "memory.bin"];
        let Some(output) = run(&python, &arguments, folder.path()) else {
            return;
        };
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        if let Some(tool) = text.strip_prefix("missing: ") {
            backporch_test_tools::missing(tool.trim());
            return;
        }
        passed(&output);
        let stated = |what: &str| -> Vec<u32> {
            let line = text.lines().find_map(|line| line.strip_prefix(what)).unwrap_or_default();
            line.split_whitespace().map(|number| number.parse().unwrap()).collect()
        };
        let number = if board == "linear-256" {
            0x13
        } else if mode == "320x200x4" {
            4
        } else {
            6
        };
        assert_eq!(stated("modes:"), [number, 3], "{board} {mode}");

        // Keys: on, on, back, back, back, on, escape.
        let writes: Vec<(u16, u8)> = stated("ports:").chunks(2).map(|pair| (pair[0] as u16, pair[1] as u8)).collect();
        let table = table(board, mode);
        let programmed = table.transition().ports().count();
        assert!(writes[..programmed].iter().copied().eq(table.transition().ports()), "{board} {mode}");
        let starts: Vec<u32> =
            writes[programmed..].chunks(4).map(|pair| u32::from(pair[1].1) << 8 | u32::from(pair[3].1)).collect();
        let at = |step: u32| 0x123 + step * 3;
        assert_eq!(starts, [0, 1, 2, 1, 0, 4, 0].map(at), "{board} {mode}");
        // Saved and put back, nothing is left of the numbers but the last.
        let left = std::fs::read(folder.path().join("memory.bin")).unwrap();
        let differing = left.iter().zip(&memory).filter(|(one, other)| one != other).count();
        let glyph_bytes = if board == "linear-256" { 8 } else { 2 };
        assert!(differing > 0 && differing <= 5 * 8 * glyph_bytes, "{board} {mode}: {differing}");
    }
}

#[test]
fn what_cannot_be_driven_is_refused() {
    let adapter = Adapter::built_in("colour-graphics").unwrap();
    let refused = |mode: &str, count| {
        let mode = adapter.mode(mode).unwrap();
        let registers = adapter.start_up(mode);
        let sweep = SteppedStarts { from: 0, stride: 1, count };
        TestProgram { adapter: &adapter, mode, registers: &registers, sweep }.assemble().err()
    };
    assert!(matches!(refused("text-80", 1), Some(ProgramError::Pixels(_))));
    assert!(matches!(refused("320x200x4", 0), Some(ProgramError::Sweep { .. })));
    assert_eq!(refused("320x200x4", 1), None);
}
