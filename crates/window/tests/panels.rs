//! The panels, run without a window: what they say, and what keys and buttons do.

#[allow(dead_code)]
mod bench_window;

use backporch_analysis::Verdict;
use backporch_signal::SYNC_CAUTION;
use backporch_window::Command;
use backporch_window::panels::{HostRequest, KEY_BINDINGS, Settings, Workspace};
use backporch_window::session::{BoardView, Side};
use bench_window::{BenchWindow, laid};
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

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
fn the_keyboard_is_given_to_the_program_and_taken_back() {
    let mut harness = laid(BenchWindow::of("program-keys", &Settings::default()), 1280.0, 800.0);
    let start = |harness: &Harness<BenchWindow>| {
        let bench = harness.state().session.bench();
        bench.adapter().get(harness.state().session.transport().faulty_registers(), bench.adapter().start_address())
    };
    // Ours: an arrow goes on by a frame.
    harness.key_press(Key::ArrowRight);
    harness.step();
    assert_eq!(harness.state().session.transport().frame_shown(), 1);
    harness.key_press(Key::F11);
    harness.step();
    harness.get_by_label("take the keyboard back");
    // The program's: it pans, and no frame is stepped by the key itself.
    for (key, wanted) in [(Key::ArrowRight, 1), (Key::ArrowRight, 2), (Key::ArrowLeft, 1)] {
        let before = harness.state().session.transport().frame_shown();
        harness.key_press(key);
        harness.run_steps(2);
        assert_eq!(harness.state().session.transport().frame_shown(), before);
        harness.state_mut().session.step_frames(4);
        assert_eq!(start(&harness), wanted);
    }
    harness.key_press(Key::F11);
    harness.step();
    let before = harness.state().session.transport().frame_shown();
    harness.key_press(Key::ArrowRight);
    harness.step();
    assert_eq!(harness.state().session.transport().frame_shown(), before + 1);
    // Its last key: the listing tells that it is over.
    harness.key_press(Key::F11);
    harness.step();
    harness.key_press(Key::Escape);
    harness.run_steps(2);
    harness.state_mut().session.step_frames(4);
    harness.run_steps(2);
    harness.get_by_label("has ended with code 0; its board shows on");
}

#[test]
fn a_line_of_the_listing_is_run_to() {
    let mut harness = laid(BenchWindow::of("program-torn", &Settings::default()), 1280.0, 800.0);
    harness.state_mut().session.step_frames(30);
    harness.run_steps(2);
    let program = harness.state().session.program().unwrap();
    let line = program.listing.last().unwrap().clone();
    harness.get_by_label(&format!("{} {}: run until this comes next", line.at, line.text)).click();
    harness.run_steps(2);
    let mut now = 0.0;
    while harness.state().session.transport().is_running() && now < 20.0 {
        harness.state_mut().session.tick(now);
        now += 0.01;
    }
    let program = harness.state().session.program().unwrap();
    assert_eq!(program.listing.iter().find(|line| line.here).unwrap().at, line.at);
    assert!(harness.state().session.message().unwrap().contains(&line.at.to_string()));
}

#[test]
fn what_is_heard_says_what_is_seen() {
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    bench_window.session.set_active_register(1);
    bench_window.session.draw_thumbnails(64);
    let mut harness = laid(bench_window, 1280.0, 800.0);
    harness.get_by_label("damage map, start_address 0 to 63, 62 values damaged, repeating every 32");
    harness.key_press(Key::Y);
    harness.run_steps(2);
    harness.get_by_label("screen, 320 by 200 pixels, frame 2: edge-damaged, 50 lines damaged");
    harness.get_by_label("memory map, 320 bytes a row, 63900 bytes shown");
    harness.get_by_label("frame timeline, frame 2 shown");
    harness.get_by_label("start_address 1: edge-damaged");
    harness.get_by_label("start_address 0: clean");
    harness.get_by_label("displayed is 39: edit");
    for label in ["run", "one frame on", "one frame back", "the first frame", "help: what the keys do"] {
        harness.get_by_label(label);
    }
}

