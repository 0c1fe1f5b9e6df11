//! Mistakes as they are told, with the instruction of a program that made them.
//!
//! What a program did to its board was recorded; mistakes found in the replay lead back, by the beam's place,
//! to an access and the instruction behind it.

use std::sync::Arc;

use backporch_bench::{Bench, trace_of};
use backporch_machine::record::Kind;
use backporch_machine::{Access, Machine};
use backporch_raster::Tap;
use backporch_routine::{FrameRecord, Hazard, HazardKind, Inspector, Replay, Surroundings};
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
        let Hazard { kind, frame, line, dot, what, cure } = hazard;
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

/// Where the lines of each frame began, to find the access behind a place of the beam.
#[derive(Debug, Default)]
pub struct Places(Vec<(u64, Vec<u64>)>);

impl Places {
    pub fn see(&mut self, record: &FrameRecord) {
        let lines = record.frame.lines.iter();
        let first = record.frame.first_dot;
        let starts = lines.scan(first, |end, line| Some(std::mem::replace(end, *end + u64::from(line.dots))));
        self.0.push((record.frame.number, starts.collect()));
    }

    fn dot(&self, hazard: &Hazard) -> Option<u64> {
        let at = self.0.binary_search_by_key(&hazard.frame, |(number, _)| *number).ok()?;
        Some(self.0[at].1.get(hazard.line as usize)? + u64::from(hazard.dot))
    }

    /// The mistakes of a recorded program, with its instructions.
    pub fn of_program<T: Tap>(&self, hazards: Vec<Hazard>, machine: &Machine<T>) -> Vec<HazardAnswer> {
        let named = |hazard: Hazard| {
            let access = self.dot(&hazard).and_then(|dot| responsible(machine.recorded(), hazard.kind, dot));
            let by = access.and_then(|access| machine.listing(access.by, 1).first().map(ToString::to_string));
            HazardAnswer::new(hazard, by)
        };
        hazards.into_iter().map(named).collect()
    }
}

/// The mistakes in so many frames of a recorded run.
pub fn of_run<T: Tap>(bench: &Bench, machine: &Machine<T>, frames: u64) -> Vec<HazardAnswer> {
    let mut replay = Replay::new(bench.faulty(bench.registers()), Arc::new(trace_of(machine.recorded())));
    let around = Surroundings { monitor: bench.monitor().cloned(), layout: bench.layout(), ..Surroundings::default() };
    let mut inspector = Inspector::new(Arc::clone(bench.adapter()), around);
    let mut places = Places::default();
    for _ in 0..frames {
        let record = replay.next_frame();
        places.see(&record);
        inspector.see(record);
    }
    places.of_program(inspector.finish(None), machine)
}

/// The access behind a mistake at a dot: for registers the port write nearest to it, for memory the first
/// write from there on where the beam was ahead of the program, the last before where it was behind.
fn responsible(accesses: &[Access], kind: HazardKind, dot: u64) -> Option<&Access> {
    let memory = |access: &&Access| access.kind == Kind::Memory;
    match kind {
        HazardKind::ColumnLate | HazardKind::Tear => accesses.iter().filter(memory).find(|access| access.dot >= dot),
        HazardKind::ColumnEarly | HazardKind::Snow => {
            accesses.iter().filter(memory).rev().find(|access| access.dot <= dot)
        }
        HazardKind::TornStart | HazardKind::LateStart | HazardKind::NearLatch | HazardKind::Protected => {
            let ports = accesses.iter().filter(|access| matches!(access.kind, Kind::Port | Kind::PortWord));
            ports.min_by_key(|access| access.dot.abs_diff(dot))
        }
        _ => None,
    }
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
