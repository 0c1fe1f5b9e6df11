//! Where things stand, at every size.

use backporch_window::panels::Settings;
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

use crate::bench_window::{BenchWindow, laid};
use crate::support::{all_nodes, every_panel, filled_panels};

/// Points of the bar at the top.
const BAR: f32 = 36.0;
/// Points from the top of the bottom line to its end.
const BOTTOM_LINE: f32 = 44.0;

#[test]
fn the_picture_keeps_its_room_at_every_size() {
    for (width, height) in [(640.0, 400.0), (800.0, 600.0), (1280.0, 800.0), (1920.0, 1080.0), (3840.0, 2160.0)] {
        let harness = laid(BenchWindow::with_row_reload(&Settings::default()), width, height);
        let room = egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(width, height)).expand(1.0);
        for label in ["run", "help: what the keys do", "one step up", "run until the chosen condition"] {
            let rect = harness.get_by_label(label).rect();
            assert!(room.contains_rect(rect), "{label} at {rect:?} in {width} x {height}");
        }
        let screen = harness.get_by_label_contains("screen, 320 by 200").rect();
        assert!(screen.width() > width * 0.3 && screen.height() > height * 0.3, "{screen:?} in {width} x {height}");
    }
}

#[test]
fn sides_are_hidden_and_shown() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    let shows = |harness: &Harness<BenchWindow>| {
        let has = |label| harness.query_by_label(label).is_some();
        (has("SIGNAL"), has("REGISTERS"))
    };
    assert_eq!(shows(&harness), (true, true));
    harness.key_press(Key::CloseBracket);
    harness.run_steps(2);
    assert_eq!(shows(&harness), (true, false));
    harness.key_press(Key::OpenBracket);
    harness.run_steps(2);
    assert_eq!(shows(&harness), (false, false));
    harness.key_press(Key::OpenBracket);
    harness.key_press(Key::CloseBracket);
    harness.run_steps(2);
    assert_eq!(shows(&harness), (true, true));

    let mut narrow = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 700.0, 500.0);
    assert_eq!(shows(&narrow), (false, true));
    narrow.key_press(Key::OpenBracket);
    narrow.run_steps(2);
    assert_eq!(shows(&narrow), (true, false));
}

#[test]
fn nothing_is_cut_off_or_covered_at_usual_sizes() {
    let sizes = [
        (1024.0, 600.0, 1.0),
        (1280.0, 800.0, 1.0),
        (1280.0, 720.0, 1.5),
        (1024.0, 600.0, 1.5),
        (1024.0, 600.0, 2.0),
        (1280.0, 720.0, 2.0),
        (1920.0, 1080.0, 1.0),
        (1920.0, 1080.0, 1.5),
        (2560.0, 1440.0, 1.0),
        (2560.0, 1440.0, 1.5),
        (2560.0, 1440.0, 2.0),
        // 1024 x 600, 1280 x 800 and 2560 x 1440 pixels, of which more than one make a point.
        (1024.0 / 1.5, 400.0, 1.5),
        (512.0, 300.0, 2.0),
        (640.0, 400.0, 2.0),
        (2560.0 / 1.5, 960.0, 1.5),
    ];
    for (width, height, scale) in sizes {
        for bench in ["harbour-256", "program-torn"] {
            let mut bench_window = BenchWindow::of(bench, &Settings::default());
            bench_window.session.step_frames(2);
            let harness = crate::bench_window::scaled(bench_window, width, height, scale);
            // Places in the tree are in pixels.
            let window = egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(width, height) * scale).expand(1.0);
            let middle = harness.get_by_label_contains("frame timeline").rect().x_range();
            let controls: Vec<(String, egui::Rect)> = all_nodes(&harness)
                .into_iter()
                .filter_map(|node| Some((node.accesskit_node().label().filter(|name| !name.is_empty())?, node.rect())))
                .filter(|(_, rect)| rect.is_positive())
                .collect();
            for (name, rect) in &controls {
                let across = window.x_range().contains(rect.left()) && window.x_range().contains(rect.right());
                assert!(across, "{bench}, {width} x {height}: {name:?} at {rect:?}");
                // At the sides there is a bar to scroll by; the middle shows all it has.
                if middle.contains(rect.left() + 1.0) && middle.contains(rect.right() - 1.0) {
                    assert!(window.contains_rect(*rect), "{bench}, {width} x {height}: {name:?} at {rect:?}");
                }
            }
            // Nothing that begins in the middle goes on under a side.
            for (name, rect) in &controls {
                let between = rect.top() > BAR * scale
                    && rect.bottom() < harness.get_by_label("run until the chosen condition").rect().top();
                let begins_in_middle = between && middle.contains(rect.left() + 1.0);
                assert!(
                    !begins_in_middle || rect.right() <= middle.max + 1.0,
                    "{bench}, {width} x {height}: {name:?} at {rect:?}"
                );
            }
            // Nothing in the middle lies under the bottom line.
            let bottom = harness.get_by_label("run until the chosen condition").rect().center().y;
            let floor = bottom - BOTTOM_LINE / 2.0 * scale;
            for (name, rect) in &controls {
                let in_middle = middle.contains(rect.left() + 1.0) && middle.contains(rect.right() - 1.0);
                if in_middle && rect.top() < floor - 1.0 {
                    assert!(rect.bottom() <= floor + 1.0, "{bench}, {width} x {height}: {name:?} at {rect:?}");
                }
            }
            let bar: Vec<_> = controls
                .iter()
                .filter(|(_, rect)| rect.bottom() < 36.0 * scale && rect.width() < 400.0 * scale)
                .collect();
            for (at, (one, rect)) in bar.iter().enumerate() {
                for (other, that) in &bar[at + 1..] {
                    let covered = rect.shrink(1.5).intersect(that.shrink(1.5));
                    assert!(
                        !covered.is_positive(),
                        "{bench}, {width} x {height}: {one:?} and {other:?} at {covered:?}"
                    );
                }
            }
        }
    }
}

