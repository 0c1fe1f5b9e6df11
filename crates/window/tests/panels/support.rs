//! Pointer, wheel and tree, and the windows that show every panel.

use std::time::Duration;

use backporch_analysis::Verdict;
use backporch_window::Command;
use backporch_window::panels::Settings;
use backporch_window::session::{BoardSide, BoardView};
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

use crate::bench_window::{BenchWindow, scaled};

/// Asks for the window to close; whether it does, and what it then asked of its owner.
pub fn ask_to_close(harness: &mut Harness<BenchWindow>) -> bool {
    let BenchWindow { session, workspace } = harness.state_mut();
    let may = workspace.may_close(session);
    harness.run_steps(3);
    may
}

/// Presses and lets go of the pointer's button at a place.
pub fn click_at(harness: &mut Harness<BenchWindow>, pos: egui::Pos2) {
    harness.hover_at(pos);
    harness.drag_at(pos);
    harness.drop_at(pos);
    harness.run_steps(2);
}

pub fn wheel(harness: &mut Harness<BenchWindow>, points: f32) {
    harness.event(egui::Event::MouseWheel {
        unit: egui::MouseWheelUnit::Point,
        delta: egui::vec2(0.0, points),
        phase: egui::TouchPhase::Move,
        modifiers: Modifiers::NONE,
    });
    harness.run_steps(12);
}

/// Presses and lets go of the pointer's second button at a place.
pub fn right_click_at(harness: &mut Harness<BenchWindow>, pos: egui::Pos2) {
    harness.hover_at(pos);
    harness.run_steps(2);
    for pressed in [true, false] {
        let button = egui::PointerButton::Secondary;
        harness.event(egui::Event::PointerButton { pos, button, pressed, modifiers: Modifiers::NONE });
        harness.run_steps(2);
    }
}

/// Every node of the accessible tree.
pub fn all_nodes<'a>(harness: &'a Harness<BenchWindow>) -> Vec<egui_kittest::Node<'a>> {
    harness.root().children_recursive().collect()
}

/// Name of the control that has the focus.
pub fn focused(harness: &Harness<BenchWindow>) -> Option<String> {
    let all = all_nodes(harness);
    all.into_iter().find(|node| node.accesskit_node().is_focused()).and_then(|node| node.accesskit_node().label())
}

/// A window that shows a panel, and what it shows.
pub type Shown = (&'static str, Harness<'static, BenchWindow>);

