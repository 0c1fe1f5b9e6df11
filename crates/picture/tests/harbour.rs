//! The stored panoramas are what the example draws; `cargo run --example harbour -- assets/pictures` stores them anew.

#[path = "../examples/harbour/drawing/mod.rs"]
mod drawing;

use backporch_picture::harbour::{WIDTH, harbour, stored_lines};

#[test]
fn the_stored_panoramas_are_the_drawn_ones() {
    for lines in stored_lines() {
        assert!(harbour(lines) == drawing::harbour(WIDTH, lines), "{lines} lines");
    }
}
