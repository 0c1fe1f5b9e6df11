//! The panel of the signal.

use backporch_signal::SYNC_CAUTION;
use backporch_window::panels::Settings;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};

#[test]
fn a_refused_signal_brings_the_caution() {
    let mut bench_window = BenchWindow::of("harbour-256-plain", &Settings::default());
    assert!(
        laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0)
            .query_by_label(SYNC_CAUTION)
            .is_none()
    );
    bench_window.session.switch_monitor("fixed-15");
    let harness = laid(bench_window, 1280.0, 800.0);
    harness.get_by_label(SYNC_CAUTION);
    harness.get_by_label("refuses");
}
