//! The panels, run without a window: what they say, and what keys and buttons do.

#[allow(dead_code)]
mod bench_window;

use backporch_analysis::Verdict;
use backporch_signal::SYNC_CAUTION;
use backporch_window::Command;
use backporch_window::panels::{KEY_BINDINGS, Settings, Workspace};
use backporch_window::session::{BoardView, Side};
use bench_window::{BenchWindow, laid};
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

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
    let harness = laid(bench_window, 1280.0, 800.0);
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
    harness.get_by_label("late-start");
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
    harness.get_by_value("fit a quirk").click();
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
