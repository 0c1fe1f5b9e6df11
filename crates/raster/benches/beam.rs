//! Frames of every class and mode, and the beam under load: beside a plain table look-up of the same pixels, beside
//! quiet frames, and beside the board's own rate; worst first.

use std::hint::black_box;

use backporch_adapter::{ADAPTERS, Adapter, Mode};
use backporch_bench_timing::{Aim, Ranking, Table};
use backporch_raster::{Board, Frame, Picture, ScanLine, Tint, View};
use std::sync::Arc;

/// Writes a line of the busiest contestant.
const WRITES: u64 = 16;
/// A picture of more lines than this need be drawn at no more than the lower rate.
const LOW_RESOLUTION_LINES: u32 = 240;

fn board(adapter: &Arc<Adapter>, mode: &Mode) -> Board {
    let mut board = Board::plain(Arc::clone(adapter), adapter.start_up(mode));
    let bytes = board.memory().len() as u32;
    let noise: Vec<u8> = (0..bytes).map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    // Glyphs stay as start-up has put them.
    let text = adapter.format(adapter.format_index(board.registers())).serialise.is_text();
    let noise: Vec<u8> = noise
        .into_iter()
        .zip(board.memory())
        .map(|(noise, old)| if text && *old != 0 { *old } else { noise })
        .collect();
    board.load(&noise);
    board
}

/// A frame drawn in pixel values and given back.
fn run(board: &mut Board) {
    let frame = board.run_frame();
    board.recycle(black_box(frame));
}

/// A frame drawn, coloured and given back.
fn show(board: &mut Board, picture: &mut Picture) {
    let frame = board.run_frame();
    frame.picture_into(View::Picture, Tint::default(), picture);
    board.recycle(frame);
}

/// The pixel values of a frame's picture, line by line.
fn values(frame: &Frame) -> Vec<u8> {
    let of_line = |line: &ScanLine| {
        frame.segments_of(line).iter().flat_map(|segment| frame.values_of(segment.kind)).copied().collect::<Vec<_>>()
    };
    frame.picture_lines().flat_map(of_line).collect()
}

/// Writes `WRITES` times on each scan line, evenly spaced, a register the line shows at once: panning on planes,
/// start address elsewhere; then shows the frame.
fn driven(board: &mut Board, picture: &mut Picture, line: u64, lines: u64) {
    let first = board.beam().dot;
    for step in 0..lines * WRITES {
        board.run_to(first + step * line / WRITES);
        board.write_port(0x3D4, 0x0D);
        board.write_port(0x3D5, step as u8);
    }
    show(board, picture);
}

fn main() {
    let mut in_values = Ranking::new("frame in values / table look-up of its pixels to colours");
    let mut in_colour = Ranking::new("frame in colour / table look-up of its pixels to colours");
    let mut rates = Ranking::new("quiet frames in values a second / the board's own");
    let mut writes = Ranking::new("frame with 16 register writes a line / quiet frame, both in colour");
    for (name, _) in ADAPTERS.entries() {
        let adapter = Adapter::built_in(name).expect("a built-in adapter");
        for mode in &adapter.profile().modes {
            let label = format!("{name}, {}", mode.name);
            let mut quiet = board(&adapter, mode);
            let Ok(signal) = adapter.signal(quiet.registers()) else {
                println!("{label}: no stable signal");
                continue;
            };
            let (line, lines) = (u64::from(signal.horizontal.total()), u64::from(signal.vertical.total()));
            let frame = quiet.run_frame();
            let (pixels, palette) = (values(&frame), Arc::clone(&frame.palettes[0]));
            let mut looked_up = vec![[0; 4]; pixels.len()];
            let picture = frame.picture(View::Picture);
            let mut pictures = [picture.clone(), picture];
            let [one, two] = &mut pictures;
            let (mut coloured, mut busy) = (quiet.clone(), quiet.clone());
            let medians = Table::default()
                .with("look-up", || {
                    for (colour, value) in looked_up.iter_mut().zip(black_box(&pixels)) {
                        *colour = palette.colours[usize::from(*value)];
                    }
                    black_box(&mut looked_up);
                })
                .with("values", || run(&mut quiet))
                .with("colour", || show(&mut coloured, one))
                .with("writes", || driven(&mut busy, two, line, lines))
                .measure();
            let ratio = |one: &str, other: &str| medians.of(one) / medians.of(other);
            in_values.add(&label, ratio("values", "look-up"), Aim::AtMost(0.5));
            in_colour.add(&label, ratio("colour", "look-up"), Aim::AtMost(1.6));
            writes.add(&label, ratio("writes", "colour"), Aim::AtMost(4.0));
            let least = if frame.picture_size().1 <= LOW_RESOLUTION_LINES { 1000.0 } else { 300.0 };
            rates.add(&label, 1e9 / medians.of("values") / signal.frame_rate_hz(), Aim::AtLeast(least));
        }
    }
    [in_values, in_colour, rates, writes].into_iter().for_each(Ranking::print);
}
