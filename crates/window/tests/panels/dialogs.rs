//! What opens over the panels, and what asks.

use backporch_analysis::Verdict;
use backporch_window::Command;
use backporch_window::panels::{HostRequest, Settings};
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};
use crate::support::ask_to_close;

#[test]
fn a_bench_is_dropped_on_the_window() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("dropped.bench.ron");
    std::fs::write(&path, "(version: 1, adapter: \"colour-graphics\")").unwrap();
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.input_mut().dropped_files.push(egui::DroppedFile { path: Some(path), ..Default::default() });
    harness.run_steps(2);
    assert_eq!(harness.state().session.bench().adapter().name(), "colour-graphics");
}

#[test]
fn a_bench_is_chosen_from_the_list() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.key_press(Key::O);
    harness.run_steps(3);
    harness.get_by_label("open scroll-late").click();
    harness.run_steps(3);
    assert_eq!(harness.state().session.name(), "scroll-late");
    assert!(harness.query_by_label("open scroll-late").is_none(), "the list is closed");
    harness.get_by_label("Scroll: start address written after it is taken over");
    harness.state_mut().session.step_frames(8);
    harness.run_steps(2);
    harness.get_by_label_contains("late-start: go to the newest, in frame");
}

/// A sighting and a recording that no file has.
fn with_unsaved(folder: &std::path::Path) -> BenchWindow {
    let mut bench_window = BenchWindow::of("harbour-256-plain", &Settings::default());
    bench_window.session.write_to(folder);
    bench_window.session.perform(Command::Record);
    bench_window.session.step_frames(2);
    bench_window.session.perform(Command::Note(Verdict::Clean));
    bench_window
}

#[test]
fn closing_asks_before_anything_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let files = || std::fs::read_dir(folder.path()).unwrap().count();
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    assert!(ask_to_close(&mut harness), "with nothing to lose it closes");

    let mut harness = laid(with_unsaved(folder.path()), 1280.0, 800.0);
    assert!(!ask_to_close(&mut harness));
    harness.get_by_label("Not saved yet: 1 sighting and a recording of 2 frames.");
    // The question owns the keyboard.
    for key in [Key::S, Key::C, Key::ArrowUp, Key::Q, Key::P] {
        harness.key_press(key);
        harness.run_steps(2);
    }
    assert_eq!((files(), harness.state().session.sweep().active().value()), (0, 0));
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    assert!(harness.query_by_label("keep what is unsaved").is_none());
    assert!(harness.state_mut().workspace.take_requests().is_empty(), "cancelled: it stays open");

    ask_to_close(&mut harness);
    harness.get_by_label("keep what is unsaved").click();
    harness.run_steps(3);
    assert_eq!(harness.state_mut().workspace.take_requests(), [HostRequest::Close]);
    assert_eq!(files(), 2, "sightings and recording");

    let mut harness = laid(with_unsaved(folder.path()), 1280.0, 800.0);
    ask_to_close(&mut harness);
    harness.get_by_label("discard what is unsaved").click();
    harness.run_steps(3);
    assert_eq!(harness.state_mut().workspace.take_requests(), [HostRequest::Close]);
    assert_eq!(files(), 2, "nothing more");
}

#[test]
fn another_bench_opens_once_it_is_settled_what_becomes_of_the_sightings() {
    let folder = tempfile::tempdir().unwrap();
    let mut harness = laid(with_unsaved(folder.path()), 1280.0, 800.0);
    let open = |harness: &mut Harness<BenchWindow>| {
        harness.key_press(Key::O);
        harness.run_steps(3);
        harness.get_by_label("open harbour-cg").click();
        harness.run_steps(3);
    };
    open(&mut harness);
    assert_eq!(harness.state().session.name(), "harbour-256-plain");
    harness.get_by_label("cancel: all stays as it is").click();
    harness.run_steps(3);
    assert_eq!(harness.state().session.name(), "harbour-256-plain");
    open(&mut harness);
    // Keeping has the focus from the start.
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    assert_eq!(harness.state().session.name(), "harbour-cg");
    assert!(harness.state().session.findings().notes().noted().is_empty());
    assert!(folder.path().join("harbour-256-plain-1.sightings.ron").exists());
}

/// Sightings that a window left behind, and another window that is asked about them.
fn left_behind(folder: &std::path::Path) -> (Harness<'static, BenchWindow>, std::path::PathBuf) {
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    bench_window.session.write_to(folder);
    bench_window.session.perform(Command::Note(Verdict::Clean));
    bench_window.session.perform(Command::StepRegister(1));
    bench_window.session.perform(Command::Note(Verdict::EdgeDamaged));
    bench_window.session.perform(Command::SaveSightings);
    let path = folder.join("harbour-256-plain-1.sightings.ron");
    assert!(path.exists());
    let mut next = BenchWindow::of("harbour-cg", &Settings::default());
    next.session.write_to(folder);
    next.workspace.offer_to_restore(path.clone());
    (laid(next, 1280.0, 800.0), path)
}

#[test]
fn sightings_left_behind_are_restored_discarded_or_kept_for_later() {
    let folder = tempfile::tempdir().unwrap();
    let answered = |answer: &str| {
        let (mut harness, path) = left_behind(folder.path());
        harness.get_by_label(answer).click();
        harness.run_steps(3);
        assert!(harness.query_by_label("restore the sightings").is_none(), "{answer}: it is answered");
        let noted = harness.state().session.findings().notes().noted().len();
        (harness.state().session.name().to_string(), noted, path.exists())
    };
    assert_eq!(answered("later: they are kept"), ("harbour-cg".to_string(), 0, true));
    std::fs::remove_file(folder.path().join("harbour-256-plain-1.sightings.ron")).unwrap();
    assert_eq!(answered("discard the sightings left behind"), ("harbour-cg".to_string(), 0, false));
    let (name, noted, is_left) = answered("restore the sightings");
    assert_eq!((name.as_str(), noted, is_left), ("harbour-256-plain", 2, false));
    // Restored, they are unsaved: the question before closing has them.
    let (mut harness, _) = left_behind(folder.path());
    // The question owns the keyboard; restoring has the focus from the start.
    for key in [Key::S, Key::C, Key::ArrowUp, Key::Q] {
        harness.key_press(key);
        harness.run_steps(2);
    }
    let session = &harness.state().session;
    assert_eq!((session.name(), session.sweep().active().value()), ("harbour-cg", 0));
    assert!(session.findings().notes().noted().is_empty());
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    assert_eq!(harness.state().session.findings().notes().noted().len(), 2);
    assert!(!ask_to_close(&mut harness));
    harness.get_by_label("Not saved yet: 2 sightings.");
}
