//! Sweeps over start addresses beside the drawing of both boards at every step, and how long a whole one takes.

use std::hint::black_box;
use std::time::Instant;

use backporch_analysis::{Damage, StepBoards, SweepAxis, step_boards, sweep};
use backporch_bench::{Bench, Overrides};
use backporch_bench_timing::{Aim, Ranking, Table};

/// Steps that are timed beside each other.
const STEPS: u64 = 64;
/// Steps of a whole sweep.
const ALL_STEPS: u64 = 32768;

/// Benches, a quirk more, and how long a sweep of all steps may take, in seconds on two cores.
const SWEEPS: [(&str, Option<&str>, f64); 8] = [
    ("harbour-256", None, 0.3),
    ("harbour-256-plain", Some("row-reload"), 0.3),
    ("harbour-cg", Some("row-reload"), 0.3),
    ("harbour-vga", Some("row-reload"), 0.3),
    ("harbour-256", Some("level-bits-missing"), 4.0),
    ("harbour-256", Some("byte-stale-at-crossing"), 4.0),
    ("harbour-256", Some("start-late-frames"), 4.0),
    ("harbour-256", Some("frame-jitter"), 4.0),
];

/// One step of a sweep, both boards drawn.
fn drawn(bench: &Bench, over: &[SweepAxis], before: u32, value: u32) {
    let StepBoards { mut healthy, mut faulty } = step_boards(bench, over, &[before], &[value], 1);
    black_box(Damage::between(&healthy.run_frame(), &faulty.run_frame()));
}

fn main() {
    let chosen = std::env::args().nth(1).filter(|name| !name.starts_with("--"));
    let mut seconds = Ranking::new("seconds of a whole sweep of 32768 start addresses, or of all there are");
    let mut ratios = Ranking::new("sweep / drawing both boards at every step, on as many threads");
    for (name, quirk, aim) in SWEEPS {
        let quirks = quirk.into_iter().map(str::to_string).collect();
        let bench = Bench::open(name, &Overrides { quirks, ..Overrides::default() }).expect("a built-in bench");
        let adapter = bench.adapter();
        let label = format!("{name}, {}", quirk.unwrap_or("as it is"));
        if chosen.as_ref().is_some_and(|chosen| !label.contains(chosen)) {
            continue;
        }
        let field = adapter.start_address();
        let axis = |steps: u64| {
            let steps = steps.min(u64::from(adapter.field_info(field).max()) + 1);
            [SweepAxis::new(adapter, field, 0..steps).expect("start addresses")]
        };
        let (some, all) = (axis(STEPS), axis(ALL_STEPS));
        let start = Instant::now();
        black_box(sweep(&bench, &all, 1, &|| ()).expect("sweeps"));
        seconds.add(&label, start.elapsed().as_secs_f64(), Aim::AtMost(aim));
        if chosen.is_some() {
            continue;
        }
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a thread");
        let medians = one.install(|| {
            Table::default()
                .with("sweep", || drop(black_box(sweep(&bench, &some, 1, &|| ()).expect("sweeps"))))
                .with("drawn", || (0..STEPS as u32).for_each(|step| drawn(&bench, &some, step.saturating_sub(1), step)))
                .measure()
        });
        ratios.add(&label, medians.of("sweep") / medians.of("drawn"), Aim::AtMost(1.0));
    }
    seconds.print();
    ratios.print();
}
