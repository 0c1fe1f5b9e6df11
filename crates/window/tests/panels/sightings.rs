//! Sightings, suspects and probes.

use backporch_window::Command;
use backporch_window::panels::Settings;
use egui::Key;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};

#[test]
fn sightings_are_diagnosed_and_a_suspect_fitted_by_buttons() {
    let mut bench_window = BenchWindow::with_row_reload(&Settings { left: 300.0, ..Settings::default() });
    for start in 0..9 {
        bench_window.session.set_active_register(start);
        bench_window.session.perform(Command::Note(bench_window.session.inspection().damage().verdict()));
    }
    let mut harness = laid(bench_window, 1600.0, 1800.0);
    harness.get_by_label("diagnose: which fault explains the sightings").click();
    harness.run_steps(2);
    let began = std::time::Instant::now();
    while harness.state().session.findings().diagnosing().is_some() {
        assert!(began.elapsed().as_secs() < 300, "nine sightings are judged in seconds");
        std::thread::sleep(std::time::Duration::from_millis(10));
        harness.state_mut().session.tick(0.0);
    }
    harness.run_steps(2);
    harness.state_mut().session.perform(Command::AllQuirks);
    harness.run_steps(2);
    harness.get_by_label("put row-reload on the board").click();
    harness.run_steps(2);
    assert!(harness.state().session.quirks().list().iter().any(|fitted| fitted.on && fitted.name() == "row-reload"));
    assert!(harness.query_all_by_label_contains("set the board up for probe").count() <= 3);
}

#[test]
fn what_is_seen_is_put_together_from_chips() {
    let mut harness = laid(BenchWindow::with_row_reload(&Settings::default()), 1280.0, 900.0);
    for label in
        ["bad lines closer together", "seen: every third line", "seen: at the right edge", "seen: now and then"]
    {
        harness.get_by_label(label).click();
        harness.run_steps(2);
    }
    harness.get_by_label("note a sighting: edge-damaged").click();
    harness.run_steps(2);
    let noted = harness.state().session.findings().notes().noted()[0].saw.clone();
    assert_eq!(noted, "now and then edge-damaged, every third line, at the right edge");
    harness.key_press(Key::ArrowUp);
    harness.run_steps(2);
    harness.get_by_label("note a sighting: could not tell").click();
    harness.run_steps(2);
    assert_eq!(harness.state().session.findings().notes().noted()[1].saw, "could not tell");
}

#[test]
fn the_leading_suspects_prediction_stands_beside_each_note() {
    let mut bench_window = BenchWindow::with_row_reload(&Settings { left: 400.0, ..Settings::default() });
    for start in 0..4 {
        bench_window.session.set_active_register(start);
        bench_window.session.perform(Command::Note(bench_window.session.inspection().damage().verdict()));
    }
    bench_window.diagnose();
    let leading = bench_window.session.findings().diagnosis().unwrap().suspects[0].name.clone();
    let predicted = bench_window.session.findings().diagnosis().unwrap().predicted.clone();
    assert_eq!(predicted.len(), 4);
    assert_eq!(predicted[0].as_deref(), Some("clean"), "the first sighting is of a clean picture");
    assert!(predicted[1].as_deref().is_some_and(|words| words.starts_with("damaged")), "{predicted:?}");
    let mut harness = laid(bench_window, 1600.0, 1400.0);
    harness.run_steps(2);
    let shown = harness.query_all_by_label_contains(&format!("{leading} shows: ")).count();
    assert_eq!(shown, 4);
}
