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

#[test]
fn in_a_low_window_what_to_do_about_a_mistake_is_in_sight() {
    // A program that makes mistakes, with its listing in the same side.
    let mut bench_window = BenchWindow::of("program-torn", &Settings::default());
    let has_hazard = |session: &backporch_window::session::Session| {
        session.routine().is_some_and(|routine| !routine.hazards.is_empty())
    };
    while !has_hazard(&bench_window.session) && bench_window.session.transport().frame_shown() < 200 {
        bench_window.session.step_frames(5);
    }
    let routine = bench_window.session.routine().unwrap();
    let newest = routine.hazards.iter().map(|one| &one.newest).max_by_key(|hazard| hazard.frame).unwrap();
    let (what, cure) = (newest.what.clone(), newest.cure.clone());
    let mut harness = laid(bench_window, 1024.0, 600.0);
    if harness.query_by_label("PROGRAM").is_none() {
        harness.key_press(egui::Key::OpenBracket);
        harness.run_steps(3);
    }
    let side = harness.get_by_label("PROGRAM").rect();
    let bottom = harness.get_by_label("run until the chosen condition").rect().top();
    for words in [&what, &cure] {
        let advice = harness.query_all_by_label(words).map(|node| node.rect()).find(|rect| rect.left() < side.right());
        let rect = advice.expect("the panel says it");
        assert!(rect.top() > 36.0 && rect.bottom() < bottom, "{words:?} at {rect:?}");
    }
    // Where the side is hidden, the headline says it.
    harness.key_press(egui::Key::OpenBracket);
    harness.run_steps(3);
    harness.get_by_label_contains(&cure);
}
