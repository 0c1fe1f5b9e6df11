//! Plain boards against references outside the project.

use std::sync::Arc;

use backporch_adapter::{Adapter, Registers};
use backporch_raster::{Board, Plain, Plan, QuietFrame, SegmentKind, Span, View};
use ndarray::{Array1, ArrayView, IntoDimension, ShapeBuilder};
use proptest::prelude::*;

fn board_of(adapter: &str, mode: &str) -> (Arc<Adapter>, Registers) {
    let adapter = Adapter::built_in(adapter).unwrap();
    let registers = adapter.start_up(adapter.mode(mode).unwrap());
    (adapter, registers)
}

fn set(adapter: &Adapter, registers: &mut Registers, values: &[(&str, u64)]) {
    for (name, value) in values {
        adapter.set(registers, adapter.field(name).unwrap(), *value).unwrap();
    }
}

/// Memory addresses a plan fetches, row by row.
fn addresses(plan: &Plan) -> Vec<Vec<u32>> {
    let row = |spans: &[Span]| spans.iter().flat_map(|span| span.address..span.address + span.len).collect();
    plan.rows().map(row).collect()
}

proptest! {
    /// "Start, pitch, shape" addressing as `ndarray` strided views do it, the
    /// memory laid twice in a row so that a view may run over its end.
    #[test]
    fn linear_fetch_is_a_strided_view(start in 0u64..32768, displayed in 0u64..=47, stored in 0u64..=180) {
        let (adapter, mut registers) = board_of("linear-256", "320x200x256");
        set(&adapter, &mut registers, &[("start_address", start), ("displayed", displayed), ("vertical_displayed", stored)]);
        // This many scan lines are shown, each row twice.
        let rows = (257 + stored).div_ceil(2);
        let memory = Array1::from_iter((0..65536u32 * 3).map(|at| at % 65536));
        let pitch = (displayed as usize + 1) * 8;
        let shape = (rows as usize, pitch).into_dimension();
        let view = ArrayView::from_shape(shape.strides((pitch, 1).into_dimension()), &memory.as_slice().unwrap()[start as usize * 2..]).unwrap();
        let plan = QuietFrame::new(&adapter, &registers, &Plain).plan(&Plain);
        let expected: Vec<Vec<u32>> = view.rows().into_iter().map(|row| row.to_vec()).collect();
        prop_assert_eq!(addresses(&plan), expected);
    }

    /// Two banks of 8 KiB, each a strided view of its own that wraps inside the
    /// bank (Technical Reference, colour/graphics display adapter).
    #[test]
    fn banked_fetch_is_two_strided_views(start in 0u64..16384, displayed in 1u64..=44) {
        let (adapter, mut registers) = board_of("colour-graphics", "320x200x4");
        set(&adapter, &mut registers, &[("start_address", start), ("displayed", displayed)]);
        let bank = Array1::from_iter((0..8192u32 * 6).map(|at| at % 8192));
        let pitch = displayed as usize * 2;
        let shape = (100, pitch).into_dimension();
        let from = start as usize * 2 % 8192;
        let view = ArrayView::from_shape(shape.strides((pitch, 1).into_dimension()), &bank.as_slice().unwrap()[from..]).unwrap();
        let plan = QuietFrame::new(&adapter, &registers, &Plain).plan(&Plain);
        let found = addresses(&plan);
        for (row, expected) in view.rows().into_iter().enumerate() {
            let odd: Vec<u32> = expected.iter().map(|at| at | 0x2000).collect();
            prop_assert_eq!(&found[row * 2], &expected.to_vec());
            prop_assert_eq!(&found[row * 2 + 1], &odd);
        }
    }

    /// What a quiet plan says is what the board fetches.
    #[test]
    fn quiet_plan_is_what_the_board_fetches(
        which in 0usize..5, start in 0u64..16384, displayed in 0u64..=60, rows in 0u64..=127, scans in 0u64..=8,
    ) {
        let boards = [
            ("linear-256", "320x200x256"), ("colour-graphics", "320x200x4"), ("colour-graphics", "640x200x2"),
            ("colour-graphics", "text-40"), ("colour-graphics", "text-80"),
        ];
        let (adapter, mut registers) = board_of(boards[which].0, boards[which].1);
        set(&adapter, &mut registers, &[
            ("start_address", start), ("displayed", displayed), ("vertical_displayed", rows), ("max_scan_line", scans),
            // Sync and blanking out of the way, so that they hide nothing.
            ("sync_position", 255), ("vertical_sync_position", 127), ("vertical_total", 127),
        ]);
        let plan = QuietFrame::new(&adapter, &registers, &Plain).plan(&Plain);
        let mut board = Board::plain(adapter, registers);
        let frame = board.run_frame();
        let fetched: Vec<Vec<Span>> = frame.picture_lines().map(|line| frame.spans_of(line).to_vec()).collect();
        let planned: Vec<Vec<Span>> = plan.rows().map(<[Span]>::to_vec).collect();
        let shown = planned.into_iter().filter(|spans| !spans.is_empty()).collect::<Vec<_>>();
        prop_assert_eq!(fetched, shown);
    }

    /// Where the beam is stopped on its way leaves no trace.
    #[test]
    fn stops_leave_no_trace(which in 0usize..3, start in 0u64..16384, stops in prop::collection::vec(1u64..5000, 1..300)) {
        let boards = [("linear-256", "320x200x256"), ("colour-graphics", "320x200x4"), ("colour-graphics", "text-80")];
        let (adapter, mut registers) = board_of(boards[which].0, boards[which].1);
        set(&adapter, &mut registers, &[("start_address", start)]);
        let mut straight = Board::plain(adapter, registers);
        let noise: Vec<u8> = (0..65536u32).map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
        straight.load(&noise);
        let mut stopping = straight.clone();
        let mut dot = 0;
        for step in stops {
            dot += step;
            stopping.run_to(dot);
        }
        prop_assert_eq!(stopping.run_frame(), {
            let mut frame = straight.run_frame();
            while frame.number < stopping.beam().frame - 1 {
                frame = straight.run_frame();
            }
            frame
        });
    }
}

