//! `hazards` and what goes with it: the four scrolls, their pictures, charts, traces, margins and waveforms.

use std::io::Cursor;

use image::RgbImage;
use serde_json::Value;
use wellen::simple::{Waveform, read_from_reader};

use crate::program::Bench;

const QUICK: [&str; 4] = ["--phases", "5", "--frames-each", "3"];

/// The answer and the exit status.
fn hazards(bench: &Bench, arguments: &[&str]) -> (Value, i32) {
    let mut all = vec!["hazards"];
    all.extend_from_slice(arguments);
    all.extend(["--format", "json"]);
    let ran = bench.run(&all);
    assert!(ran.status < 2, "{arguments:?}: {}", ran.err);
    (serde_json::from_str(&ran.out).unwrap(), ran.status)
}

fn frames_of(answer: &Value, kind: &str) -> Vec<u64> {
    let of_kind = answer["hazards"].as_array().unwrap().iter().filter(|hazard| hazard["kind"] == kind);
    of_kind.map(|hazard| hazard["frame"].as_u64().unwrap()).collect()
}

fn frame(bench: &Bench, arguments: &[&str]) -> RgbImage {
    let mut all = vec!["frame"];
    all.extend_from_slice(arguments);
    all.extend(["--out", "frame.png"]);
    assert_eq!(bench.run(&all).status, 0, "{arguments:?}");
    image::open(bench.path("frame.png")).unwrap().to_rgb8()
}

/// The harbour, 256 pixels wide, as this class shows it at a start address when the routine makes no mistake.
fn right(bench: &Bench, start: u64) -> RgbImage {
    let start = start.to_string();
    frame(bench, &["harbour-256", "--set", "displayed=31", "--set", "sync_position=38", "--start", &start])
}

/// Columns in which two pictures differ.
fn differing(one: &RgbImage, other: &RgbImage) -> Vec<u32> {
    assert_eq!(one.dimensions(), other.dimensions());
    let differ = |x: &u32| (0..one.height()).any(|y| one.get_pixel(*x, y) != other.get_pixel(*x, y));
    (0..one.width()).filter(differ).collect()
}

/// One kind alone, and the status is of that kind.
#[test]
fn one_kind_may_be_asked_for() {
    let bench = Bench::new();
    let (answer, status) = hazards(&bench, &["scroll-torn", "--only", "torn-start", "--phases", "0"]);
    assert_eq!(status, 1);
    assert!(answer["hazards"].as_array().unwrap().iter().all(|hazard| hazard["kind"] == "torn-start"), "{answer}");
    let (answer, status) = hazards(&bench, &["scroll-torn", "--only", "snow", "--phases", "0"]);
    assert_eq!((status, answer["hazards"].as_array().unwrap().len()), (0, 0));
    assert_eq!(bench.run(&["hazards", "scroll-torn", "--only", "torn"]).status, 2);
}

/// From a frame on: what was before is neither listed nor counted, and the status is of what is left.
#[test]
fn what_comes_before_a_frame_may_be_left_out() {
    let bench = Bench::new();
    let all = |more: &[&str]| hazards(&bench, &[&["scroll-late", "--phases", "0", "--frames", "12"], more].concat());
    let (whole, _) = all(&[]);
    for from in [1, 5, 11] {
        let wanted: Vec<&Value> = whole["hazards"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|hazard| hazard["frame"].as_u64() >= Some(from))
            .collect();
        let (rest, status) = all(&["--from", &from.to_string()]);
        assert_eq!(
            (rest["hazards"].as_array().unwrap().iter().collect::<Vec<_>>(), status),
            (wanted, 1),
            "from {from}"
        );
    }
    let (none, status) = all(&["--from", "12"]);
    assert_eq!((none["hazards"].as_array().unwrap().len(), status), (0, 0));
}

