//! The screen: pointed at, looked at closely, in every view.

use std::path::{Path, PathBuf};

use backporch_window::Command;
use backporch_window::panels::{Settings, Workspace};
use backporch_window::session::{BoardSide, BoardView, Canvas, Corner, Session};
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

use crate::bench_window::{BenchWindow, laid};
use crate::support::{click_at, focused, right_click_at, wheel};

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

/// What the board shows, twice as large in a dark frame, as a camera may see it.
fn photograph(session: &Session) -> image::RgbImage {
    let shown = session.transport().frame(BoardSide::Plain).picture(backporch_raster::View::Picture);
    image::RgbImage::from_fn(760, 520, |x, y| match (x.checked_sub(60), y.checked_sub(60)) {
        (Some(x), Some(y)) if x < 640 && y < 400 => {
            let [red, green, blue, _] = shown.rgba[(y / 2 * shown.width + x / 2) as usize];
            image::Rgb([red, green, blue])
        }
        _ => image::Rgb([0; 3]),
    })
}

/// Where the corners of the picture truly are on it.
const CORNERS: [(f64, f64); 4] = [(60.0, 60.0), (700.0, 60.0), (700.0, 460.0), (60.0, 460.0)];

/// How far the farthest of the corners is from where it truly is, in pixels of the photograph.
fn farthest(harness: &Harness<BenchWindow>) -> f64 {
    let corners = harness.state().session.photograph_corners().unwrap();
    let far = |(one, other): (&(f64, f64), &(f64, f64))| (one.0 - other.0).hypot(one.1 - other.1);
    corners.iter().zip(&CORNERS).map(far).fold(0.0, f64::max)
}

/// The window, and a photograph of what it shows in a folder.
fn photographed(folder: &Path) -> (Harness<'static, BenchWindow>, PathBuf) {
    let path = folder.join("screen.png");
    let bench_window = BenchWindow::of("harbour-256-plain", &Settings::default());
    photograph(&bench_window.session).save(&path).unwrap();
    (laid(bench_window, 1280.0, 800.0), path)
}

fn drop_on_window(harness: &mut Harness<BenchWindow>, path: &Path) {
    let path = Some(path.to_path_buf());
    harness.input_mut().dropped_files.push(egui::DroppedFile { path, ..Default::default() });
    harness.run_steps(2);
    searched(harness);
}

/// Waits for the search for the picture on the photograph.
fn searched(harness: &mut Harness<BenchWindow>) {
    let began = std::time::Instant::now();
    while harness.state().session.looks_for_photograph() {
        assert!(began.elapsed().as_secs() < 120, "{:?}", harness.state().session.files().problem());
        std::thread::sleep(std::time::Duration::from_millis(20));
        harness.state_mut().session.tick(0.0);
    }
    harness.run_steps(2);
}

/// Pixels of the picture that differ between two columns of the canvas, or two canvases.
fn wrong_pixels(one: (&Canvas, u32), other: (&Canvas, u32)) -> usize {
    let at = |(canvas, left): (&Canvas, u32), x: u32, y: u32| canvas.rgba[(y * canvas.width + left + x) as usize];
    let differs =
        |&(x, y): &(u32, u32)| at(one, x, y).iter().zip(at(other, x, y)).any(|(one, other)| one.abs_diff(other) > 8);
    (0..200).flat_map(|y| (0..320).map(move |x| (x, y))).filter(differs).count()
}

#[test]
fn a_photograph_stands_beside_the_board() {
    let folder = tempfile::tempdir().unwrap();
    let (mut harness, path) = photographed(folder.path());
    for held in [Modifiers::SHIFT, Modifiers::CTRL, Modifiers::ALT] {
        harness.key_press_modifiers(held, Key::F);
        harness.run_steps(2);
        harness.get_by_label_contains("no photograph is open");
        assert_eq!(harness.state().session.inspection().board_view(), BoardView::Faulty);
    }
    drop_on_window(&mut harness, &path);
    let canvas = harness.state().workspace.canvas();
    assert_eq!((canvas.tiles.len(), canvas.tiles[0].is_photograph), (2, true));
    let wrong = wrong_pixels((canvas, 0), (canvas, canvas.tiles[1].x));
    assert!(wrong < 320 * 200 / 50, "{wrong} pixels are not where they are on the board");
    // In turn, both stand in the same place.
    harness.key_press_modifiers(Modifiers::CTRL, Key::F);
    harness.run_steps(2);
    let session = &harness.state().session;
    let [board, seen] = [false, true].map(|other| session.canvas(other));
    assert_eq!((board.tiles.len(), board.tiles[0].is_photograph), (1, false));
    assert_eq!((seen.tiles.len(), seen.tiles[0].is_photograph), (1, true));
    assert_eq!((board.width, board.height), (seen.width, seen.height));
    let wrong = wrong_pixels((&board, 0), (&seen, 0));
    assert!(wrong < 320 * 200 / 50, "{wrong} pixels are not where they are on the board");
    let due = Workspace::next_blink_s(session, 10.1).unwrap();
    assert!(due > 10.1 && due < 11.5, "the next one is shown at {due} s");
}

