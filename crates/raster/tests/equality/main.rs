//! The span path and the literal stepper show the same, frame for frame: the
//! same pixel values, spans, palettes and edges of display, blanking and sync,
//! the same bytes read from ports and memory, the same beam.
//!
//! Registers are those of a mode shrunk to a small frame, with odd ones among
//! them; ports and memory are written at random dots; taps sit on every stage.
//! `PROPTEST_CASES` sets the number of cases.

mod meddler;
mod scenario;

use backporch_adapter::Adapter;
use backporch_raster::stepper::Stepper;
use backporch_raster::{Board, Drive, Frame};
use proptest::prelude::*;

use meddler::Meddler;
use scenario::{Event, Scenario, scenario};

/// Cases of an ordinary run.
const CASES: u32 = 2000;
/// Dots a case runs on after its last event.
const REST: u64 = 9000;

fn cases() -> u32 {
    std::env::var("PROPTEST_CASES").ok().and_then(|cases| cases.parse().ok()).unwrap_or(CASES)
}

/// What a driver lets see at one point.
#[derive(Debug, PartialEq)]
struct Sight {
    beam: backporch_raster::Beam,
    byte: Option<u8>,
    frame: Option<Frame>,
}

fn act(driver: &mut dyn Drive, event: &Event) -> Option<u8> {
    match *event {
        Event::Program(0x3C0, index, value) => {
            driver.read_port(0x3DA);
            driver.write_port(0x3C0, index | 0x20);
            driver.write_port(0x3C0, value);
        }
        Event::Program(port, index, value) => {
            driver.write_port(port, index);
            driver.write_port(port + 1, value);
        }
        Event::WritePort(port, value) => driver.write_port(port, value),
        Event::WriteMemory(offset, value) => driver.write_memory(offset, value),
        Event::ReadPort(port) => return Some(driver.read_port(port)),
        Event::ReadMemory(offset) => return Some(driver.read_memory(offset)),
    }
    None
}

fn run(driver: &mut dyn Drive, scenario: &Scenario) -> (Vec<Sight>, Frame) {
    let mut sights = Vec::new();
    let mut dot = 0;
    for (gap, event) in &scenario.events {
        dot += gap;
        driver.run_to(dot);
        let byte = act(driver, event);
        sights.push(Sight { beam: driver.beam(), byte, frame: driver.take_frame() });
    }
    driver.run_to(dot + REST);
    sights.push(Sight { beam: driver.beam(), byte: None, frame: driver.take_frame() });
    (sights, driver.frame_so_far().clone())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), max_shrink_iters: 4000, ..ProptestConfig::default() })]

    #[test]
    fn span_path_and_stepper_are_equal(scenario in scenario()) {
        let adapter = Adapter::built_in(scenario.adapter).unwrap();
        let registers = scenario.registers(&adapter);
        let memory = scenario.memory(&adapter);
        let tap = Meddler::new(scenario.stages);
        let mut board = Board::new(adapter.clone(), registers.clone(), tap.clone());
        let mut stepper = Stepper::new(adapter, registers, tap);
        board.load(&memory);
        stepper.load(&memory);
        let (fast, under_way) = run(&mut board, &scenario);
        let (plain, plain_under_way) = run(&mut stepper, &scenario);
        for (at, (one, other)) in fast.iter().zip(&plain).enumerate() {
            prop_assert_eq!(&one.beam, &other.beam, "beam after event {}", at);
            prop_assert_eq!(one.byte, other.byte, "byte read at event {}", at);
            if let (Some(one), Some(other)) = (&one.frame, &other.frame) {
                prop_assert!(one == other, "frame {} differs: {}", one.number, first_difference(one, other));
            }
            prop_assert_eq!(one.frame.is_some(), other.frame.is_some());
        }
        let difference = first_difference(&under_way, &plain_under_way);
        prop_assert!(under_way == plain_under_way, "frame under way differs: {}", difference);
    }
}

/// In words, for whoever has to find the fault.
fn first_difference(one: &Frame, other: &Frame) -> String {
    for (at, (line, that)) in one.lines.iter().zip(&other.lines).enumerate() {
        let (ours, theirs) = (one.segments_of(line), other.segments_of(that));
        if ours.len() != theirs.len() || !one.alike_in_time(line, other, that) {
            return format!("line {at}: segments {ours:?} and {theirs:?}");
        }
        if line.fetch != that.fetch {
            return format!("line {at}: fetched as {:?} and {:?}", line.fetch, that.fetch);
        }
        if one.spans_of(line) != other.spans_of(that) {
            return format!("line {at}: spans {:?} and {:?}", one.spans_of(line), other.spans_of(that));
        }
        for (segment, twin) in ours.iter().zip(theirs) {
            let (values, others) = (one.values_of(segment.kind), other.values_of(twin.kind));
            if let Some(x) = (0..values.len()).find(|x| values.get(*x) != others.get(*x)) {
                return format!("line {at}: pixel {x} of {segment:?} is {} and {:?}", values[x], others.get(x));
            }
        }
    }
    format!("{} and {} lines, {:?} and {:?}", one.lines.len(), other.lines.len(), one.shift, other.shift)
}
