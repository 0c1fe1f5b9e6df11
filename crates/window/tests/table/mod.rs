//! A session and its panels on a table without a window.

use backporch_bench::Wishes;
use backporch_window::panels::{Desk, Settings};
use backporch_window::session::Session;
use egui_kittest::Harness;

/// A session and its panels.
pub struct Table {
    pub session: Session,
    pub desk: Desk,
}

impl Table {
    /// A bench opened as the window does.
    pub fn of(bench: &str, settings: &Settings) -> Self {
        let session = Session::open(bench, &Wishes::default()).unwrap();
        Self { session, desk: Desk::new(settings) }
    }
}

/// The panels, laid out at a size in points.
pub fn laid(table: Table, width: f32, height: f32) -> Harness<'static, Table> {
    scaled(table, width, height, 1.0)
}

/// The same, with so many pixels a point.
pub fn scaled(table: Table, width: f32, height: f32, pixels: f32) -> Harness<'static, Table> {
    let builder = Harness::builder().with_size([width, height]).with_pixels_per_point(pixels);
    let mut harness = builder.build_ui_state(
        |ui, table: &mut Table| {
            let Table { session, desk } = table;
            desk.refresh_canvas(session, 0.0);
            let screen = desk.own_screen(ui.ctx());
            // The harness keeps a margin; a window has none.
            let room = ui.ctx().content_rect();
            let mut whole = ui.new_child(egui::UiBuilder::new().max_rect(room));
            whole.set_clip_rect(room);
            desk.show(&mut whole, session, screen);
        },
        table,
    );
    harness.run_steps(4);
    harness
}