/// Whether everything that is shown stands inside its window, and what asks shows all its answers.
fn fits(what: &str, harness: &Harness<BenchWindow>, (width, height): (f32, f32), scale: f32) {
    let of = format!("{what}, {width} x {height} at {scale}");
    // Places in the tree are in pixels.
    let window = egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(width, height) * scale).expand(1.0);
    for node in all_nodes(harness) {
        let Some(name) = node.accesskit_node().label().filter(|name| !name.is_empty()) else { continue };
        let rect = node.rect();
        let across =
            !rect.is_positive() || window.x_range().contains(rect.left()) && window.x_range().contains(rect.right());
        assert!(across, "{of}: {name:?} at {rect:?}");
    }
    for answer in
        ["keep what is unsaved", "cancel: all stays as it is", "restore the sightings", "later: they are kept"]
    {
        if let Some(node) = harness.query_by_label(answer) {
            assert!(window.contains_rect(node.rect()), "{of}: {answer} at {:?}", node.rect());
        }
    }
    // What lies over the panels, such as dialogs and menus, is in sight from top to bottom.
    let points = egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(width, height)).expand(1.0);
    let over = harness.ctx.memory(|memory| {
        let layers = memory.areas().visible_layer_ids().into_iter();
        let over = layers.filter(|layer| layer.order != egui::Order::Background);
        over.filter_map(|layer| memory.area_rect(layer.id)).collect::<Vec<_>>()
    });
    for rect in over {
        assert!(points.contains_rect(rect), "{of}: something that lies over the panels, at {rect:?}");
    }
    // So are the lines above and below, and the map of the memory at the foot of its side.
    let floor = window.bottom();
    for label in ["what to run until", "help: what the keys do", "MEMORY", "PIXEL", "REGISTERS"] {
        for node in harness.query_all_by_label(label) {
            let rect = node.rect();
            assert!(rect.top() > 0.0 && rect.bottom() < floor, "{of}: {label} at {rect:?}");
        }
    }
}

#[test]
fn every_panel_and_dialog_fits_its_window_in_both_themes() {
    // What a theme changes is colours: each is seen at one of the sizes.
    for (size, dark) in [((1024.0, 600.0), true), ((2560.0, 1440.0), false)] {
        let settings = Settings { dark, ..Settings::default() };
        for (what, harness) in every_panel(size, 1.0, &settings) {
            fits(what, &harness, size, 1.0);
        }
    }
}

#[test]
fn every_panel_and_dialog_fits_its_window_with_more_pixels_a_point() {
    let settings = Settings::default();
    // 1280 x 800 and 1280 x 960 pixels.
    for (size, scale) in [((1280.0 / 1.5, 800.0 / 1.5), 1.5), ((640.0, 480.0), 2.0)] {
        for (what, harness) in every_panel(size, scale, &settings) {
            fits(what, &harness, size, scale);
        }
    }
    for (size, scale) in [((1024.0, 600.0), 1.5)] {
        for (what, harness) in filled_panels(size, scale, &settings) {
            fits(what, &harness, size, scale);
        }
    }
}

#[test]
fn what_is_at_rest_is_laid_out_once_a_frame() {
    for (bench, width) in [("harbour-256", 1280.0), ("program-torn", 1280.0), ("harbour-cg", 1001.5)] {
        let mut harness = laid(BenchWindow::of(bench, &Settings::default()), width, 800.0);
        harness.run_steps(2);
        assert_eq!(harness.output().platform_output.num_completed_passes, 1, "{bench}, {width} wide");
    }
}

#[test]
fn remembered_sides_are_as_wide_the_next_day() {
    let mut settings = Settings::default();
    let mut places = Vec::new();
    for _ in 0..3 {
        let harness = laid(BenchWindow::of("harbour-256-plain", &settings), 1600.0, 1000.0);
        places.push(["SIGNAL", "REGISTERS"].map(|heading| harness.get_by_label(heading).rect().left()));
        settings = harness.state().workspace.settings((1600.0, 1000.0));
    }
    assert!(places.iter().all(|place| *place == places[0]), "{places:?}");
}
