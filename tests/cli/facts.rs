//! The facts of the trade, asked of the program.

use backporch_test_tools::ROWS_BENCH;
use serde_json::{Value, json};

use crate::program::Bench;

fn step(values: Value, lines: u32, phase: Option<u32>, x: Option<(u32, u32)>) -> Value {
    json!({
        "values": values,
        "verdict": if lines == 0 { "clean" } else { "edge-damaged" },
        "damaged_lines": lines,
        "line_period": phase.map(|_| 4),
        "line_phase": phase,
        "x_from": x.map(|x| x.0),
        "x_to": x.map(|x| x.1),
    })
}

/// The step without the lines visible in the picture at hand.
fn without_visible(step: &Value) -> Value {
    let mut step = step.clone();
    step.as_object_mut().unwrap().remove("visible_lines");
    step
}

/// Memory rows of 256 bytes and one reload of the row address a scan line, at
/// 320 bytes: the table is derived from that model by hand. In steps 1 to 31
/// the last 2, 4, … 62 pixels of lines 3, 7, 11, … are damaged; from 32 on the
/// lines move up by one.
#[test]
fn the_row_model_at_320_bytes() {
    let swept = Bench::new().json(&["sweep", ROWS_BENCH, "--over", "start_address=0..=64"]);
    assert_eq!(swept["board"], "linear-256-plain");
    assert_eq!(swept["quirks"], json!(["row-reload"]));
    assert_eq!(swept["repeats_every"], 32);
    for (start, found) in swept["steps"].as_array().unwrap().iter().enumerate() {
        let start = start as u32;
        let values = json!({ "start_address": start });
        let expected = match start % 32 {
            0 => step(values, 0, None, None),
            into => step(values, 50, Some(3 - start / 32), Some((320 - 2 * into, 319))),
        };
        assert_eq!(without_visible(found), expected, "step {start}");
    }
}

/// The same model at start address 0 with the picture laid out at narrower widths.
#[test]
fn the_row_model_at_narrower_widths() {
    let swept = Bench::new().json(&["sweep", ROWS_BENCH, "--over", "displayed=31..=38"]);
    let lines: Vec<u64> =
        swept["steps"].as_array().unwrap().iter().map(|step| step["damaged_lines"].as_u64().unwrap()).collect();
    // 32, 33, … 39 characters.
    assert_eq!(lines, [0, 0, 0, 12, 0, 25, 25, 37]);
}

/// At 256 bytes a line never crosses into a second row: every start is clean.
#[test]
fn the_row_model_at_256_bytes() {
    let swept = Bench::new().json(&["sweep", ROWS_BENCH, "--set", "displayed=31", "--over", "start_address=0..=255"]);
    assert!(swept["steps"].as_array().unwrap().iter().all(|step| step["verdict"] == "clean"));
    assert_eq!(swept["repeats_every"], Value::Null);
}

/// The class as its controller is built (reverse-engineered schematic of display controller gate array 72X8300): one
/// good frame in 32, three with the right edge amiss, 28 with every fourth line displaced.
#[test]
fn the_class_as_built_at_320_bytes() {
    let swept = Bench::new().json(&["sweep", "harbour-256", "--over", "start_address=0..=64"]);
    assert_eq!((&swept["quirks"], &swept["repeats_every"]), (&json!([]), &json!(32)));
    for (start, found) in swept["steps"].as_array().unwrap().iter().enumerate() {
        let (row, into) = (start as u32 / 32, start as u32 % 32);
        let pixels = match into {
            0 => None,
            1..=3 => Some((320 - 2 * into, 319)),
            _ => Some((64 - 2 * into, 319 - 2 * into)),
        };
        let found = [&found["damaged_lines"], &found["line_phase"], &found["x_from"], &found["x_to"]];
        let wanted = match pixels {
            None => [json!(0), Value::Null, Value::Null, Value::Null],
            Some((from, to)) => [json!(50), json!(3 - row), json!(from), json!(to)],
        };
        assert_eq!(found.map(Clone::clone), wanted, "step {start}");
    }
}

/// At 256 bytes the picture bounces by one line for four steps in 128; some widths show damage at start 0 (the same
/// source).
#[test]
fn the_class_as_built_at_narrower_widths() {
    let lines = |swept: &Value| -> Vec<u64> {
        swept["steps"].as_array().unwrap().iter().map(|step| step["damaged_lines"].as_u64().unwrap()).collect()
    };
    let narrow = ["sweep", "harbour-256", "--set", "displayed=31", "--over", "start_address=0..=383"];
    let swept = Bench::new().json(&narrow);
    assert_eq!(swept["repeats_every"], 128);
    let wanted = |start: u64| if matches!(start % 128, 1..=3 | 124..=127) { 200 } else { 0 };
    assert_eq!(lines(&swept), (0..384).map(wanted).collect::<Vec<u64>>());
    let widths = Bench::new().json(&["sweep", "harbour-256", "--over", "displayed=31..=38"]);
    assert_eq!(lines(&widths), [0, 6, 0, 12, 0, 25, 25, 37]);
    let plain = Bench::new().json(&["sweep", "harbour-256", "--plain", "--over", "start_address=0..=64"]);
    assert_eq!(lines(&plain), [0; 65]);
}

/// Healthy boards are clean at every start address, wrap included.
#[test]
fn healthy_boards_are_clean_at_every_start_address() {
    let sweeps = [
        ("harbour-256-plain", "start_address=0..=65535/37"),
        ("harbour-cg", "start_address=0..=16383/11"),
        ("harbour-vga", "start_address=0..=65535/37"),
    ];
    for (bench, range) in sweeps {
        let swept = Bench::new().json(&["sweep", bench, "--over", range]);
        assert!(swept["steps"].as_array().unwrap().iter().all(|step| step["verdict"] == "clean"), "{bench}");
    }
}

/// Published rates of the colour-graphics timing and of the 400- and 480-line VGA timings, to 0.01 %.
#[test]
fn rates_are_the_published_ones() {
    let modes = [
        ("harbour-256-plain", None, 25.175e6, 800, 449, 31_469.0, 70.09),
        ("harbour-cg", None, 14.31818e6, 912, 262, 15_700.0, 59.92),
        ("harbour-vga", Some("640x480x16"), 25.175e6, 800, 525, 31_469.0, 59.940),
        ("harbour-cg", Some("640x200x2"), 14.31818e6, 912, 262, 15_700.0, 59.92),
    ];
    for (bench, mode, clock, dots, lines, line_rate, frame_rate) in modes {
        let mut arguments = vec!["signal", bench];
        arguments.extend(mode.iter().flat_map(|mode| ["--mode", mode]));
        let signal = Bench::new().json(&arguments);
        let near = |name: &str, published: f64| {
            let found = signal[name].as_f64().unwrap();
            assert!((found / published - 1.0).abs() < 1e-4, "{bench} {name}: {found}, published {published}");
        };
        near("dot_clock_hz", clock);
        near("line_rate_hz", line_rate);
        near("frame_rate_hz", frame_rate);
        assert_eq!(signal["dots_per_line"], dots);
        assert_eq!(signal["lines_per_frame"], lines);
        assert_eq!(signal["monitor"]["accepts"], true);
    }
}