/// Text has each kind that one instruction makes once, the gravest first in the order of docs/hazards.md, with how often it
/// comes again: together as many as there are.
#[test]
fn text_groups_mistakes_by_kind_and_instruction() {
    let bench = Bench::new();
    let arguments = ["run", "program-torn", "--frames", "60", "--hazards"];
    let answer: Value =
        serde_json::from_str(&bench.run(&[&arguments[..], &["--format", "json"]].concat()).out).unwrap();
    let listed = answer["hazards"].as_array().unwrap();
    let text = bench.run(&arguments).out;
    let lines: Vec<&str> = text.lines().collect();
    let guide = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/hazards.md")).unwrap();
    let kinds = &guide[guide.find("## The kinds").unwrap()..];
    let is_head =
        |line: &&str| line.split_once(", frame ").is_some_and(|(kind, _)| kinds.contains(&format!("`{kind}`")));
    let heads: Vec<usize> = (0..lines.len()).filter(|at| is_head(&lines[*at])).collect();
    let ends = heads.iter().skip(1).copied().chain([lines.len()]);
    // Kind by its place in the guide, how often, instruction.
    let groups: Vec<(usize, usize, &str)> = (heads.iter().zip(ends))
        .map(|(head, end)| {
            let group = &lines[*head..end];
            let kind = kinds.find(&format!("`{}`", group[0].split_once(',').unwrap().0)).unwrap();
            let by = group.iter().find_map(|line| line.strip_prefix("  by ")).unwrap_or_default();
            let more =
                group.iter().find_map(|line| line.strip_prefix("  and ")?.split(' ').next()?.parse::<usize>().ok());
            (kind, 1 + more.unwrap_or(0), by)
        })
        .collect();
    let distinct: std::collections::BTreeSet<(usize, &str)> = groups.iter().map(|(kind, _, by)| (*kind, *by)).collect();
    assert!(groups.len() > 2 && distinct.len() == groups.len(), "{text}");
    assert_eq!(groups.iter().map(|(_, count, _)| count).sum::<usize>(), listed.len(), "{text}");
    assert!(groups.is_sorted_by_key(|(kind, count, _)| (*kind, std::cmp::Reverse(*count))), "{text}");
}

#[test]
fn a_clean_scroll_is_passed_and_shows_the_harbour() {
    let bench = Bench::new();
    let (answer, status) = hazards(&bench, &["scroll-clean", "--phases", "7"]);
    assert_eq!((status, answer["hazards"].as_array().unwrap().len()), (0, 0), "{answer}");
    assert_eq!(answer["margins"]["kinds"].as_array().unwrap().len(), 0);
    assert_eq!(answer["margins"]["runs"], 21);
    assert_eq!(answer["fit"]["fits"], true);
    // Written in frame 1, shown in frame 2, and a step further in each frame after.
    for (number, start) in [(0, 0), (1, 0), (6, 5), (9, 8), (30, 29)] {
        let shown = frame(&bench, &["scroll-clean", "--frame", &number.to_string()]);
        assert_eq!(differing(&shown, &right(&bench, start)), [0; 0], "frame {number}");
    }
}

/// The write after the take-over shows a frame late, and the column drawn for it stands at the old edge meanwhile:
/// a line of two pixels down the left edge, where memory of the line before wraps into view.
#[test]
fn a_late_write_is_found_on_its_frames_and_seen() {
    let bench = Bench::new();
    let (answer, status) = hazards(&bench, &[["scroll-late"].as_slice(), &QUICK].concat());
    assert_eq!(status, 1);
    assert_eq!(frames_of(&answer, "late-start"), (1..60).collect::<Vec<_>>());
    let early = frames_of(&answer, "column-early");
    assert_eq!(early, (1..59).collect::<Vec<_>>());
    for number in [1, 8, 20] {
        let shown = frame(&bench, &["scroll-late", "--frame", &number.to_string()]);
        let damage = differing(&shown, &right(&bench, number - 1));
        assert_eq!(damage, [0, 1], "frame {number}");
    }
    assert!(answer["margins"]["kinds"][0]["runs"]["share"].as_f64().unwrap() > 0.9, "{answer}");
    assert_eq!(answer["advice"]["found"], true);
}

