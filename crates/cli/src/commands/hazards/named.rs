//! Mistakes with the instruction of a program that made them.
//!
//! What a program did to its board was recorded; mistakes found in the replay lead back to an access and the
//! instruction behind it.

use std::sync::Arc;

use backporch_answer::HazardAnswer;
use backporch_bench::Bench;
use backporch_drive::{layout, responsible, trace_of};
use backporch_hazards::{Hazard, Inspector, Surroundings};
use backporch_pc::Machine;
use backporch_raster::Tap;
use backporch_script::Replay;

/// The mistakes of a recorded program, with its instructions.
pub fn of_program<T: Tap>(hazards: Vec<Hazard>, machine: &Machine<T>) -> Vec<HazardAnswer> {
    let named = |hazard: Hazard| {
        let access = responsible(&hazard, machine.recorded());
        let by = access.and_then(|access| machine.listing(access.by, 1).first().map(ToString::to_string));
        HazardAnswer::new(hazard, by)
    };
    hazards.into_iter().map(named).collect()
}

/// The mistakes in the first `frames` frames of a recorded run.
pub fn of_run<T: Tap>(bench: &Bench, machine: &Machine<T>, frames: u64) -> Vec<HazardAnswer> {
    let mut replay = Replay::new(bench.faulty(bench.registers()), Arc::new(trace_of(machine.recorded())));
    let around = Surroundings {
        dot_clock: Some(bench.dot_clock()),
        monitor: bench.monitor().cloned(),
        layout: layout(bench),
        ..Surroundings::default()
    };
    let mut inspector = Inspector::new(Arc::clone(bench.adapter()), around);
    (0..frames).for_each(|_| inspector.see(replay.next_frame()));
    of_program(inspector.finish(None), machine)
}
