//! The fitted quirks, and the list to fit from.

use backporch_window::panels::Settings;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};
use crate::support::{focused, right_click_at};

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

/// A board with two quirks on it.
fn with_two() -> BenchWindow {
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    bench_window.session.add_quirk("snow");
    assert_eq!(bench_window.session.quirks().list().iter().filter(|fitted| fitted.on).count(), 2);
    bench_window
}

#[test]
fn one_quirk_is_switched_on_alone_by_pointer_and_by_keys() {
    let on = |harness: &Harness<BenchWindow>| -> Vec<String> {
        let list = harness.state().session.quirks().list();
        list.iter().filter(|fitted| fitted.on).map(|fitted| fitted.name().to_string()).collect()
    };
    let mut harness = laid(with_two(), 1280.0, 800.0);
    let place = harness.get_by_label("row-reload").rect().center();
    right_click_at(&mut harness, place);
    harness.get_by_label("menu: all quirks off, or on");
    harness.get_by_label("menu: switch on this quirk alone").click();
    harness.run_steps(3);
    assert_eq!(on(&harness), ["row-reload"]);

    let mut harness = laid(with_two(), 1280.0, 800.0);
    harness.get_by_label("snow").focus();
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::F10);
    harness.run_steps(3);
    assert_eq!(focused(&harness).as_deref(), Some("menu: switch on this quirk alone"));
    harness.key_press(Key::Enter);
    harness.run_steps(4);
    assert_eq!(on(&harness), ["snow"]);
    // And taken off.
    let place = harness.get_by_label("snow").rect().center();
    right_click_at(&mut harness, place);
    harness.get_by_label("menu: remove this quirk").click();
    harness.run_steps(3);
    assert_eq!(harness.state().session.quirks().list().len(), 1);
}
