//! Faults in sync, and in where the picture stands.

use backporch_quirk::QuirkStack;
use backporch_raster::{Frame, Intercept, SegmentKind};

use super::{colour_graphics, linear, program, stack, starts, with};

/// First dot and length of the sync pulse of the first scan line, in character clocks.
fn pulse(frame: &Frame) -> (u32, u32) {
    let mut segments = frame.segments_of(&frame.lines[0]).iter();
    let pulse = segments.find(|segment| segment.kind == SegmentKind::Sync).unwrap();
    (pulse.dot / 16, pulse.dots / 16)
}

/// Sync stands at 2Dh and lasts 0Ah character clocks (published start-up values).
#[test]
fn sync_stands_and_lasts_as_the_fault_lets_it() {
    let setup = colour_graphics("320x200x4", &[]);
    let of = |tap| pulse(&setup.board(tap).run_frame());
    assert_eq!(of(QuirkStack::default()), (0x2D, 0x0A));
    assert_eq!(of(with("sync-position-rounded", &[("to", 2)])), (0x2C, 0x0A));
    assert_eq!(of(with("sync-position-rounded", &[("to", 8)])), (0x28, 0x0A));
    assert_eq!(of(with("sync-width-limited", &[("chars", 4)])), (0x2D, 4));
}

#[test]
fn the_picture_bounces_when_the_start_address_is_written_in_a_window() {
    let setup = linear(&[]);
    let shifts = |scan_line, index| {
        let mut board = setup.board(with("start-write-bounce", &[("from", 100), ("lines", 2), ("frames", 2)]));
        board.run_to(setup.dot(scan_line, 0));
        program(&mut board, index, 0);
        (0..4).map(|_| board.run_frame().shift.lines).collect::<Vec<_>>()
    };
    assert_eq!(shifts(150, 0x0D), [2, 2, 0, 0]);
    assert_eq!(shifts(99, 0x0D), [0; 4], "before the window");
    assert_eq!(shifts(401, 0x0C), [0; 4], "after it");
    assert_eq!(shifts(150, 0x0F), [0; 4], "another register");
}

#[test]
fn the_picture_trembles_by_chance() {
    let mut tap = with("frame-jitter", &[("in_1000", 100), ("lines", 2)]);
    let lines: Vec<i32> = (0..1000).map(|frame| tap.shift(frame).lines).collect();
    assert!(lines.iter().all(|lines| (-2..=2).contains(lines)));
    // One frame in ten, and one of five shifts is none: 80 ± 9.
    let moved = lines.iter().filter(|lines| **lines != 0).count();
    assert!((40..120).contains(&moved), "{moved}");
}

#[test]
fn a_short_line_makes_the_next_begin_early() {
    let setup = linear(&[]);
    let frame = setup.board(stack("display-short")).run_frame();
    assert_eq!(frame.picture_size(), (312, 200));
    let second = frame.picture_lines().nth(1).unwrap();
    assert_eq!(frame.spans_of(second)[0].address, 312);
    assert_eq!(starts(&frame)[0], 0);
}
