//! Reading the screen: captures and photographs into sightings, and from there to the cause.
//!
//! `BACKPORCH_LOOP=50` photographs as many faults of the library; two in the ordinary run.

use std::path::Path;
use std::process::Command;
use std::sync::Arc;

use backporch_analysis::{ExperimentSetup, FrameSignature};
use backporch_bench::{Bench as LoadedBench, Overrides};
use backporch_evidence::Experiment;
use backporch_evidence::likelihood::same_by_eye;
use backporch_quirk::{Family, Quirk};
use backporch_raster::{Board, Intercept, Stages, View};
use serde_json::{Value, json};

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

/// Start addresses that are photographed.
const STEPS: [u32; 3] = [1, 4, 20];
/// Seed of the draws.
const SEED: u64 = 30;

/// A number drawn at random: the splitmix64 generator (Steele, Lea and Flood, *Fast Splittable Pseudorandom Number
/// Generators*, 2014).
fn next(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let z = (*state ^ *state >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let z = (z ^ z >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ z >> 31
}

/// What the looks show under a fault.
fn shown(looks: &[ExperimentSetup], bench: &LoadedBench, fault: Option<&Quirk>) -> Vec<FrameSignature> {
    let taps = bench.layers().under(fault.cloned().into_iter().collect());
    looks.iter().map(|look| look.signature(&taps)).collect()
}

fn same(one: &[FrameSignature], other: &[FrameSignature]) -> bool {
    one.iter().zip(other).all(|(one, other)| same_by_eye(one, other))
}

/// Faults of the library drawn by their priors, of those that show beyond the design in one of the looks and stand still,
/// are put on the board; the test card is photographed by the independent pipeline, measured and diagnosed.
#[test]
fn a_photographed_fault_is_named_by_the_diagnosis() {
    let rounds: u64 = std::env::var("BACKPORCH_LOOP").ok().and_then(|rounds| rounds.parse().ok()).unwrap_or(2);
    let bench = Arc::new(LoadedBench::open("harbour-256", &Overrides::default()).unwrap().with_test_card());
    let looks = STEPS.map(|step| Experiment::on(Arc::clone(&bench)).setup(step));
    let by_design = shown(&looks, &bench, None);
    let families: Vec<Family> = Family::all_built_in().collect();
    let all: u64 = families.iter().map(|family| u64::from(family.prior())).sum();
    let mut right = 0;
    for round in 0..rounds {
        let mut random = SEED ^ round.wrapping_mul(0xD1B5_4A32_D192_ED03);
        let (fault, truth) = loop {
            let mut left = next(&mut random) % all;
            let family = families.iter().find(|family| match left.checked_sub(u64::from(family.prior())) {
                Some(rest) => {
                    left = rest;
                    false
                }
                None => true,
            });
            let family = family.unwrap();
            let fault = family.member(next(&mut random) % family.count()).unwrap();
            let truth = shown(&looks, &bench, Some(&fault));
            // What happens at the ports shows on a board that is driven through them; these stand still.
            let at_rest = !bench.layers().under(vec![fault.clone()]).stages().intersects(Stages::PORT);
            if at_rest && !same(&truth, &by_design) && truth.iter().all(|look| !look.flickers) {
                break (fault, truth);
            }
        };
        let folder = Bench::new();
        let mut measure = vec!["measure".to_string()];
        for step in STEPS {
            let (frame, photo) = (format!("{step}.png"), format!("{step}.jpg"));
            screen(&bench, step, &fault).save(folder.path(&frame)).unwrap();
            if !photographed(&folder, &frame, &photo, 100 * round as usize + step as usize) {
                return;
            }
            measure.push(photo);
        }
        measure.extend(["--card", "--at", "1,4,20", "--sightings", "seen.sightings.ron"].map(str::to_string));
        let measured = folder.run(&measure.iter().map(String::as_str).collect::<Vec<_>>());
        if measured.status == 2 && measured.err.contains("it shows something else") {
            println!("{fault}: refused; {}", measured.err);
            continue;
        }
        assert!(measured.status < 2, "{fault}: {}", measured.err);
        let found = folder.json(&["diagnose", "seen.sightings.ron", "--probes", "0"]);
        let probability = |one: &&Value| one["probability"].as_f64().unwrap();
        let suspects = found["suspects"].as_array().unwrap().iter();
        let first = suspects.max_by(|one, other| probability(one).total_cmp(&probability(other))).unwrap();
        let named = first["quirk"].as_str().unwrap();
        let named = match Family::built_in(named) {
            // The design is no suspect of the list.
            _ if found["conclusion"] == "by-design" => by_design.clone(),
            Some(family) => {
                let parameters = serde_json::from_value(first["parameters"].clone()).unwrap();
                shown(&looks, &bench, Some(&family.close(&parameters).unwrap()))
            }
            None => Vec::new(),
        };
        let hit = named.len() == truth.len() && same(&named, &truth);
        println!("{fault}: {hit}; {} {}: {}", first["quirk"], first["parameters"], found["says"]);
        right += u64::from(hit);
    }
    // The aim is nine in ten.
    assert!(right * 2 >= rounds, "{right} of {rounds}");
}

/// The screen of a board with a fault, the test card in its memory.
fn screen(bench: &Arc<LoadedBench>, step: u32, fault: &Quirk) -> image::RgbImage {
    let registers = Experiment::on(Arc::clone(bench)).registers(step);
    let tap = bench.layers().under(vec![fault.clone()]);
    let mut board = Board::new(Arc::clone(bench.adapter()), registers.clone(), tap);
    board.load(&bench.memory(&registers));
    board.run_frame();
    let picture = board.run_frame().picture(View::Picture);
    let bytes = picture.rgba.iter().flat_map(|[red, green, blue, _]| [*red, *green, *blue]).collect();
    image::RgbImage::from_raw(picture.width, picture.height, bytes).unwrap()
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
fn the_step_is_told_from_the_picture() {
    let bench = Bench::new();
    // Memory as it lies: every start address shows something else.
    bench.write(
        "still.bench.ron",
        "(version: 1, adapter: \"linear-256\", mode: \"320x200x256\", picture: (source: \"harbour\"))",
    );
    for step in [4, 9_000] {
        let (start, out) = (step.to_string(), format!("{step}.png"));
        bench.run(&["frame", "still.bench.ron", "--start", &start, "--scale", "3", "--out", &out]);
    }
    // A dark border, by which the edges stand out.
    let framed = |name: &str, to: &str| {
        let shown = image::open(bench.path(name)).unwrap().to_rgb8();
        let mut framed = image::RgbImage::new(shown.width() + 120, shown.height() + 120);
        image::imageops::replace(&mut framed, &shown, 60, 60);
        framed.save(bench.path(to)).unwrap();
    };
    framed("4.png", "look-1.png");
    framed("9000.png", "look-2.png");
    let found = bench.json(&["measure", "look-%d.png", "--bench", "still.bench.ron", "--steps", "0..=16383"]);
    let looks = found["looks"].as_array().unwrap();
    let steps: Vec<&Value> = looks.iter().map(|look| &look["step"]["start_address"]).collect();
    assert_eq!(steps, [4, 9_000]);
    let answer = &looks[0]["captures"][0]["step_found"];
    assert_eq!((&answer["among"], &answer["board"]), (&json!(16_384), &json!("by-design")), "{answer}");
    assert!(answer["fit"].as_f64().unwrap() > 0.9 && answer["next"]["margin"].as_f64().unwrap() >= 2.5, "{answer}");
    let said = bench.run(&["measure", "look-1.png", "--bench", "still.bench.ron", "--steps", "0..32"]);
    assert!(said.out.contains("step found among 32: the board as built fits"), "{}", said.out);
    // The picture that is redrawn as the window moves comes again at other start addresses.
    bench.run(&["frame", "harbour-256", "--start", "4", "--scale", "3", "--out", "moved.png"]);
    framed("moved.png", "moved.png");
    for (arguments, says) in [
        (&["measure", "moved.png"][..], "show alike"),
        (&["measure", "moved.png", "--steps", "70000"], "--steps: found 70000, allowed 0..=65535"),
        (
            &["measure", "moved.png", "--steps", "0..4", "--over", "displayed"],
            "steps are found of the start address only",
        ),
        (&["measure", "none-%d.png"], "0 files"),
    ] {
        let ran = bench.run(arguments);
        assert_eq!(ran.status, 2, "{arguments:?}: {}", ran.out);
        assert!(ran.err.contains(says), "{arguments:?}: {}", ran.err);
    }
    let found = bench.json(&["measure", "moved.png", "--steps", "0..64"]);
    assert_eq!(found["looks"][0]["step"]["start_address"], 4);
}

/// A frame of a bench whose memory lies still, in a dark border by which its edges stand out.
fn framed(bench: &Bench, frame: &[&str], to: &str) {
    let text = "(version: 1, adapter: \"linear-256\", mode: \"320x200x256\", picture: (source: \"harbour\"))";
    bench.write("still.bench.ron", text);
    bench.run(&[&["frame", "still.bench.ron", "--scale", "3", "--out", to], frame].concat());
    let shown = image::open(bench.path(to)).unwrap().to_rgb8();
    let mut framed = image::RgbImage::new(shown.width() + 120, shown.height() + 120);
    image::imageops::replace(&mut framed, &shown, 60, 60);
    framed.save(bench.path(to)).unwrap();
}

/// Start address 12 with bit 3 stuck at 0 looks as 4 does: both are named where such a fault comes into question.
#[test]
fn a_fault_that_shows_the_picture_of_another_step_is_not_taken_for_that_step() {
    let bench = Bench::new();
    let stuck = "(version: 1, name: \"stuck\", title: \"stuck\", cause: \"a wire\", looks: \"another\", standing: Known, prior: 1, \
                 effects: [(does: Latch(BitsLow(bits: 8)))])";
    bench.write("stuck.ron", stuck);
    let parameters = json!({"bits": 8});
    let suspect = json!({"quirk": "start-bits-stuck", "parameters": parameters, "probability": 0.9, "explains": 1, "contradicts": 0});
    bench.write("found.json", json!({"suspects": [suspect]}).to_string());
    framed(&bench, &["--start", "12", "--quirk", "stuck.ron"], "look.png");
    let measure = ["measure", "look.png", "--bench", "still.bench.ron"];
    for (more, board) in [
        (["--quirk", "stuck.ron"], "the board with its quirks"),
        (["--suspects", "found.json"], "the board under start-bits-stuck bits 8"),
    ] {
        let ran = bench.run(&[&measure[..], &more].concat());
        assert_eq!(ran.status, 2, "{}", ran.out);
        let says = format!("step 4 on the board as built, or of step 12 on {board}, which look the same");
        assert!(ran.err.contains(&says), "{}", ran.err);
    }
    // Where no such fault is known of, it is the step that it looks like; and so it is where the other was not looked at.
    assert_eq!(bench.json(&measure)["looks"][0]["step"]["start_address"], 4);
    let found = bench.json(&[&measure[..], &["--quirk", "stuck.ron", "--steps", "0..8"]].concat());
    assert_eq!(found["looks"][0]["step"]["start_address"], 4);
}

/// What the capture does not hold could not be judged; the rest is read.
#[test]
fn a_capture_that_is_cut_off_is_read_as_far_as_it_goes() {
    let bench = Bench::new();
    framed(&bench, &["--start", "4"], "look.png");
    let whole = image::open(bench.path("look.png")).unwrap();
    // The lower 30 lines of 200, and then the left 40 pixels of 320, are missing.
    whole.crop_imm(0, 0, 1080, 60 + 170 * 3).save(bench.path("below.png")).unwrap();
    let found = bench.json(&["measure", "below.png", "--bench", "still.bench.ron", "--at", "4"]);
    let look = &found["looks"][0];
    assert_eq!(look["captures"][0]["cut_off_lines"], 30, "{}", look["captures"][0]);
    let findings: Vec<&str> =
        look["lines"].as_array().unwrap().iter().map(|line| line["finding"].as_str().unwrap()).collect();
    assert!(findings[171..].iter().all(|finding| *finding == "could-not-tell"), "{findings:?}");
    // On a board as built every fourth line from 3 shows another place of memory.
    let right = |line: &usize| findings[*line] == if line % 4 == 3 { "elsewhere" } else { "as-meant" };
    assert!((0..168).filter(right).count() >= 160, "{findings:?}");
    whole.crop_imm(60 + 40 * 3, 0, 900, 720).save(bench.path("left.png")).unwrap();
    let found = bench.json(&["measure", "left.png", "--bench", "still.bench.ron", "--at", "4"]);
    let look = &found["looks"][0];
    assert_eq!(look["captures"][0]["cut_off_lines"], 200);
    assert_eq!((look["as_meant"].as_u64(), look["wrong"].as_u64() >= Some(40)), (Some(0), true), "{}", look["saw"]);
}

/// Plays a session's program on the board as built, to the look that is shown at that frame.
fn played(bench: &Bench, frames: &str, keys: &[&str]) {
    let mut play = vec!["run", "look.com", "--board", "linear-256", "--frames", frames, "--folder", ".", "--writable"];
    keys.iter().for_each(|key| play.extend(["--key", *key]));
    let ran = bench.run(&play);
    assert!(ran.status < 2, "{}", ran.err);
    let shown = image::open(bench.path("look.png")).unwrap();
    assert_eq!((shown.width(), shown.height()), (320, 200));
}

/// A session's program is made and played, its screen photographed: board, mode and step come from the photograph alone.
#[test]
fn the_card_of_a_session_is_told_by_its_code_or_without() {
    let bench = Bench::new();
    let emitted = bench.run(&["emit", "harbour-256", "--as", "session", "--over", "0..=4", "--out", "look.com"]);
    assert_eq!(emitted.status, 0, "{}", emitted.err);
    // Two pages, and what is set: the first look, at start address 0, where the class damages nothing.
    let pages = ["100=space", "200=space", "300=space"];
    played(&bench, "390", &pages);
    if !photographed(&bench, "look.png", "first.jpg", 5) {
        return;
    }
    let found = bench.json(&["measure", "first.jpg"]);
    assert_eq!(found["card"], json!({"code": "BP1:LINEAR-256/320X200X256", "unreadable_on": []}));
    assert_eq!(found["looks"][0]["step"]["start_address"], 0);
    assert!(found["looks"][0]["wrong"].as_u64().unwrap() <= 2, "{}", found["looks"][0]["saw"]);
    // Another mode's card is refused.
    let refused = bench.run(&["measure", "first.jpg", "--bench", "harbour-vga"]);
    assert_eq!(refused.status, 2, "{}", refused.out);
    assert!(refused.err.contains("a test card of BP1:LINEAR-256/320X200X256"), "{}", refused.err);
    // On to the fifth look, at start address 4, where the class damages lines, and the codes with them.
    let on = ["400=enter", "550=enter", "700=enter", "850=enter"];
    played(&bench, "1250", &[&pages[..], &on].concat());
    assert!(photographed(&bench, "look.png", "last.jpg", 5));
    let found = bench.json(&["measure", "last.jpg", "--sightings", "seen.sightings.ron"]);
    assert_eq!(found["card"], json!({"code": null, "unreadable_on": ["by-design"]}));
    let look = &found["looks"][0];
    assert_eq!(look["step"]["start_address"], 4, "{}", look["captures"]);
    // As the published rule has it: lines 3 mod 4, and no other, are from elsewhere; the label is left out.
    let lines = look["lines"].as_array().unwrap();
    let wrong = lines.iter().filter(|line| line["finding"] != "as-meant" && line["finding"] != "could-not-tell");
    let wrong: Vec<u64> = wrong.map(|line| line["line"].as_u64().unwrap()).collect();
    assert!(wrong.len() >= 40 && wrong.iter().filter(|line| **line % 4 != 3).count() <= 2, "{wrong:?}");
    let sightings = std::fs::read_to_string(bench.path("seen.sightings.ron")).unwrap();
    assert!(sightings.contains("card: true"), "{sightings}");
    let found = bench.json(&["diagnose", "seen.sightings.ron", "--probes", "0"]);
    assert_eq!(found["conclusion"], "by-design", "{}", found["says"]);
    // The numbers on the photographs tell which look of the session they show, in whatever order they come.
    let by_number = ["measure", "last.jpg", "first.jpg", "--session", "look.txt", "--sightings", "looks.sightings.ron"];
    let found = bench.json(&by_number);
    let looks = found["looks"].as_array().unwrap();
    let told: Vec<(u64, u64)> = looks
        .iter()
        .map(|look| (look["look"]["number"].as_u64().unwrap(), look["step"]["start_address"].as_u64().unwrap()))
        .collect();
    assert_eq!(told, [(1, 0), (5, 4)]);
    assert!(looks.iter().all(|look| look["look"]["margin"].as_f64() >= Some(3.0)), "{found}");
    assert_eq!(looks[1]["captures"][0]["file"], "last.jpg");
    let found = bench.json(&["diagnose", "looks.sightings.ron", "--probes", "0"]);
    assert_eq!(found["conclusion"], "by-design", "{}", found["says"]);
    // Of another session's sheet the number may be known, but not the card.
    bench.run(&["emit", "harbour-vga", "--as", "session", "--over", "0..=1", "--out", "other.com"]);
    let refused = bench.run(&["measure", "first.jpg", "--session", "other.txt", "--bench", "harbour-vga"]);
    assert_eq!(refused.status, 2, "{}", refused.out);
}

#[test]
fn a_video_gives_its_frames() {
    let bench = Bench::new();
    bench.run(&["frame", "harbour-256", "--start", "4", "--scale", "3", "--out", "4.png"]);
    let mut command = Command::new("ffmpeg");
    command.args(["-v", "error", "-nostdin", "-loop", "1", "-framerate", "4", "-t", "1.5", "-i"]);
    command.arg(bench.path("4.png")).args(["-c:v", "mjpeg", "-q:v", "2"]).arg(bench.path("4.avi"));
    let Some(made) = backporch_test_tools::output(&mut command) else { return };
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let found = bench.json(&["measure", "4.avi", "--at", "4"]);
    // Two frames a second.
    let captures = found["looks"][0]["captures"].as_array().unwrap().len();
    assert!((2..=4).contains(&captures), "{captures}");
    assert!(found["looks"][0]["wrong"].as_u64().unwrap() >= 40);
    bench.write("broken.mp4", b"no video at all");
    for (name, says) in [("broken.mp4", "a video that ffmpeg reads"), ("missing.mp4", "no such file")] {
        let ran = bench.run(&["measure", name, "--at", "4"]);
        assert_eq!(ran.status, 2, "{name}: {}", ran.out);
        assert!(ran.err.contains(says), "{name}: {}", ran.err);
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
        (&["measure", "other.png", "--at", "0"], "it shows something else"),
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
