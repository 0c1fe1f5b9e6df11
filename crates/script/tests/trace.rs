//! A script, its saved trace, and the trace replayed on the board and on the literal stepper show the same frames.

mod setup;

use std::sync::Arc;

use backporch_input::Source;
use backporch_raster::stepper::Stepper;
use backporch_raster::{Board, Drive, Frame, Plain};
use backporch_script::{DotTime, Event, PortValue, Program, Replay, Trace, TraceAccess, TraceUnit};
use proptest::prelude::*;
use setup::{class, runner};

fn value() -> impl Strategy<Value = String> {
    prop_oneof![
        (0u32..70000).prop_map(|number| number.to_string()),
        (1u32..300).prop_map(|factor| format!("\"n * {factor} + frame\"")),
    ]
}

/// Registers and ports that a script of a class writes.
#[derive(Clone, Copy)]
struct Reach {
    registers: &'static [&'static str],
    ports: &'static [u16],
}

const OF_6845: Reach = Reach {
    registers: &["start_address", "displayed", "max_scan_line", "cursor_address", "video_enable", "vertical_displayed"],
    ports: &[0x3D0, 0x3D1, 0x3D2, 0x3D3, 0x3D4, 0x3D5, 0x3D6, 0x3D7, 0x3D8, 0x3D9, 0x3DA, 0x3DB],
};
/// Attribute controller, sequencer, graphics controller and controller, by index and data.
const OF_PLANES: Reach = Reach {
    registers: &["start_address", "offset", "pixel_panning", "line_compare", "map_mask", "write_mode", "displayed"],
    ports: &[0x3C0, 0x3C4, 0x3C5, 0x3CE, 0x3CF, 0x3D4, 0x3D5],
};

fn leaf(reach: Reach) -> impl Strategy<Value = String> {
    let moment = prop_oneof![
        Just("ActiveStart".to_owned()),
        Just("DisplayStart".to_owned()),
        Just("DisplayEnd".to_owned()),
        Just("RetraceStart".to_owned()),
        Just("RetraceEnd".to_owned()),
        (0u32..150).prop_map(|line| format!("Line({line})")),
    ];
    let register = prop::sample::select(reach.registers);
    let port = prop::sample::select(reach.ports);
    let width = prop_oneof![Just("Byte"), Just("Word")];
    let small = 0u32..400;
    prop_oneof![
        moment.prop_map(|moment| format!("Wait({moment})")),
        (register, value(), width.clone(), any::<bool>()).prop_map(|(register, value, width, unlock)| format!(
            "Set(register: \"{register}\", value: {value}, width: {width}, unlock: {unlock}, order: LowFirst)"
        )),
        (port, value(), width.clone())
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

fn steps(reach: Reach) -> impl Strategy<Value = String> {
    let lists = |inner: BoxedStrategy<String>| {
        let list = prop::collection::vec(inner, 0..4).prop_map(|steps| format!("[{}]", steps.join(", "))).boxed();
        prop_oneof![
            (list.clone(), list.clone(), 0u32..3).prop_map(|(then, otherwise, rest)| format!(
                "If(when: Not(Equal(\"frame % 3\", {rest})), then: {then}, otherwise: {otherwise})"
            )),
            (list, 0u32..4).prop_map(|(steps, times)| format!("Repeat(times: {times}, steps: {steps})")),
        ]
    };
    let step = leaf(reach).boxed().prop_recursive(2, 8, 3, lists);
    prop::collection::vec(step, 1..6).prop_map(|steps| format!("[{}]", steps.join(", ")))
}

/// A script run, saved, and replayed on the board and on the literal stepper.
struct Case<'a> {
    class: (&'a str, &'a str),
    once: &'a str,
    each: &'a str,
    start: u64,
    unit: TraceUnit,
}

const FRAMES: usize = 5;

impl Case<'_> {
    fn holds(&self) -> Result<(), TestCaseError> {
        let Case { class: (name, mode), once, each, start, unit } = self;
        let (adapter, registers) = class(name, mode);
        let text = format!(
            "(version: 1, start_dot: {start}, counters: {{\"n\": (from: -5, to: 90, step: 7, at_end: Bounce)}}, \
             once: {once}, each_frame: {each})"
        );
        let board = Board::plain(Arc::clone(&adapter), registers.clone());
        let mut runner = runner(&text, board.clone(), "286-8");
        runner.board_mut().keep_trace();
        let frames: Vec<Frame> = (0..FRAMES).map(|_| runner.next_frame()).collect();

        let clock = DotTime::new(adapter.dot_clock());
        let csv = runner.board().trace().unwrap().to_csv(*unit, clock);
        let trace = Trace::from_csv(&Source::built_in("t.csv", csv), clock).unwrap();
        prop_assert_eq!(&trace, runner.board().trace().unwrap());
        let mut replay: Replay<Plain> = Replay::new(board, Arc::new(trace.clone()));
        for frame in &frames {
            prop_assert!(replay.next_frame().frame == *frame, "frame {} on the board", frame.number);
        }
        let stepped = driven(&mut Stepper::new(adapter, registers, Plain), &trace);
        for (frame, stepped) in frames.iter().zip(&stepped) {
            prop_assert!(stepped == frame, "frame {} on the stepper", frame.number);
        }
        Ok(())
    }
}

