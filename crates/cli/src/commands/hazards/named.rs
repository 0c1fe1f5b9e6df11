//! Mistakes as they are told, with the instruction of a program that made them.
//!
//! What a program did to its board was recorded; mistakes found in the replay lead back to an access and the
//! instruction behind it.

use std::sync::Arc;

use backporch_bench::Bench;
use backporch_drive::{layout, responsible, trace_of};
use backporch_hazards::{Hazard, Inspector, Surroundings};
use backporch_pc::Machine;
use backporch_raster::Tap;
use backporch_script::Replay;
use serde::Serialize;

/// One mistake.
#[derive(Debug, Serialize)]
pub struct HazardAnswer {
    pub kind: &'static str,
    pub frame: u64,
    pub line: u32,
    pub dot: u32,
    pub what: String,
    pub cure: String,
    /// The instruction, disassembled, where one can be named.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
}

impl HazardAnswer {
    pub fn new(hazard: Hazard, by: Option<String>) -> Self {
        let Hazard { kind, frame, line, dot, what, cure, made: _ } = hazard;
        Self { kind: kind.name(), frame, line, dot, what, cure, by }
    }

    pub fn text(&self) -> String {
        let Self { kind, frame, line, dot, what, cure, by } = self;
        let mut text = format!("{kind}, frame {frame}, line {line}, dot {dot}: {what}\n  cure: {cure}\n");
        if let Some(by) = by {
            text += &format!("  by {by}\n");
        }
        text
    }
}

/// The mistakes of a recorded program, with its instructions.
pub fn of_program<T: Tap>(hazards: Vec<Hazard>, machine: &Machine<T>) -> Vec<HazardAnswer> {
    let named = |hazard: Hazard| {
        let access = responsible(&hazard, machine.recorded());
        let by = access.and_then(|access| machine.listing(access.by, 1).first().map(ToString::to_string));
        HazardAnswer::new(hazard, by)
    };
    hazards.into_iter().map(named).collect()
}

/// The mistakes in so many frames of a recorded run.
pub fn of_run<T: Tap>(bench: &Bench, machine: &Machine<T>, frames: u64) -> Vec<HazardAnswer> {
    let mut replay = Replay::new(bench.faulty(bench.registers()), Arc::new(trace_of(machine.recorded())));
    let around = Surroundings { monitor: bench.monitor().cloned(), layout: layout(&bench), ..Surroundings::default() };
    let mut inspector = Inspector::new(Arc::clone(bench.adapter()), around);
    (0..frames).for_each(|_| inspector.see(replay.next_frame()));
    of_program(inspector.finish(None), machine)
}

/// Told once for each kind, with how often it comes again; the JSON form has them all.
pub fn summed(hazards: &[HazardAnswer]) -> impl Iterator<Item = String> {
    let first = |(at, hazard): &(usize, &HazardAnswer)| hazards[..*at].iter().all(|other| other.kind != hazard.kind);
    hazards.iter().enumerate().filter(first).map(|(at, hazard)| {
        let again: Vec<u64> =
            hazards[at + 1..].iter().filter(|other| other.kind == hazard.kind).map(|other| other.frame).collect();
        match (again.first(), again.last()) {
            (Some(next), Some(last)) => {
                hazard.text() + &format!("  and {} more, in frames {next} to {last}\n", again.len())
            }
            _ => hazard.text(),
        }
    })
}
