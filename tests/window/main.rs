//! The live window on a display of its own: real keys in, the display's pixels out.
//!
//! A frame buffer server (Xvfb) stands in for the display and the software
//! Vulkan driver draws on it. `tests/run` installs both.

#[path = "../../crates/window/tests/bench_window/mod.rs"]
#[allow(dead_code, reason = "the tests of the panels use more of it")]
mod bench_window;
mod display;
mod hands;
mod idle;
mod soak;
mod twin;
mod walks;

use std::fs;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use backporch_test_tools::ROWS_BENCH;
use display::{Display, Picture, Running, SIZE};

const BACKPORCH: &str = env!("CARGO_BIN_EXE_backporch");

/// What the `frame` command draws, every pixel twice as large, as the window shows it at this size.
fn frame(folder: &Path, arguments: &[&str]) -> Picture {
    scaled_frame(folder, "2", arguments)
}

fn scaled_frame(folder: &Path, scale: &str, arguments: &[&str]) -> Picture {
    let out = folder.join("wanted.png");
    let done = Command::new(BACKPORCH)
        .args(["frame", "--scale", scale, "--out"])
        .arg(&out)
        .args(arguments)
        .output()
        .expect("the program runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    Picture::read(&out)
}

/// The window, once it shows whole pixels and nothing points at them.
fn open<'a>(display: &'a Display, folder: &Path, bench: &str) -> Option<Running<'a>> {
    let window = display.open(BACKPORCH, folder, bench)?;
    window.key("f");
    Some(window)
}

#[test]
fn a_sweep_by_real_keys_shows_what_the_frame_command_shows() {
    let folder = tempfile::tempdir().unwrap();
    let Some(display) = Display::start() else { return };
    let Some(window) = open(&display, folder.path(), ROWS_BENCH) else { return };
    window.shows(&frame(folder.path(), &[ROWS_BENCH]), "the first frame");
    for step in 1..=5 {
        window.key("Up");
        let wanted = frame(folder.path(), &[ROWS_BENCH, "--start", &step.to_string()]);
        window.shows(&wanted, &format!("step {step}"));
    }
    // A step takes two frames: one in which it is written, one that shows it.
    for back in [4, 3] {
        window.key("Left");
        window.key("Left");
        let wanted = frame(folder.path(), &[ROWS_BENCH, "--start", &back.to_string()]);
        window.shows(&wanted, &format!("rewound to step {back}"));
    }
    window.key("q");
    let wanted = frame(folder.path(), &[ROWS_BENCH, "--start", "3", "--no-quirks"]);
    window.shows(&wanted, "without its quirk");
    window.key("space");
    window.shows(&wanted, "running");
    window.key("space");

    window.keys(&["Shift_L", "k"]);
    let kept = window.file(folder.path(), "harbour-rows-1-window.png");
    assert!(kept.holds(&wanted), "the window kept by the program itself shows the same");
    window.key("k");
    let kept = window.file(folder.path(), "harbour-rows-1.png");
    let arguments = [ROWS_BENCH, "--start", "3", "--no-quirks"];
    assert_eq!(kept, scaled_frame(folder.path(), "1", &arguments));
}

#[test]
fn a_broken_bench_is_shown_and_recovers() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.bench.ron");
    let bench = path.to_str().unwrap();
    let good = "(version: 1, adapter: \"linear-256\", picture: (source: \"harbour\", scroll: Redrawn))";
    fs::write(&path, good).unwrap();
    let Some(display) = Display::start() else { return };
    let Some(window) = open(&display, folder.path(), bench) else { return };
    let before = frame(folder.path(), &[bench]);
    window.shows(&before, "the bench as it was");
    assert!(!window.shows_a_fault());

    fs::write(&path, good.replace("linear-256", "linear-257")).unwrap();
    window.until("the fault is shown", || window.shows_a_fault());
    window.shows(&before, "the last good state");

    fs::write(&path, good.replace(", picture", ", registers: {\"start_address\": 7}, picture")).unwrap();
    window.until("the fault is gone", || !window.shows_a_fault());
    window.shows(&frame(folder.path(), &[bench]), "the mended bench");
}

