//! Sweeps over start addresses.

use std::time::Instant;

use backporch_analysis::{SweepAxis, sweep};
use backporch_bench::{Bench, Overrides};

fn main() {
    let steps: u64 = std::env::args().filter_map(|arg| arg.parse().ok()).next().unwrap_or(32768);
    for (bench, quirk) in [
        ("harbour-256", None),
        ("harbour-256-rows", None),
        ("harbour-256", Some("level-bits-missing")),
        ("harbour-256", Some("start-late-frames")),
        ("harbour-cg", Some("row-reload")),
        ("harbour-vga", Some("row-reload")),
    ] {
        let quirks = quirk.into_iter().map(str::to_string).collect();
        let Ok(bench) = Bench::open(bench, &Overrides { quirks, ..Overrides::default() }) else {
            println!("no {quirk:?}");
            continue;
        };
        let adapter = bench.adapter();
        let most = u64::from(adapter.field_info(adapter.start_address()).max()) + 1;
        let axis = SweepAxis::new(adapter, adapter.start_address(), 0..steps.min(most)).expect("steps");
        let count = axis.values().len();
        let start = Instant::now();
        let found = sweep(&bench, &[axis], 1, &|| ()).expect("sweeps");
        let took = start.elapsed().as_secs_f64();
        println!(
            "{:20} {:24} {count:6} steps {:8.3} s {:8.2} us a step, {} bad",
            bench.name(),
            quirk.unwrap_or("-"),
            took,
            took * 1e6 / count as f64,
            found.bad().count()
        );
    }
}
