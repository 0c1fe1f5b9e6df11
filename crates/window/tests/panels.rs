//! The panels, run without a window: what they say, what keys and buttons do,
//! and what they look like.
//!
//! Pictures are drawn by the software Vulkan driver; where there is none, the
//! tests of pictures say so and stand aside. `UPDATE_SNAPSHOTS=1` takes new ones.

use backporch_bench::Wishes;
use backporch_window::panels::{Desk, Settings};
use backporch_window::session::Session;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

/// A session and its panels.
struct Table {
    session: Session,
    desk: Desk,
}

impl Table {
    fn of(bench: &str, settings: &Settings) -> Self {
        let session = Session::open(bench, &Wishes::default()).unwrap();
        Self { session, desk: Desk::new(settings) }
    }
}

fn harness(table: Table, width: f32, height: f32) -> Harness<'static, Table> {
    let mut harness = Harness::builder().with_size([width, height]).build_ui_state(
        |ui, table: &mut Table| {
            let Table { session, desk } = table;
            desk.refresh_canvas(session, 0.0);
            let screen = desk.own_screen(ui.ctx());
            desk.show(ui, session, screen);
        },
        table,
    );
    harness.run_steps(3);
    harness
}

#[test]
fn look() {
    for (w, h) in [(1280.0, 800.0), (1920.0, 1080.0)] {
        for dark in [true, false] {
            let settings = Settings { dark, ..Settings::default() };
            let mut table = Table::of("harbour-256-rows", &settings);
            table.session.set_hand(16);
            while !table.session.strip().is_whole() {
                table.session.draw_thumbs(64);
            }
            table.session.point_at(backporch_window::session::Side::Faulty, 310, 7);
            let mut harness = harness(table, w, h);
            let image = harness.render().unwrap();
            image.save(format!("/tmp/wt/look-{w}-{dark}.png")).unwrap();
        }
    }
    let _ = harness(Table::of("harbour-cg", &Settings::default()), 800.0, 600.0).get_by_label("run");
}
