//! Every JSON document is held to the schema that `schema` prints, by a validator of another make (JSON Schema,
//! draft 2020-12, as the Python package jsonschema reads it).

use std::io::Write;
use std::process::{Command, Stdio};

use backporch_test_tools::ROWS_BENCH;
use serde_json::{Value, json};

use crate::program::Bench;

/// A command's name in the list of schemas, and ways to have its document printed.
const CASES: [(&str, &[&[&str]]); 28] = [
    ("demo", &[&["demo"]]),
    ("frame", &[&["frame", ROWS_BENCH, "--start", "29", "--at", "319,67"], &["frame", "harbour-cg"]]),
    ("sweep", &[&["sweep", ROWS_BENCH, "--over", "start_address=0..8"], &["sweep", "harbour-256"]]),
    ("compare", &[&["compare", ROWS_BENCH, "--frames", "3", "--out", "first.png"]]),
    ("diagnose", &[&["diagnose", "harbour-glance"]]),
    ("measure", &[&["measure", "capture.png", "--at", "4", "--out", "found.png", "--sightings", "seen.ron"]]),
    ("calibrate", &[&["calibrate", "SURVEY.TXT"], &["calibrate", "SURVEY.TXT", "--cpu", "386-16", "--out", "again"]]),
    (
        "workaround",
        &[
            &["workaround", ROWS_BENCH],
            &["workaround", "harbour-256"],
            &["workaround", ROWS_BENCH, "--may-change", "start_address", "--starts", "1..9", "--art", "a.png"],
        ],
    ),
    (
        "modes",
        &[
            &["modes", "--size", "256x224", "--rate", "50", "--monitor", "fixed-31", "--out", "found.bench.ron"],
            &["modes", "--size", "640x480", "--monitor", "fixed-15"],
        ],
    ),
    ("signal", &[&["signal"], &["signal", "--set", "sync_position=0"], &["signal", "--monitor", "fixed-15"]]),
    ("hazards", &[&["hazards", "scroll-late", "--frames", "9", "--phases", "2", "--budgets"]]),
    (
        "run",
        &[
            &["run", "program-torn", "--frames", "40", "--hazards", "--at", "255,5"],
            &["run", "program-torn", "--frames", "9", "--break-line", "100", "--quirk", "row-reload"],
        ],
    ),
    (
        "emit",
        &[
            &["emit", "harbour-256"],
            &["emit", "harbour-cg", "--as", "survey", "--out", "again.com"],
            &["emit", "harbour-256", "--workaround", "9"],
        ],
    ),
    ("record", &[&["record", "harbour-256", "--frames", "2", "--out", "a.gif"]]),
    ("report", &[&["report", ROWS_BENCH, "--over", "start_address=0..2", "--no-workarounds"]]),
    ("pack", &[&["pack", "harbour-256", "--out", "my.case.zip"]]),
    ("unpack", &[&["unpack", "my.case.zip", "--out", "taken"]]),
    ("boards", &[&["boards"]]),
    ("boards NAME", &[&["boards", "vga"], &["boards", "colour-graphics"]]),
    ("quirks", &[&["quirks"]]),
    ("quirks NAME", &[&["quirks", "row-reload"]]),
    ("quirks check", &[&["quirks", "check", "own.ron"]]),
    ("benches", &[&["benches"]]),
    ("monitors", &[&["monitors"]]),
    ("processors", &[&["processors"]]),
    ("routines", &[&["routines"]]),
    ("sightings", &[&["sightings"]]),
    // Needs a display: the tests of the window open one.
    ("window", &[]),
];

#[test]
fn every_document_keeps_to_its_schema() {
    let bench = Bench::new();
    bench.write("own.ron", include_str!("../../quirks/row-reload.ron"));
    bench.run(&["frame", "harbour-256", "--start", "4", "--scale", "3", "--out", "capture.png"]);
    crate::calibrate::survey(&bench, &[]);
    let listed = bench.run(&["schema"]).out;
    let listed: Vec<&str> = listed.lines().collect();
    assert!(listed.iter().all(|command| CASES.iter().any(|(known, _)| known == command)), "{listed:?}");
    let mut cases = Vec::new();
    for (command, ways) in CASES {
        let words: Vec<&str> = ["schema"].into_iter().chain(command.split(' ')).collect();
        let schema: Value = serde_json::from_str(&bench.run(&words).out).expect("a schema");
        for way in ways {
            cases.push(json!({"command": way.join(" "), "schema": schema, "document": bench.json(way)}));
        }
    }
    // What must be refused, lest the check pass whatever it is given.
    let schema = cases[0]["schema"].clone();
    cases.push(json!({"command": "none", "schema": schema, "document": {"version": 2}}));
    let Some(breaches) = breaches(&Value::from(cases)) else { return };
    let (refused, found): (Vec<&str>, Vec<&str>) = breaches.lines().partition(|line| line.starts_with("none: "));
    assert!(found.is_empty(), "{}", found.join("\n"));
    assert!(refused.iter().any(|line| line.contains("version")), "{refused:?}");
}

/// A line for each breach; `None` where there is no validator.
fn breaches(cases: &Value) -> Option<String> {
    let python = std::env::var("BACKPORCH_PYTHON").unwrap_or_else(|_| "python3".to_string());
    let mut command = Command::new(python);
    command.arg(concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/cli/schema.py"));
    command.stdin(Stdio::piped()).stdout(Stdio::piped());
    let mut child = backporch_test_tools::started(&mut command, Command::spawn)?;
    let mut input = child.stdin.take().expect("piped");
    // A script that misses its package reads nothing.
    let _ = input.write_all(cases.to_string().as_bytes());
    drop(input);
    let output = child.wait_with_output().expect("it ends");
    assert!(output.status.success(), "the validator failed");
    let text = String::from_utf8(output.stdout).expect("text");
    if let Some(tool) = text.strip_prefix("missing: ") {
        backporch_test_tools::missing(tool.trim());
        return None;
    }
    Some(text)
}
