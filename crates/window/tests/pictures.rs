//! What the panels look like: pictures of the main states, drawn by the
//! software Vulkan driver and held against those kept in `tests/snapshots`.
//!
//! Where there is no driver the tests say so and are skipped (`tests/run`
//! installs one). `UPDATE_SNAPSHOTS=1` keeps new pictures: look at them.

mod bench_window;
#[path = "panels/support.rs"]
#[allow(dead_code, reason = "the tests of the panels use more of it")]
mod support;

use backporch_window::Command;
use backporch_window::panels::Settings;
use backporch_window::session::{BoardSide, BoardView};
use bench_window::{BenchWindow, laid, scaled};
use egui_kittest::{Harness, SnapshotOptions, SnapshotResults};
use egui_wgpu::wgpu;

/// Whether something can draw without a display.
fn can_draw() -> bool {
    let descriptor = wgpu::InstanceDescriptor::new_without_display_handle();
    let instance = wgpu::Instance::new(descriptor);
    let found = pollster::block_on(instance.request_adapter(&wgpu::RequestAdapterOptions::default())).is_ok();
    if !found {
        backporch_test_tools::missing("a driver to draw with (mesa-vulkan-drivers)");
    }
    found
}

/// A session in the middle of the work: a damaged step, a pixel inspected that a quirk moved.
fn at_work(settings: &Settings) -> BenchWindow {
    let mut bench_window = BenchWindow::with_row_reload(settings);
    for _ in 0..12 {
        bench_window.session.perform(Command::StepRegister(1));
    }
    while !bench_window.session.sweep().thumbnails().is_whole() {
        bench_window.session.draw_thumbnails(64);
    }
    bench_window.session.inspect_pixel(BoardSide::Faulty, 310, 7);
    bench_window
}

fn hold(harness: &mut Harness<BenchWindow>, name: &str) {
    // Drivers round the edges of letters differently.
    let options = SnapshotOptions::new().threshold(1.5).failed_pixel_count_threshold(400);
    harness.snapshot_options(name, &options);
}

#[test]
fn at_work_dark() {
    if can_draw() {
        hold(&mut laid(at_work(&Settings::default()), 1280.0, 800.0), "at-work-dark-1280");
    }
}

#[test]
fn a_program_at_work_dark() {
    if can_draw() {
        let mut bench_window = BenchWindow::of("program-torn", &Settings::default());
        bench_window.session.step_frames(30);
        bench_window.session.step_lines(120);
        bench_window.session.inspect_pixel(BoardSide::Faulty, 255, 7);
        hold(&mut laid(bench_window, 1280.0, 800.0), "program-dark-1280");
    }
}

#[test]
fn at_work_light_and_large() {
    if can_draw() {
        let light = Settings { dark: false, ..Settings::default() };
        hold(&mut laid(at_work(&light), 1920.0, 1080.0), "at-work-light-1920");
    }
}

#[test]
fn at_twice_the_size() {
    if can_draw() {
        hold(&mut scaled(at_work(&Settings::default()), 640.0, 400.0, 2.0), "twice-dark-1280");
    }
}

#[test]
fn both_boards_and_the_keys() {
    if can_draw() {
        let mut bench_window = at_work(&Settings::default());
        bench_window.session.perform(Command::BoardView(BoardView::Beside));
        let mut harness = laid(bench_window, 1280.0, 800.0);
        hold(&mut harness, "beside-dark-1280");
        harness.key_press(egui::Key::H);
        harness.run_steps(4);
        hold(&mut harness, "keys-dark-1280");
    }
}

#[test]
fn a_photograph_as_it_was_taken_with_its_corners() {
    if can_draw() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("screen.png");
        let mut bench_window = at_work(&Settings::default());
        let shown = bench_window.session.transport().frame(BoardSide::Plain).picture(backporch_raster::View::Picture);
        // Three times as large in a dark frame, and leaning.
        let photograph = image::RgbImage::from_fn(1160, 800, |x, y| {
            let (x, y) = (f64::from(x) - 90.0 - 0.04 * f64::from(y), f64::from(y) - 90.0 + 0.03 * f64::from(x));
            let inside = x >= 0.0 && y >= 0.0 && x < 960.0 && y < 600.0;
            let pixel = || shown.rgba[(y as u32 / 3 * shown.width + x as u32 / 3) as usize];
            image::Rgb(if inside { [pixel()[0], pixel()[1], pixel()[2]] } else { [6; 3] })
        });
        photograph.save(&path).unwrap();
        bench_window.session.open_photograph(path.to_str().unwrap());
        while bench_window.session.looks_for_photograph() {
            std::thread::sleep(std::time::Duration::from_millis(20));
            bench_window.session.tick(0.0);
        }
        bench_window.session.perform(Command::BoardView(BoardView::PhotographCorners));
        // Its name is another one every time.
        bench_window.session.report("");
        hold(&mut laid(bench_window, 1280.0, 800.0), "corners-dark-1280");
    }
}

