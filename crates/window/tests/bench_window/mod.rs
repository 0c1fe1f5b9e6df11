//! A session and its panels on a bench_window without a window.

use std::time::{Duration, Instant};

use backporch_bench::Overrides;
use backporch_window::Command;
use backporch_window::panels::{Settings, Workspace};
use backporch_window::session::Session;
use egui_kittest::Harness;

/// A session and its panels.
pub struct BenchWindow {
    pub session: Session,
    pub workspace: Workspace,
}

impl BenchWindow {
    /// A bench opened as the window does.
    pub fn of(bench: &str, settings: &Settings) -> Self {
        Self::with(bench, &Overrides::default(), settings)
    }

    /// The ideal board of the 64 KiB class, its row address reloaded once a line.
    pub fn with_row_reload(settings: &Settings) -> Self {
        let overrides = Overrides { quirks: vec!["row-reload".to_string()], ..Overrides::default() };
        Self::with("harbour-256-plain", &overrides, settings)
    }

    /// Lets the sightings noted be judged, and waits for it.
    pub fn diagnose(&mut self) {
        self.session.perform(Command::Diagnose);
        let began = Instant::now();
        while self.session.findings().diagnosing().is_some() {
            assert!(began.elapsed().as_secs() < 300, "a few sightings are judged in seconds");
            std::thread::sleep(Duration::from_millis(10));
            self.session.tick(0.0);
        }
    }

    /// Lets settings and tables be searched for, and waits for it.
    pub fn search_ways(&mut self) {
        self.session.perform(Command::Workarounds);
        let began = Instant::now();
        while self.session.findings().searching().is_some() {
            assert!(began.elapsed().as_secs() < 300, "a search on one board takes seconds");
            std::thread::sleep(Duration::from_millis(10));
            self.session.tick(0.0);
        }
    }

    fn with(bench: &str, overrides: &Overrides, settings: &Settings) -> Self {
        let session = Session::open(bench, overrides).unwrap();
        Self { session, workspace: Workspace::new(settings) }
    }
}

/// The panels, laid out at a size in points.
pub fn laid(bench_window: BenchWindow, width: f32, height: f32) -> Harness<'static, BenchWindow> {
    scaled(bench_window, width, height, 1.0)
}

/// The same, with `pixels` pixels a point.
pub fn scaled(bench_window: BenchWindow, width: f32, height: f32, pixels: f32) -> Harness<'static, BenchWindow> {
    let builder = Harness::builder().with_size([width, height]).with_pixels_per_point(pixels);
    let mut harness = builder.build_ui_state(
        |ui, bench_window: &mut BenchWindow| {
            let BenchWindow { session, workspace } = bench_window;
            workspace.refresh_canvas(session, 0.0);
            let screen = workspace.own_screen(ui.ctx());
            // The harness keeps a margin; a window has none.
            let room = ui.ctx().content_rect();
            let mut whole = ui.new_child(egui::UiBuilder::new().max_rect(room));
            whole.set_clip_rect(room);
            workspace.show(&mut whole, session, screen);
        },
        bench_window,
    );
    harness.run_steps(4);
    harness
}
