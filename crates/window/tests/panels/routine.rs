//! The headline and the hazards of a routine.

use backporch_window::panels::Settings;
use egui::Key;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};
use crate::support::click_at;

#[test]
fn a_routine_with_hazards_on_a_healthy_board_does_not_read_clean() {
    let mut bench_window = BenchWindow::of("scroll-late", &Settings::default());
    bench_window.session.step_frames(12);
    let mut harness = laid(bench_window, 1280.0, 800.0);
    let hazards = harness.state().session.headline().routine.unwrap();
    harness.get_by_label(&format!("routine: {}: go to the next hazard", hazards.words()));
    harness.key_press(Key::Home);
    harness.run_steps(2);
    // By the key, by the headline, by the trail: to the beam's place.
    harness.key_press(Key::Period);
    harness.run_steps(2);
    let first = harness.state().session.standing_at().cloned().unwrap();
    harness.get_by_label_contains(": go to the next hazard").click();
    harness.run_steps(2);
    let second = harness.state().session.standing_at().cloned().unwrap();
    assert_ne!(first, second);
    let trail = harness.get_by_label_contains("frame timeline").rect();
    click_at(&mut harness, egui::pos2(trail.left() + 6.0 * first.frame as f32 + 3.0, trail.top() + 4.0));
    assert_eq!(harness.state().session.standing_at().map(|hazard| hazard.frame), Some(first.frame));
}