#[test]
fn in_the_middle_of_a_raster_a_monitor_refuses() {
    if can_draw() {
        let mut bench_window = at_work(&Settings { dark: false, ..Settings::default() });
        bench_window.session.switch_monitor("fixed-15");
        bench_window.session.perform(Command::RasterOrPicture);
        bench_window.session.step_lines(200);
        bench_window.session.step_chars(17);
        hold(&mut laid(bench_window, 1280.0, 800.0), "raster-refused-light-1280");
    }
}

#[test]
fn the_waveform_of_a_routine() {
    if can_draw() {
        let mut bench_window = BenchWindow::of("scroll-late", &Settings::default());
        bench_window.session.step_frames(12);
        bench_window.session.step_lines(40);
        let mut harness = laid(bench_window, 1280.0, 800.0);
        for _ in 0..2 {
            harness.key_press(egui::Key::Y);
            harness.run_steps(2);
        }
        hold(&mut harness, "waveform-dark-1280");
    }
}

#[test]
fn the_lists_to_fit_and_to_open_from() {
    if can_draw() {
        let light = Settings { dark: false, recent: vec!["harbour-cg".to_string()], ..Settings::default() };
        let mut harness = laid(BenchWindow::with_row_reload(&light), 1280.0, 800.0);
        harness.key_press_modifiers(egui::Modifiers::SHIFT, egui::Key::Q);
        harness.run_steps(4);
        hold(&mut harness, "quirks-light-1280");
        harness.key_press(egui::Key::Escape);
        harness.run_steps(2);
        harness.key_press(egui::Key::O);
        harness.run_steps(4);
        // What lies about is another thing everywhere.
        harness.event(egui::Event::Text("harbour".to_string()));
        harness.run_steps(4);
        hold(&mut harness, "open-light-1280");
    }
}

#[test]
fn noting_in_a_small_window() {
    if can_draw() {
        let mut bench_window = at_work(&Settings::default());
        bench_window.session.perform(Command::Note(backporch_analysis::Verdict::EdgeDamaged));
        bench_window.session.move_inspected(-30, 20);
        bench_window.session.perform(Command::PickLine);
        bench_window.session.perform(Command::Undo);
        hold(&mut laid(bench_window, 1024.0, 600.0), "noting-dark-1024");
    }
}

#[test]
fn settings_and_tables_with_their_cost() {
    if can_draw() {
        let mut bench_window = BenchWindow::of("harbour-256", &Settings::default());
        bench_window.search_ways();
        while !bench_window.session.sweep().thumbnails().is_whole() {
            bench_window.session.draw_thumbnails(64);
        }
        // So high that the panel is in sight; the list is scrolled to its tables, each with its filmstrip.
        let mut harness = laid(bench_window, 1280.0, 1440.0);
        harness.event(egui::Event::PointerMoved(egui::pos2(150.0, 1300.0)));
        harness.event(egui::Event::MouseWheel {
            unit: egui::MouseWheelUnit::Point,
            delta: egui::vec2(0.0, -300.0),
            phase: egui::TouchPhase::Move,
            modifiers: egui::Modifiers::default(),
        });
        harness.run_steps(30);
        hold(&mut harness, "workarounds-dark-1280");
    }
}

#[test]
fn suspects_and_what_the_leading_one_shows() {
    if can_draw() {
        let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
        for start in 0..8 {
            bench_window.session.set_active_register(start);
            bench_window.session.perform(Command::Note(bench_window.session.inspection().damage().verdict()));
        }
        bench_window.diagnose();
        while !bench_window.session.sweep().thumbnails().is_whole() {
            bench_window.session.draw_thumbnails(64);
        }
        hold(&mut laid(bench_window, 1280.0, 800.0), "suspects-dark-1280");
    }
}

/// What opens over the panels, in both themes, where no other picture has it; whole pixels, which a picture file holds in
/// less room.
#[test]
fn what_opens_over_the_panels_in_both_themes() {
    // The others stand in other pictures, or differ little from these.
    const SHOWN: [&str; 5] = [
        "the question what is kept",
        "sightings left behind",
        "the menu of the screen",
        "the menu of a quirk",
        "the menu of a register",
    ];
    if can_draw() {
        let mut results = SnapshotResults::new();
        for (dark, theme) in [(true, "dark"), (false, "light")] {
            let settings = Settings { dark, whole_pixels: true, ..Settings::default() };
            let all = support::every_panel((1120.0, 640.0), 1.0, &settings);
            for (what, mut harness) in all.into_iter().filter(|(what, _)| SHOWN.contains(what)) {
                hold(&mut harness, &format!("over/{}-{theme}", what.replace(' ', "-")));
                results.extend_harness(&mut harness);
            }
        }
    }
}
