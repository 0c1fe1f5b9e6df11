//! A frame beside the cost of merely copying its pixels, and a plan beside a frame.

use std::hint::black_box;

use backporch_adapter::Adapter;
use backporch_bench_timing::Table;
use backporch_raster::{
    Board, Explain, Intercept, Line, LineReuse, Picture, Plain, Plan, QuietFrame, Run, Stages, Tap, Tint, View,
};

/// Memory rows of 256 bytes whose address is reloaded once a line.
#[derive(Clone)]
struct Rows;

impl Intercept for Rows {
    fn stages(&self) -> Stages {
        Stages::ADDRESS
    }

    fn address(&self, line: &Line, _offset: u32, linear: u32) -> Run {
        let (first, row) = (line.linear >> 8, linear >> 8);
        let row = row.min(first + 1);
        Run { linear: row << 8 | linear & 0xFF, len: 256 - (linear & 0xFF) }
    }
}

impl LineReuse for Rows {}
impl Explain for Rows {}

fn show<T: Tap>(board: &mut Board<T>, picture: &mut Picture) {
    let frame = board.run_frame();
    frame.picture_into(View::Picture, Tint::default(), picture);
    board.recycle(frame);
}

fn main() {
    for (name, mode) in [("linear-256", "320x200x256"), ("colour-graphics", "320x200x4")] {
        let adapter = Adapter::built_in(name).expect("a built-in adapter");
        let mode = adapter.mode(mode).expect("a mode of it");
        let registers = adapter.start_up(mode);
        let noise: Vec<u8> = (0..65536u32).map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
        let mut plain = Board::plain(adapter.clone(), registers.clone());
        let mut rows = Board::new(adapter.clone(), registers.clone(), Rows);
        plain.load(&noise);
        rows.load(&noise);
        let frame = plain.run_frame();
        let source = frame.picture(View::Picture);
        let mut copy = source.rgba.clone();
        let (mut one, mut two) = (source.clone(), source.clone());
        let quiet = QuietFrame::new(&adapter, &registers, &Plain);
        let mut plan = Plan::default();
        println!("{name}, {}", mode.title);
        let medians = Table::default()
            .with("memcpy", || copy.copy_from_slice(black_box(&source.rgba)))
            .with("plain frame", || show(&mut plain, &mut one))
            .with("frame with row quirk", || show(&mut rows, &mut two))
            .with("plan", || quiet.plan_into(&Plain, black_box(&mut plan)))
            .run();
        medians.ratio("plain frame", "memcpy", "at most 3");
        medians.ratio("frame with row quirk", "plain frame", "at most 1.3");
        medians.ratio("plan", "plain frame", "at most 0.1");
        println!("  {:44} {:10.0}", "plain frames a second", 1e9 / medians.of("plain frame"));
    }
}