#[test]
fn buttons_do_what_keys_do() {
    let mut harness = laid(BenchWindow::with_row_reload(&Settings::default()), 1280.0, 800.0);
    harness.get_by_label("one step up").click();
    harness.run_steps(2);
    assert_eq!(harness.state().session.sweep().active().value(), 1);
    harness.get_by_label("note a sighting: edge-damaged").click();
    harness.run_steps(2);
    assert_eq!(harness.state().session.findings().notes().noted().len(), 1);
    harness.get_by_label("3 beside").click();
    harness.run_steps(2);
    assert_eq!(harness.state().session.inspection().board_view(), BoardView::Beside);
    harness.get_by_label("row-reload").click();
    harness.run_steps(2);
    assert!(!harness.state().session.quirks().list()[0].on);
    harness.get_by_label("run").click();
    harness.run_steps(2);
    assert!(harness.state().session.transport().is_running());
    harness.get_by_label("pause").click();
    harness.run_steps(2);
    assert!(!harness.state().session.transport().is_running());
}

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
fn a_register_is_edited_and_a_wrong_value_refused() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    let write = |harness: &mut egui_kittest::Harness<BenchWindow>, from: u32, text: &str| {
        harness.get_by_label(&format!("displayed is {from}: edit")).click();
        harness.run_steps(3);
        harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        harness.event(egui::Event::Text(text.to_string()));
        harness.run_steps(2);
        harness.key_press(Key::Enter);
        harness.run_steps(3);
    };
    write(&mut harness, 39, "1Fh");
    assert_eq!(harness.state().session.transport().frame(Side::Faulty).picture_size().0, 256);
    assert!(harness.state().session.sweep().active().name() == "start_address");
    write(&mut harness, 31, "300");
    harness.get_by_label_contains("found 300, allowed 0..=255");
    assert_eq!(harness.state().session.transport().frame(Side::Faulty).picture_size().0, 256);
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
fn a_frame_is_jumped_to_by_number() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.key_press(Key::J);
    harness.run_steps(3);
    harness.event(egui::Event::Text("7".to_string()));
    harness.run_steps(2);
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    assert_eq!(harness.state().session.transport().frame_shown(), 7);
}

#[test]
fn pointing_at_the_screen_tells_where_a_pixel_comes_from() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    let screen = harness.get_by_label_contains("screen, 320 by 200").rect();
    harness.hover_at(screen.center());
    harness.run_steps(2);
    let found = harness.state().session.inspection().pixel().unwrap().provenance.clone();
    assert!((150..170).contains(&found.x) && (90..110).contains(&found.picture_line), "{found:?}");
    assert_eq!(found.address, found.picture_line * 320 + found.x);
    harness.get_by_label_contains(&format!("{:05X}h", found.address));
    harness.remove_cursor();
    harness.run_steps(2);
    assert!(harness.state().session.inspection().pixel().is_some(), "it stays, to be read");
    harness.key_press(Key::Escape);
    harness.run_steps(2);
    assert!(harness.state().session.inspection().pixel().is_none());
}

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

