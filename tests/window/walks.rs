//! The two walks of the guide, followed row by row: one by mouse alone, one by keyboard alone.
//!
//! A twin without a display does the same; it tells where on the display the control of a name stands, and which one
//! has the focus.

use std::path::Path;
use std::time::{Duration, Instant};

use crate::display::{Display, Running};
use crate::twin::Twin;
use crate::{BACKPORCH, frame};

const WALKS: &str = include_str!("../../docs/window-walks.md");
const BENCH: &str = "harbour-256-plain";
/// Most presses of Tab from one control to another.
const MOST_TABS: usize = 200;
/// Longest wait for what a Tab changes, where what has the focus cannot be seen.
const LONGEST_TAB: Duration = Duration::from_secs(2);

/// A row of a walk.
struct Step {
    does: &'static str,
    what: &'static str,
    then: Option<&'static str>,
}

/// The rows of the walk under a heading.
fn walk(heading: &str) -> Vec<Step> {
    let (_, rest) = WALKS.split_once(heading).expect("the guide has it");
    let section = rest.split("\n## ").next().unwrap_or(rest);
    let code = |cell: &'static str| cell.split('`').nth(1);
    let rows = section.lines().filter(|line| line.starts_with('|')).skip(2);
    let step = |row: &'static str| {
        let cells: Vec<&'static str> = row.trim_matches('|').split('|').map(str::trim).collect();
        let [does, what, then] = cells.as_slice() else { panic!("{row}") };
        Step { does, what: code(what).expect("what is done to"), then: code(then) }
    };
    rows.map(step).collect()
}

/// Checks what a row says is to be seen.
fn expect(window: &Running, folder: &Path, step: &Step) {
    let what = format!("{} {}", step.does, step.what);
    match step.then.map(|then| (then, then.strip_prefix("backporch frame "))) {
        Some((_, Some(arguments))) => {
            let arguments: Vec<&str> = arguments.split(' ').collect();
            window.shows(&frame(folder, &arguments), &what);
        }
        Some((file, None)) => window.until(&what, || folder.join(file).exists()),
        None => std::thread::sleep(Duration::from_millis(200)),
    }
}

#[test]
fn the_walk_by_mouse_alone() {
    let (folder, twins) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let Some(display) = Display::start() else { return };
    let Some(window) = display.open(BACKPORCH, folder.path(), BENCH) else { return };
    let mut twin = Twin::of(BENCH, twins.path());
    for step in walk("## By mouse alone") {
        assert_eq!(step.does, "click", "{}", step.what);
        let at = twin.place(step.what);
        twin.click(at);
        window.point((at.x as i16, at.y as i16));
        std::thread::sleep(Duration::from_millis(250));
        window.press_button();
        if step.then.is_some() {
            // What is said of the control under the pointer could lie over the picture.
            std::thread::sleep(Duration::from_millis(250));
            twin.point(egui::Pos2::ZERO);
            window.point((0, 0));
        }
        expect(&window, folder.path(), &step);
    }
}

#[test]
fn the_walk_by_keyboard_alone() {
    let (folder, twins) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let Some(display) = Display::start() else { return };
    let Some(window) = display.open(BACKPORCH, folder.path(), BENCH) else { return };
    let mut twin = Twin::of(BENCH, twins.path());
    for step in walk("## By keyboard alone") {
        match step.does {
            "press" => {
                let (held, key) = step.what.rsplit_once(' ').unwrap_or(("", step.what));
                let (modifiers, name) = match held {
                    "Ctrl" => (egui::Modifiers::CTRL, Some("Control_L")),
                    "Shift" => (egui::Modifiers::SHIFT, Some("Shift_L")),
                    _ => (egui::Modifiers::NONE, None),
                };
                let (of_twin, of_display) = key_of(key);
                twin.press(modifiers, of_twin);
                let keys: Vec<&str> = name.into_iter().chain([of_display.as_str()]).collect();
                window.keys(&keys);
            }
            "type" => {
                twin.type_in(step.what);
                step.what.chars().for_each(|letter| window.key(&letter.to_string()));
            }
            "go to" => {
                let mut tabs = 0;
                while twin.focused().as_deref() != Some(step.what) {
                    assert!(tabs < MOST_TABS, "Tab does not come to {}", step.what);
                    twin.press(egui::Modifiers::NONE, egui::Key::Tab);
                    let before = window.capture();
                    window.key("Tab");
                    // Two in one frame would be one: the ring round what has the focus has to move first.
                    let began = Instant::now();
                    while window.capture() == before && began.elapsed() < LONGEST_TAB {
                        std::thread::sleep(Duration::from_millis(20));
                    }
                    tabs += 1;
                }
            }
            other => panic!("{other} {}", step.what),
        }
        expect(&window, folder.path(), &step);
    }
}

/// A key by the name in the guide: of the twin, and the symbol of the display's.
fn key_of(name: &str) -> (egui::Key, String) {
    use egui::Key;
    let (key, symbol) = match name {
        "↑" => (Key::ArrowUp, "Up"),
        "↓" => (Key::ArrowDown, "Down"),
        "←" => (Key::ArrowLeft, "Left"),
        "→" => (Key::ArrowRight, "Right"),
        "Enter" => (Key::Enter, "Return"),
        "Space" => (Key::Space, "space"),
        "Esc" => (Key::Escape, "Escape"),
        "Home" => (Key::Home, "Home"),
        "F6" => (Key::F6, "F6"),
        letter => {
            let key = Key::from_name(letter).expect("a key");
            return (key, letter.to_lowercase());
        }
    };
    (key, symbol.to_string())
}