#[test]
fn corners_of_a_photograph_are_put_right() {
    let folder = tempfile::tempdir().unwrap();
    let (mut harness, path) = photographed(folder.path());
    drop_on_window(&mut harness, &path);
    harness.key_press_modifiers(Modifiers::ALT, Key::F);
    harness.run_steps(2);
    harness.get_by_label_contains("as it was taken, with the corners of the picture");
    assert!(farthest(&harness) < 2.0, "found to {} pixels", farthest(&harness));
    let before = harness.state().session.photograph_corners().unwrap();
    // By keys, and found again from there.
    let label = "lower right corner of the picture on the photograph";
    harness.get_by_label(label).focus();
    harness.run_steps(2);
    (0..3).for_each(|_| harness.key_press(Key::ArrowLeft));
    harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowUp);
    harness.run_steps(2);
    let moved = harness.state().session.photograph_corners().unwrap();
    assert_eq!((before[2].0 - moved[2].0, before[2].1 - moved[2].1), (3.0, 16.0));
    assert_eq!(moved[..2], before[..2]);
    let value = harness.get_by_label(label).value();
    assert_eq!(value, Some(format!("{:.0} across, {:.0} down", moved[2].0, moved[2].1)));
    harness.key_press(Key::Enter);
    harness.run_steps(1);
    searched(&mut harness);
    assert!(farthest(&harness) < 2.0, "found again to {} pixels", farthest(&harness));
    // A click puts the nearest corner there; what it shows lies elsewhere, so it stays where it was put.
    let corner = |harness: &Harness<BenchWindow>, name: &str| {
        harness.get_by_label(&format!("{name} corner of the picture on the photograph")).rect().center()
    };
    let (left, right) = (corner(&harness, "upper left"), corner(&harness, "upper right"));
    let to = left + (right - left) * 0.3;
    click_at(&mut harness, to);
    searched(&mut harness);
    harness.get_by_label_contains("laid flat by its corners alone");
    let put = harness.state().session.photograph_corners().unwrap();
    assert!((put[0].0 - 252.0).abs() < 3.0 && (put[0].1 - 60.0).abs() < 3.0, "{put:?}");
}

#[test]
fn a_photograph_of_something_else_is_laid_by_hand() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wall.png");
    let wall = image::RgbImage::from_fn(400, 300, |x, y| image::Rgb([(x / 2) as u8, (y / 2) as u8, 40]));
    wall.save(&path).unwrap();
    let mut harness = laid(BenchWindow::of("harbour-256-plain", &Settings::default()), 1280.0, 800.0);
    drop_on_window(&mut harness, &path);
    assert!(harness.state().session.files().problem().is_some_and(|problem| problem.to_string().contains("agreement")));
    assert_eq!(harness.state().session.inspection().board_view(), BoardView::PhotographCorners);
    let session = &mut harness.state_mut().session;
    let corners = [(0.0, 0.0), (320.0, 0.0), (320.0, 200.0), (0.0, 200.0)];
    Corner::ALL.into_iter().zip(corners).for_each(|(corner, to)| session.put_corner(corner, to));
    session.find_from_corners();
    searched(&mut harness);
    assert!(harness.state().session.files().problem().is_none());
    harness.key_press_modifiers(Modifiers::SHIFT, Key::F);
    harness.run_steps(2);
    let canvas = harness.state().workspace.canvas();
    let at = |x: u32, y: u32| canvas.rgba[(y * canvas.width + x) as usize];
    for (x, y) in [(0, 0), (319, 0), (160, 100), (7, 199)] {
        assert_eq!(at(x, y), [(x / 2) as u8, (y / 2) as u8, 40, 255], "{x}, {y}");
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

#[test]
fn the_beam_is_put_at_the_inspected_pixel_by_keys() {
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    bench_window.session.step_frames(2);
    let mut harness = laid(bench_window, 1280.0, 800.0);
    harness.key_press(Key::F6);
    harness.run_steps(3);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowDown);
    harness.run_steps(3);
    let inspected = harness.state().session.inspection().pixel().unwrap().provenance.clone();
    harness.key_press_modifiers(Modifiers::SHIFT, Key::F10);
    harness.run_steps(3);
    assert_eq!(focused(&harness).as_deref(), Some("menu: put the beam at this pixel"));
    harness.key_press(Key::Enter);
    harness.run_steps(4);
    let session = &harness.state().session;
    assert!(session.transport().is_mid_frame());
    assert_eq!(session.transport().beam().scan_line, inspected.scan_line);
    assert!(focused(&harness).is_some_and(|name| name.starts_with("screen, ")), "the arrows are the screen's again");
}

