//! The list of registers.

use backporch_window::panels::Settings;
use backporch_window::session::BoardSide;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

use crate::bench_window::{BenchWindow, laid};

#[test]
fn a_register_is_edited_and_a_wrong_value_refused() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    let write = |harness: &mut Harness<BenchWindow>, from: u32, text: &str| {
        harness.get_by_label(&format!("displayed is {from}: edit")).click();
        harness.run_steps(3);
        harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        harness.event(egui::Event::Text(text.to_string()));
        harness.run_steps(2);
        harness.key_press(Key::Enter);
        harness.run_steps(3);
    };
    write(&mut harness, 39, "1Fh");
    assert_eq!(harness.state().session.transport().frame(BoardSide::Faulty).picture_size().0, 256);
    assert!(harness.state().session.sweep().active().name() == "start_address");
    write(&mut harness, 31, "300");
    harness.get_by_label_contains("found 300, allowed 0..=255");
    assert_eq!(harness.state().session.transport().frame(BoardSide::Faulty).picture_size().0, 256);
}

#[test]
fn ctrl_enter_writes_past_the_ports() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.get_by_label("displayed is 39: edit").click();
    harness.run_steps(3);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.event(egui::Event::Text("31".to_string()));
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::CTRL, Key::Enter);
    harness.run_steps(3);
    assert_eq!(harness.state().session.transport().frame(BoardSide::Faulty).picture_size().0, 256);
}

#[test]
fn registers_are_filtered_by_words_and_by_change() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.key_press(Key::F3);
    harness.run_steps(3);
    harness.event(egui::Event::Text("sync width".to_string()));
    harness.run_steps(3);
    harness.get_by_label_contains("vertical_sync_width is ");
    assert!(harness.query_by_label_contains("displayed is 39").is_none());
    // Letters in the field are no keys, and Esc leaves it.
    harness.key_press(Key::C);
    harness.run_steps(2);
    assert!(harness.state().session.findings().notes().noted().is_empty());
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.key_press(Key::Backspace);
    harness.run_steps(2);
    harness.key_press(Key::Escape);
    harness.run_steps(2);
    harness.key_press(Key::ArrowUp);
    harness.run_steps(2);
    harness.key_press(Key::Num0);
    harness.run_steps(2);
    let shown: Vec<String> =
        harness.query_all_by_label_contains(": edit").filter_map(|node| node.accesskit_node().label()).collect();
    assert_eq!(shown, ["start_address is 1: edit"]);
}