/// The first frames of anything that can be driven as a board, under a trace.
fn driven(board: &mut dyn Drive, trace: &Trace) -> Vec<Frame> {
    let mut frames = Vec::new();
    for (dot, access) in trace.accesses() {
        while board.beam().dot < *dot && frames.len() < FRAMES {
            // A character clock at a time: a frame may be as short as a line, and only the newest is kept.
            board.run_to((board.beam().dot + 8).min(*dot));
            frames.extend(board.take_frame());
        }
        match *access {
            TraceAccess::Port(port, PortValue::Byte(value)) => board.write_port(port, value),
            TraceAccess::Port(port, PortValue::Word(value)) => {
                let [low, high] = value.to_le_bytes();
                board.write_port(port, low);
                board.write_port(port.wrapping_add(1), high);
            }
            TraceAccess::Read(port) => drop(board.read_port(port)),
            TraceAccess::Memory(offset, value) => board.write_memory(offset, value),
            TraceAccess::MemoryRead(offset) => drop(board.read_memory(offset)),
        }
    }
    while frames.len() < FRAMES {
        frames.push(board.run_frame());
    }
    frames
}

fn unit() -> impl Strategy<Value = TraceUnit> {
    prop_oneof![Just(TraceUnit::Dot), Just(TraceUnit::Nanosecond)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]
    #[test]
    fn a_trace_replays_to_the_same_frames(
        which in 0usize..3, once in steps(OF_6845), each in steps(OF_6845), start in 0u64..500_000, unit in unit(),
    ) {
        let class = [("linear-256", "320x200x256"), ("colour-graphics", "320x200x4"), ("colour-graphics", "text-80")];
        Case { class: class[which], once: &once, each: &each, start, unit }.holds()?;
    }

    #[test]
    fn a_trace_of_planes_replays_to_the_same_frames(
        which in 0usize..3, once in steps(OF_PLANES), each in steps(OF_PLANES), start in 0u64..500_000, unit in unit(),
    ) {
        let class = [("vga", "320x200x16"), ("vga", "320x200x256"), ("ega", "320x200x16")];
        Case { class: class[which], once: &once, each: &each, start, unit }.holds()?;
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

/// A line a counter names is waited for as one that stands as a number, and moves with the counter.
#[test]
fn a_line_may_be_reckoned() {
    let lines = |line: &str| -> Vec<u32> {
        let (adapter, registers) = class("colour-graphics", "320x200x4");
        let text = format!(
            "(version: 1, counters: {{\"n\": (from: 0, to: 90, start: 20, step: 3)}}, \
             each_frame: [Wait(Line({line})), Port(port: 0x3D9, value: \"n\"), Count(\"n\")])"
        );
        let mut runner = runner(&text, Board::plain(adapter, registers), "16bit-8");
        let events: Vec<Event> = (0..5).flat_map(|_| runner.next_record().events).collect();
        let port = |event: &Event| if let Event::Port(access) = event { Some(access.at.line) } else { None };
        events.iter().filter_map(port).collect()
    };
    let (number, reckoned) = (lines("43"), lines("\"n * 2 + 3\""));
    assert!(number.len() >= 4 && number.iter().all(|line| *line == number[0]), "{number:?}");
    assert_eq!(reckoned[0], number[0]);
    assert!(reckoned.windows(2).all(|pair| pair[1] == pair[0] + 6), "{reckoned:?}");
    let (adapter, _) = class("colour-graphics", "320x200x4");
    let text = "(version: 1, each_frame: [Wait(Line(70000))])";
    let error = Program::from_source(&Source::built_in("r.ron", text), &adapter).unwrap_err();
    assert!(error.to_string().contains("found 70000, allowed a line from 0 to 65535"), "{error}");
}
