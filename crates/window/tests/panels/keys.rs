//! Keys: what they do, and whose they are.

use backporch_analysis::Verdict;
use backporch_window::panels::{KEY_BINDINGS, Settings};
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

use crate::bench_window::{BenchWindow, laid};
use crate::support::all_nodes;

#[test]
fn keys_step_the_sweep_and_move_through_time() {
    let mut harness = laid(BenchWindow::with_row_reload(&Settings::default()), 1280.0, 800.0);
    harness.key_press(Key::ArrowUp);
    harness.step();
    assert_eq!(harness.state().session.sweep().active().value(), 1);
    assert_eq!(harness.state().session.inspection().damage().verdict(), Verdict::EdgeDamaged);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowUp);
    harness.step();
    assert_eq!(harness.state().session.sweep().active().value(), 9);
    let frame = harness.state().session.transport().frame_shown();
    harness.key_press(Key::ArrowLeft);
    harness.step();
    assert_eq!(harness.state().session.transport().frame_shown(), frame - 1);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowRight);
    harness.step();
    assert!(harness.state().session.transport().is_mid_frame());
    harness.key_press(Key::Space);
    harness.step();
    assert!(harness.state().session.transport().is_running());
}

#[test]
fn every_key_of_the_list_can_be_pressed() {
    let folder = tempfile::tempdir().unwrap();
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    bench_window.session.write_to(folder.path());
    let mut harness = laid(bench_window, 1280.0, 800.0);
    for binding in KEY_BINDINGS {
        harness.key_press_modifiers(binding.with, binding.key);
        harness.run_steps(2);
        harness.key_press(Key::Escape);
        harness.run_steps(2);
    }
    let written = std::fs::read_dir(folder.path()).unwrap().count();
    assert!(written >= 2, "bench and picture at least, {written}");
}

#[test]
fn letters_typed_into_a_field_are_no_keys() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.key_press(Key::O);
    harness.run_steps(3);
    for key in [Key::Q, Key::Space, Key::C] {
        harness.key_press(key);
    }
    harness.event(egui::Event::Text("harbour-cg".to_string()));
    harness.run_steps(2);
    assert!(!harness.state().session.transport().is_running());
    assert!(harness.state().session.findings().notes().noted().is_empty());
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    assert_eq!(harness.state().session.name(), "harbour-cg");
}

#[test]
fn the_list_of_keys_opens_and_closes() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    assert!(harness.query_by_label("one character clock back").is_none());
    harness.key_press(Key::H);
    harness.run_steps(3);
    for binding in KEY_BINDINGS {
        assert!(harness.query_all_by_label(binding.words).next().is_some(), "{}", binding.words);
    }
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    assert!(harness.query_by_label("one character clock back").is_none());
}

#[test]
fn the_page_lists_every_key() {
    let page = include_str!("../../../../docs/window.md");
    for binding in KEY_BINDINGS {
        let row = format!("| `{}` | {} |", binding.label(), binding.words);
        assert!(page.contains(&row), "docs/window.md lacks {row}");
    }
}

#[test]
fn what_is_open_owns_the_keyboard() {
    let folder = tempfile::tempdir().unwrap();
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    bench_window.session.write_to(folder.path());
    let mut harness = laid(bench_window, 1280.0, 800.0);
    let untouched = |harness: &Harness<BenchWindow>| {
        let session = &harness.state().session;
        assert!(!session.transport().is_running() && session.findings().searching().is_none());
        assert_eq!((session.transport().frame_shown(), session.sweep().active().value()), (0, 0));
        assert!(session.findings().notes().noted().is_empty());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0, "no file is written");
    };
    let press_all = |harness: &mut Harness<BenchWindow>, keys: &[Key]| {
        for key in keys {
            harness.key_press(*key);
            harness.run_steps(2);
        }
    };
    // The list of keys.
    harness.key_press(Key::H);
    harness.run_steps(3);
    press_all(&mut harness, &[Key::S, Key::W, Key::C, Key::Space, Key::ArrowUp, Key::ArrowRight, Key::Q]);
    untouched(&harness);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    // The dialog of benches, its field without the focus.
    harness.key_press(Key::O);
    harness.run_steps(3);
    harness.key_press(Key::Tab);
    harness.run_steps(2);
    press_all(&mut harness, &[Key::S, Key::W, Key::C, Key::Q]);
    untouched(&harness);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    // An open list.
    harness.get_by_value("linear-256-plain").click();
    harness.run_steps(3);
    press_all(&mut harness, &[Key::S, Key::W, Key::C, Key::Q]);
    untouched(&harness);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    // The menu of all that the keys do, and a part of it.
    harness.get_by_label("menu: all that the keys do").click();
    harness.run_steps(3);
    press_all(&mut harness, &[Key::S, Key::W, Key::C, Key::Q]);
    harness.get_by_label("menu: Time").click();
    harness.run_steps(3);
    press_all(&mut harness, &[Key::S, Key::W, Key::C, Key::Q]);
    untouched(&harness);
    press_all(&mut harness, &[Key::Escape, Key::Escape]);
    assert!(harness.query_by_label("menu: Time").is_none());
    // With nothing open the keys are the window's again.
    harness.key_press(Key::C);
    harness.run_steps(2);
    assert_eq!(harness.state().session.findings().notes().noted().len(), 1);
}

