//! Faults in taking the start address over.

use backporch_quirk::QuirkStack;

use super::{Setup, colour_graphics, linear, program, stack, starts, with};

/// Start addresses of the first scan line of some frames, `start` being
/// written at a place of the first frame.
fn shown(setup: &Setup, tap: QuirkStack, start: u16, scan_line: u64, char: u64) -> Vec<u32> {
    let mut board = setup.board(tap);
    board.run_to(setup.dot(scan_line, char));
    let [low, high] = start.to_le_bytes();
    program(&mut board, 0x0C, high);
    program(&mut board, 0x0D, low);
    (0..4).map(|_| starts(&board.run_frame())[0]).collect()
}

#[test]
fn a_dead_bit_of_the_start_address_is_0() {
    let start = |tap, value| starts(&linear(&[("start_address", value)]).board(tap).run_frame())[0];
    assert_eq!(start(with("start-bits-stuck", &[("bits", 0x04)]), 0x0F), 0x0B);
    assert_eq!(start(with("start-bits-dropped", &[("bits", 0x03)]), 0x0F), 0x0C);
}

#[test]
fn a_late_start_address_shows_frames_later() {
    let setup = linear(&[]);
    assert_eq!(shown(&setup, QuirkStack::default(), 5, 100, 0), [0, 5, 5, 5]);
    assert_eq!(shown(&setup, with("start-late-frames", &[("frames", 1)]), 5, 100, 0), [0, 0, 5, 5]);
    assert_eq!(shown(&setup, with("start-late-frames", &[("frames", 2)]), 5, 100, 0), [0, 0, 0, 5]);
}

/// Vertical sync, and with it the take-over of the VGA class, begins at scan line 412.
#[test]
fn a_take_over_late_by_lines_meets_a_later_write() {
    let setup = super::setup("vga", "320x200x256", &[]);
    assert_eq!(shown(&setup, QuirkStack::default(), 5, 413, 0), [0, 0, 5, 5]);
    let late = || with("start-late-lines", &[("lines", 2)]);
    assert_eq!(shown(&setup, late(), 5, 413, 0), [0, 5, 5, 5], "taken over at line 414");
    assert_eq!(shown(&setup, late(), 5, 414, 0), [0, 0, 5, 5]);
}

#[test]
fn a_torn_start_address_shows_for_a_frame() {
    let setup = linear(&[("start_address", 0x00FF)]);
    assert_eq!(shown(&setup, stack("start-torn"), 0x0100, 100, 0), [0xFF, 0x0000, 0x0100, 0x0100]);
}

#[test]
fn a_fresh_start_address_is_missed() {
    let setup = linear(&[]);
    let tap = || with("start-missed-when-fresh", &[("dots", 800)]);
    assert_eq!(shown(&setup, tap(), 5, 446, 0), [0, 5, 5, 5], "1600 dots before");
    assert_eq!(shown(&setup, tap(), 5, 447, 10), [0, 0, 5, 5], "640 dots before");
}

#[test]
fn every_other_frame_takes_the_start_address_over() {
    let setup = linear(&[]);
    let tap = || with("start-every-nth-frame", &[("count", 2)]);
    assert_eq!(shown(&setup, tap(), 5, 100, 0), [0, 0, 5, 5], "frame 1 is skipped");
    assert_eq!(shown(&setup, with("start-every-nth-frame", &[("count", 3)]), 5, 100, 0), [0, 0, 0, 5]);
}

#[test]
fn a_take_over_at_the_frame_start_meets_writes_after_the_load() {
    let setup = linear(&[]);
    assert_eq!(shown(&setup, QuirkStack::default(), 5, 448, 10), [0, 0, 5, 5]);
    assert_eq!(shown(&setup, stack("start-at-frame-start"), 5, 448, 10), [0, 5, 5, 5]);
}

/// At least one make of 6845-type controller reloads the start address at the
/// start of every scan line of the first character row (public controller
/// notes of 6845-based home computers).
#[test]
fn the_first_row_is_torn_by_a_write() {
    let setup = colour_graphics("text-80", &[]);
    let first_rows = |tap| {
        let mut board = setup.board(tap);
        board.run_to(setup.dot(3, 10));
        program(&mut board, 0x0D, 5);
        starts(&board.run_frame())[..10].to_vec()
    };
    assert_eq!(first_rows(QuirkStack::default()), [0; 10]);
    assert_eq!(first_rows(stack("start-on-every-first-line")), [0, 0, 0, 0, 5, 5, 5, 5, 5, 5]);
}
