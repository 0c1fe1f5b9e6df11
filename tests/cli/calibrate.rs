//! Surveys over the command line: made, run on a machine, held against profiles, and what comes out used.

use serde_json::Value;

use crate::program::Bench;

/// Runs a survey of a colour-graphics board on a machine with these options; `SURVEY.TXT` lies on the bench then.
pub fn survey(bench: &Bench, machine: &[&str]) {
    let emitted =
        bench.run(&["emit", "--board", "colour-graphics", "--as", "survey", "--mode", "320x200x4", "--out", "s.com"]);
    assert_eq!((emitted.status, emitted.err.as_str()), (0, ""));
    let mut run = vec!["run", "s.com", "--board", "colour-graphics", "--processor", "8088", "--clock", "4.77"];
    run.extend(["--frames", "3000", "--folder", ".", "--writable", "--key", "100=space", "--key", "400=enter"]);
    run.extend(machine);
    let ran = bench.run(&run);
    assert!(ran.out.contains("SURVEY"), "{}{}", ran.out, ran.err);
}

fn figure<'a>(answer: &'a Value, of: &str) -> &'a Value {
    let figures = answer["figures"].as_array().expect("figures");
    figures.iter().find(|figure| figure["of"] == of).unwrap_or_else(|| panic!("no {of}"))
}

#[test]
fn a_machine_as_the_profiles_have_it_agrees_in_everything() {
    let bench = Bench::new();
    survey(&bench, &[]);
    let output = bench.run(&["calibrate", "SURVEY.TXT", "--format", "json"]);
    let answer: Value = serde_json::from_str(&output.out).unwrap_or_else(|error| panic!("{error}: {}", output.err));
    let differing: Vec<&Value> =
        answer["figures"].as_array().unwrap().iter().filter(|figure| figure["agreement"] == "differs").collect();
    assert_eq!((output.status, differing.as_slice()), (0, [].as_slice()));
    assert_eq!((&answer["board"], &answer["cpu"]), (&"colour-graphics".into(), &"8bit-4.77".into()));
    // 3 to 8 clocks of waiting, in slots 16 dots apart (hardware note *The CGA wait states*, 2012).
    assert_eq!(figure(&answer, "slots of memory, every")["found"], 16.0);
    assert_eq!(figure(&answer, "lines of a frame")["profile"], 262.0);
    assert_eq!(figure(&answer, "lines of a frame")["agreement"], "agrees");
    assert_eq!(figure(&answer, "memory comes again after")["found"], 16384.0);
    let adapter = std::fs::read_to_string(bench.path("surveyed.adapter.ron")).unwrap();
    assert!(adapter.contains("based_on") && !adapter.contains("bus:"), "{adapter}");
}

#[test]
fn what_differs_is_told_and_goes_into_the_files() {
    let bench = Bench::new();
    bench.write(
        "slow.adapter.ron",
        "(version: 1, name: \"slow\", title: \"Slow\", based_on: \"colour-graphics\", dot_clock_hz: Some(14200000.0), \
         bus: Some((bits: 8, slots: Some((lead: 20, every: 16)))))",
    );
    bench.write(
        "slow.cpu.ron",
        "(version: 1, name: \"slow\", title: \"Slow\", facts: [], clock: (crystal_hz: 4700000, divide: 1), \
         bus: (bits: 8, cycle: 4, memory_wait: 1, port_wait: 3), refresh_beats: 15, clocks: Published(\"8088\"))",
    );
    let emitted = bench.run(&["emit", "harbour-cg", "--as", "survey", "--mode", "320x200x4", "--out", "s.com"]);
    assert_eq!(emitted.status, 0, "{}", emitted.err);
    let machine = ["--board", "slow.adapter.ron", "--cpu", "slow.cpu.ron", "--frames", "3000"];
    let keys = ["--folder", ".", "--writable", "--key", "100=space", "--key", "400=enter"];
    let ran = bench.run(&[["run", "s.com"].as_slice(), &machine, &keys].concat());
    assert!(ran.out.contains("SURVEY.TXT"), "{}{}", ran.out, ran.err);
    let output = bench.run(&["calibrate", "SURVEY.TXT"]);
    assert_eq!(output.status, 1, "{}", output.err);
    assert!(output.out.contains("differs by +2.0: the profile says 1.0"), "{}", output.out);
    assert!(output.out.contains("differs by +12: the profile says 8"), "{}", output.out);
    // Against what was drawn nothing differs, by option or by what came out.
    for (out, against) in [
        ("first", ["--board", "slow.adapter.ron", "--cpu", "slow.cpu.ron"]),
        ("second", ["--board", "surveyed.adapter.ron", "--cpu", "surveyed.cpu.ron"]),
    ] {
        let output = bench.run(&[["calibrate", "SURVEY.TXT", "--out", out].as_slice(), &against].concat());
        assert_eq!(output.status, 0, "{}{}", output.out, output.err);
    }
    // Every command takes them.
    let signal = bench.run(&["signal", "harbour-cg", "--board", "surveyed.adapter.ron"]);
    assert!(signal.out.contains("14.2"), "{}{}", signal.out, signal.err);
    let ran = bench.run(&["run", "program-keys", "--cpu", "surveyed.cpu.ron", "--frames", "2", "--format", "json"]);
    let answer: Value = serde_json::from_str(&ran.out).unwrap_or_else(|error| panic!("{error}: {}", ran.err));
    assert_eq!(answer["processor"], "8088");
}