#[test]
fn real_keys_reach_a_program() {
    let folder = tempfile::tempdir().unwrap();
    let Some(display) = Display::start() else { return };
    let Some(window) = open(&display, folder.path(), "program-keys") else { return };
    // What the program shows at a start address: the same memory, no program.
    let path = folder.path().join("still.bench.ron");
    let still = "(version: 1, adapter: \"linear-256\", registers: {\"displayed\": 31, \"sync_position\": 38}, \
                 picture: (source: \"harbour\"))";
    fs::write(&path, still).unwrap();
    // A picture of 256 pixels fits three times as large.
    let at = |start: &str| scaled_frame(folder.path(), "3", &[path.to_str().unwrap(), "--start", start]);
    window.shows(&at("0"), "the first frame");
    window.key("space");
    window.key("F11");
    for (key, start) in [("Right", "1"), ("Right", "2"), ("Right", "3"), ("Left", "2")] {
        window.key(key);
        window.shows(&at(start), &format!("panned to {start}"));
    }
    // Taken back, the keys are the window's again: Home goes to the first frame.
    window.key("F11");
    window.key("space");
    window.key("Home");
    window.shows(&at("0"), "back at the first frame");
}

#[test]
fn a_covered_or_minimised_window_is_whole_again_afterwards() {
    let folder = tempfile::tempdir().unwrap();
    let Some(display) = Display::start() else { return };
    let Some(window) = open(&display, folder.path(), "harbour-cg") else { return };
    let at = |start: &str| frame(folder.path(), &["harbour-cg", "--start", start]);
    window.shows(&at("0"), "the first frame");
    // Covered and stepped meanwhile, paused: only the display says that it is seen again.
    let cover = window.cover();
    window.until("it is covered", || !window.capture().holds(&at("0")));
    window.key("Up");
    window.uncover(cover);
    window.shows(&at("1"), "what was done under the cover");
    // Minimised, paused and running.
    for _ in 0..2 {
        window.minimise();
        window.until("it is gone", || !window.capture().holds(&at("1")));
        window.restore();
        window.shows(&at("1"), "as it was");
        window.key("space");
    }
    window.key("Up");
    window.shows(&at("2"), "it still hears keys");
}

#[test]
fn closing_asks_before_sightings_are_lost() {
    let folder = tempfile::tempdir().unwrap();
    let Some(display) = Display::start() else { return };
    let Some(mut window) = open(&display, folder.path(), "harbour-cg") else { return };
    window.shows(&frame(folder.path(), &["harbour-cg"]), "the first frame");
    window.key("c");
    window.ask_to_close();
    // Keeping has the focus: what is noted is written, then the window closes.
    let path = folder.path().join("harbour-cg-1.sightings.ron");
    std::thread::sleep(Duration::from_millis(500));
    assert!(!window.has_ended() && !path.exists(), "it asks");
    window.until("it closes", || {
        window.key("Return");
        path.exists()
    });
    window.ends();

    let Some(mut window) = open(&display, folder.path(), "harbour-cg") else { return };
    window.ask_to_close();
    window.ends();
}

#[test]
fn a_window_that_was_killed_leaves_its_sightings_to_the_next() {
    let (folder, settings) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let Some(display) = Display::start() else { return };
    let open = |bench: &str| display.open_remembering(BACKPORCH, folder.path(), bench, settings.path());
    let left = || {
        let files = fs::read_dir(settings.path().join("backporch")).into_iter().flatten().flatten();
        let names = files.map(|entry| entry.file_name().to_string_lossy().into_owned());
        names.filter(|name| name.contains("sightings")).collect::<Vec<_>>()
    };
    let Some(window) = open("harbour-cg") else { return };
    window.key("c");
    window.until("what is noted is kept aside", || left().len() == 1);
    let kept = left();
    // It is killed, and asks nobody.
    drop(window);
    let Some(mut window) = open("harbour-256-plain") else { return };
    // Restoring has the focus: the bench of the sightings is there again, and what is noted is this window's.
    let path = folder.path().join("harbour-cg-1.sightings.ron");
    window.until("they are restored", || {
        window.key("Return");
        std::thread::sleep(Duration::from_millis(200));
        left() != kept
    });
    window.key("f");
    window.shows(&frame(folder.path(), &["harbour-cg"]), "the bench of the sightings");
    window.until("they are kept aside anew", || left().len() == 1);
    window.keys(&["Shift_L", "s"]);
    window.until("they are saved", || path.exists() && left().is_empty());
    assert!(fs::read_to_string(&path).unwrap().contains("clean"));
    window.ask_to_close();
    window.ends();
    // Nothing is left to be asked about.
    let Some(window) = open("harbour-256-plain") else { return };
    // Whole pixels are remembered.
    window.shows(&frame(folder.path(), &["harbour-256-plain"]), "no question lies over it");
}

