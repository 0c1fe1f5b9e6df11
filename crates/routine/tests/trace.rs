//! A script, its saved trace and the trace replayed show the same frames.

mod setup;

use std::sync::Arc;

use backporch_form::Source;
use backporch_raster::{Board, Healthy};
use backporch_routine::{DotTime, Replay, Trace, TraceUnit};
use proptest::prelude::*;
use setup::{class, runner};

fn value() -> impl Strategy<Value = String> {
    prop_oneof![
        (0u32..70000).prop_map(|number| number.to_string()),
        (1u32..300).prop_map(|factor| format!("\"n * {factor} + frame\"")),
    ]
}

fn leaf() -> impl Strategy<Value = String> {
    let moment = prop_oneof![
        Just("ActiveStart".to_owned()),
        Just("DisplayStart".to_owned()),
        Just("DisplayEnd".to_owned()),
        Just("RetraceStart".to_owned()),
        Just("RetraceEnd".to_owned()),
        (0u32..150).prop_map(|line| format!("Line({line})")),
    ];
    let register = prop_oneof![
        Just("start_address"),
        Just("displayed"),
        Just("max_scan_line"),
        Just("cursor_address"),
        Just("video_enable"),
        Just("vertical_displayed"),
    ];
    let width = prop_oneof![Just("Byte"), Just("Word")];
    let small = 0u32..400;
    prop_oneof![
        moment.prop_map(|moment| format!("Wait({moment})")),
        (register, value(), width.clone(), any::<bool>()).prop_map(|(register, value, width, unlock)| format!(
            "Set(register: \"{register}\", value: {value}, width: {width}, unlock: {unlock}, order: LowFirst)"
        )),
        (0x3D0u32..0x3DC, value(), width.clone())
            .prop_map(|(port, value, width)| format!("Port(port: {port}, value: {value}, width: {width})")),
        (value(), small.clone(), value(), width.clone()).prop_map(|(to, bytes, value, width)| format!(
            "Fill(to: {to}, bytes: {bytes}, value: {value}, width: {width})"
        )),
        (value(), small.clone(), prop_oneof![Just("Picture"), Just("Memory")], width.clone()).prop_map(
            |(to, bytes, from, width)| format!("Copy(from: {from}, at: 77, to: {to}, bytes: {bytes}, width: {width})")
        ),
        (value(), value(), 0u32..4, width).prop_map(|(column, start, bytes, width)| format!(
            "Column(column: {column}, start: {start}, x: 3, bytes: {bytes}, rows: 90, width: {width})"
        )),
        Just("Count(\"n\")".to_owned()),
        (0u32..20000).prop_map(|clocks| format!("Work({clocks})")),
        Just("Jitter(900)".to_owned()),
    ]
}

fn steps() -> impl Strategy<Value = String> {
    let lists = |inner: BoxedStrategy<String>| {
        let list = prop::collection::vec(inner, 0..4).prop_map(|steps| format!("[{}]", steps.join(", "))).boxed();
        prop_oneof![
            (list.clone(), list.clone(), 0u32..3).prop_map(|(then, otherwise, rest)| format!(
                "If(when: Not(Equal(\"frame % 3\", {rest})), then: {then}, otherwise: {otherwise})"
            )),
            (list, 0u32..4).prop_map(|(steps, times)| format!("Repeat(times: {times}, steps: {steps})")),
        ]
    };
    let step = leaf().boxed().prop_recursive(2, 8, 3, lists);
    prop::collection::vec(step, 1..6).prop_map(|steps| format!("[{}]", steps.join(", ")))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn a_trace_replays_to_the_same_frames(
        which in 0usize..3, once in steps(), each in steps(), start in 0u64..500_000, nanoseconds: bool,
    ) {
        let (name, mode) = [("linear-256", "320x200x256"), ("colour-graphics", "320x200x4"), ("colour-graphics", "text-80")][which];
        let (adapter, registers) = class(name, mode);
        let text = format!(
            "(version: 1, start_dot: {start}, counters: {{\"n\": (from: -5, to: 90, step: 7, at_end: Bounce)}}, \
             once: {once}, each_frame: {each})"
        );
        let board = Board::healthy(Arc::clone(&adapter), registers);
        let mut runner = runner(&text, board.clone(), "286-8");
        runner.board_mut().keep_trace();
        let frames: Vec<_> = (0..5).map(|_| runner.next_frame()).collect();

        let unit = if nanoseconds { TraceUnit::Nanosecond } else { TraceUnit::Dot };
        let clock = DotTime::new(adapter.dot_clock());
        let csv = runner.board().trace().unwrap().to_csv(unit, clock);
        let trace = Trace::from_csv(&Source::built_in("t.csv", csv), clock).unwrap();
        prop_assert_eq!(&trace, runner.board().trace().unwrap());
        let mut replay: Replay<Healthy> = Replay::new(board, Arc::new(trace));
        for frame in &frames {
            prop_assert!(replay.next_frame().frame == *frame, "frame {}", frame.number);
        }
    }
}

/// A clone is a snapshot: it runs on exactly as the original does.
#[test]
fn a_snapshot_runs_on_alike() {
    let mut runner = setup::scroll("scroll-early-column", 0);
    for _ in 0..3 {
        runner.next_frame();
    }
    let mut rewound = runner.clone();
    let frames: Vec<_> = (0..4).map(|_| runner.next_frame()).collect();
    assert!(frames.iter().all(|frame| rewound.next_frame() == *frame));
}
