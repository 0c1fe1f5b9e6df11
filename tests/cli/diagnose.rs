//! `compare`, `diagnose` and what comes of them, as a user runs them.

use std::io::Read;
use std::process::Stdio;

use backporch_test_tools::ROWS_BENCH;
use serde_json::Value;

use crate::program::{Bench, command};

/// A few looks at one board: start addresses, and what was seen.
fn sightings(looks: &str) -> String {
    format!("(version: 1, bench: \"harbour-256-plain\", experiments: [(seen: [{looks}])])")
}

fn keys(value: &Value) -> Vec<&str> {
    let mut keys: Vec<&str> = value.as_object().unwrap().keys().map(String::as_str).collect();
    keys.sort_unstable();
    keys
}

/// Start step 1 damages 50 lines, 3 mod 4, in their last two pixels (derived; see the table of facts for
/// memory rows of 256 bytes reloaded once a line); other classes run it clean (common practice).
#[test]
fn a_comparison_names_the_adapter_and_draws_the_difference() {
    let bench = Bench::new();
    let arguments = ["compare", ROWS_BENCH, "--against", "colour-graphics", "--out", "first.png"];
    let answer = bench.json(&arguments);
    assert_eq!(answer["verdict"], "adapter");
    let boards = answer["boards"].as_array().unwrap();
    let blames: Vec<&str> = boards.iter().map(|board| board["blame"].as_str().unwrap()).collect();
    assert_eq!(blames, ["adapter", "none", "class"]);
    let first = &boards[0]["first"];
    for (field, value) in [("frame", 1), ("lines", 50), ("line_period", 4), ("line_phase", 3), ("x_from", 318)] {
        assert_eq!(first[field], value, "{field}");
    }
    assert_eq!(first["addresses_differ"], true);
    let picture = image::open(bench.path("first.png")).unwrap();
    assert!(picture.width() >= 3 * 320 && picture.height() >= 200);
    let text = bench.run(&arguments);
    assert_eq!(text.status, 1);
    assert!(text.out.contains("fetched addresses differ; damaged, every fourth line"), "{}", text.out);
    assert_eq!(bench.run(&["compare", "harbour-256-plain", "--against", "by-design"]).status, 0);
}

/// Without a quirk the other classes are run beside it: each runs what it can clean, and is said to lack the rest. Only
/// the class whose design makes one row transfer a line shows 7 of 8 frames damaged: all but start address 0.
#[test]
fn other_classes_are_clean_at_what_they_can_do() {
    let answer = Bench::new().json(&["compare", "harbour-256-plain"]);
    assert_eq!(answer["verdict"], "class");
    let boards = answer["boards"].as_array().unwrap();
    assert_eq!(boards.len(), 8, "cards of one class are not told apart");
    for board in boards {
        let by_design = if board["board"] == "linear-256" { 7 } else { 0 };
        assert_eq!(board["bad_frames"], by_design, "{}", board["label"]);
    }
}

#[test]
fn late_writes_are_put_down_to_timing() {
    let bench = Bench::new();
    let answer = bench.json(&["compare", "harbour-vga", "--against", "by-design", "--moment", "95"]);
    assert_eq!(answer["verdict"], "timing");
}