#[test]
fn a_fault_in_a_file_is_told_in_the_window() {
    let mut bench_window = BenchWindow::of("harbour-256-plain", &Settings::default());
    bench_window.session.open_another("no-such-bench");
    let harness = laid(bench_window, 1280.0, 800.0);
    harness.get_by_label_contains("found no-such-bench");
    harness.get_by_label_contains("screen, 320 by 200");
}

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
    let shows = |harness: &egui_kittest::Harness<BenchWindow>| {
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
fn an_empty_picture_is_said_and_harms_nothing() {
    let mut bench_window = BenchWindow::of("harbour-256-plain", &Settings::default());
    let displayed = bench_window.session.bench().field("vertical_displayed").unwrap();
    bench_window.session.set_register(displayed, 0, backporch_window::session::WritePath::Direct).unwrap();
    bench_window.session.perform(Command::FrameOn);
    let harness = laid(bench_window, 1280.0, 800.0);
    harness.get_by_label_contains("memory map");
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
fn the_page_lists_every_key() {
    let page = include_str!("../../../docs/window.md");
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
    let press_all = |harness: &mut Harness<BenchWindow>| {
        for key in [Key::S, Key::W, Key::C, Key::Space, Key::ArrowUp, Key::ArrowRight, Key::Q] {
            harness.key_press(key);
            harness.run_steps(2);
        }
    };
    // The list of keys.
    harness.key_press(Key::H);
    harness.run_steps(3);
    press_all(&mut harness);
    untouched(&harness);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    // The dialog of benches, its field without the focus.
    harness.key_press(Key::O);
    harness.run_steps(3);
    harness.key_press(Key::Tab);
    harness.run_steps(2);
    for key in [Key::S, Key::W, Key::C, Key::Q] {
        harness.key_press(key);
        harness.run_steps(2);
    }
    untouched(&harness);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    // An open list.
    harness.get_by_value("linear-256-plain").click();
    harness.run_steps(3);
    for key in [Key::S, Key::W, Key::C, Key::Q] {
        harness.key_press(key);
        harness.run_steps(2);
    }
    untouched(&harness);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    // With nothing open the keys are the window's again.
    harness.key_press(Key::C);
    harness.run_steps(2);
    assert_eq!(harness.state().session.findings().notes().noted().len(), 1);
}

#[test]
fn ctrl_enter_writes_past_the_ports() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.get_by_label("displayed is 39: edit").click();
    harness.run_steps(3);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.event(egui::Event::Text("31".to_string()));
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::CTRL, Key::Enter);
    harness.run_steps(3);
    assert_eq!(harness.state().session.transport().frame(Side::Faulty).picture_size().0, 256);
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
fn a_paused_picture_blinks() {
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    let next = |bench_window: &BenchWindow, now| Workspace::next_blink_s(&bench_window.session, now);
    assert_eq!(next(&bench_window, 0.2), None, "nothing blinks");
    bench_window.session.set_active_register(16);
    bench_window.session.perform(Command::BoardView(BoardView::Blink));
    assert!(!bench_window.session.transport().is_running());
    let mut now = 0.2;
    let mut shown = Vec::new();
    for _ in 0..4 {
        assert!(bench_window.workspace.refresh_canvas(&bench_window.session, now), "drawn anew at {now}");
        shown.push(bench_window.workspace.canvas().rgba.clone());
        now = next(&bench_window, now).unwrap();
    }
    assert_ne!(shown[0], shown[1]);
    assert_eq!((&shown[0], &shown[1]), (&shown[2], &shown[3]), "both boards in turn");
}

#[test]
fn the_palette_has_a_colour_for_every_value() {
    // Two bits a pixel, and a byte a pixel (register documentation of both classes).
    for (bench, colours) in [("harbour-cg", 4), ("harbour-256", 256)] {
        let harness = laid(BenchWindow::of(bench, &Settings::default()), 1280.0, 800.0);
        harness.get_by_label(&format!("palette, {colours} colours"));
    }
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

/// Asks for the window to close; whether it does, and what it then asked of its owner.
fn ask_to_close(harness: &mut Harness<BenchWindow>) -> bool {
    let BenchWindow { session, workspace } = harness.state_mut();
    let may = workspace.may_close(session);
    harness.run_steps(3);
    may
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

#[test]
fn a_field_over_a_program_has_the_keyboard() {
    let mut harness = laid(BenchWindow::of("program-keys", &Settings::default()), 1280.0, 800.0);
    harness.key_press(Key::F11);
    harness.run_steps(2);
    harness.get_by_label("displayed is 31: edit").click();
    harness.run_steps(3);
    // Esc closes the field and does not reach the program, which would end.
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    harness.state_mut().session.step_frames(4);
    harness.run_steps(2);
    assert!(harness.query_by_label_contains("has ended").is_none());
}

/// Presses and lets go of the pointer's button at a place.
fn click_at(harness: &mut Harness<BenchWindow>, pos: egui::Pos2) {
    harness.hover_at(pos);
    harness.drag_at(pos);
    harness.drop_at(pos);
    harness.run_steps(2);
}

fn wheel(harness: &mut Harness<BenchWindow>, points: f32) {
    harness.event(egui::Event::MouseWheel {
        unit: egui::MouseWheelUnit::Point,
        delta: egui::vec2(0.0, points),
        phase: egui::TouchPhase::Move,
        modifiers: Modifiers::NONE,
    });
    harness.run_steps(12);
}

#[test]
fn a_routine_with_hazards_on_a_healthy_board_does_not_read_clean() {
    let mut bench_window = BenchWindow::of("scroll-late", &Settings::default());
    bench_window.session.step_frames(12);
    let mut harness = laid(bench_window, 1280.0, 800.0);
    let hazards = harness.state().session.headline().routine.unwrap();
    harness.get_by_label(&format!("routine: {}: go to the next hazard", hazards.words()));
    harness.key_press(Key::Home);
    harness.run_steps(2);
    // By the key, by the headline, by the trail: to the beam's place.
    harness.key_press(Key::Period);
    harness.run_steps(2);
    let first = harness.state().session.standing_at().cloned().unwrap();
    harness.get_by_label_contains(": go to the next hazard").click();
    harness.run_steps(2);
    let second = harness.state().session.standing_at().cloned().unwrap();
    assert_ne!(first, second);
    let trail = harness.get_by_label_contains("frame timeline").rect();
    click_at(&mut harness, egui::pos2(trail.left() + 6.0 * first.frame as f32 + 3.0, trail.top() + 4.0));
    assert_eq!(harness.state().session.standing_at().map(|hazard| hazard.frame), Some(first.frame));
}

#[test]
fn the_wheel_comes_closer_and_goes_back() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    let screen = harness.get_by_label_contains("screen, 320 by 200").rect();
    let pixel = |harness: &Harness<BenchWindow>| {
        let found = &harness.state().session.inspection().pixel().unwrap().provenance;
        (found.x, found.picture_line)
    };
    let place = screen.center() + egui::vec2(60.0, 40.0);
    let across = |harness: &mut Harness<BenchWindow>| {
        harness.hover_at(place + egui::vec2(40.0, 0.0));
        harness.run_steps(2);
        let right = pixel(harness);
        harness.hover_at(place);
        harness.run_steps(2);
        right.0 - pixel(harness).0
    };
    let whole = across(&mut harness);
    let before = pixel(&harness);
    wheel(&mut harness, 480.0);
    let (x, line) = pixel(&harness);
    let stays = x.abs_diff(before.0) <= 1 && line.abs_diff(before.1) <= 1;
    assert!(stays, "the pixel under the pointer stays there: {before:?}, now {x}, {line}");
    let closer = across(&mut harness);
    assert!(closer * 8 <= whole, "{whole} pixels before, {closer} now");
    // Moved by dragging, and back by the keys.
    harness.drag_at(place);
    harness.run_steps(2);
    harness.hover_at(place - egui::vec2(80.0, 0.0));
    harness.run_steps(2);
    harness.drop_at(place - egui::vec2(80.0, 0.0));
    harness.run_steps(2);
    harness.hover_at(place);
    harness.run_steps(2);
    assert!(pixel(&harness).0 > before.0, "the picture went to the left");
    for _ in 0..6 {
        harness.key_press(Key::Num8);
        harness.run_steps(2);
    }
    assert_eq!(across(&mut harness), whole);
}

#[test]
fn the_magnifier_shows_the_pixels_round_the_pointer() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    let meshes = |harness: &Harness<BenchWindow>| {
        let coloured = |shape: &&egui::epaint::ClippedShape| match &shape.shape {
            egui::Shape::Mesh(mesh) => mesh.vertices.len() == 25 * 17 * 4,
            _ => false,
        };
        harness.output().shapes.iter().filter(coloured).count()
    };
    let screen = harness.get_by_label_contains("screen, 320 by 200").rect();
    harness.hover_at(screen.center());
    harness.run_steps(2);
    assert_eq!(meshes(&harness), 0);
    harness.key_press(Key::G);
    harness.run_steps(2);
    assert_eq!(meshes(&harness), 1, "25 by 17 pixels");
    harness.remove_cursor();
    harness.run_steps(2);
    assert_eq!(meshes(&harness), 0, "nothing is pointed at");
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
fn a_monitor_that_refuses_shows_no_picture() {
    let mut bench_window = BenchWindow::of("harbour-256-plain", &Settings::default());
    bench_window.session.switch_monitor("fixed-15");
    let mut harness = laid(bench_window, 1280.0, 800.0);
    harness.get_by_label("no lock: the monitor fixed-15 refuses this signal");
    // The raster is there all the same, and so are whole pixels.
    for key in [Key::R, Key::F] {
        harness.key_press(key);
        harness.run_steps(2);
        harness.get_by_label_contains("screen, 320 by 200");
        harness.key_press(key);
        harness.run_steps(2);
        harness.get_by_label_contains("no lock");
    }
}

#[test]
fn the_menu_does_all_that_keys_do() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.get_by_label("menu: all that the keys do").click();
    harness.run_steps(3);
    harness.get_by_label_contains("Active register").click();
    harness.run_steps(3);
    harness.get_by_label("menu: eight steps up").click();
    harness.run_steps(3);
    assert_eq!(harness.state().session.sweep().active().value(), 8);
    // And so does a row of the list of keys.
    harness.key_press(Key::H);
    harness.run_steps(3);
    harness.get_by_label("back to where the sweep began").click();
    harness.run_steps(3);
    assert_eq!(harness.state().session.sweep().active().value(), 0);
    assert!(harness.query_by_label("one character clock back").is_none(), "the list has closed");
}

/// Every node of the accessible tree.
fn all_nodes<'a>(harness: &'a Harness<BenchWindow>) -> Vec<egui_kittest::Node<'a>> {
    harness.root().children_recursive().collect()
}

