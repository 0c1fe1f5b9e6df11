//! The active register, the damage map, thumbnails, the waveform.

use backporch_window::panels::Settings;
use egui::Key;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};
use crate::support::{click_at, wheel};

#[test]
fn a_thumbnail_is_clicked_on() {
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    bench_window.session.draw_thumbnails(64);
    let mut harness = laid(bench_window, 1280.0, 800.0);
    harness.key_press(Key::Y);
    harness.run_steps(2);
    harness.get_by_label("start_address 3: edge-damaged").click();
    harness.run_steps(2);
    assert_eq!(harness.state().session.sweep().active().value(), 3);
}

#[test]
fn a_value_out_of_range_is_refused_and_said() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.key_press(Key::V);
    harness.run_steps(3);
    harness.event(egui::Event::Text("70000".to_string()));
    harness.run_steps(2);
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    assert_eq!(harness.state().session.sweep().active().value(), 0);
    harness.get_by_label_contains("found 70000, allowed 0..=65535");
}

#[test]
fn the_damage_map_leads_to_value_and_line() {
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    bench_window.session.draw_thumbnails(64);
    let mut harness = laid(bench_window, 1280.0, 800.0);
    let map = harness.get_by_label_contains("damage map, start_address 0 to 63").rect();
    let column = map.width() / 64.0;
    click_at(&mut harness, egui::pos2(map.left() + column * 5.5, map.top() + map.height() * 0.5));
    assert_eq!(harness.state().session.sweep().active().value(), 5);
    let found = harness.state().session.inspection().pixel().unwrap().provenance.clone();
    assert!((99..=101).contains(&found.picture_line), "{found:?}");
}

#[test]
fn the_waveform_is_zoomed_and_leads_to_the_beam() {
    let mut bench_window = BenchWindow::of("scroll-late", &Settings::default());
    bench_window.session.step_frames(6);
    let mut harness = laid(bench_window, 1280.0, 800.0);
    harness.get_by_label("strip: waveform").click();
    harness.run_steps(3);
    let whole = harness.get_by_label_contains("scope, line 0 dot 0 to line 448 dot 799");
    let rect = whole.rect();
    click_at(&mut harness, rect.center());
    let beam = harness.state().session.transport().beam();
    assert!(harness.state().session.transport().is_mid_frame() && (150..300).contains(&beam.scan_line), "{beam:?}");
    harness.get_by_label("scope: one scan line").click();
    harness.run_steps(3);
    harness.get_by_label_contains(&format!("scope, line {} dot 0 to ", beam.scan_line));
    harness.hover_at(rect.center());
    harness.run_steps(2);
    wheel(&mut harness, 240.0);
    assert!(harness.query_by_label_contains(&format!("scope, line {} dot 0 to ", beam.scan_line)).is_none());
}
