//! The window under random keys, clicks, sizes and reloads, for as long as `BACKPORCH_SOAK` says, in seconds.

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use crate::display::{Display, Running, SIZE};
use crate::{BACKPORCH, Dice};

/// Seconds that the ordinary tests take.
const USUAL: u64 = 15;

/// The most that the window may take at any time, in KiB.
const MOST_KIB: u64 = 900 * 1024;

/// Keys that are pressed; those of the row of letters and digits besides.
const KEYS: [&str; 11] = ["Up", "Down", "Left", "Right", "Home", "Tab", "Escape", "Return", "space", "F6", "F11"];

/// One thing a person without a plan does.
fn act(window: &Running, dice: &mut Dice, folder: &Path, bench: &Path, text: &str) {
    match dice.roll(100) {
        0..=2 => window.resize((300 + dice.roll(900) as u16, 200 + dice.roll(600) as u16)),
        3 => {
            // Read again, as it is or broken for a while.
            let text = if dice.roll(4) == 0 { text.replace("version: 1", "version: 9") } else { text.to_string() };
            fs::write(bench, text).unwrap();
            clear(folder, bench);
        }
        4..=24 => {
            window.point((dice.roll(u64::from(SIZE.0)) as i16, dice.roll(u64::from(SIZE.1)) as i16));
            window.press_button();
        }
        25..=59 => {
            let letters = "abcdefghijklmnoprstuvxyz0123456789";
            let at = dice.roll(letters.len() as u64) as usize;
            let letter = &letters[at..=at];
            match dice.roll(4) {
                0 => window.keys(&["Shift_L", letter]),
                1 => window.keys(&["Control_L", letter]),
                _ => window.key(letter),
            }
        }
        _ => window.key(KEYS[dice.roll(KEYS.len() as u64) as usize]),
    }
}

/// Takes away what the window wrote.
fn clear(folder: &Path, bench: &Path) {
    for entry in fs::read_dir(folder).unwrap().flatten() {
        let path = entry.path();
        if path == bench {
            continue;
        }
        let _ = if path.is_dir() { fs::remove_dir_all(&path) } else { fs::remove_file(&path) };
    }
}

#[test]
fn random_keys_sizes_and_reloads_leave_it_alive_and_its_memory_bounded() {
    let seconds = std::env::var("BACKPORCH_SOAK").ok().and_then(|text| text.parse().ok()).unwrap_or(USUAL);
    let until = Duration::from_secs(seconds);
    let folder = tempfile::tempdir().unwrap();
    let bench = folder.path().join("soak.bench.ron");
    let text = include_str!("../../assets/benches/harbour-cg.bench.ron");
    fs::write(&bench, text).unwrap();
    let Some(display) = Display::start() else { return };
    let (mut dice, mut acts, mut opened) = (Dice(seconds), 0, 0);
    let (began, mut marks) = (Instant::now(), Vec::new());
    while began.elapsed() < until {
        fs::write(&bench, text).unwrap();
        let Some(mut window) = display.open(BACKPORCH, folder.path(), &bench.display().to_string()) else { return };
        opened += 1;
        // Now and then a key or a click closes it, which is no fault.
        while began.elapsed() < until && !window.has_ended() {
            act(&window, &mut dice, folder.path(), &bench, text);
            acts += 1;
            std::thread::sleep(Duration::from_millis(20 + dice.roll(60)));
            if acts % 200 == 0
                && let Some(kib) = window.resident_kib()
            {
                assert!(kib < MOST_KIB, "{kib} KiB after {acts} acts");
                marks.push((opened, kib));
            }
        }
        if window.has_ended() {
            assert!(window.ended_well(), "the window is gone after {acts} acts");
        } else {
            window.restore();
            window.resize(SIZE);
            window.until("something is painted at the end", || window.capture().is_painted());
        }
    }
    println!("{acts} acts, opened {opened} times; resident, in KiB, by opening: {marks:?}");
}
