//! Reading the screen: captures and photographs into sightings, and from there to the cause.
//!
//! `BACKPORCH_LOOP=50` photographs as many faults of the library; two in the ordinary run.

use std::path::Path;
use std::process::Command;

use serde_json::Value;

use crate::program::Bench;

/// Photographs a frame by the independent pipeline; `false` where its tools are missing.
fn photographed(bench: &Bench, frame: &str, photo: &str, seed: usize) -> bool {
    let python = std::env::var("BACKPORCH_PYTHON").unwrap_or_else(|_| "python3".to_string());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../measure/tests/make_photos.py");
    let mut command = Command::new(python);
    command
        .arg(script)
        .arg("photograph")
        .args([bench.path(frame), bench.path(photo)])
        .args([&seed.to_string(), "easy"]);
    let Some(made) = backporch_test_tools::output(&mut command) else { return false };
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    true
}

/// Faults that are seen on a picture at rest.
const FAULTS: [&[&str]; 6] = [
    &[],
    &["--quirk", "red-blue-swapped"],
    &["--quirk", "row-reload"],
    &["--quirk", "red-dead"],
    &["--quirk", "pitch-rounded"],
    &["--quirk", "address-bit-stuck"],
];

#[test]
fn a_photographed_fault_is_named_by_the_diagnosis() {
    let rounds = std::env::var("BACKPORCH_LOOP").ok().and_then(|rounds| rounds.parse().ok()).unwrap_or(2);
    let mut right = 0;
    for round in 0..rounds {
        let bench = Bench::new();
        let fault = FAULTS[round % FAULTS.len()];
        let mut measure = vec!["measure".to_string()];
        let steps = [4 + round / FAULTS.len(), 20 + round / FAULTS.len()];
        for step in steps {
            let (frame, photo) = (format!("{step}.png"), format!("{step}.jpg"));
            let start = step.to_string();
            let draw = [&["frame", "harbour-256", "--start", &start, "--out", &frame], fault].concat();
            assert_eq!(bench.run(&draw).status, 0);
            if !photographed(&bench, &frame, &photo, 100 * round + step) {
                return;
            }
            measure.push(photo);
        }
        let at = format!("{},{}", steps[0], steps[1]);
        measure.extend(["--at", &at, "--sightings", "seen.sightings.ron"].map(str::to_string));
        let measured = bench.run(&measure.iter().map(String::as_str).collect::<Vec<_>>());
        assert!(measured.status < 2, "{fault:?}: {}", measured.err);
        let found = bench.json(&["diagnose", "seen.sightings.ron", "--probes", "0"]);
        let wanted = fault.get(1).copied().unwrap_or("by-design");
        let named = is_named(&found, wanted);
        println!("{wanted}: {named}; {}", found["says"]);
        right += usize::from(named);
    }
    assert!(right * 10 >= rounds * 9, "{right} of {rounds}");
}

/// Whether a cause is the likeliest, or cannot be told from the likeliest.
fn is_named(found: &Value, wanted: &str) -> bool {
    if wanted == "by-design" {
        return found["conclusion"] == wanted;
    }
    let suspects = found["suspects"].as_array().unwrap();
    let probability = |one: &&Value| one["probability"].as_f64().unwrap();
    let first = suspects.iter().max_by(|a, b| probability(a).total_cmp(&probability(b))).unwrap();
    let alike = |group: &Value| {
        let group = group.to_string();
        group.contains(first["quirk"].as_str().unwrap()) && group.contains(wanted)
    };
    first["quirk"] == wanted || found["indistinguishable"].as_array().unwrap().iter().any(alike)
}

#[test]
fn captures_are_read_line_by_line_and_those_of_one_step_taken_together() {
    let bench = Bench::new();
    bench.run(&["frame", "harbour-256", "--start", "4", "--scale", "3", "--out", "4.png"]);
    bench.run(&["frame", "harbour-256", "--start", "0", "--scale", "3", "--out", "0.png"]);
    let found = bench.json(&["measure", "4.png", "0.png", "4.png", "--at", "4,0,4", "--out", "found.png"]);
    let looks = found["looks"].as_array().unwrap();
    assert_eq!(looks.len(), 2);
    assert_eq!(looks[0]["captures"].as_array().unwrap().len(), 2);
    assert_eq!(looks[1]["wrong"], 0, "{}", looks[1]["saw"]);
    // As the published rule has it: lines 3 mod 4, pixels 56 to 311, a row of 256 bytes further on.
    let lines = looks[0]["lines"].as_array().unwrap();
    let wrong: Vec<&Value> = lines.iter().filter(|line| line["finding"] == "elsewhere").collect();
    assert!((45..=50).contains(&wrong.len()), "{}", wrong.len());
    for line in wrong {
        assert_eq!(line["line"].as_u64().unwrap() % 4, 3, "{line}");
        assert_eq!(line["moved_px"], 256, "{line}");
    }
    for number in 1..=3 {
        let drawn = image::open(bench.path(&format!("found-{number}.png"))).unwrap();
        assert_eq!((drawn.width(), drawn.height()), (960, 600));
    }
}

#[test]
fn what_is_no_capture_of_the_picture_is_refused() {
    let bench = Bench::new();
    // Blocks of no picture at all.
    let grey = |x: u32, y: u32| image::Luma([((x / 16 * 97 + y / 12 * 61 + x / 16 * (y / 12) * 31) % 251) as u8]);
    image::GrayImage::from_fn(800, 600, grey).save(bench.path("other.png")).unwrap();
    bench.write("broken.jpg", b"\xFF\xD8\xFF\xE0 and no more");
    std::fs::create_dir(bench.path("empty")).unwrap();
    // A heading of 40,000 x 40,000 pixels with nothing behind it.
    let mut bomb = b"BM\0\0\0\0\0\0\0\0\x36\0\0\0\x28\0\0\0".to_vec();
    bomb.extend(40_000_u32.to_le_bytes());
    bomb.extend(40_000_u32.to_le_bytes());
    bomb.extend([1, 0, 24, 0]);
    bomb.extend([0; 24]);
    bench.write("bomb.bmp", bomb);
    for (arguments, says) in [
        (&["measure", "other.png"][..], "it shows something else"),
        (&["measure", "broken.jpg"], "damaged"),
        (&["measure", "bomb.bmp"], "40000 x 40000"),
        (&["measure", "empty"], "0 pictures"),
        (&["measure", "other.png", "--at", "1,2"], "--at: found 2 steps, allowed 1 or 1"),
        (&["measure", "other.png", "--at", "70000"], "--at: found 70000, allowed 0..=65535"),
        (&["measure", "missing.png"], "missing.png"),
    ] {
        let ran = bench.run(arguments);
        assert_eq!(ran.status, 2, "{arguments:?}: {}", ran.out);
        assert!(ran.err.contains(says), "{arguments:?}: {}", ran.err);
    }
}