/// Dots and lines of a frame: FACTS of the colour-graphics and 400-line VGA timing.
#[test]
fn frames_have_the_published_size() {
    for (name, mode, dots, lines, picture) in [
        ("colour-graphics", "320x200x4", 912, 262, (320, 200)),
        ("colour-graphics", "640x200x2", 912, 262, (640, 200)),
        ("colour-graphics", "text-40", 912, 262, (320, 200)),
        ("colour-graphics", "text-80", 912, 262, (640, 200)),
        ("linear-256", "320x200x256", 800, 449, (320, 200)),
    ] {
        let (adapter, registers) = board_of(name, mode);
        let frame = Board::plain(adapter, registers).run_frame();
        assert_eq!(frame.lines.len(), lines, "{name} {mode}");
        assert!(frame.lines.iter().all(|line| line.dots == dots), "{name} {mode}");
        assert_eq!(frame.picture_size(), picture, "{name} {mode}");
        let raster = frame.picture(View::Raster);
        assert_eq!((raster.width, raster.height), (dots, lines as u32));
    }
}

/// Sync stands where the start-up values put it: R2 × 16 dots, R3 long; R7
/// rows down, 16 lines (MC6845 CRT Controller data sheet).
#[test]
fn sync_stands_where_the_registers_say() {
    let (adapter, registers) = board_of("colour-graphics", "320x200x4");
    let frame = Board::plain(adapter, registers).run_frame();
    let syncs: Vec<(u32, u32)> = frame
        .segments_of(&frame.lines[0])
        .iter()
        .filter(|segment| segment.kind == SegmentKind::Sync)
        .map(|segment| (segment.dot, segment.dots))
        .collect();
    assert_eq!(syncs, [(0x2D * 16, 0x0A * 16)]);
    let in_vertical_sync = |line: &&backporch_raster::ScanLine| {
        frame.segments_of(line).iter().all(|segment| segment.kind == SegmentKind::Sync)
    };
    let lines: Vec<usize> =
        frame.lines.iter().enumerate().filter(|(_, line)| in_vertical_sync(line)).map(|(at, _)| at).collect();
    assert_eq!(lines, (0x70 * 2..0x70 * 2 + 16).collect::<Vec<_>>());
}