#[test]
fn an_early_column_is_found_on_its_frames_and_seen() {
    let bench = Bench::new();
    let (answer, status) = hazards(&bench, &[["scroll-early-column"].as_slice(), &QUICK].concat());
    assert_eq!(status, 1);
    let early = frames_of(&answer, "column-early");
    assert_eq!(early, (1..59).collect::<Vec<_>>());
    assert_eq!(answer["hazards"].as_array().unwrap().len(), early.len());
    for number in [1, 8, 20] {
        let shown = frame(&bench, &["scroll-early-column", "--frame", &number.to_string()]);
        let damage = differing(&shown, &right(&bench, number - 1));
        assert_eq!(damage, [0, 1], "frame {number}");
    }
}

/// Start 255 to 256 changes both bytes: a take-over between them shows 511, far from either.
#[test]
fn a_torn_write_is_found_on_its_frame_and_seen() {
    let bench = Bench::new();
    let (answer, status) = hazards(&bench, &[["scroll-torn"].as_slice(), &QUICK].concat());
    assert_eq!(status, 1);
    let torn = frames_of(&answer, "torn-start");
    assert_eq!(torn.len(), 1, "{answer}");
    for number in torn[0] - 1..=torn[0] + 1 {
        let shown = frame(&bench, &["scroll-torn", "--frame", &number.to_string()]);
        let near = [254, 255, 256, 257].map(|start| differing(&shown, &right(&bench, start)).len());
        let nearest = near.into_iter().min().unwrap();
        assert_eq!(nearest > 200, number == torn[0], "frame {number}: {near:?}");
    }
}

#[test]
fn a_saved_trace_is_judged_and_shown_like_its_routine() {
    let bench = Bench::new();
    for unit in [&[][..], &["--nanoseconds"]] {
        let arguments = [&["scroll-late", "--force", "--trace", "late.csv"], &QUICK[..], unit].concat();
        let (answer, _) = hazards(&bench, &arguments);
        let (again, status) = hazards(&bench, &["scroll-late", "--routine", "late.csv"]);
        assert_eq!(status, 1);
        assert_eq!(frames_of(&answer, "column-early"), frames_of(&again, "column-early"));
        // The script waits for retrace and writes after the load that was meant; a trace does not tell what a write in
        // the active area was meant for, and is not accused of it.
        assert!(!frames_of(&answer, "late-start").is_empty() && frames_of(&again, "late-start").is_empty());
        // A trace has no speed of its own, but can be moved against the beam as a whole.
        assert_eq!(again["margins"]["speeds_percent"], serde_json::json!([100.0]));
        assert!(again["margins"]["room"]["step_us"].as_f64().is_some_and(|step| step > 0.0), "{}", again["margins"]);
        for number in ["1", "7", "40"] {
            let script = frame(&bench, &["scroll-late", "--frame", number]);
            let trace = frame(&bench, &["scroll-late", "--routine", "late.csv", "--frame", number]);
            assert!(script == trace, "frame {number}");
        }
    }
}

#[test]
fn the_chart_is_drawn_as_svg_and_as_png() {
    let bench = Bench::new();
    let draw = |to: &str| {
        let arguments = [&["scroll-late", "--chart", to, "--chart-frame", "4"], &QUICK[..]].concat();
        assert_eq!(hazards(&bench, &arguments).1, 1);
    };
    draw("beam.svg");
    let svg = std::fs::read_to_string(bench.path("beam.svg")).unwrap();
    assert!(svg.contains("Beam position in frame 4") && svg.contains("end of the wait for retrace to begin"), "{svg}");
    draw("beam.png");
    let picture = image::open(bench.path("beam.png")).unwrap().to_rgb8();
    // The write of the start address is there, in the colour of its mark, beside the active area's.
    for colour in [[0xb3, 0x26, 0x1e], [0xdf, 0xe7, 0xee], [0x0b, 0x6e, 0x4f]] {
        assert!(picture.pixels().any(|pixel| pixel.0 == colour), "{colour:X?}");
    }
    let ran = bench.run(&["hazards", "scroll-late", "--phases", "0", "--chart", "beam.gif"]);
    assert!(ran.status == 2 && ran.err.contains("found .gif, allowed .svg or .png"), "{}", ran.err);
}

