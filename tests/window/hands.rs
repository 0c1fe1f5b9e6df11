//! The window under a real pointer with its wheel and buttons, and under keys held together: a twin tells where things
//! stand.

use std::path::Path;
use std::time::Duration;

use egui::{Key, Modifiers, Pos2};

use crate::display::{Display, FIRST, Running};
use crate::twin::Twin;
use crate::{frame, open};

const BENCH: &str = "harbour-256-plain";

fn at(pos: Pos2) -> (i16, i16) {
    (pos.x.round() as i16, pos.y.round() as i16)
}

/// A twin that shows whole pixels, as the window does.
fn twin(bench: &str, folder: &Path) -> Twin {
    let mut twin = Twin::of(bench, folder);
    twin.press(Modifiers::NONE, Key::F);
    twin
}

/// Types a number into the field that was just opened.
fn type_in(window: &Running, figures: &str) {
    std::thread::sleep(Duration::from_millis(300));
    figures.chars().for_each(|figure| window.key(&figure.to_string()));
}

#[test]
fn the_wheel_comes_closer_a_drag_moves_and_the_magnifier_shows_pixels() {
    let (folder, twins) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let Some(display) = Display::start() else { return };
    let Some(window) = open(&display, folder.path(), BENCH) else { return };
    let whole = frame(folder.path(), &[BENCH]);
    window.shows(&whole, "the first frame");
    let (x, y) = at(twin(BENCH, twins.path()).place("screen, 320 by 200"));
    window.point((x, y));
    window.turn_wheel(3);
    window.until("the wheel comes closer", || !window.capture().holds(&whole));
    // The wheel runs out before what is seen stands still.
    std::thread::sleep(Duration::from_millis(600));
    // Above the pointer, where nothing is marked.
    let size = (200, 100);
    let part = window.capture().part((x - 100, y - 160), size);
    window.drag((x, y), (x - 80, y));
    window.until("the picture went along", || window.capture().part((x - 180, y - 160), size) == part);
    // Back as far as it goes.
    window.turn_wheel(-5);
    std::thread::sleep(Duration::from_millis(600));
    window.point((0, 0));
    window.key("Escape");
    window.shows(&whole, "all of it");

    window.point((x, y));
    std::thread::sleep(Duration::from_millis(300));
    let before = window.capture();
    window.key("g");
    window.until("the magnifier is there", || window.capture() != before);
    window.key("g");
    window.until("it is gone", || window.capture() == before);
}

#[test]
fn a_click_on_the_damage_map_goes_to_its_step() {
    let (folder, twins) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let Some(display) = Display::start() else { return };
    let Some(window) = open(&display, folder.path(), BENCH) else { return };
    window.shows(&frame(folder.path(), &[BENCH]), "the first frame");
    let map = twin(BENCH, twins.path()).rect("damage map, start_address");
    for value in [5, 60] {
        let x = map.left() + map.width() / 64.0 * (value as f32 + 0.5);
        window.press_at(at(Pos2::new(x, map.center().y)), FIRST);
        window.point((0, 0));
        // The place it went to is outlined until then.
        window.key("Escape");
        window.shows(&frame(folder.path(), &[BENCH, "--start", &value.to_string()]), &format!("step {value}"));
    }
}

#[test]
fn what_is_typed_into_a_list_or_a_field_acts_nowhere_else() {
    let (folder, twins) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let Some(display) = Display::start() else { return };
    let Some(window) = open(&display, folder.path(), BENCH) else { return };
    window.shows(&frame(folder.path(), &[BENCH]), "the first frame");
    let mut twin = twin(BENCH, twins.path());
    // An open list has the keyboard: nothing is saved.
    window.press_at(at(twin.place("class of board")), FIRST);
    std::thread::sleep(Duration::from_millis(300));
    ["k", "s", "Up"].iter().for_each(|key| window.key(key));
    std::thread::sleep(Duration::from_millis(500));
    let written = || {
        std::fs::read_dir(folder.path())
            .unwrap()
            .filter(|entry| {
                entry.as_ref().is_ok_and(|entry| entry.file_name().to_string_lossy().starts_with("harbour"))
            })
            .count()
    };
    assert_eq!(written(), 0);
    window.key("Escape");
    window.point((0, 0));
    window.shows(&frame(folder.path(), &[BENCH]), "as it was");
    // A value that no register takes is refused in words.
    window.key("v");
    type_in(&window, "70000");
    window.key("Return");
    window.until("it is refused", || window.shows_a_fault());
    window.shows(&frame(folder.path(), &[BENCH]), "nothing was written");
    window.key("v");
    type_in(&window, "7");
    window.key("Return");
    window.shows(&frame(folder.path(), &[BENCH, "--start", "7"]), "one that it takes");
    assert!(!window.shows_a_fault());
    // A register in the list, past its ports.
    let value = twin.place("displayed is 39: edit");
    twin.click(value);
    window.press_at(at(value), FIRST);
    std::thread::sleep(Duration::from_millis(300));
    window.keys(&["Control_L", "a"]);
    type_in(&window, "31");
    window.keys(&["Control_L", "Return"]);
    window.point((0, 0));
    // A picture of 256 pixels fits three times as large.
    let narrow = crate::scaled_frame(folder.path(), "3", &[BENCH, "--start", "7", "--set", "displayed=31"]);
    window.shows(&narrow, "256 pixels across");
    window.key("k");
    window.file(folder.path(), "harbour-256-plain-1.png");
}
