//! Every command of a fresh start, and how the program behaves at its edges.

use std::io::Read;
use std::process::Stdio;

use backporch_test_tools::ROWS_BENCH;

use crate::program::{Bench, command};

const BENCHES: [&str; 4] = ["harbour-256-plain", "harbour-256", "harbour-vga", "harbour-cg"];

#[test]
fn every_built_in_bench_answers_every_command() {
    let bench = Bench::new();
    for name in BENCHES {
        assert_eq!(bench.run(&["frame", name]).status, 0, "{name}");
        assert!(bench.path(&format!("{name}.png")).exists());
        assert_eq!(bench.run(&["signal", name]).status, 0, "{name}");
        let expected = i32::from(name == "harbour-256");
        assert_eq!(bench.run(&["sweep", name, "--over", "start_address=0..8"]).status, expected, "{name}");
    }
}

#[test]
fn boards_and_quirks_are_listed_and_shown() {
    let bench = Bench::new();
    for listing in ["boards", "quirks"] {
        let listed = bench.json(&[listing]);
        let listed = listed[listing].as_array().unwrap();
        assert!(listed.len() >= 2, "{listing}");
        for one in listed {
            let name = one["name"].as_str().unwrap();
            let shown = bench.run(&[listing, name]);
            assert_eq!(shown.status, 0, "{name}: {}", shown.err);
            assert!(shown.out.contains(name));
        }
    }
}

/// Whatever is listed can be used by its name.
#[test]
fn what_is_built_in_is_listed_by_name_and_title() {
    let bench = Bench::new();
    let uses: [(&str, &[&str]); 5] = [
        ("benches", &["signal"]),
        ("monitors", &["signal", "harbour-256", "--set", "start_address=1", "--monitor"]),
        ("processors", &["hazards", "scroll-clean", "--frames", "3", "--phases", "0", "--no-advice", "--cpu"]),
        ("routines", &["hazards", "harbour-256", "--frames", "3", "--phases", "0", "--no-advice", "--routine"]),
        ("sightings", &["diagnose", "--probes", "0"]),
    ];
    for (kind, usage) in uses {
        let listed = bench.json(&[kind]);
        let listed = listed[kind].as_array().unwrap();
        assert!(listed.len() >= 3, "{kind}");
        for one in listed {
            let (name, title) = (one["name"].as_str().unwrap(), one["title"].as_str().unwrap());
            assert!(!title.is_empty() && bench.run(&[kind]).out.contains(title), "{name}");
            let ran = bench.run(&[usage, &[name]].concat());
            assert!(ran.status < 2, "{kind} {name}: {}", ran.err);
        }
    }
}

