//! Faulty frames beside a plain one, and how fast families are listed and closed.

use std::hint::black_box;
use std::time::Instant;

use backporch_adapter::Adapter;
use backporch_bench_timing::Table;
use backporch_quirk::{Family, Layers, Quirk, QuirkStack};
use backporch_raster::{Board, Picture, Plan, QuietFrame, Tap, Tint, View};

/// Ten quirks at once: every stage is touched, conditions of every kind are asked.
const TEN: [&str; 10] = [
    "port-slow",
    "start-missed-when-fresh",
    "row-reload",
    "row-reload-then-shift",
    "line-group-off",
    "byte-stale-at-crossing",
    "snow",
    "last-character-cut",
    "level-bits-missing",
    "start-write-bounce",
];

fn quirk(name: &str) -> Quirk {
    Family::built_in(name).expect("a built-in family").close_default()
}

fn run<T: Tap>(board: &mut Board<T>) {
    let frame = board.run_frame();
    board.recycle(frame);
}

fn show<T: Tap>(board: &mut Board<T>, picture: &mut Picture) {
    let frame = board.run_frame();
    frame.picture_into(View::Picture, Tint::default(), picture);
    board.recycle(frame);
}

fn main() {
    for (name, mode) in [("linear-256", "320x200x256"), ("colour-graphics", "320x200x4")] {
        let adapter = Adapter::built_in(name).expect("a built-in adapter");
        let mode = adapter.mode(mode).expect("a mode of it");
        let mut registers = adapter.start_up(mode);
        // A start address at which the row fault strikes.
        adapter.set(&mut registers, adapter.start_address(), 7).expect("a start address");
        let noise: Vec<u8> = (0..65536u32).map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
        let board = |quirks: Vec<Quirk>| {
            let mut board = Board::new(adapter.clone(), registers.clone(), QuirkStack::new(quirks, 1));
            board.load(&noise);
            board
        };
        let mut plain = Board::plain(adapter.clone(), registers.clone());
        plain.load(&noise);
        let (mut empty, mut rows) = (board(Vec::new()), board(vec![quirk("row-reload")]));
        let layers = Layers::new(&adapter, Vec::new(), 1).expect("a built-in class");
        let mut built = Board::new(adapter.clone(), registers.clone(), layers.by_design());
        built.load(&noise);
        let mut ten = board(TEN.iter().map(|name| quirk(name)).collect());
        let stack = QuirkStack::new(TEN.iter().map(|name| quirk(name)).collect(), 1);
        let quiet = QuietFrame::new(&adapter, &registers, &stack);
        let (mut plan, mut bent) = (Plan::default(), Plan::default());
        let none = QuirkStack::default();
        let (mut healthy_values, mut ten_values) = (plain.clone(), ten.clone());
        let mut pictures: [Picture; 5] = std::array::from_fn(|_| Picture { width: 0, height: 0, rgba: Vec::new() });
        let [one, two, three, four, five] = &mut pictures;
        println!("{name}, {}", mode.title);
        let medians = Table::default()
            .with("plain frame", || show(&mut plain, one))
            .with("frame with an empty stack", || show(&mut empty, two))
            .with("frame with the row quirk", || show(&mut rows, three))
            .with("frame by design", || show(&mut built, five))
            .with("frame with ten quirks", || show(&mut ten, four))
            .with("plain values alone", || run(&mut healthy_values))
            .with("values with ten quirks", || run(&mut ten_values))
            .with("plan", || quiet.plan_into(&none, black_box(&mut plan)))
            .with("plan with ten quirks", || quiet.plan_into(&stack, black_box(&mut bent)))
            .run();
        medians.ratio("frame with an empty stack", "plain frame", "1");
        medians.ratio("frame with the row quirk", "plain frame", "at most 1.3");
        medians.ratio("frame by design", "plain frame", "at most 1.15");
        medians.ratio("frame with ten quirks", "plain frame", "at most 2");
        medians.ratio("values with ten quirks", "plain values alone", "none");
        medians.ratio("plan with ten quirks", "plan", "none");
    }
    enumerate();
}

/// Members a second: listed, and made ready to run.
fn enumerate() {
    let rounds = 200;
    let members = || Family::all_built_in().flat_map(|family| family.quirks().collect::<Vec<_>>());
    let all: Vec<Quirk> = members().collect();
    let families: Vec<Family> = Family::all_built_in().collect();
    let start = Instant::now();
    for _ in 0..rounds {
        families.iter().flat_map(Family::quirks).for_each(|quirk| drop(black_box(quirk)));
    }
    let listed = f64::from(rounds) * all.len() as f64 / start.elapsed().as_secs_f64();
    let start = Instant::now();
    for quirk in all.iter().cycle().take(all.len() * rounds as usize) {
        black_box(QuirkStack::new(vec![quirk.clone()], 1));
    }
    let ready = f64::from(rounds) * all.len() as f64 / start.elapsed().as_secs_f64();
    println!("library: {} families, {} members", families.len(), all.len());
    println!("  {:44} {listed:10.0}", "members listed a second");
    println!("  {:44} {ready:10.0}", "members made ready a second");
}
