//! A program on a board, run as a prompt starts it, and looked after for hazards.

#![allow(dead_code)]

#[path = "../../../../tests/programs.rs"]
pub mod programs;

use std::sync::Arc;

use backporch_adapter::Adapter;
use backporch_drive::Watcher;
use backporch_hazards::{Hazard, Inspector, Surroundings};
use backporch_pc::{Folder, Key, KeyPress, Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop};
use backporch_raster::{Board, Frame};

use programs::Labelled;

/// What a run came to.
pub struct Ran {
    pub machine: Machine,
    pub stop: Stop,
    pub frames: Vec<Frame>,
    pub hazards: Vec<Hazard>,
}

/// A processor and its clock in megahertz: what most programs run on, and what those of 32 bits do.
pub const USUAL: (Model, u64) = (Model::P8086, 8);
pub const OF_32_BITS: (Model, u64) = (Model::P80386, 16);

pub const OF_16_BITS_LATER: (Model, u64) = (Model::P80286, 8);

/// What stands around a program.
#[derive(Clone)]
pub struct Around<'a> {
    /// Keys pressed, each from and to a time in milliseconds.
    pub keys: &'a [(u64, u64, &'a str)],
    pub folder: Option<Folder>,
    pub tail: &'a str,
    /// When it is stopped, in milliseconds.
    pub until: u64,
}

impl Default for Around<'_> {
    fn default() -> Self {
        Self { keys: &[], folder: None, tail: "", until: 3000 }
    }
}

/// A program on a board in its text mode, where it has one.
pub fn run_made((model, megahertz): (Model, u64), board: &str, made: &Labelled, around: &Around<'_>) -> Ran {
    let adapter = Adapter::built_in(board).unwrap();
    let text = adapter.firmware_text_mode();
    let modes = &adapter.profile().modes;
    let mode = modes.iter().find(|mode| text.is_some() && mode.firmware.as_ref() == text).unwrap_or(&modes[0]).clone();
    let registers = adapter.start_up(&mode);
    let mut plain = Board::plain(Arc::clone(&adapter), registers.clone());
    plain.load(&adapter.memory_at_start(&registers));
    let beside = Surroundings { dot_clock: Some(plain.dot_clock()), ..Surroundings::default() };
    let mut watcher = Watcher::new(plain.clone(), Inspector::new(adapter, beside));
    let usual = MachineSetup::new(model, ProcessorClock::new(megahertz * 1_000_000, 1).unwrap());
    let setup = MachineSetup { folder: around.folder.clone(), tail: around.tail.to_owned(), ..usual };
    let mut machine = Machine::new(plain, &ProgramImage::parse(&made.bytes).unwrap(), &mode.name, setup).unwrap();
    machine.set_deadline(around.until * 1_000_000);
    machine.record(true);
    for (from, to, key) in around.keys {
        let key = Key::named(key).unwrap();
        if from == to {
            machine.press(key, from * 1_000_000);
        } else {
            machine.hold(KeyPress { key, from: from * 1_000_000, to: to * 1_000_000 });
        }
    }
    let mut frames = Vec::new();
    let mut hazards = Vec::new();
    let stop = loop {
        let stop = machine.run();
        let (accesses, dot) = (machine.take_recorded(), machine.hardware().dot());
        hazards.extend(watcher.follow(&accesses, dot));
        match stop {
            Stop::Frame(frame) => frames.push(*frame),
            stop => break stop,
        }
    };
    hazards.extend(watcher.finish(matches!(stop, Stop::Exit(_))));
    Ran { machine, stop, frames, hazards }
}