/// The windows that show every panel there is, and all that can be open over them, of some size in points and with so
/// many pixels a point.
pub fn every_panel((width, height): (f32, f32), scale: f32, settings: &Settings) -> Vec<Shown> {
    let shown = |bench_window| scaled(bench_window, width, height, scale);
    let with_key = |key| {
        let mut harness = shown(BenchWindow::with_row_reload(settings));
        harness.key_press(key);
        harness.run_steps(3);
        harness
    };
    let mut program = BenchWindow::of("program-torn", settings);
    program.session.step_frames(10);
    program.session.step_lines(40);
    let mut routine = BenchWindow::of("scroll-late", settings);
    routine.session.step_frames(12);
    let mut noted = BenchWindow::with_row_reload(settings);
    noted.session.perform(Command::Note(Verdict::EdgeDamaged));
    noted.session.inspect_pixel(BoardSide::Faulty, 319, 3);
    let mut question = shown(noted);
    ask_to_close(&mut question);
    let mut menu = shown(BenchWindow::with_row_reload(settings));
    menu.get_by_label("menu: all that the keys do").click();
    menu.run_steps(3);
    let mut editing = shown(BenchWindow::with_row_reload(settings));
    editing.get_by_label("displayed is 39: edit").click();
    editing.run_steps(3);
    // What hangs on things, opened by the key where it has the focus.
    let with_menu = |label: &str| {
        let mut harness = shown(BenchWindow::with_row_reload(settings));
        if harness.query_by_label(label).is_none() {
            harness.key_press(Key::OpenBracket);
            harness.run_steps(3);
        }
        harness.get_by_label(label).focus();
        harness.run_steps(2);
        harness.key_press_modifiers(Modifiers::SHIFT, Key::F10);
        harness.run_steps(3);
        assert!(harness.query_all_by_label_contains("menu: ").count() > 1, "{label} has a menu");
        harness
    };
    let mut courses = BenchWindow::with_row_reload(settings);
    (0..3).for_each(|_| courses.session.perform(Command::StepRegister(1)));
    (0..2).for_each(|_| courses.session.perform(Command::Undo));
    courses.session.set_active_register(40);
    let mut courses = shown(courses);
    if courses.query_by_label("other courses of events to go over to").is_none() {
        courses.key_press(Key::OpenBracket);
        courses.run_steps(3);
    }
    courses.get_by_label("other courses of events to go over to").click();
    courses.run_steps(3);
    let mut until = shown(BenchWindow::with_row_reload(settings));
    while until.query_by_label_contains("value of: run until").is_none() {
        until.key_press_modifiers(Modifiers::SHIFT, Key::U);
        until.run_steps(2);
    }
    let mut refused = BenchWindow::with_row_reload(settings);
    refused.session.switch_monitor("fixed-15");
    vec![
        ("a program", shown(program)),
        ("a routine", shown(routine)),
        ("the question what is kept", question),
        ("the menu", menu),
        ("a register edited", editing),
        ("a refused signal", shown(refused)),
        ("the list of keys", with_key(Key::H)),
        ("the list of benches", with_key(Key::O)),
        ("the frame to jump to", with_key(Key::J)),
        ("the menu of the screen", {
            let mut harness = with_key(Key::F6);
            harness.key_press_modifiers(Modifiers::SHIFT, Key::F10);
            harness.run_steps(3);
            harness
        }),
        ("the menu of a quirk", with_menu("row-reload")),
        ("the menu of the timeline", with_menu("frame timeline, frame 0 shown")),
        ("the menu of a register", {
            let mut harness = with_key(Key::CloseBracket);
            if harness.query_by_label("REGISTERS").is_none() {
                harness.key_press(Key::CloseBracket);
                harness.run_steps(3);
            }
            harness.get_by_label("start_address is 0: edit").focus();
            harness.run_steps(2);
            harness.key_press_modifiers(Modifiers::SHIFT, Key::F10);
            harness.run_steps(3);
            harness
        }),
        ("other courses of events", courses),
        ("the value to run until", until),
        ("the value to set", with_key(Key::V)),
        ("thumbnails", with_key(Key::Y)),
        ("three boards", with_key(Key::Num7)),
        ("the list of quirks", {
            let mut harness = shown(BenchWindow::with_row_reload(settings));
            harness.key_press_modifiers(Modifiers::SHIFT, Key::Q);
            harness.run_steps(3);
            harness
        }),
        ("the waveform", {
            let mut harness = with_key(Key::Y);
            harness.key_press(Key::Y);
            harness.run_steps(3);
            harness
        }),
        ("sightings left behind", {
            let mut bench_window = BenchWindow::with_row_reload(settings);
            bench_window.workspace.offer_to_restore("unsaved-1.sightings.ron".into());
            shown(bench_window)
        }),
    ]
}

/// The same for what takes a while to be found: suspects with probes, workarounds with tables, a photograph with its
/// corners.
pub fn filled_panels((width, height): (f32, f32), scale: f32, settings: &Settings) -> Vec<Shown> {
    let shown = |bench_window| scaled(bench_window, width, height, scale);
    let mut suspects = BenchWindow::with_row_reload(settings);
    for start in 0..4 {
        suspects.session.set_active_register(start);
        suspects.session.perform(Command::Note(suspects.session.inspection().damage().verdict()));
    }
    suspects.diagnose();
    let found = suspects.session.findings().diagnosis().unwrap();
    assert!(!found.suspects.is_empty() && !found.probes.is_empty());
    let mut ways = BenchWindow::of("harbour-256", settings);
    ways.search_ways();
    assert!(!ways.session.findings().workarounds().unwrap().list.is_empty());
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("screen.png");
    let mut photographed = BenchWindow::of("harbour-256-plain", settings);
    let picture = photographed.session.transport().frame(BoardSide::Plain).picture(backporch_raster::View::Picture);
    let bytes: Vec<u8> = picture.rgba.as_flattened().to_vec();
    let image = image::RgbaImage::from_raw(picture.width, picture.height, bytes).unwrap();
    let image = image::imageops::resize(&image, 640, 400, image::imageops::FilterType::Nearest);
    image::DynamicImage::from(image).to_rgb8().save(&path).unwrap();
    photographed.session.open_photograph(path.to_str().unwrap());
    while photographed.session.looks_for_photograph() {
        std::thread::sleep(Duration::from_millis(20));
        photographed.session.tick(0.0);
    }
    photographed.session.perform(Command::BoardView(BoardView::PhotographCorners));
    // Its name is another one every time.
    photographed.session.report("");
    vec![
        ("suspects and probes", shown(suspects)),
        ("workarounds", shown(ways)),
        ("a photograph and its corners", shown(photographed)),
    ]
}

/// Types into the field that is open, and enters it.
pub fn enter(harness: &mut Harness<BenchWindow>, text: &str) {
    harness.event(egui::Event::Text(text.to_string()));
    harness.run_steps(2);
    harness.key_press(Key::Enter);
    harness.run_steps(3);
}
