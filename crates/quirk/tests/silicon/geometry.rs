//! The line, the sync pulses and the frame that registers give.

use backporch_raster::stepper::Stepper;
use backporch_raster::{Board, Drive, Frame, ScanLine, SegmentKind};
use backporch_signal::AxisError;

use super::{Row, adapter, layers, registers, rows};

const TABLE: &str = include_str!("data/frame-geometry.csv");

const CELLS: [(&str, u8); 8] = [("r0", 0), ("r2", 2), ("r3", 3), ("r4", 4), ("r5", 5), ("r6", 6), ("r7", 7), ("r9", 9)];

/// Dots of sync on a scan line.
fn sync_dots(frame: &Frame, line: &ScanLine) -> u32 {
    let sync = frame.segments_of(line).iter().filter(|segment| segment.kind == SegmentKind::Sync);
    sync.map(|segment| segment.dots).sum()
}

/// Lines, lines shown, first line and number of lines of vertical sync, dots of a line and of its sync.
fn measured(frame: &Frame) -> [u32; 6] {
    let in_sync = |line: &ScanLine| sync_dots(frame, line) == line.dots;
    // Display may go on through vertical sync.
    let shown = frame.lines.iter().rposition(|line| line.fetch.is_some()).map_or(0, |last| last + 1);
    let first = frame.lines.iter().position(in_sync).unwrap();
    let lines = frame.lines.iter().filter(|line| in_sync(line)).count();
    let any = &frame.lines[100];
    [frame.lines.len() as u32, shown as u32, first as u32, lines as u32, any.dots, sync_dots(frame, any)]
}

fn wanted(row: &Row) -> [u32; 6] {
    ["frame_lines", "displayed_lines", "vsync_from_line", "vsync_lines", "line_dots", "hsync_dots"]
        .map(|name| row.number(name))
}

/// Every row of the table, by the arithmetic of the signal, span path and stepper.
#[test]
fn registers_give_the_lines_and_frames_the_gates_give() {
    let (adapter, tap) = (adapter(), layers().by_design());
    let rows = rows(TABLE);
    assert_eq!(rows.len(), 19);
    for row in &rows {
        let cells = CELLS.map(|(name, index)| (index, row.cell(name)));
        let registers = registers(&cells);
        let wanted = wanted(row);
        let timing = adapter.timing(&registers);
        let counted = [
            timing.lines(),
            timing.lines_displayed(),
            timing.sync_line(),
            timing.sync_lines(),
            timing.chars() * 16,
            timing.sync_chars() * 16,
        ];
        assert_eq!(counted, wanted, "{cells:?}");
        let sync_end = u32::from(timing.sync_start) * 16 + wanted[5];
        match adapter.signal(&registers) {
            Ok(signal) => {
                let (across, down) = (signal.horizontal, signal.vertical);
                let found = [down.total(), down.active(), down.active() + down.front_porch(), down.sync()];
                assert_eq!(found, wanted[..4], "{cells:?}");
                assert_eq!([across.total(), across.sync()], wanted[4..], "{cells:?}");
            }
            // Sync beyond a shorter picture, or a pulse that goes on into the next line.
            Err(AxisError::SyncPastTotal { sync_end: found, total }) if found > total => {
                assert!([sync_end, wanted[2] + wanted[3]].contains(&found), "{cells:?}");
            }
            Err(error) => assert!(matches!(error, AxisError::SyncInsideActive { .. }), "{cells:?}: {error}"),
        }
        let mut board = Board::new(adapter.clone(), registers.clone(), tap.clone());
        board.run_frame();
        assert_eq!(measured(&board.run_frame()), wanted, "span path: {cells:?}");
        let mut stepper = Stepper::new(adapter.clone(), registers, tap.clone());
        stepper.run_frame();
        assert_eq!(measured(&stepper.run_frame()), wanted, "stepper: {cells:?}");
    }
}

/// With R5 = 0 there is no stable frame; without sync width no pulse.
#[test]
fn settings_without_a_frame_are_said_to_be_so() {
    let adapter = adapter();
    assert_eq!(adapter.signal(&registers(&[(5, 0)])), Err(AxisError::Endless));
    assert_eq!(adapter.signal(&registers(&[(3, 0x20)])), Err(AxisError::NoSync));
    let mut board = Board::plain(adapter, registers(&[(5, 0)]));
    assert!(board.run_frame().unstable);
}
