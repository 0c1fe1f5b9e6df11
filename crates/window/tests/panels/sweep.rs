//! The active register, the damage map, thumbnails, the waveform.

use backporch_window::panels::Settings;
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

use crate::bench_window::{BenchWindow, laid};
use crate::support::{click_at, enter, right_click_at, wheel};

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
    enter(&mut harness, "70000");
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

#[test]
fn in_a_low_window_the_strip_takes_its_room_when_it_is_asked_for() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1024.0, 480.0);
    let strips = |harness: &Harness<BenchWindow>| {
        ["damage map, start_address", "start_address 0: ", "scope, line"]
            .map(|label| harness.query_all_by_label_contains(label).next().is_some())
    };
    let screen = |harness: &Harness<BenchWindow>| harness.get_by_label_contains("screen, 320 by 200").rect();
    let whole = screen(&harness);
    assert_eq!(strips(&harness), [false; 3], "there is little room");
    for shown in [[true, false, false], [false, true, false], [false, false, true]] {
        harness.key_press(Key::Y);
        harness.run_steps(3);
        assert_eq!(strips(&harness), shown);
        let (screen, strip) = (screen(&harness), harness.get_by_label("strip: waveform").rect());
        assert!(screen.height() > 80.0 && screen.bottom() <= strip.top(), "{screen:?} above {strip:?}");
    }
    harness.key_press(Key::Y);
    harness.run_steps(3);
    assert_eq!((strips(&harness), screen(&harness)), ([false; 3], whole), "the picture has its room again");
    // By the buttons as well: a second press takes it away.
    for shown in [true, false] {
        harness.get_by_label("strip: damage map").click();
        harness.run_steps(3);
        assert_eq!(strips(&harness), [shown, false, false]);
    }
    // Where there is no room at all, it is said.
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1024.0, 400.0);
    harness.key_press(Key::Y);
    harness.run_steps(3);
    assert_eq!(strips(&harness), [false; 3]);
    harness.get_by_label_contains("no room for the damage map in so low a window");
}

#[test]
fn the_waveform_is_moved_along_by_drag_and_by_arrows() {
    let mut bench_window = BenchWindow::of("scroll-late", &Settings::default());
    bench_window.session.step_frames(6);
    let mut harness = laid(bench_window, 1280.0, 800.0);
    harness.get_by_label("strip: waveform").click();
    harness.run_steps(3);
    /// The first and the last line that are seen.
    fn seen(harness: &Harness<BenchWindow>) -> (u32, u32) {
        let label = harness.get_by_label_contains("scope, line ").accesskit_node().label().unwrap();
        let numbers = |after: &str| -> u32 {
            let (_, rest) = label.split_once(after).unwrap();
            rest.split(' ').next().unwrap().parse().unwrap()
        };
        (numbers("scope, line "), numbers(" to line "))
    }
    let rect = harness.get_by_label_contains("scope, line 0 dot 0").rect();
    harness.hover_at(rect.center());
    harness.run_steps(2);
    wheel(&mut harness, 240.0);
    let before = seen(&harness);
    let wide = before.1 - before.0;
    assert!(before.0 > 0 && (80..150).contains(&wide), "a quarter of 449 lines: {before:?}");
    // Dragged to the right by a quarter of it, what came before is seen.
    let by = egui::vec2(rect.width() / 4.0, 0.0);
    harness.drag_at(rect.center());
    harness.run_steps(2);
    harness.hover_at(rect.center() + by);
    harness.run_steps(2);
    harness.drop_at(rect.center() + by);
    harness.run_steps(2);
    let dragged = seen(&harness);
    let moved = before.0 - dragged.0;
    assert!(moved.abs_diff(wide / 4) <= wide / 16, "{before:?} to {dragged:?}");
    assert!((dragged.1 - dragged.0).abs_diff(wide) <= 1);
    // By the arrows: along by an eighth, and closer.
    harness.get_by_label_contains("scope, line ").focus();
    harness.run_steps(2);
    let value = harness.state().session.sweep().active().value();
    harness.key_press(Key::ArrowRight);
    harness.run_steps(2);
    let along = seen(&harness);
    assert!((along.0 - dragged.0).abs_diff(wide / 8) <= 1, "{dragged:?} to {along:?}");
    harness.key_press(Key::ArrowUp);
    harness.run_steps(2);
    let closer = seen(&harness);
    assert!((closer.1 - closer.0).abs_diff(wide / 2) <= 1, "{along:?} to {closer:?}");
    assert_eq!(harness.state().session.sweep().active().value(), value, "the arrows are the waveform's");
}

#[test]
fn the_menu_of_the_timeline_does_what_it_says() {
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    bench_window.session.step_frames(5);
    let mut harness = laid(bench_window, 1280.0, 800.0);
    let open = |harness: &mut Harness<BenchWindow>| {
        let place = harness.get_by_label_contains("frame timeline").rect().center();
        right_click_at(harness, place);
    };
    open(&mut harness);
    harness.get_by_label("menu: jump to a frame by number").click();
    harness.run_steps(3);
    enter(&mut harness, "3");
    assert_eq!(harness.state().session.transport().frame_number(), 3);
    open(&mut harness);
    harness.get_by_label("menu: the first frame").click();
    harness.run_steps(3);
    assert_eq!(harness.state().session.transport().frame_number(), 0);
}
