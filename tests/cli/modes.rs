//! `modes` as a user runs it.

use serde_json::json;

use crate::program::Bench;

const FIFTY: [&str; 9] = ["modes", "--size", "256x224", "--rate", "50", "--colours", "16", "--monitor", "fixed-31"];

/// 31,469 Hz and 629 lines are 50.03 Hz (by hand); the bench that is written makes just that signal and picture.
#[test]
fn a_need_becomes_a_bench() {
    let bench = Bench::new();
    let asked: Vec<&str> = FIFTY.into_iter().chain(["--board", "vga", "--out", "mine.bench.ron"]).collect();
    let answer = bench.json(&asked);
    let first = &answer["settings"][0];
    assert_eq!((&first["board"], &first["pitch_bytes"]), (&json!("vga"), &json!(256)));
    let signal = bench.json(&["signal", "mine.bench.ron"]);
    assert_eq!(signal["lines_per_frame"], 629);
    assert_eq!(signal["monitor"]["accepts"], true);
    for part in ["line_rate_hz", "frame_rate_hz", "horizontal", "vertical"] {
        assert_eq!(signal[part], first["signal"][part], "{part}");
    }
    let frame = bench.run(&["frame", "mine.bench.ron", "--out", "mine.png"]);
    assert!(frame.out.contains("mine.png: 256 x 224"), "{}", frame.out);
    assert!(answer["caution"].as_str().unwrap().contains("switch off at once"));
}

#[test]
fn boards_that_make_the_same_are_named_together() {
    let answer = Bench::new().json(&FIFTY);
    let settings = answer["settings"].as_array().unwrap();
    assert!(settings.iter().all(|setting| setting["board"] == "vga"));
    assert_eq!(settings[0]["also_on"], json!(["vga-late-load", "vga-quick", "vga-slow"]));
    let without = answer["without"].as_array().unwrap();
    assert!(without.iter().any(|one| one["board"] == "colour-graphics" && one["reason"] == "it has 4 colours"));
}

#[test]
fn modes_come_from_files_and_options_alike() {
    let bench = Bench::new();
    bench.write(
        "mine.need.ron",
        "(version: 1, size: (width: 256, height: 224), rate_hz: (from: 49.5, to: 50.5), colours: 16, monitor: \"fixed-31\")",
    );
    let from_file = bench.json(&["modes", "--need", "mine.need.ron"]);
    assert_eq!(from_file, bench.json(&FIFTY));
    let other = bench.json(&["modes", "--need", "mine.need.ron", "--size", "320x240"]);
    assert_eq!(other["width_px"], 320);
    // A way round looks for the same size, and says where rate and colours have to come from.
    let around = bench.run(&["workaround", "harbour-256", "--need", "mine.need.ron"]);
    assert_eq!(around.status, 1);
    assert!(around.out.contains("`modes` finds settings at such rates"), "{}", around.out);
}

#[test]
fn what_cannot_be_made_is_told_by_board() {
    let bench = Bench::new();
    let none = bench.run(&["modes", "--size", "640x480", "--rate", "60", "--monitor", "fixed-15"]);
    assert_eq!(none.status, 1, "{}", none.err);
    assert!(none.out.contains("No setting makes it") && none.out.contains("rates the monitor takes"), "{}", none.out);
    let wrong: [(&[&str], &str); 6] = [
        (&["--size", "640", "--monitor", "multi"], "WIDTHxHEIGHT"),
        (&["--size", "640x480"], "--monitor"),
        (&["--monitor", "multi"], "--size"),
        (&["--size", "640x480", "--monitor", "multi", "--rate", "fast"], "a rate in Hz"),
        (&["--size", "640x480", "--monitor", "multi", "--rate", "60..=50"], "a rate in Hz"),
        (&["--size", "640x480", "--monitor", "multi", "--out", "x.bench.ron", "--take", "99"], "--take"),
    ];
    for (options, says) in wrong {
        let arguments: Vec<&str> = ["modes"].iter().chain(options).copied().collect();
        let ran = bench.run(&arguments);
        assert_eq!(ran.status, 2, "{options:?}: {}", ran.out);
        assert!(ran.err.contains(says), "{options:?}: {}", ran.err);
    }
    assert!(!bench.path("x.bench.ron").exists());
}

/// Every emitted table says what the monitor gets on the way, and carries the caution.
#[test]
fn tables_say_what_the_monitor_gets_on_the_way() {
    let bench = Bench::new();
    let asked: Vec<&str> = FIFTY.into_iter().chain(["--out", "mine.bench.ron"]).collect();
    let found = bench.json(&asked);
    let says = found["settings"][0]["passing"]["says"].as_str().unwrap();
    let emitted = bench.json(&["emit", "mine.bench.ron", "--as", "c"]);
    assert!(emitted["passing"].as_str().unwrap().contains(says), "{says}");
    assert!(emitted["caution"].as_str().unwrap().contains("lethal voltage"));
    let one_line =
        |text: &str| text.replace("\n;", " ").replace("\n *", " ").split_whitespace().collect::<Vec<_>>().join(" ");
    for form in ["c", "assembly"] {
        let text = bench.run(&["emit", "mine.bench.ron", "--as", form]).out;
        assert!(one_line(&text).contains(says), "{form}: {text}");
    }
}
