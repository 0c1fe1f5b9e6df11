//! What a window takes that does nothing, or that nobody sees: processor time over a span, held against that of the same
//! window running.

use std::time::Duration;

use crate::display::{Display, Running};
use crate::open;

/// How long each state is watched.
const SPAN: Duration = Duration::from_millis(1500);
/// A window at rest takes less than one part in so many of what it takes running.
const AT_REST: u64 = 10;

/// Ticks of processor time the window takes over the span.
fn taken(window: &Running) -> Option<u64> {
    std::thread::sleep(Duration::from_millis(300));
    let before = window.processor_ticks()?;
    std::thread::sleep(SPAN);
    Some(window.processor_ticks()? - before)
}

/// Waits until what is drawn between frames, such as thumbnails, is there.
fn settle(window: &Running) {
    window.until("it comes to rest", || {
        let before = window.processor_ticks();
        std::thread::sleep(Duration::from_millis(400));
        window.processor_ticks().zip(before).is_none_or(|(now, before)| now - before <= 2)
    });
}

#[test]
fn at_rest_covered_and_minimised_it_takes_next_to_no_processor_time() {
    let folder = tempfile::tempdir().unwrap();
    let Some(display) = Display::start() else { return };
    let Some(window) = open(&display, folder.path(), "harbour-cg") else { return };
    settle(&window);
    window.key("space");
    let Some(running) = taken(&window) else { return };
    window.key("space");
    settle(&window);
    let paused = taken(&window);
    window.key("j");
    let field = taken(&window);
    let cover = window.cover();
    let covered = taken(&window);
    // Covered and running, the boards run on and nothing is drawn.
    window.key("Escape");
    window.key("space");
    let covered_running = taken(&window);
    window.uncover(cover);
    window.minimise();
    let minimised_running = taken(&window);
    window.restore();
    window.key("space");
    settle(&window);
    window.minimise();
    let minimised = taken(&window);
    window.restore();
    println!(
        "running {running}, paused {paused:?}, with a field {field:?}, covered {covered:?} and running \
         {covered_running:?}, minimised {minimised:?} and running {minimised_running:?}"
    );
    let states = [("paused", paused), ("with a field", field), ("covered", covered), ("minimised", minimised)];
    for (what, ticks) in states {
        let ticks = ticks.expect("it said it before");
        assert!(ticks * AT_REST < running, "{what}: {ticks} ticks, {running} running");
    }
    for (what, ticks) in [("covered", covered_running), ("minimised", minimised_running)] {
        let ticks = ticks.expect("it said it before");
        assert!(ticks < running, "{what} and running: {ticks} ticks, {running} seen");
    }
}
