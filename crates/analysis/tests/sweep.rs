//! Sweeps of the 64 KiB class as its controller is built, held against the plain board: the table of what every board
//! of the class does by design (reverse-engineered schematic of display controller gate array 72X8300).

use backporch_analysis::{Sweep, SweepAxis, sweep};
use backporch_bench::{Bench, Overrides};

fn swept(displayed: u64, field: &str, values: std::ops::Range<u64>) -> Sweep {
    let set = vec![("displayed".to_string(), displayed)];
    let bench = Bench::open("harbour-256", &Overrides { set, ..Overrides::default() }).unwrap();
    let axis = SweepAxis::new(bench.adapter(), bench.field(field).unwrap(), values).unwrap();
    sweep(&bench, &[axis], 1, &|| ()).unwrap()
}

/// One good frame in 32, three with the right edge amiss, 28 with every fourth line displaced.
#[test]
fn pictures_of_320_pixels_repeat_every_32_steps() {
    let found = swept(39, "start_address", 0..65);
    assert_eq!(found.repeats_every, Some(32));
    for (start, step) in (0..).zip(&found.steps) {
        let (row, into): (u32, u32) = (start / 32, start % 32);
        let pixels = match into {
            0 => None,
            1..=3 => Some(320 - 2 * into..=319),
            _ => Some(64 - 2 * into..=319 - 2 * into),
        };
        let lines = if into == 0 { 0 } else { 50 };
        assert_eq!((step.damage.damaged_lines(), &step.damage.x), (lines, &pixels), "step {start}");
        let phase = step.pattern.map(|pattern| (pattern.period, pattern.phase));
        assert_eq!(phase, pixels.map(|_| (4, 3 - row)), "step {start}");
    }
}

/// The picture bounces by one line for four steps in 128, after which the right edge is amiss for three.
#[test]
fn pictures_of_256_pixels_repeat_every_128_steps() {
    let found = swept(31, "start_address", 0..384);
    assert_eq!(found.repeats_every, Some(128));
    for (start, step) in (0..).zip(&found.steps) {
        let pixels = match start % 128_u32 {
            into @ 1..=3 => Some(256 - 2 * into..=255),
            into @ 124..=127 => Some(2 * (128 - into)..=255),
            _ => None,
        };
        let lines = if pixels.is_some() { 200 } else { 0 };
        assert_eq!((step.damage.damaged_lines(), &step.damage.x), (lines, &pixels), "step {start}");
    }
}

#[test]
fn some_widths_show_damage_at_start_0() {
    let found = swept(39, "displayed", 31..39);
    let lines: Vec<u32> = found.steps.iter().map(|step| step.damage.damaged_lines()).collect();
    assert_eq!(lines, [0, 6, 0, 12, 0, 25, 25, 37]);
}
