//! The bar, its menu, and the line at the bottom.

use backporch_window::panels::Settings;
use backporch_window::session::BoardView;
use egui::Key;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};
use crate::support::enter;

#[test]
fn buttons_do_what_keys_do() {
    let mut harness = laid(BenchWindow::with_row_reload(&Settings::default()), 1280.0, 800.0);
    harness.get_by_label("one step up").click();
    harness.run_steps(2);
    assert_eq!(harness.state().session.sweep().active().value(), 1);
    harness.get_by_label("note a sighting: edge-damaged").click();
    harness.run_steps(2);
    assert_eq!(harness.state().session.findings().notes().noted().len(), 1);
    harness.get_by_label("3 beside").click();
    harness.run_steps(2);
    assert_eq!(harness.state().session.inspection().board_view(), BoardView::Beside);
    harness.get_by_label("row-reload").click();
    harness.run_steps(2);
    assert!(!harness.state().session.quirks().list()[0].on);
    harness.get_by_label("run").click();
    harness.run_steps(2);
    assert!(harness.state().session.transport().is_running());
    harness.get_by_label("pause").click();
    harness.run_steps(2);
    assert!(!harness.state().session.transport().is_running());
}

#[test]
fn a_frame_is_jumped_to_by_number() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.key_press(Key::J);
    harness.run_steps(3);
    enter(&mut harness, "7");
    assert_eq!(harness.state().session.transport().frame_shown(), 7);
}

#[test]
fn the_menu_does_all_that_keys_do() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.get_by_label("menu: all that the keys do").click();
    harness.run_steps(3);
    harness.get_by_label_contains("Active register").click();
    harness.run_steps(3);
    harness.get_by_label("menu: eight steps up").click();
    harness.run_steps(3);
    assert_eq!(harness.state().session.sweep().active().value(), 8);
    // And so does a row of the list of keys.
    harness.key_press(Key::H);
    harness.run_steps(3);
    harness.get_by_label("back to where the sweep began").click();
    harness.run_steps(3);
    assert_eq!(harness.state().session.sweep().active().value(), 0);
    assert!(harness.query_by_label("one character clock back").is_none(), "the list has closed");
}

#[test]
fn a_fault_in_a_file_is_told_in_the_window() {
    let mut bench_window = BenchWindow::of("harbour-256-plain", &Settings::default());
    bench_window.session.open_another("no-such-bench");
    let harness = laid(bench_window, 1280.0, 800.0);
    harness.get_by_label_contains("found no-such-bench");
    harness.get_by_label_contains("screen, 320 by 200");
}
