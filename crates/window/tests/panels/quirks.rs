//! The fitted quirks, and the list to fit from.

use backporch_window::panels::Settings;
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};

#[test]
fn a_quirk_is_found_by_words_and_fitted() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::Q);
    harness.run_steps(3);
    harness.event(egui::Event::Text("snow".to_string()));
    harness.run_steps(3);
    assert!(harness.query_by_label_contains("fit row-reload:").is_none());
    harness.get_by_label_contains("fit snow:").click();
    harness.run_steps(3);
    assert_eq!(harness.state().session.quirks().list()[0].name(), "snow");
    assert!(harness.query_by_label_contains("fit snow:").is_none(), "the list has closed");
}
