//! The screen: pointed at, looked at closely, in every view.

use backporch_window::Command;
use backporch_window::panels::{Settings, Workspace};
use backporch_window::session::{BoardSide, BoardView};
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};
use crate::support::{right_click_at, wheel};

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
fn an_empty_picture_is_said_and_harms_nothing() {
    let mut bench_window = BenchWindow::of("harbour-256-plain", &Settings::default());
    let displayed = bench_window.session.bench().field("vertical_displayed").unwrap();
    bench_window.session.set_register(displayed, 0, backporch_window::session::WritePath::Direct).unwrap();
    bench_window.session.perform(Command::FrameOn);
    let harness = laid(bench_window, 1280.0, 800.0);
    harness.get_by_label_contains("memory map");
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
fn a_photograph_stands_beside_the_board() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("screen.png");
    let bench_window = BenchWindow::of("harbour-256-plain", &Settings::default());
    // What the board shows, twice as large in a dark frame, as a camera may see it.
    let shown = bench_window.session.transport().frame(BoardSide::Plain).picture(backporch_raster::View::Picture);
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
fn the_picture_alone_is_drawn_over_the_panels_only_where_nothing_lies_over_it() {
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    let is_alone = |harness: &Harness<BenchWindow>| {
        let BenchWindow { session, workspace } = harness.state();
        workspace.screen_again(session).is_some()
    };
    assert!(is_alone(&harness));
    for key in [Key::H, Key::O] {
        harness.key_press(key);
        harness.run_steps(3);
        assert!(!is_alone(&harness), "the dialog of {key:?} is not drawn over");
        harness.key_press(Key::Escape);
        harness.run_steps(4);
        assert!(is_alone(&harness), "closed again");
    }
}