/// A write just before the take-over, most of a retrace after a polling loop of 70 clocks saw it begin: by hand (see
/// the tests of margins, from The 8086 Family User's Manual) it is late in 1.06 of 70 phases.
const NEAR_MISS: &str = include_str!("../routines/near-miss.routine.ron");

#[test]
fn a_bounce_of_one_phase_in_seventy_is_counted_and_cured() {
    let bench = Bench::new();
    bench.write("near.routine.ron", NEAR_MISS);
    let sweep = ["--phases", "280", "--speeds", "100", "--frames-each", "4"];
    let arguments =
        [&["harbour-256-plain", "--routine", "near.routine.ron", "--advised", "far.routine.ron"], &sweep[..]];
    let (answer, status) = hazards(&bench, &arguments.concat());
    assert_eq!(status, 1);
    let kinds = answer["margins"]["kinds"].as_array().unwrap();
    let late = kinds.iter().find(|kind| kind["kind"] == "late-start").unwrap_or_else(|| panic!("{answer}"));
    let number = |name: &str| late["frames"][name].as_f64().unwrap();
    assert!((number("from")..=number("to")).contains(&(1.06 / 70.0)), "{late}");
    assert!(number("to") - number("from") < 0.02, "{late}");
    assert_eq!(answer["advice"]["found"], true);
    let advised = [&["harbour-256-plain", "--routine", "far.routine.ron"], &sweep[..]].concat();
    let (cured, status) = hazards(&bench, &advised);
    assert_eq!(status, 0, "{cured}");
    assert_eq!(
        (cured["margins"]["runs"].as_u64(), cured["margins"]["kinds"].as_array().unwrap().len()),
        (Some(280), 0)
    );
}

#[test]
fn a_displaced_memory_image_is_measured() {
    let bench = Bench::new();
    assert_eq!(bench.run(&["frame", "harbour-256-plain", "--memory-out", "memory.raw"]).status, 0);
    let right = std::fs::read(bench.path("memory.raw")).unwrap();
    let (answer, status) = hazards(&bench, &["harbour-256-plain", "--image", "memory.raw"]);
    assert_eq!((status, answer["hazards"].as_array().unwrap().len()), (0, 0));
    // From address 4000h on, 128 bytes of a header have been loaded as well.
    let wrong = [&right[..0x4000], &[0; 128], &right[0x4000..65536 - 128]].concat();
    bench.write("wrong.raw", wrong);
    let (answer, status) = hazards(&bench, &["harbour-256-plain", "--image", "wrong.raw"]);
    assert_eq!(status, 1);
    let what = answer["hazards"][0]["what"].as_str().unwrap();
    assert!(what.contains("from address 0x4080") && what.contains("+128 bytes"), "{what}");
}

#[test]
fn what_drives_nothing_is_refused_by_name() {
    let bench = Bench::new();
    bench.write("bad.routine.ron", "(version: 1, each_frame: [Set(register: \"start\", value: 1)])");
    bench.write(
        "bad.bench.ron",
        "(version: 1, adapter: \"linear-256\", picture: (source: \"harbour\"), routine: \"scroll-lat\")",
    );
    for (arguments, says) in [
        (vec!["hazards", "harbour-256-plain"], "found a bench without a routine"),
        (vec!["hazards", "bad.bench.ron"], "bad.bench.ron:1:76: routine: found scroll-lat"),
        (vec!["hazards", "harbour-256-plain", "--routine", "bad.routine.ron"], "bad.routine.ron:1:"),
        (vec!["hazards", "harbour-256-plain", "--routine", "none.csv"], "none.csv"),
        (vec!["hazards", "scroll-late", "--cpu", "1-bit"], "found 1-bit"),
        (vec!["hazards", "scroll-late", "--speeds", "1..=2"], "--speeds"),
        (vec!["record", "bad.bench.ron"], "did you mean scroll-late"),
    ] {
        let ran = bench.run(&arguments);
        assert!(ran.status == 2 && ran.err.contains(says), "{arguments:?}: {} {}", ran.status, ran.err);
    }
}