/// A bench whose write trace writes ports and memory at some dots of frame 2 (800 dots a line, 449 lines a frame).
fn traced(folder: &Path, rows: &str) -> BenchWindow {
    let path = folder.join("mine.bench.ron");
    let bench = "(version: 1, adapter: \"linear-256\", picture: (source: \"harbour\"), routine: \"run.csv\")";
    std::fs::write(&path, bench).unwrap();
    std::fs::write(folder.join("run.csv"), format!("dot,kind,address,value\n{rows}")).unwrap();
    let mut bench_window = BenchWindow::of(path.to_str().unwrap(), &Settings::default());
    bench_window.session.step_frames(2);
    bench_window
}

#[test]
fn on_the_raster_writes_to_ports_and_memory_stand_where_they_fell() {
    let folder = tempfile::tempdir().unwrap();
    // Dot 800 000 begins line 102 of frame 2.
    let rows = "800000,port,0x3D4,0x050D\n800400,memory,0x0010,0x07\n808160,memory,0x0011,0x07\n";
    let mut bench_window = traced(folder.path(), rows);
    bench_window.session.perform(Command::RasterOrPicture);
    let harness = laid(bench_window, 1280.0, 800.0);
    let BenchWindow { session, workspace } = harness.state();
    let (rect, marks) = workspace.screen_again(session).unwrap();
    let canvas = workspace.canvas();
    let (wide, high) = (rect.width() / canvas.width as f32, rect.height() / canvas.height as f32);
    let ticks: Vec<(f32, f32, egui::Color32)> = marks
        .iter()
        .filter_map(|shape| match shape {
            egui::Shape::LineSegment { points: [one, other], stroke } if one.x == other.x => {
                Some((one.x, (one.y + other.y) / 2.0, stroke.color))
            }
            _ => None,
        })
        .collect();
    let places = [(0.0, 102.0), (400.0, 102.0), (160.0, 112.0)];
    assert_eq!(ticks.len(), places.len(), "{ticks:?}");
    for ((dot, line), (x, y, _)) in places.iter().zip(&ticks) {
        let wanted = rect.min + egui::vec2((dot + 0.5) * wide, (line + 0.5) * high);
        assert!((x - wanted.x).abs() < 0.1 && (y - wanted.y).abs() < 0.1, "{dot}, {line}: {x}, {y}, not {wanted:?}");
    }
    assert_eq!(ticks[1].2, ticks[2].2, "both to memory");
    assert_ne!(ticks[0].2, ticks[1].2, "a port looks different");
}

#[test]
fn writes_beyond_those_that_are_kept_are_counted_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let rows: String = (0..2100).map(|at| format!("{},memory,0x0010,0x07\n", 800_000 + at * 16)).collect();
    let harness = laid(traced(folder.path(), &rows), 1280.0, 800.0);
    harness.get_by_label_contains("only 2048 of 2100 writes marked");
}

#[test]
fn the_border_of_the_board_surrounds_a_narrow_picture_on_the_tube() {
    let bordered = |colour: u64| {
        let mut bench_window = BenchWindow::of("harbour-vga", &Settings::default());
        for (name, value) in [("displayed", 59), ("overscan", colour)] {
            let field = bench_window.session.bench().field(name).unwrap();
            bench_window.session.set_register(field, value, backporch_window::session::WritePath::Direct).unwrap();
        }
        bench_window.session.step_frames(2);
        laid(bench_window, 1280.0, 800.0)
    };
    /// Points across that are filled with a colour beside the picture, together.
    fn filled(harness: &Harness<BenchWindow>, colour: egui::Color32) -> f32 {
        let fills = harness.output().shapes.iter().filter_map(|shape| match &shape.shape {
            egui::Shape::Rect(rect) if rect.fill == colour && rect.rect.height() > 100.0 => Some(rect.rect.width()),
            _ => None,
        });
        fills.sum()
    }
    let harness = bordered(4);
    let palette = harness.state().session.transport().frame(BoardSide::Faulty).palettes.last().unwrap().clone();
    let [red, green, blue, _] = palette.border;
    let colour = egui::Color32::from_rgb(red, green, blue);
    assert_ne!(colour, egui::Color32::BLACK, "the palette has a colour there");
    let (picture, _) = harness.state().workspace.screen_again(&harness.state().session).unwrap();
    // 240 of 320 pixels: a third as much beside the picture.
    let beside = filled(&harness, colour);
    assert!((beside - picture.width() / 3.0).abs() < 3.0, "{beside} beside {picture:?}");
    assert_eq!(filled(&bordered(0), colour), 0.0);
}