/// A routine is compared as it runs. One whose second byte comes after the load, or whose start address does, is wrong on
/// the plain board too; one that is right shows what the class does by design, and what a fault does beyond it.
#[test]
fn a_routine_is_put_down_to_what_is_its_own() {
    let bench = Bench::new();
    for (routine, kind) in [("scroll-torn", "torn-start"), ("scroll-late", "late-start")] {
        let answer = bench.json(&["compare", routine, "--frames", "24"]);
        assert_eq!(answer["verdict"], "timing", "{routine}");
        let own = &answer["boards"][0];
        assert!(own["mistake"].as_str().unwrap().starts_with(kind), "{routine}: {}", own["mistake"]);
    }
    let clean = bench.json(&["compare", "scroll-clean"]);
    assert_eq!(clean["verdict"], "class");
    let blame_of = |answer: &Value, board: &str| {
        let boards = answer["boards"].as_array().unwrap().clone();
        boards.into_iter().find(|one| one["board"] == board).unwrap()["blame"].clone()
    };
    assert_eq!(blame_of(&clean, "linear-256"), "class");
    assert_eq!(blame_of(&clean, "linear-256-plain"), "none");
    assert_eq!(clean["boards"][0]["class"][0]["name"], "row-transfer");
    let faulty = bench.json(&["compare", "scroll-clean", "--quirk", "red-dead"]);
    assert_eq!(faulty["verdict"], "adapter");
    let program = bench.json(&["compare", "program-keys"]);
    assert_eq!(blame_of(&program, "linear-256"), "none");
    let refused = bench.run(&["compare", "scroll-clean", "--moment", "50"]);
    assert_eq!(refused.status, 2);
    assert!(refused.err.contains("--moment") && refused.err.contains("scroll-clean"), "{}", refused.err);
}

/// What every board of the class does by design, and from where that is known.
const SOURCE: &str = "published: reverse-engineered schematic of display controller gate array 72X8300";

/// Class where the design shows, adapter where a quirk does something else, timing where the second byte of the start
/// address comes after the load, 800 dots before the first line shown (the same source).
#[test]
fn four_causes_are_told_apart_on_the_class_as_built() {
    let bench = Bench::new();
    let compare = |more: &[&str]| bench.json(&[&["compare", "harbour-256", "--against", "by-design"], more].concat());
    let class = compare(&[]);
    assert_eq!(class["verdict"], "class");
    assert_eq!(class["boards"][0]["class"][0]["name"], "row-transfer");
    assert_eq!(class["boards"][0]["class"][0]["source"], SOURCE);
    assert!(class["because"].as_str().unwrap().contains(SOURCE), "{class}");
    assert_eq!(compare(&["--quirk", "red-dead"])["verdict"], "adapter");
    assert_eq!(compare(&["--step", "100", "--moment", "99", "--apart", "4000"])["verdict"], "timing");
    assert_eq!(compare(&["--plain"])["verdict"], "none");
}

/// What practitioners report of real boards is the design of the class; no other board is asked for.
#[test]
fn a_diagnosis_says_what_is_by_design() {
    let bench = Bench::new();
    let ran = bench.run(&["diagnose", "harbour-as-built"]);
    assert_eq!(ran.status, 1, "{}", ran.err);
    for part in ["by design of the class", "row-transfer", SOURCE] {
        assert!(ran.out.contains(part), "{part}: {}", ran.out);
    }
    assert!(!ran.out.contains("another board"), "{}", ran.out);
    let answer = bench.json(&["diagnose", "harbour-as-built"]);
    assert_eq!((&answer["conclusion"], &answer["class"][0]["name"]), (&"by-design".into(), &"row-transfer".into()));
}

#[test]
fn a_diagnosis_names_the_fault_and_goes_straight_on() {
    let bench = Bench::new();
    let answer = bench.run(&["diagnose", "harbour-glance", "--format", "json"]);
    assert_eq!(answer.status, 1);
    bench.write("found.json", &answer.out);
    let answer: Value = serde_json::from_str(&answer.out).unwrap();
    assert_eq!((&answer["conclusion"], &answer["suspects"][0]["quirk"]), (&"fault".into(), &"row-reload".into()));
    assert_eq!(answer["suspects"][0]["parameters"], serde_json::json!({"reloads": 1, "row_bytes": 256}));
    assert_eq!(
        keys(&answer["suspects"][0]),
        ["contradicts", "explains", "parameters", "probability", "quirk", "title"]
    );
    let causes: Vec<&Value> = answer["others"].as_array().unwrap().iter().map(|other| &other["cause"]).collect();
    assert!(causes.contains(&&"none-of-these".into()) && causes.contains(&&"healthy-board".into()), "{causes:?}");
    // Members with their own probabilities; the width that holds against them is the derived one.
    let members = answer["members"].as_array().unwrap();
    assert_eq!(members[0]["parameters"]["row_bytes"], 256);
    let workaround = bench.json(&["workaround", "harbour-256-plain", "--diagnosis", "found.json", "--most", "1"]);
    assert_eq!((&workaround["holds"], &workaround["candidates"][0]["width_px"]), (&true.into(), &256.into()));
}

