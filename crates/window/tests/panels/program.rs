//! The panel of a program, and its keyboard.

use backporch_window::panels::Settings;
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};

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

/// While a program that runs has the keyboard, the pointer over the screen is its mouse; what it did is saved with the bench.
#[test]
fn the_pointer_over_the_screen_moves_the_programs_mouse() {
    let mut harness = laid(BenchWindow::of("program-keys", &Settings::default()), 1280.0, 800.0);
    let moved = |harness: &Harness<BenchWindow>| harness.state().session.bench_file().machine.mouse.len();
    let place = harness.get_by_label_contains("screen, ").rect().center();
    let mut now = 0.0;
    let mut point = |harness: &mut Harness<BenchWindow>, by: f32| {
        harness.hover_at(place + egui::vec2(by, 0.0));
        harness.run_steps(2);
        now += 0.1;
        harness.state_mut().session.tick(now);
    };
    harness.state_mut().session.run(true);
    point(&mut harness, 10.0);
    assert_eq!(moved(&harness), 0, "the pointer is the window's");
    harness.key_press(Key::F11);
    harness.run_steps(2);
    point(&mut harness, 60.0);
    point(&mut harness, -60.0);
    assert!(moved(&harness) >= 2);
    harness.key_press(Key::F11);
    harness.run_steps(2);
    let before = moved(&harness);
    point(&mut harness, 40.0);
    assert_eq!(moved(&harness), before);
}

#[test]
fn a_program_and_a_trace_edited_elsewhere_are_read_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let bench = |routine: &str| {
        let text =
            format!("(version: 1, adapter: \"linear-256\", picture: (source: \"harbour\"), routine: \"{routine}\")");
        std::fs::write(path("mine.bench.ron"), text).unwrap();
        BenchWindow::of(path("mine.bench.ron").to_str().unwrap(), &Settings::default())
    };
    /// Lets some seconds pass, in which files are looked at.
    fn wait(harness: &mut Harness<BenchWindow>) {
        (1..6).for_each(|second| harness.state_mut().session.tick(f64::from(second)));
        harness.run_steps(2);
    }
    std::fs::write(path("mine.com"), include_bytes!("../../../../assets/programs/torn.com")).unwrap();
    let mut harness = laid(bench("mine.com"), 1280.0, 800.0);
    let listing = |harness: &Harness<BenchWindow>| {
        let lines = harness.state().session.program().unwrap().listing;
        lines.into_iter().map(|line| line.text).collect::<Vec<_>>()
    };
    let before = listing(&harness);
    wait(&mut harness);
    assert_eq!(listing(&harness), before, "nothing was edited");
    std::fs::write(path("mine.com"), include_bytes!("../../../../assets/programs/keys.com")).unwrap();
    wait(&mut harness);
    assert_ne!(listing(&harness), before);

    // Line 102 of frame 2, and line 103.
    std::fs::write(path("run.csv"), "dot,kind,address,value\n800000,port,0x3D4,0x050D\n").unwrap();
    let mut harness = laid(bench("run.csv"), 1280.0, 800.0);
    let lines = |harness: &mut Harness<BenchWindow>| {
        let session = &mut harness.state_mut().session;
        session.jump(2).unwrap();
        session.transport().writes().iter().map(|write| write.line).collect::<Vec<_>>()
    };
    assert_eq!(lines(&mut harness), [102]);
    let rows = "dot,kind,address,value\n800800,port,0x3D4,0x050D\n801600,port,0x3D4,0x060D\n";
    std::fs::write(path("run.csv"), rows).unwrap();
    wait(&mut harness);
    assert_eq!(lines(&mut harness), [103, 104]);
    // Broken, it is said, and the last good one stays.
    std::fs::write(path("run.csv"), "dot,kind,address,value\n800800,port\n").unwrap();
    wait(&mut harness);
    assert!(harness.state().session.files().problem().is_some());
    assert_eq!(lines(&mut harness), [103, 104]);
}
