//! The beam under load: quiet frames beside the copying of their pixels, writes
//! in mid-frame beside quiet frames, and all of it beside the board's own rate.

use std::hint::black_box;

use backporch_adapter::Adapter;
use backporch_bench_timing::Table;
use backporch_raster::{Board, Picture, Tint, View};

/// Writes a line of the busiest contestant.
const WRITES: u64 = 16;

fn board(adapter: &str, mode: &str) -> Board {
    let adapter = Adapter::built_in(adapter).expect("a built-in adapter");
    let registers = adapter.start_up(adapter.mode(mode).expect("a mode of it"));
    let mut board = Board::plain(adapter, registers);
    let bytes = board.memory().len() as u32;
    let noise: Vec<u8> = (0..bytes).map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    board.load(&noise);
    board
}

/// A frame drawn, coloured and given back.
fn show(board: &mut Board, picture: &mut Picture) {
    let frame = board.run_frame();
    frame.picture_into(View::Picture, Tint::default(), picture);
    board.recycle(frame);
}

/// Calls `write` `times` times on each scan line, evenly spaced, then shows the frame.
fn driven(
    board: &mut Board,
    picture: &mut Picture,
    times: u64,
    line: u64,
    lines: u64,
    write: impl Fn(&mut Board, u64),
) {
    let first = board.beam().dot;
    for step in 0..lines * times {
        board.run_to(first + step * line / times);
        write(board, step);
    }
    show(board, picture);
}

fn colour(board: &mut Board, step: u64) {
    board.write_port(0x3C8, 7);
    for level in [step, step >> 6, step >> 3] {
        board.write_port(0x3C9, level as u8 & 63);
    }
}

/// A register the line shows at once: panning on planes, start address elsewhere.
fn register(board: &mut Board, step: u64) {
    board.write_port(0x3D4, 0x0D);
    board.write_port(0x3D5, step as u8);
}

fn main() {
    for (adapter, mode, own_rate) in [
        ("linear-256", "320x200x256", 200.0),
        ("vga", "320x200x256", 100.0),
        ("vga", "320x200x256-planar", 100.0),
        ("vga", "640x480x16", 100.0),
        ("ega", "640x350x16", 100.0),
    ] {
        let mut quiet = board(adapter, mode);
        let signal = quiet.adapter().signal(quiet.registers()).expect("a stable signal");
        let (line, lines) = (u64::from(signal.horizontal.total()), u64::from(signal.vertical.total()));
        let source = quiet.run_frame().picture(View::Picture);
        let mut copy = source.rgba.clone();
        let (mut one, mut two, mut three) = (source.clone(), source.clone(), source.clone());
        let (mut bars, mut busy) = (quiet.clone(), quiet.clone());
        println!("{adapter}, {mode}");
        let medians = Table::default()
            .with("memcpy", || copy.copy_from_slice(black_box(&source.rgba)))
            .with("quiet frame", || show(&mut quiet, &mut one))
            .with("palette write on each line", || driven(&mut bars, &mut two, 1, line, lines, colour))
            .with("16 register writes a line", || driven(&mut busy, &mut three, WRITES, line, lines, register))
            .run();
        medians.ratio("quiet frame", "memcpy", "at most 3");
        medians.ratio("palette write on each line", "quiet frame", "at most 2");
        medians.ratio("16 register writes a line", "quiet frame", "at most 6");
        let times = 1e9 / medians.of("quiet frame") / signal.frame_rate_hz();
        println!("  {:44} {:10.0}    aim: at least {own_rate}", "quiet frames a second / the board's own", times);
    }
}
