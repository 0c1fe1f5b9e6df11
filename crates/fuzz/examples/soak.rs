//! Runs frames under a program and sweeps in one process, for memory that grows: `soak [FRAMES [SWEEPS]]`, 100,000 and 10,000 if
//! left out. Fails where the last tenth takes much more than the first.

use anyhow::{Result, ensure};
use backporch_analysis::{SweepAxis, sweep};
use backporch_bench::{Bench, Overrides};
use backporch_drive::Driven;
use backporch_fuzz::memory;

/// Steps of a sweep.
const STEPS: u64 = 16;
/// Memory by which the last tenth may lie over the first, in KiB: what allocators keep back.
const SLACK: u64 = 4096;

/// Does something ten times and prints memory after each; it is to stay.
fn tenths(what: &str, count: u64, mut tenth: impl FnMut(u64) -> Result<()>) -> Result<()> {
    let mut first = None;
    for at in 1..=10 {
        tenth(count / 10)?;
        let now = memory::now();
        println!("{:>9} {what}, memory {}", count / 10 * at, memory::in_words(now));
        first = first.or(now);
        if let (Some(first), Some(now)) = (first, now) {
            ensure!(now <= first + SLACK, "{what}: found {now} KiB, allowed {} KiB", first + SLACK);
        }
    }
    Ok(())
}

fn main() -> Result<()> {
    let mut arguments = std::env::args().skip(1);
    let frames = arguments.next().map_or(Ok(100_000), |frames| frames.parse())?;
    let sweeps = arguments.next().map_or(Ok(10_000), |sweeps| sweeps.parse())?;

    // It waits for keys, so it never ends.
    let bench = Bench::open("program-keys", &Overrides::default())?;
    let mut driven = Driven::of(&bench, bench.faulty(bench.registers()))?;
    tenths("frames", frames, |frames| {
        for _ in 0..frames {
            let frame = driven.next_frame();
            driven.recycle(frame);
        }
        Ok(())
    })?;

    let bench = Bench::open("harbour-256", &Overrides::default())?;
    let adapter = bench.adapter();
    let mut from = 0;
    tenths("sweeps", sweeps, |sweeps| {
        for _ in 0..sweeps {
            from = (from + STEPS) % 16_384;
            let axis = SweepAxis::new(adapter, adapter.start_address(), from..from + STEPS)?;
            sweep(&bench, &[axis], 1, &|| ())?;
        }
        Ok(())
    })
}