/// Two suspects differ in what a narrower width shows: the answer says where to look, and the probe goes
/// to the real machine as a test program like any other setting.
#[test]
fn probes_are_told_and_emitted() {
    let bench = Bench::new();
    bench.write(
        "mine.sightings.ron",
        sightings("(at: 0, saw: \"clean\"), (at: 5, saw: \"damaged on every fourth line\")"),
    );
    let answer = bench.run(&["diagnose", "mine.sightings.ron", "--format", "json"]);
    bench.write("found.json", &answer.out);
    let answer: Value = serde_json::from_str(&answer.out).unwrap();
    let probe = &answer["probes"][0];
    assert!(probe["expected_information_bits"].as_f64().unwrap() > 0.02);
    let outcomes = probe["outcomes"].as_array().unwrap();
    assert!(outcomes.len() > 1, "a probe divides: {outcomes:?}");
    let sum: f64 = outcomes.iter().map(|outcome| outcome["probability"].as_f64().unwrap()).sum();
    assert!((0.5..=1.0 + 1e-9).contains(&sum), "{sum}");
    let arguments = [
        "emit",
        "harbour-256-plain",
        "--diagnosis",
        "found.json",
        "--probe",
        "1",
        "--as",
        "program",
        "--out",
        "probe.com",
    ];
    let emitted = bench.json(&arguments);
    assert_eq!(emitted["steps"], 1);
    for (name, value) in probe["registers"].as_object().unwrap() {
        if let Some(set) = emitted["registers"].get(name) {
            assert_eq!(set, value, "{name}");
        }
    }
    let listing = std::fs::read_to_string(bench.path("probe.lst")).unwrap();
    assert!(bench.path("probe.com").metadata().unwrap().len() > 100 && listing.lines().count() > 50);
}

#[test]
fn what_tells_nothing_gets_no_confident_answer() {
    let bench = Bench::new();
    let nothing = "cannot tell: nothing was seen that counts";
    let cases = [
        ("", nothing),
        ("(at: 3, saw: \"could not tell\")", nothing),
        (
            "(at: 5, saw: \"clean\"), (at: 5, saw: \"broken\")",
            "note: cannot both be true, neither counts: start_address 5",
        ),
        (
            "(at: 5, saw: \"broken\"), (at: 5, saw: \"broken\")",
            "note: said twice, counted once: start_address 5: broken",
        ),
    ];
    for (looks, says) in cases {
        bench.write("mine.sightings.ron", sightings(looks));
        let ran = bench.run(&["diagnose", "mine.sightings.ron", "--probes", "0"]);
        assert_eq!(ran.status, 0, "{looks}: {}", ran.err);
        assert!(ran.out.contains(says) && ran.out.contains("cannot tell"), "{looks}: {}", ran.out);
    }
}

/// On every sixth line, one further down with each two steps, four pixels show what belongs four to their left: no family
/// moves its lines so, and the answer says so, with the looks that stand against the nearest ones and what they have in
/// common; what is written as a guess can be read as a quirk.
#[test]
fn what_no_known_fault_explains_is_said_to_be_so() {
    let bench = Bench::new();
    let look = |step: u32| {
        let line = (1 + step / 2) % 6;
        format!("(at: {step}, saw: \"every sixth line from {line}, pixels 200 to 203, shifted right by 4\")")
    };
    bench.write("mine.sightings.ron", sightings(&[0, 2, 4, 6, 8, 12].map(look).join(", ")));
    let ran = bench.run(&["diagnose", "mine.sightings.ron", "--probes", "1", "--guesses", "guesses"]);
    assert_eq!(ran.status, 1, "{}", ran.err);
    for part in [
        "no known fault explains all that was seen",
        "against ",
        "start_address 2: every sixth line from 2, pixels 200 to 203, shifted right by 4",
        "strike lines 6 apart, not always the same ones",
        "stay within pixels 200 to 203",
    ] {
        assert!(ran.out.contains(part), "{part}: {}", ran.out);
    }
    let answer = bench.json(&["diagnose", "mine.sightings.ron", "--probes", "0"]);
    assert_eq!((&answer["conclusion"], &answer["check"]["fails"]), (&"none-of-these".into(), &true.into()));
    assert!(answer["check"]["probability"].as_f64().unwrap() < 0.01);
    assert!(bench.run(&["quirks", "check", "guesses/guess-1.ron"]).status < 2);
}

