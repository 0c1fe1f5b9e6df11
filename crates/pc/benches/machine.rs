//! How many times its own speed an 8 MHz machine with the 64 KiB 256-colour board runs, beside the decoder alone: with an
//! 8086, an 80286 and an 80386.

use std::hint::black_box;
use std::path::Path;
use std::process::Command;

use backporch_adapter::Adapter;
use backporch_bench_timing::Table;
use backporch_pc::{Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop};
use backporch_raster::Board;
use iced_x86::{Decoder, DecoderOptions, Instruction};

/// Frames of a timing.
const FRAMES: u64 = 20;

/// A loop of everyday instructions on registers and system memory, none on the board:
/// mov ax,[bx]; add ax,dx; xor dx,ax; mov [bx+2],ax; inc bx; and bx,0FFEh; or bh,20h; shl dx,1; adc cx,0;
/// cmp ax,cx; jb +1; nop; push ax; pop si; jmp back.
const BUSY: [u8; 36] = [
    0x8B, 0x07, 0x01, 0xD0, 0x31, 0xC2, 0x89, 0x47, 0x02, 0x43, 0x81, 0xE3, 0xFE, 0x0F, 0x80, 0xCF, 0x20, 0xD1, 0xE2,
    0x83, 0xD1, 0x00, 0x39, 0xC8, 0x72, 0x01, 0x90, 0x50, 0x5E, 0xEB, 0xE1, 0x90, 0x90, 0x90, 0x90, 0x90,
];

/// Polls the status port for ever: in al,dx; test al,8; jz back; jmp back.
const POLL: [u8; 10] = [0xBA, 0xDA, 0x03, 0xEC, 0xA8, 0x08, 0x74, 0xFB, 0xEB, 0xF9];

/// Fills the board's memory for ever: mov ax,A000h; mov es,ax; xor di,di; mov cx,8000h; rep stosw; inc ax; jmp back.
const FILL: [u8; 16] = [0xB8, 0x00, 0xA0, 0x8E, 0xC0, 0x31, 0xFF, 0xB9, 0x00, 0x80, 0xF3, 0xAB, 0x40, 0xEB, 0xF6, 0x90];

/// The processors, one of each kind of clock.
const MODELS: [Model; 3] = [Model::P8086, Model::P80286, Model::P80386];

fn machine(program: &[u8], model: Model) -> Machine {
    let adapter = Adapter::built_in("linear-256").expect("a built-in adapter");
    let registers = adapter.start_up(adapter.mode("320x200x256").expect("a mode of it"));
    let image = ProgramImage::parse(program).expect("a program");
    let setup = MachineSetup::new(model, ProcessorClock::new(8_000_000, 1).expect("a clock"));
    Machine::new(Board::plain(adapter, registers), &image, "320x200x256", setup).expect("a program that fits")
}

/// Runs this many frames; says what time passed in the machine.
fn run(machine: &mut Machine) -> u64 {
    let before = machine.nanoseconds();
    for _ in 0..FRAMES {
        match machine.run() {
            Stop::Frame(frame) => machine.recycle(*frame),
            _ => machine.set_deadline(u64::MAX),
        }
    }
    machine.nanoseconds() - before
}

fn instructions(mut machine: Machine) -> u64 {
    let end = machine.nanoseconds() + 100_000_000;
    let mut count = 0;
    while machine.nanoseconds() < end {
        count += u64::from(machine.step().is_none());
    }
    count * 10
}

fn scroll() -> Option<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets/programs");
    let out = std::env::temp_dir().join(format!("backporch-bench-{}.com", std::process::id()));
    let mut nasm = Command::new("nasm");
    nasm.args(["-f", "bin", "-DFRAMES=60000", "-o"]).arg(&out).arg("-I").arg(&folder).arg(folder.join("scroll.asm"));
    let made = nasm.status().is_ok_and(|status| status.success());
    let bytes = std::fs::read(&out).ok().filter(|_| made);
    let _ = std::fs::remove_file(&out);
    bytes
}

/// Decodes `count` instructions of a loop, again and again from its bytes.
fn decode(bytes: &[u8], count: u64) {
    let mut instruction = Instruction::default();
    let mut left = count;
    while left > 0 {
        let mut decoder = Decoder::with_ip(16, bytes, 0x100, DecoderOptions::NONE);
        while decoder.can_decode() && left > 0 {
            decoder.decode_out(&mut instruction);
            black_box(&instruction);
            left -= 1;
        }
    }
}

fn main() {
    let mut programs = vec![("everyday loop", BUSY.to_vec()), ("polling loop", POLL.to_vec()), ("fill", FILL.to_vec())];
    programs.extend(scroll().map(|bytes| ("scroll with columns", bytes)));
    for (name, program) in &programs {
        MODELS.into_iter().for_each(|model| measure(name, program, model));
    }
}

/// Times one program on one processor.
fn measure(name: &str, program: &[u8], model: Model) {
    let mut at_work = machine(program, model);
    // Past whatever the program does first.
    for _ in 0..5 {
        run(&mut at_work);
    }
    let own_time = run(&mut at_work) as f64;
    let rate = instructions(at_work.clone());
    let count = (rate as f64 * own_time / 1e9) as u64;
    println!(
        "{name}, {}: {FRAMES} frames, {:.1} ms of its own time, {rate} instructions a second",
        model.name(),
        own_time / 1e6
    );
    let medians = Table::default()
        .with("machine", || {
            black_box(run(&mut at_work));
        })
        .with("decoder alone, as many instructions", || decode(program, count))
        .run();
    let wall = medians.of("machine");
    println!("  {:44} {:10.1}    aim: 10", "times its own speed", own_time / wall);
    let decoder = medians.of("decoder alone, as many instructions");
    println!("  {:44} {:10.1}\n", "decoder alone, times the machine's own speed", own_time / decoder);
}