/// What a screen reader could not tell of the controls there are.
fn unheard(harness: &Harness<BenchWindow>) -> Vec<String> {
    use egui::accesskit::Role;
    let mut missing = Vec::new();
    for node in all_nodes(harness) {
        let node = node.accesskit_node();
        let (named, valued) = match node.role() {
            Role::Button | Role::CheckBox | Role::RadioButton | Role::Link | Role::Image => (true, false),
            Role::ComboBox | Role::Slider | Role::SpinButton | Role::TextInput | Role::MultilineTextInput => {
                (true, true)
            }
            _ => (false, false),
        };
        let name = node.label().unwrap_or_default();
        if named && name.trim().is_empty() {
            missing.push(format!("{:?} at {:?} has no name", node.role(), node.bounding_box()));
        }
        if valued && node.value().is_none() && node.numeric_value().is_none() {
            missing.push(format!("{:?} {name:?} has no value", node.role()));
        }
    }
    missing
}

/// Sizes of the letters in what is drawn, the smallest first.
fn smallest_letters(harness: &Harness<BenchWindow>) -> Option<(f32, String)> {
    fn texts(shape: &egui::Shape, found: &mut Vec<(f32, String)>) {
        match shape {
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| texts(shape, found)),
            egui::Shape::Text(text) => {
                let job = &text.galley.job;
                found.extend(job.sections.iter().map(|section| (section.format.font_id.size, job.text.clone())));
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    harness.output().shapes.iter().for_each(|shape| texts(&shape.shape, &mut found));
    found.into_iter().filter(|(_, text)| !text.trim().is_empty()).min_by(|one, other| one.0.total_cmp(&other.0))
}

/// The windows that show every panel there is, and all that can be open over them.
fn every_panel() -> Vec<(&'static str, Harness<'static, BenchWindow>)> {
    let tall = |bench_window| laid(bench_window, 1400.0, 1600.0);
    let with_key = |key| {
        let mut harness = tall(BenchWindow::with_row_reload(&Settings::default()));
        harness.key_press(key);
        harness.run_steps(3);
        harness
    };
    let mut program = BenchWindow::of("program-torn", &Settings::default());
    program.session.step_frames(10);
    program.session.step_lines(40);
    let mut routine = BenchWindow::of("scroll-late", &Settings::default());
    routine.session.step_frames(12);
    let mut noted = BenchWindow::with_row_reload(&Settings::default());
    noted.session.perform(Command::Note(Verdict::EdgeDamaged));
    noted.session.inspect_pixel(Side::Faulty, 319, 3);
    let mut question = tall(noted);
    ask_to_close(&mut question);
    let mut menu = tall(BenchWindow::with_row_reload(&Settings::default()));
    menu.get_by_label("menu: all that the keys do").click();
    menu.run_steps(3);
    let mut editing = tall(BenchWindow::with_row_reload(&Settings::default()));
    editing.get_by_label("displayed is 39: edit").click();
    editing.run_steps(3);
    let mut refused = BenchWindow::with_row_reload(&Settings::default());
    refused.session.switch_monitor("fixed-15");
    vec![
        ("a program", tall(program)),
        ("a routine", tall(routine)),
        ("the question what is kept", question),
        ("the menu", menu),
        ("a register edited", editing),
        ("a refused signal", tall(refused)),
        ("the list of keys", with_key(Key::H)),
        ("the list of benches", with_key(Key::O)),
        ("the frame to jump to", with_key(Key::J)),
        ("the value to set", with_key(Key::V)),
        ("thumbnails", with_key(Key::Y)),
        ("three boards", with_key(Key::Num7)),
        ("the list of quirks", {
            let mut harness = tall(BenchWindow::with_row_reload(&Settings::default()));
            harness.key_press_modifiers(Modifiers::SHIFT, Key::Q);
            harness.run_steps(3);
            harness
        }),
        ("the waveform", {
            let mut harness = with_key(Key::Y);
            harness.key_press(Key::Y);
            harness.run_steps(3);
            harness
        }),
        ("sightings left behind", {
            let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
            bench_window.workspace.offer_to_restore("unsaved-1.sightings.ron".into());
            tall(bench_window)
        }),
    ]
}

#[test]
fn no_control_is_without_name_role_and_value_and_no_letter_is_small() {
    for (what, harness) in every_panel() {
        let missing = unheard(&harness);
        assert!(missing.is_empty(), "{what}: {missing:#?}");
        let (size, text) = smallest_letters(&harness).unwrap();
        assert!(size >= 12.0, "{what}: {text:?} in {size} points");
    }
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
        (2560.0, 1440.0, 1.0),
    ];
    for (width, height, scale) in sizes {
        for bench in ["harbour-256", "program-torn"] {
            let mut bench_window = BenchWindow::of(bench, &Settings::default());
            bench_window.session.step_frames(2);
            let harness = bench_window::scaled(bench_window, width, height, scale);
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
            // Nothing in the middle lies under the bottom line.
            let floor = harness.get_by_label("run until the chosen condition").rect().top();
            for (name, rect) in &controls {
                let in_middle = middle.contains(rect.left() + 1.0) && middle.contains(rect.right() - 1.0);
                if in_middle && rect.top() < floor - 6.0 * scale {
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

/// Presses and lets go of the pointer's second button at a place.
fn right_click_at(harness: &mut Harness<BenchWindow>, pos: egui::Pos2) {
    harness.hover_at(pos);
    harness.run_steps(2);
    for pressed in [true, false] {
        let button = egui::PointerButton::Secondary;
        harness.event(egui::Event::PointerButton { pos, button, pressed, modifiers: Modifiers::NONE });
        harness.run_steps(2);
    }
}

#[test]
fn the_second_button_brings_a_menu_of_what_can_be_done_there() {
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    bench_window.session.step_frames(2);
    let mut harness = laid(bench_window, 1280.0, 800.0);
    let screen = harness.get_by_label_contains("screen, 320 by 200").rect();
    right_click_at(&mut harness, screen.center());
    // What is open owns the keyboard.
    harness.key_press(Key::C);
    harness.run_steps(2);
    assert!(harness.state().session.findings().notes().noted().is_empty());
    let inspected = harness.state().session.inspection().pixel().unwrap().provenance.clone();
    harness.get_by_label("menu: put the beam at this pixel").click();
    harness.run_steps(3);
    let session = &harness.state().session;
    assert!(session.transport().is_mid_frame());
    assert_eq!(session.transport().beam().scan_line, inspected.scan_line);
    // A register goes back to its start-up value.
    harness.state_mut().session.set_active_register(5);
    harness.run_steps(2);
    let row = harness.get_by_label("start_address is 5: edit").rect();
    right_click_at(&mut harness, row.center());
    harness.get_by_label("menu: back to its start-up value, 0").click();
    harness.run_steps(3);
    harness.get_by_label("start_address is 0: edit");
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

#[test]
fn registers_are_filtered_by_words_and_by_change() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    harness.key_press(Key::F3);
    harness.run_steps(3);
    harness.event(egui::Event::Text("sync width".to_string()));
    harness.run_steps(3);
    harness.get_by_label_contains("vertical_sync_width is ");
    assert!(harness.query_by_label_contains("displayed is 39").is_none());
    // Letters in the field are no keys, and Esc leaves it.
    harness.key_press(Key::C);
    harness.run_steps(2);
    assert!(harness.state().session.findings().notes().noted().is_empty());
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.key_press(Key::Backspace);
    harness.run_steps(2);
    harness.key_press(Key::Escape);
    harness.run_steps(2);
    harness.key_press(Key::ArrowUp);
    harness.run_steps(2);
    harness.key_press(Key::Num0);
    harness.run_steps(2);
    let shown: Vec<String> =
        harness.query_all_by_label_contains(": edit").filter_map(|node| node.accesskit_node().label()).collect();
    assert_eq!(shown, ["start_address is 1: edit"]);
}

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

#[test]
fn what_was_done_is_taken_back_and_done_again_by_buttons() {
    let mut harness = laid(BenchWindow::with_row_reload(&Settings::default()), 1280.0, 900.0);
    for _ in 0..3 {
        harness.key_press(Key::ArrowUp);
        harness.run_steps(2);
    }
    let value = |harness: &Harness<BenchWindow>| harness.state().session.sweep().active().value();
    harness.get_by_label("take back what was done last").click();
    harness.run_steps(2);
    assert_eq!(value(&harness), 2);
    harness.key_press_modifiers(Modifiers::CTRL, Key::Z);
    harness.run_steps(2);
    assert_eq!(value(&harness), 1);
    harness.get_by_label("do it again").click();
    harness.run_steps(2);
    assert_eq!(value(&harness), 2);
    // Something else is done: what was taken back is kept.
    harness.state_mut().session.set_active_register(40);
    harness.run_steps(2);
    harness.get_by_label_contains("go over to what was done from frame ").click();
    harness.run_steps(2);
    assert_eq!(value(&harness), 3);
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
fn a_photograph_stands_beside_the_board() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("screen.png");
    let bench_window = BenchWindow::of("harbour-256-plain", &Settings::default());
    // What the board shows, twice as large in a dark frame, as a camera may see it.
    let shown = bench_window.session.transport().frame(Side::Plain).picture(backporch_raster::View::Picture);
    let photograph = image::RgbImage::from_fn(760, 520, |x, y| match (x.checked_sub(60), y.checked_sub(60)) {
        (Some(x), Some(y)) if x < 640 && y < 400 => {
            let [red, green, blue, _] = shown.rgba[(y / 2 * shown.width + x / 2) as usize];
            image::Rgb([red, green, blue])
        }
        _ => image::Rgb([0; 3]),
    });
    photograph.save(&path).unwrap();
    let mut harness = laid(bench_window, 1280.0, 800.0);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::F);
    harness.run_steps(2);
    harness.get_by_label_contains("no photograph is open");
    harness.input_mut().dropped_files.push(egui::DroppedFile { path: Some(path), ..Default::default() });
    harness.run_steps(2);
    let began = std::time::Instant::now();
    while !harness.state().session.has_photograph() {
        assert!(began.elapsed().as_secs() < 120, "{:?}", harness.state().session.files().problem());
        std::thread::sleep(std::time::Duration::from_millis(20));
        harness.state_mut().session.tick(0.0);
    }
    harness.run_steps(2);
    let canvas = harness.state().workspace.canvas();
    assert_eq!((canvas.tiles.len(), canvas.tiles[0].is_photograph), (2, true));
    let differs = |(x, y): (u32, u32)| {
        let at = |column: u32| canvas.rgba[(y * canvas.width + column) as usize];
        let (left, right) = (at(x), at(canvas.tiles[1].x + x));
        left.iter().zip(right).any(|(one, other)| one.abs_diff(other) > 8)
    };
    let all = (0..200).flat_map(|y| (0..320).map(move |x| (x, y)));
    let wrong = all.filter(|at| differs(*at)).count();
    assert!(wrong < 320 * 200 / 50, "{wrong} pixels are not where they are on the board");
}

#[test]
fn what_is_at_rest_is_laid_out_once_a_frame() {
    for (bench, width) in [("harbour-256", 1280.0), ("program-torn", 1280.0), ("harbour-cg", 1001.5)] {
        let mut harness = laid(BenchWindow::of(bench, &Settings::default()), width, 800.0);
        harness.run_steps(2);
        assert_eq!(harness.output().platform_output.num_completed_passes, 1, "{bench}, {width} wide");
    }
}
