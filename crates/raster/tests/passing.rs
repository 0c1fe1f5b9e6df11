//! Frames that are not looked at are passed, and lines are drawn alone: neither changes what is seen.

mod common;

use backporch_adapter::{ADAPTERS, Adapter};
use backporch_raster::{Board, DrawnLine, Frame, LineEffects, Plain, QuietFrame};

use common::{board, crtc, noise};

/// Every class in every mode, with noise in its memory.
fn boards() -> impl Iterator<Item = (String, Board)> {
    let adapters = ADAPTERS.entries().iter().map(|(name, _)| Adapter::built_in(name).unwrap());
    let modes = |adapter: std::sync::Arc<Adapter>| {
        let modes: Vec<String> = adapter.profile().modes.iter().map(|mode| mode.name.clone()).collect();
        modes.into_iter().map(move |mode| (format!("{}, {mode}", adapter.name()), board(adapter.name(), &mode)))
    };
    adapters.flat_map(modes).map(|(label, mut board)| {
        noise(&mut board);
        (label, board)
    })
}

/// What is shown after a frame, a quarter of another, a new start address and the rest of it.
fn seen(mut board: Board, frame: fn(&mut Board), to: fn(&mut Board, u64)) -> Frame {
    frame(&mut board);
    let quarter = board.beam().dot + board.beam().dot / 4;
    to(&mut board, quarter);
    crtc(&mut board, 0x0D, 5);
    board.write_memory(77, 0x5A);
    frame(&mut board);
    board.run_frame()
}

#[test]
fn frames_passed_leave_no_trace() {
    for (label, board) in boards() {
        let drawn = seen(board.clone(), |board| drop(board.run_frame()), Board::run_to);
        let passed = seen(board, Board::pass_frame, Board::pass_to);
        assert!(drawn == passed, "{label}");
    }
}

#[test]
fn a_line_drawn_alone_is_the_line_of_its_frame() {
    for (label, mut board) in boards() {
        let quiet = QuietFrame::new(board.adapter(), board.registers(), &Plain);
        let frame = board.run_frame();
        let mut drawn = DrawnLine::default();
        assert_eq!(frame.picture_lines().count() as u32, quiet.picture_lines(), "{label}");
        for (index, shown) in (0..).zip(frame.picture_lines()) {
            let line = quiet.line(frame.number, quiet.start(), index);
            quiet.draw_line(&Plain, &line, &LineEffects::default(), board.memory(), &mut drawn);
            let values: Vec<u8> =
                frame.segments_of(shown).iter().flat_map(|segment| frame.values_of(segment.kind)).copied().collect();
            assert_eq!(shown.fetch, Some(line), "{label}, line {index}");
            assert!(drawn.values == values, "{label}, line {index}");
            assert_eq!(drawn.spans, frame.spans_of(shown), "{label}, line {index}");
            assert_eq!(quiet.line_from(&quiet.line(frame.number, 77, index), quiet.start()), line, "{label}");
        }
    }
}
