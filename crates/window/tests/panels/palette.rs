//! The palette.

use backporch_window::panels::Settings;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};

#[test]
fn the_palette_has_a_colour_for_every_value() {
    // Two bits a pixel, and a byte a pixel (register documentation of both classes).
    for (bench, colours) in [("harbour-cg", 4), ("harbour-256", 256)] {
        let harness = laid(BenchWindow::of(bench, &Settings::default()), 1280.0, 800.0);
        harness.get_by_label(&format!("palette, {colours} colours"));
    }
}
