//! What is passed on, recordings and pages, as far as the program itself answers for them; `tests/recordings` and
//! `tests/report` look into the files.

use backporch_test_tools::ROWS_BENCH;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::json;

use crate::program::Bench;

#[test]
fn a_recording_is_told_of_and_its_form_follows_its_ending() {
    let bench = Bench::new();
    let sweep = ["record", ROWS_BENCH, "--over", "start_address=0..3", "--out"];
    for (file, form) in [("a.apng", "apng"), ("a.PNG", "apng"), ("a.gif", "gif"), ("frames", "png")] {
        let answer = bench.json(&[&sweep[..], &[file]].concat());
        assert_eq!((answer["form"].as_str(), answer["frames"].as_u64()), (Some(form), Some(3)), "{file}");
        assert_eq!(answer["damaged_frames"], 2, "{file}");
    }
    let answer = bench.json(&["record", "harbour-256-plain", "--frames", "5", "--slow", "2.5", "--out", "b.apng"]);
    let (board, seen) = (answer["board_seconds"].as_f64().unwrap(), answer["seconds"].as_f64().unwrap());
    assert!((seen - 2.5 * board).abs() < 1e-6);
}

#[test]
fn recordings_that_cannot_be_are_refused() {
    let bench = Bench::new();
    for (arguments, said) in [
        (&["--out", "a.mp4"][..], "allowed .apng, .png, .gif, or a folder"),
        (&["--as", "png", "--out", "-"], "allowed the name of a folder"),
        (&["--slow", "0"], "allowed 0.01 to 1000"),
        (&["--over", "no_such=0..3"], "no_such"),
        (&["--set", "displayed=0", "--board", "colour-graphics", "--frames", "2"], "the active area is empty"),
        (&["--over", "start_address=0..65536", "--hold", "100"], "1,000,000 frames"),
    ] {
        let ran = bench.run(&[&["record", "harbour-256-plain"][..], arguments].concat());
        assert_eq!(ran.status, 2, "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(said), "{arguments:?}: {}", ran.err);
    }
    assert!(bench.files().is_empty(), "{:?}", bench.files());
}

#[test]
fn a_page_holds_its_findings_and_what_it_takes_to_make_it_again() {
    let bench = Bench::new();
    let suspect = json!({"quirk": "row-reload", "parameters": {}, "probability": 1.0, "explains": 3, "contradicts": 0});
    bench.write("found.json", json!({"suspects": [suspect], "unread": true}).to_string());
    let hazard = json!({"kind": "late", "frame": 1, "line": 2, "dot": 3, "what": "w", "cure": "c"});
    bench.write("hazards.json", json!({"frames": 9, "hazards": [hazard]}).to_string());
    let page = ["report", ROWS_BENCH, "--over", "start_address=0..2", "--out", "page.html"];
    let answer = bench.json(&[&page[..], &["--diagnosis", "found.json", "--hazards", "hazards.json"]].concat());
    assert_eq!((answer["steps"].as_u64(), answer["damaged_steps"].as_u64()), (Some(2), Some(1)));
    let html = std::fs::read_to_string(bench.path("page.html")).unwrap();
    assert_eq!(answer["bytes"].as_u64(), Some(html.len() as u64));
    let command = "backporch report harbour-rows.case.zip --over start_address=0..=1 \
                   --diagnosis harbour-rows.case.zip/found.json --hazards harbour-rows.case.zip/hazards.json";
    for part in
        [command, "id=\"diagnosis\"", "id=\"hazards\"", "id=\"workarounds\"", "download=\"harbour-rows.case.zip\""]
    {
        assert!(html.contains(part), "{part}");
    }
}

/// A capture stands on the page with what was read on it, goes along in the case, and the page is made again from there.
#[test]
fn a_page_shows_what_captures_of_the_real_screen_show() {
    let bench = Bench::new();
    bench.run(&["frame", "harbour-256", "--start", "4", "--scale", "3", "--out", "look.png"]);
    let look = bench.path("look.png");
    let page = ["report", "harbour-256", "--over", "start_address=0..2", "--no-workarounds", "--at", "4"];
    let answer = bench.json(&[&page[..], &["--capture", look.to_str().unwrap(), "--out", "page.html"]].concat());
    assert_eq!(answer["wrong_lines"], 50, "every fourth line of 200");
    let html = std::fs::read_to_string(bench.path("page.html")).unwrap();
    let command = "backporch report harbour-256.case.zip --over start_address=0..=1 \
                   --capture harbour-256.case.zip/look.png --at 4 --no-workarounds";
    for part in [command, "id=\"captures\"", "data:image/jpeg", "from memory 256 pixels after what was meant"] {
        assert!(html.contains(part), "{part}");
    }
    assert!(!html.contains(look.parent().unwrap().to_str().unwrap()), "no path of this machine");
    let (_, case) =
        html.split_once("download=\"harbour-256.case.zip\" href=\"data:application/octet-stream;base64,").unwrap();
    let (case, _) = case.split_once('"').unwrap();
    bench.write("harbour-256.case.zip", STANDARD.decode(case).unwrap());
    let words: Vec<&str> = command.split_whitespace().skip(1).collect();
    bench.run(&[&words[..], &["--out", "again.html"]].concat());
    assert!(std::fs::read_to_string(bench.path("again.html")).unwrap() == html, "the same page again");
    // What would not go into the case, or says nothing, is refused.
    std::fs::create_dir(bench.path("folder")).unwrap();
    for (arguments, says) in [
        (&["report", "harbour-256", "--capture", "folder"][..], "a folder"),
        (&["report", "harbour-256", "--capture", "look.mp4"], "a video"),
        (&["report", "harbour-256", "--at", "4"], "--capture"),
        (&["report", "harbour-256", "--capture", "look.png", "--at", "4,5"], "2 steps"),
    ] {
        let ran = bench.run(arguments);
        assert_eq!(ran.status, 2, "{arguments:?}: {}", ran.out);
        assert!(ran.err.contains(says), "{arguments:?}: {}", ran.err);
    }
}

#[test]
fn answers_that_are_none_are_named() {
    let bench = Bench::new();
    bench.write("broken.json", "{\"suspects\": 3}");
    for option in ["--diagnosis", "--hazards"] {
        let ran = bench.run(&["report", "harbour-256-plain", "--over", "start_address=0..2", option, "broken.json"]);
        assert_eq!(ran.status, 2, "{}", ran.err);
        assert!(ran.err.starts_with("backporch: broken.json"), "{}", ran.err);
    }
    assert_eq!(bench.files(), ["broken.json"]);
}
