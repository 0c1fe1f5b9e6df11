//! The list of registers.

use backporch_window::panels::Settings;
use backporch_window::session::BoardSide;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

use crate::bench_window::{BenchWindow, laid};
use crate::support::{enter, focused, right_click_at};

#[test]
fn a_register_is_edited_and_a_wrong_value_refused() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    let write = |harness: &mut Harness<BenchWindow>, from: u32, text: &str| {
        harness.get_by_label(&format!("displayed is {from}: edit")).click();
        harness.run_steps(3);
        enter_over(harness, text);
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

/// The values of the registers that are listed, as a screen reader hears them.
fn listed(harness: &Harness<BenchWindow>) -> Vec<String> {
    harness.query_all_by_label_contains(": edit").filter_map(|node| node.accesskit_node().label()).collect()
}

#[test]
fn in_a_low_window_the_filter_is_there_where_it_is_asked_for_or_in_force() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1024.0, 600.0);
    let has_filter = |harness: &Harness<BenchWindow>| harness.query_by_label("filter the registers").is_some();
    assert!(!has_filter(&harness), "there is little room");
    harness.key_press(Key::F3);
    harness.run_steps(3);
    assert!(has_filter(&harness), "asked for");
    harness.event(egui::Event::Text("sync width".to_string()));
    harness.run_steps(3);
    assert!(listed(&harness).iter().all(|label| label.contains("sync_width")), "{:?}", listed(&harness));
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    assert!(has_filter(&harness), "it leaves registers out");
    harness.key_press(Key::F3);
    harness.run_steps(3);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.key_press(Key::Backspace);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    assert!(!has_filter(&harness), "it does nothing");
    harness.key_press(Key::Num0);
    harness.run_steps(3);
    assert!(has_filter(&harness) && listed(&harness).is_empty(), "only what differs from start-up");
    let filter = harness.get_by_label("filter the registers").rect();
    let pixel = harness.get_by_label("PIXEL").rect();
    assert!(filter.bottom() < pixel.top(), "{filter:?} above {pixel:?}");
    harness.key_press(Key::Num0);
    harness.run_steps(3);
    assert!(!has_filter(&harness));
}

/// Types over what stands in the field that has the focus, and enters it.
fn enter_over(harness: &mut Harness<BenchWindow>, text: &str) {
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    enter(harness, text);
}

#[test]
fn a_value_is_written_past_the_ports_by_the_menu() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    let across =
        |harness: &Harness<BenchWindow>| harness.state().session.transport().frame(BoardSide::Faulty).picture_size().0;
    harness.get_by_label("displayed is 39: edit").click();
    harness.run_steps(3);
    enter_over(&mut harness, "31");
    assert_eq!(across(&harness), 256);
    harness.get_by_label("last: displayed 31");
    let place = harness.get_by_label("displayed is 31: edit").rect().center();
    right_click_at(&mut harness, place);
    harness.get_by_label("menu: type a value that is written past its ports").click();
    harness.run_steps(3);
    enter_over(&mut harness, "23");
    assert_eq!(across(&harness), 192);
    harness.get_by_label("last: displayed 23, past its ports");
}

#[test]
fn the_menu_of_what_has_the_focus_is_opened_by_a_key() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::F10);
    harness.run_steps(3);
    harness.get_by_label("what has the focus has no menu of its own");
    harness.state_mut().session.set_active_register(5);
    harness.run_steps(2);
    let label = "start_address is 5: edit";
    harness.get_by_label(label).focus();
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::F10);
    harness.run_steps(3);
    assert_eq!(focused(&harness).as_deref(), Some("menu: make it the active register"));
    let (row, entry) = (harness.get_by_label(label).rect(), focused(&harness).unwrap());
    let entry = harness.get_by_label(&entry).rect();
    assert!((entry.top() - row.bottom()).abs() < 40.0, "{entry:?} hangs on {row:?}");
    // Esc closes it, and the focus is where it was.
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    assert!(harness.query_by_label_contains("menu: back to").is_none());
    assert_eq!(focused(&harness).as_deref(), Some(label));
    harness.key_press_modifiers(Modifiers::SHIFT, Key::F10);
    harness.run_steps(3);
    harness.key_press(Key::ArrowDown);
    harness.run_steps(2);
    assert_eq!(focused(&harness).as_deref(), Some("menu: back to its start-up value, 0"));
    harness.key_press(Key::Enter);
    harness.run_steps(4);
    harness.get_by_label("start_address is 0: edit");
    assert!(harness.query_by_label_contains("menu: make it").is_none(), "what is chosen closes it");
}