/// Numbers from a simple generator, the same ones every time.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }
}

/// Resizes faster than frames are drawn: the surface is out of date again and again.
fn resized_at_random(starts_running: bool) {
    let folder = tempfile::tempdir().unwrap();
    let Some(display) = Display::start() else { return };
    let Some(window) = open(&display, folder.path(), "harbour-cg") else { return };
    window.shows(&frame(folder.path(), &["harbour-cg"]), "the first frame");
    if starts_running {
        window.key("space");
    }
    let mut dice = Dice(u64::from(starts_running));
    for _ in 0..500 {
        window.resize((200 + dice.roll(1400) as u16, 150 + dice.roll(850) as u16));
        std::thread::sleep(Duration::from_millis(dice.roll(30)));
    }
    window.resize(SIZE);
    if starts_running {
        window.key("space");
        window.key("Home");
    }
    window.shows(&frame(folder.path(), &["harbour-cg"]), "the first frame, after all resizes");
    // It still hears keys.
    window.key("Up");
    window.shows(&frame(folder.path(), &["harbour-cg", "--start", "1"]), "a step after all resizes");
}

#[test]
fn a_paused_window_survives_500_resizes() {
    resized_at_random(false);
}

#[test]
fn a_running_window_survives_500_resizes() {
    resized_at_random(true);
}

#[test]
fn without_a_display_there_is_a_clear_message() {
    let done = Command::new(BACKPORCH)
        .args(["window", "harbour-256-plain", "--fresh"])
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .output()
        .expect("the program runs");
    assert_eq!(done.status.code(), Some(3));
    let said = String::from_utf8(done.stderr).unwrap();
    let lines: Vec<&str> = said.lines().collect();
    assert!(lines[0].starts_with("backporch: found no display to open a window on"), "{said}");
    assert!(lines[1].starts_with("  help: set DISPLAY"), "{said}");
    assert_eq!(lines.len(), 2, "{said}");
}

#[test]
fn without_a_driver_there_is_a_clear_message() {
    let Some(display) = Display::start() else { return };
    let done = display
        .command(BACKPORCH)
        .args(["window", "harbour-256-plain", "--fresh", "--seconds", "1"])
        .env("VK_DRIVER_FILES", "/none")
        .env("VK_ICD_FILENAMES", "/none")
        .env("WGPU_BACKEND", "vulkan")
        .output()
        .expect("the program runs");
    assert_eq!(done.status.code(), Some(3));
    let said = String::from_utf8(done.stderr).unwrap();
    assert!(said.contains("backporch: found no driver to draw with"), "{said}");
}

#[test]
fn a_bench_that_cannot_be_opened_is_the_users_to_mend() {
    let done = Command::new(BACKPORCH).args(["window", "no-such-bench"]).output().expect("the program runs");
    assert_eq!(done.status.code(), Some(2));
}

/// Timings gate nothing: what is measured is printed for whoever asks (`--nocapture`).
#[test]
fn pacing_is_printed() {
    let folder = tempfile::tempdir().unwrap();
    let Some(display) = Display::start() else { return };
    let Some(window) = open(&display, folder.path(), "harbour-256-plain") else { return };
    drop(window);
    let done = display
        .command(BACKPORCH)
        .args(["window", "harbour-256-plain", "--fresh", "--run", "--seconds", "4", "--format", "json"])
        .output()
        .expect("the program runs");
    assert_eq!(done.status.code(), Some(0));
    let said = String::from_utf8(done.stdout).unwrap();
    assert!(said.contains("\"frames_due\""), "{said}");
    println!("{said}");
}
