//! Pointer, wheel and tree, and the windows that show every panel.

use backporch_analysis::Verdict;
use backporch_window::Command;
use backporch_window::panels::Settings;
use backporch_window::session::BoardSide;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

use crate::bench_window::{BenchWindow, laid};

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

/// The windows that show every panel there is, and all that can be open over them, of some size in points.
pub fn every_panel(
    (width, height): (f32, f32),
    settings: &Settings,
) -> Vec<(&'static str, Harness<'static, BenchWindow>)> {
    let shown = |bench_window| laid(bench_window, width, height);
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
