//! What the tests of whole programs share: the assembler, boards, machines.

#![allow(dead_code)]

use std::sync::Arc;

use backporch_adapter::{Adapter, Registers};
use backporch_pc::{CRYSTAL_HZ, Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop};
use backporch_raster::{Board, Frame};

#[path = "../../../../tests/programs.rs"]
pub mod programs;

/// Whether the assembler is here; says so where it is not.
pub fn has_assembler() -> bool {
    programs::of_source("ret").is_some()
}

/// A program of `assets/programs`, assembled with definitions.
pub fn program(name: &str, definitions: &[&str]) -> ProgramImage {
    ProgramImage::parse(&programs::assembled(name, definitions).expect("asked for before")).unwrap()
}

/// A program given by its source, 8086 code at 100h.
pub fn source(text: &str) -> ProgramImage {
    ProgramImage::parse(&programs::of_source(text).expect("asked for before")).unwrap()
}

/// The usual machine: 8 MHz.
pub fn setup(model: Model) -> MachineSetup {
    MachineSetup::new(model, ProcessorClock::new(8_000_000, 1).unwrap())
}

/// The first of its kind: 4.77 MHz.
pub fn slow_setup() -> MachineSetup {
    MachineSetup::new(Model::P8088, ProcessorClock::new(CRYSTAL_HZ, 3).unwrap())
}

/// A board in its first mode and its registers.
pub fn board(adapter: &str) -> (Board, Registers) {
    let adapter = Adapter::built_in(adapter).unwrap();
    let registers = adapter.start_up(adapter.default_mode());
    (Board::plain(Arc::clone(&adapter), registers.clone()), registers)
}

pub fn machine(adapter: &str, image: &ProgramImage, setup: MachineSetup) -> Machine {
    let (board, _) = board(adapter);
    let mode = board.adapter().default_mode().name.clone();
    let mut machine = Machine::new(board, image, &mode, setup).unwrap();
    // No test needs more; a program that loops is a failure, not a hang.
    machine.set_deadline(20_000_000_000);
    machine
}

/// Runs to the end; every whole frame, and what ended it.
pub fn run(machine: &mut Machine) -> (Vec<Frame>, Stop) {
    let mut frames = Vec::new();
    loop {
        match machine.run() {
            Stop::Frame(frame) => frames.push(*frame),
            stop => return (frames, stop),
        }
    }
}

/// The start address a frame shows.
pub fn start_of(frame: &Frame) -> u32 {
    frame.picture_lines().next().and_then(|line| line.fetch.as_ref()).map_or(0, |line| line.start)
}

/// Pixel values of a frame, line by line.
pub fn values(frame: &Frame) -> Vec<Vec<u8>> {
    let line =
        |line| frame.segments_of(line).iter().flat_map(|segment| frame.values_of(segment.kind)).copied().collect();
    frame.picture_lines().map(line).collect()
}