#[test]
fn impossible_sightings_are_refused_where_they_stand() {
    let bench = Bench::new();
    let cases = [
        ("(at: 1, saw: \"lines 3 200\")", "mine.sightings.ron:1:", "allowed lines 0..=199"),
        ("(at: 70000, saw: \"clean\")", "mine.sightings.ron:1:", "found 70000, allowed 0..=65535"),
        ("(at: 1, saw: \"clean and broken\")", "mine.sightings.ron:1:", "allowed one of them"),
    ];
    for (looks, place, says) in cases {
        bench.write("mine.sightings.ron", sightings(looks));
        let ran = bench.run(&["diagnose", "mine.sightings.ron"]);
        assert_eq!(ran.status, 2, "{looks}");
        assert!(ran.out.is_empty() && ran.err.contains(place) && ran.err.contains(says), "{}", ran.err);
    }
    let ran = bench.run(&["diagnose", "harbour-glance", "--observer-errors", "0.9"]);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("--observer-errors: found 0.9, allowed 0.001 to 0.5"), "{}", ran.err);
    let ran = bench.run(&["diagnose", "no-such"]);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("no-such"), "{}", ran.err);
}

/// A page made from sightings holds what was seen, who is suspected and which boards were compared, and the
/// diagnosis it takes to make the page again.
#[test]
fn a_report_diagnoses_on_the_way() {
    let bench = Bench::new();
    let page = ["report", ROWS_BENCH, "--over", "start_address=0..2", "--no-workarounds", "--out", "page.html"];
    let answer = bench.json(&[&page[..], &["--sightings", "harbour-glance"]].concat());
    assert_eq!(answer["damaged_steps"], 1);
    let html = std::fs::read_to_string(bench.path("page.html")).unwrap();
    let parts = [
        "id=\"boards\"",
        "id=\"diagnosis\"",
        "What was seen",
        "39 characters, start_address 0",
        "explains 7, contradicts 0",
        "diagnosis.json <span",
        "--diagnosis harbour-rows.case.zip/diagnosis.json",
    ];
    for part in parts {
        assert!(html.contains(part), "{part}");
    }
    let both = bench.run(&[&page[..], &["--sightings", "harbour-glance", "--diagnosis", "x.json"]].concat());
    assert_eq!(both.status, 2, "{}", both.err);
}

#[test]
fn a_reader_that_goes_away_ends_a_diagnosis_quietly() {
    let bench = Bench::new();
    let arguments = ["diagnose", "harbour-glance", "--format", "json"];
    let mut child = command(&bench.path(""), &arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let mut said = String::new();
    child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
    child.wait().unwrap();
    assert!(!said.contains("panicked"), "{said}");
}

/// Interrupted in the middle, nothing half-written is left.
#[cfg(unix)]
#[test]
fn an_interrupt_leaves_nothing_half_written() {
    let bench = Bench::new();
    let page = ["report", ROWS_BENCH, "--sightings", "harbour-sweep", "--out", "page.html"];
    let mut child = command(&bench.path(""), &page).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    std::thread::sleep(std::time::Duration::from_millis(300));
    let interrupt = ["-INT".to_string(), child.id().to_string()];
    std::process::Command::new("kill").args(interrupt).status().unwrap();
    child.wait().unwrap();
    let left: Vec<String> = bench.files();
    assert!(left.is_empty() || left == ["page.html"], "{left:?}");
}