#[test]
fn the_keyboard_moves_cursors_and_begins_in_the_middle() {
    let mut harness = laid(BenchWindow::with_row_reload(&Settings::default()), 1280.0, 800.0);
    let middle = harness.get_by_label_contains("frame timeline").rect().x_range();
    let focused = |harness: &Harness<BenchWindow>| {
        let all = all_nodes(harness);
        let found = all.into_iter().find(|node| node.accesskit_node().is_focused());
        found.map(|node| (node.accesskit_node().label().unwrap_or_default(), node.rect()))
    };
    // Centre first.
    harness.key_press(Key::Tab);
    harness.run_steps(2);
    let (name, rect) = focused(&harness).unwrap();
    assert!(middle.contains(rect.center().x), "{name:?} at {rect:?}");
    // The pixel cursor.
    harness.key_press(Key::F6);
    harness.run_steps(3);
    let (name, _) = focused(&harness).unwrap();
    assert!(name.starts_with("screen, "), "{name}");
    harness.key_press(Key::ArrowRight);
    harness.run_steps(2);
    let pixel = |harness: &Harness<BenchWindow>| {
        let found = &harness.state().session.inspection().pixel().unwrap().provenance;
        (found.x, found.picture_line)
    };
    let (x, line) = pixel(&harness);
    harness.key_press(Key::ArrowDown);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowLeft);
    harness.run_steps(2);
    assert_eq!(pixel(&harness), (x - 16, line + 1));
    assert_eq!(harness.state().session.sweep().active().value(), 0, "the arrows are the cursor's");
    harness.key_press(Key::Enter);
    harness.run_steps(2);
    assert_eq!(harness.state().session.findings().notes().picked(), [line + 1]);
    // The strip is one stop: across it steps the register.
    let mut stops = 0;
    while !focused(&harness).is_some_and(|(name, _)| name.starts_with("damage map")) {
        harness.key_press(Key::Tab);
        harness.run_steps(2);
        stops += 1;
        assert!(stops < 20, "the strip is reached");
    }
    harness.key_press(Key::ArrowRight);
    harness.run_steps(2);
    assert_eq!(harness.state().session.sweep().active().value(), 1);
    // And so do thumbnails: 64 of them are one stop.
    harness.state_mut().session.draw_thumbnails(2);
    harness.key_press(Key::Escape);
    harness.key_press(Key::Y);
    harness.run_steps(3);
    let seen: std::collections::BTreeSet<String> = (0..200)
        .map(|_| {
            harness.key_press(Key::Tab);
            harness.run_steps(2);
            focused(&harness).map(|(name, _)| name).unwrap_or_default()
        })
        .collect();
    let thumbnails = seen.iter().filter(|name| name.starts_with("start_address ") && name.contains(": "));
    let thumbnails: Vec<_> = thumbnails.filter(|name| !name.contains("edit")).collect();
    assert_eq!(thumbnails.len(), 1, "{seen:#?}");
    let registers = seen.iter().filter(|name| name.contains(": edit")).count();
    assert_eq!(registers, harness.state().session.registers().len(), "one stop a register");
}