/// Rising edges of a signal, in picoseconds.
fn rising(wave: &mut Waveform, name: &str) -> Vec<u64> {
    let var = wave.hierarchy().lookup_var(&["board"], name).expect("the signal is in the dump");
    let signal = wave.hierarchy()[var].signal_ref();
    wave.load_signals(&[signal]);
    let times = wave.time_table().to_vec();
    let changes = wave.get_signal(signal).unwrap().iter_changes();
    let changes: Vec<(u64, String)> =
        changes.map(|(at, value)| (times[at as usize], value.to_bit_string().unwrap())).collect();
    changes.windows(2).filter(|pair| pair[0].1 == "0" && pair[1].1 == "1").map(|pair| pair[1].0).collect()
}

/// The dump in a reader of other hands: its edges have the rates of `signal`, its port writes are the routine's.
#[test]
fn a_waveform_has_the_rates_of_the_signal() {
    let bench = Bench::new();
    for name in ["scroll-late", "harbour-cg", "harbour-vga"] {
        assert_eq!(bench.run(&["emit", name, "--as", "vcd", "--frames", "3", "--out", "wave.vcd"]).status, 0);
        let signal = bench.json(&["signal", name]);
        let dump = std::fs::read(bench.path("wave.vcd")).unwrap();
        let mut wave = read_from_reader(Cursor::new(dump)).expect("an independent reader opens it");
        for (edges, rate) in [("horizontal_sync", "line_rate_hz"), ("vertical_sync", "frame_rate_hz")] {
            let edges = rising(&mut wave, edges);
            assert!(edges.len() >= 3, "{name} {rate}");
            let found = (edges.len() - 1) as f64 * 1e12 / (edges[edges.len() - 1] - edges[0]) as f64;
            let published = signal[rate].as_f64().unwrap();
            assert!((found / published - 1.0).abs() < 1e-8, "{name} {rate}: {found}, {published}");
        }
        let writes = rising(&mut wave, "port_write").len();
        assert_eq!(writes > 0, name == "scroll-late", "{name}: {writes}");
    }
}

#[test]
fn a_run_is_recorded_under_its_routine_and_reported_with_its_hazards() {
    let bench = Bench::new();
    let ran = bench.run(&["record", "scroll-late", "--frames", "12", "--out", "late", "--scale", "1", "--square"]);
    // Three steps in 128 are amiss at the right edge on every board of the class.
    assert_eq!(ran.status, 1, "{}", ran.err);
    let mut files: Vec<_> = std::fs::read_dir(bench.path("late")).unwrap().map(|file| file.unwrap().path()).collect();
    files.retain(|path| path.extension().is_some_and(|ending| ending == "png"));
    files.sort();
    assert_eq!(files.len(), 12);
    for number in [0, 3, 11] {
        let shot = image::open(&files[number]).unwrap().to_rgb8();
        assert!(shot == frame(&bench, &["scroll-late", "--frame", &number.to_string()]), "frame {number}");
    }
    let ran =
        bench.run(&["report", "scroll-late", "--over", "start_address=0..4", "--no-workarounds", "--out", "late.html"]);
    assert_eq!(ran.status, 1, "{}", ran.err);
    let page = std::fs::read_to_string(bench.path("late.html")).unwrap();
    for says in ["Hazards of the routine", "late-start", "column-early", "Beam position in frame", "more of the kind"] {
        assert!(page.contains(says), "{says}");
    }
    let ran = bench.run(&[
        "report",
        "scroll-clean",
        "--over",
        "start_address=4..8",
        "--no-workarounds",
        "--out",
        "clean.html",
    ]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(std::fs::read_to_string(bench.path("clean.html")).unwrap().contains("None in 60 frames."));
}