#[test]
fn a_survey_that_cannot_be_is_refused_with_its_place() {
    let bench = Bench::new();
    survey(&bench, &[]);
    let text = std::fs::read_to_string(bench.path("SURVEY.TXT")).unwrap();
    bench.write("cut.txt", &text.as_bytes()[..text.len() / 2]);
    let output = bench.run(&["calibrate", "cut.txt"]);
    assert!(output.status == 2 && output.err.contains("check: found no check on the last line"), "{}", output.err);
    bench.write("other.txt", text.replacen("copies 1 ", "copies 2 ", 1));
    let output = bench.run(&["calibrate", "other.txt"]);
    assert!(
        output.status == 2 && output.err.contains("other.txt:") && output.err.contains("check: found"),
        "{}",
        output.err
    );
    let output = bench.run(&["calibrate", "SURVEY.TXT", "--board", "vga"]);
    assert!(output.status == 2 && output.err.contains("found a survey of colour-graphics"), "{}", output.err);
}

/// A controller whose register does not take what is written is named by the survey alone: without a look at its screen.
#[test]
fn a_survey_is_evidence_of_what_the_ports_do() {
    let bench = Bench::new();
    let emitted = bench.run(&["emit", "harbour-vga", "--as", "survey", "--mode", "320x200x256", "--out", "s.com"]);
    assert_eq!((emitted.status, emitted.err.as_str()), (0, ""));
    let diagnosed = |machine: &[&str]| -> Value {
        let keys = ["--key", "100=space", "--key", "400=enter"];
        let run = ["run", "s.com", "--board", "vga", "--frames", "3000", "--folder", ".", "--writable"];
        let _ = std::fs::remove_file(bench.path("SURVEY.TXT"));
        let ran = bench.run(&[&run[..], &keys[..], machine].concat());
        assert!(ran.out.contains("SURVEY"), "{}{}", ran.out, ran.err);
        let ran = bench.run(&["diagnose", "harbour-vga", "--survey", "SURVEY.TXT", "--format", "json"]);
        serde_json::from_str(&ran.out).unwrap_or_else(|error| panic!("{error}: {}", ran.err))
    };
    let answer = diagnosed(&["--quirk", "port-register-dead"]);
    let first = &answer["suspects"][0];
    assert_eq!(
        (&first["quirk"], &first["parameters"]["index"]),
        (&"port-register-dead".into(), &12.into()),
        "{answer:#}"
    );
    assert_eq!(answer["conclusion"], "fault");
    let notes = answer["notes"].to_string();
    assert!(notes.contains("controller register 0Ch in 320x200x256"), "{notes}");
    // Of a board as its class is built, the survey speaks for no such fault.
    let answer = diagnosed(&[]);
    assert_eq!(answer["conclusion"], "nothing-seen");
    let dead = answer["suspects"].as_array().unwrap().iter().find(|one| one["quirk"] == "port-register-dead");
    assert!(dead.is_none_or(|dead| dead["probability"].as_f64().unwrap() < 0.02), "{dead:?}");
    let refused = bench.run(&["diagnose", "harbour-256", "--survey", "SURVEY.TXT"]);
    assert_eq!(refused.status, 2);
    assert!(refused.err.contains("found a survey of vga"), "{}", refused.err);
}