#[test]
fn the_demo_tells_the_story_and_writes_its_pictures() {
    let bench = Bench::new();
    let ran = bench.run(&["demo"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    for found in [
        "step 0 clean; steps 1 to 3 edge-damaged, one line in 4; steps 4 to 31 broken, one line in 4; again every 32 steps",
        "linear-256-plain  steps 0 to 63 clean",
        "class: by design of the class, not a fault: row-transfer",
        "linear-256: by design of the class, not a fault of this board: row-transfer",
    ] {
        assert!(ran.out.contains(found), "{found} is not in:\n{}", ran.out);
    }
    for line in ran.out.lines().filter(|line| line.ends_with(".png") && !line.contains("backporch ")) {
        let picture = image::open(bench.path(line.rsplit(": ").next().unwrap().trim())).unwrap();
        assert!(picture.width() >= 640 && picture.height() >= 400, "{line}");
    }
}

/// Same bench, same bytes out, on any number of threads.
#[test]
fn threads_do_not_change_the_answer() {
    let bench = Bench::new();
    let swept = |threads: &str, sheet: &str| {
        let arguments = ["sweep", ROWS_BENCH, "--format", "json", "--out", sheet];
        let output = command(&bench.path(""), &arguments).env("RAYON_NUM_THREADS", threads).output().unwrap();
        (output.stdout, std::fs::read(bench.path(sheet)).unwrap())
    };
    assert_eq!(swept("1", "one.png"), swept("7", "seven.png"));
}

#[test]
fn a_reader_that_goes_away_is_no_fault() {
    let bench = Bench::new();
    let arguments = ["boards", "linear-256", "--format", "json"];
    let mut child = command(&bench.path(""), &arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let mut said = String::new();
    child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
    assert!(child.wait().unwrap().success(), "{said}");
    assert_eq!(said, "");
}

#[test]
fn a_frame_goes_to_standard_output_and_tells_its_pixels() {
    let bench = Bench::new();
    let output = command(&bench.path(""), &["frame", "harbour-256-plain", "--out", "-"]).output().unwrap();
    let picture = image::load_from_memory(&output.stdout).unwrap();
    assert_eq!((picture.width(), picture.height()), (320, 200));
    let answer = bench.json(&["frame", ROWS_BENCH, "--start", "1", "--at", "319,3"]);
    let pixel = &answer["pixel"];
    // Line 3 begins at 2 + 3 × 320 = 3C2h; its last byte, 501h, lies past the second row crossing.
    assert_eq!(pixel["plain_address"], 0x501);
    assert_eq!(pixel["address"], 0x401);
    assert_eq!(pixel["row_crossings"], 2);
    let change = &pixel["address_changes"][0];
    assert_eq!((change["quirk"].as_str(), change["layer"].as_str()), (Some("row-reload"), Some("fault")), "{change}");
    assert_eq!(answer["verdict"], "edge-damaged");
}

/// What the class does by design and what a fault does are left out one by one, and every change says which it is.
#[test]
fn each_layer_can_be_left_out_and_says_what_it_did() {
    let bench = Bench::new();
    let shown = |more: &[&str]| {
        let asked = ["frame", "harbour-256", "--start", "1", "--at", "319,3", "--quirk", "address-bit-stuck"];
        bench.json(&[&asked, more].concat())
    };
    let layers = |answer: &serde_json::Value| -> Vec<String> {
        let changes = answer["pixel"]["address_changes"].as_array().unwrap().iter();
        changes.map(|change| change["layer"].as_str().unwrap().to_string()).collect()
    };
    let (built, plain) = (shown(&[]), shown(&["--plain"]));
    assert_eq!(built["by_design"], serde_json::json!(["row-transfer"]));
    assert_eq!(built["pixel"]["address_changes"][0]["layer"], "by-design", "{built}");
    let source = built["pixel"]["address_changes"][0]["source"].as_str().unwrap();
    assert!(source.starts_with("published: "), "{source}");
    assert_eq!(plain["by_design"], serde_json::json!([]));
    assert!(layers(&plain).iter().all(|layer| layer == "fault"), "{plain}");
    let bare = bench.json(&["frame", ROWS_BENCH, "--no-quirks", "--start", "1", "--at", "319,3"]);
    assert_eq!((bare["verdict"].as_str(), layers(&bare).len()), (Some("clean"), 0), "{bare}");
    let listed = bench.run(&["boards", "linear-256"]).out;
    assert!(listed.contains("By design\n  row-transfer") && listed.contains("(published: "), "{listed}");
}

#[test]
fn memory_goes_out_and_comes_back() {
    let bench = Bench::new();
    bench.json(&["frame", "harbour-256-plain", "--memory-out", "harbour.mem", "--out", "first.png"]);
    assert_eq!(std::fs::metadata(bench.path("harbour.mem")).unwrap().len(), 65536);
    bench.write("dump.bench.ron", "(version: 1, adapter: \"linear-256\", memory: \"harbour.mem\")");
    bench.json(&["frame", "dump.bench.ron", "--memory-out", "again.mem", "--out", "again.png"]);
    let read = |name: &str| std::fs::read(bench.path(name)).unwrap();
    assert_eq!(read("harbour.mem"), read("again.mem"));
}

/// A picture of one's own, wider than the screen: each start address shows the
/// columns a faultless redraw would have brought in.
#[test]
fn a_picture_of_ones_own_is_shown_and_scrolled() {
    let bench = Bench::new();
    let picture = image::RgbImage::from_fn(400, 200, |x, y| image::Rgb([(x % 64 * 4) as u8, (y % 64 * 4) as u8, 0]));
    picture.save(bench.path("bars.png")).unwrap();
    bench.write(
        "bars.bench.ron",
        "(version: 1, adapter: \"linear-256-plain\", picture: (source: \"bars.png\", scroll: Redrawn))",
    );
    bench.json(&["frame", "bars.bench.ron", "--start", "50", "--out", "shown.png"]);
    let shown = image::open(bench.path("shown.png")).unwrap().to_rgb8();
    assert_eq!(shown.dimensions(), (320, 200));
    for (x, y) in [(0, 0), (63, 10), (299, 199), (300, 0), (319, 77)] {
        let [red, green, ..] = picture.get_pixel((x + 100) % 400, y).0;
        let [r, g, ..] = shown.get_pixel(x, y).0;
        // Six-bit levels widened: at most 2 away from the picture's own.
        assert!(r.abs_diff(red) <= 24 && g.abs_diff(green) <= 24, "{x},{y}: {r},{g} for {red},{green}");
    }
}

#[test]
fn another_board_is_one_option_away() {
    let bench = Bench::new();
    let swept =
        bench.json(&["sweep", ROWS_BENCH, "--board", "colour-graphics", "--no-quirks", "--over", "start_address=0..4"]);
    assert_eq!(swept["board"], "colour-graphics");
    assert!(swept["steps"].as_array().unwrap().iter().all(|step| step["verdict"] == "clean"));
}

#[test]
fn registers_that_make_no_signal_are_answered_in_words() {
    let ran = Bench::new().run(&["signal", "harbour-256-plain", "--set", "sync_position=0"]);
    assert_eq!(ran.status, 1);
    assert!(ran.out.contains("No stable signal") && ran.out.contains("Caution"), "{}", ran.out);
}

#[test]
fn a_monitor_that_refuses_is_named_with_the_caution() {
    let ran = Bench::new().run(&["signal", "harbour-256-plain", "--monitor", "fixed-15"]);
    assert_eq!(ran.status, 1);
    assert!(ran.out.contains("does NOT take it") && ran.out.contains("Caution"), "{}", ran.out);
}

#[test]
fn completions_and_manual_are_printed() {
    let bench = Bench::new();
    assert!(bench.run(&["completions", "bash"]).out.contains("backporch"));
    assert!(bench.run(&["manual"]).out.contains("backporch"));
}

/// A bench goes to any class of board, in every mode of it that shows pictures.
#[test]
fn every_mode_that_shows_pictures_takes_the_picture() {
    let bench = Bench::new();
    for board in ["colour-graphics", "ega", "linear-256", "monochrome", "vga"] {
        let moved = bench.json(&["boards", board]);
        let ran = bench.run(&["frame", "harbour-256-plain", "--board", board, "--out", "moved.png"]);
        assert_eq!(ran.status, 0, "{board}: {}", ran.err);
        for mode in moved["modes"].as_array().unwrap() {
            let mode = mode["name"].as_str().unwrap();
            let ran = bench.run(&["frame", "harbour-256-plain", "--board", board, "--mode", mode, "--out", "mode.png"]);
            let shows_pictures = !mode.contains("text");
            assert_eq!(ran.status, if shows_pictures { 0 } else { 2 }, "{board} {mode}: {}", ran.err);
        }
    }
}
