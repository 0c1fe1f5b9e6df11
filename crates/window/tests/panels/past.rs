//! What was done, taken back and done again.

use backporch_window::panels::Settings;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};

#[test]
fn what_was_done_is_taken_back_and_done_again_by_buttons() {
    let mut harness = laid(BenchWindow::with_row_reload(&Settings::default()), 1280.0, 900.0);
    for _ in 0..3 {
        harness.key_press(Key::ArrowUp);
        harness.run_steps(2);
    }
    let value = |harness: &Harness<BenchWindow>| harness.state().session.sweep().active().value();
    harness.get_by_label("take back what was done last").click();
    harness.run_steps(2);
    assert_eq!(value(&harness), 2);
    harness.key_press_modifiers(Modifiers::CTRL, Key::Z);
    harness.run_steps(2);
    assert_eq!(value(&harness), 1);
    harness.get_by_label("do it again").click();
    harness.run_steps(2);
    assert_eq!(value(&harness), 2);
    // Something else is done: what was taken back is kept.
    harness.state_mut().session.set_active_register(40);
    harness.run_steps(2);
    harness.get_by_label("other courses of events to go over to").click();
    harness.run_steps(3);
    harness.get_by_label_contains("go over to what was done from frame ").click();
    harness.run_steps(2);
    assert_eq!(value(&harness), 3);
}
