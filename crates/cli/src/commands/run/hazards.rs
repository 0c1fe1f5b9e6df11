//! A program's mistakes of timing and order, with the instruction that made them.
//!
//! What the program did to its board was recorded; the record is played to a board that is watched, and the
//! mistakes found there lead back, by the beam's place, to an access and the instruction behind it.

use std::sync::Arc;

use backporch_bench::Bench;
use backporch_machine::record::Kind;
use backporch_machine::{Access, Machine};
use backporch_raster::Tap;
use backporch_routine::{Hazard, HazardKind, Inspector, PortValue, Replay, Surroundings, Trace, TraceAccess};
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

/// The record as a write trace.
pub fn trace(accesses: &[Access]) -> Trace {
    let mut trace = Trace::default();
    for access in accesses {
        let port = access.address as u16;
        let made = match access.kind {
            Kind::Port => TraceAccess::Port(port, PortValue::Byte(access.value as u8)),
            Kind::PortWord => TraceAccess::Port(port, PortValue::Word(access.value)),
            Kind::PortRead => TraceAccess::Read(port),
            Kind::Memory => TraceAccess::Memory(access.address, access.value as u8),
            // Packed and text boards have no latches that a read would fill.
            Kind::MemoryRead => continue,
        };
        trace.push(access.dot, made);
    }
    trace
}

/// The mistakes in so many frames of a recorded run.
pub fn find<T: Tap>(bench: &Bench, machine: &Machine<T>, frames: u64) -> Vec<HazardAnswer> {
    let accesses = machine.recorded();
    let mut replay = Replay::new(bench.faulty(bench.registers()), Arc::new(trace(accesses)));
    let around = Surroundings { monitor: bench.monitor().cloned(), ..Surroundings::default() };
    let mut inspector = Inspector::new(Arc::clone(bench.adapter()), around);
    // The dots at which each frame's lines begin are needed again, to find the access.
    let mut beginnings = Vec::new();
    for _ in 0..frames {
        let record = replay.next_frame();
        beginnings.push((record.frame.number, record.frame.first_dot, line_starts(&record)));
        inspector.see(record);
    }
    let place = |hazard: &Hazard| {
        let (_, first, starts) = beginnings.iter().find(|(number, ..)| *number == hazard.frame)?;
        Some(first + starts.get(hazard.line as usize)? + u64::from(hazard.dot))
    };
    let told = |hazard: Hazard| {
        let access = place(&hazard).and_then(|dot| responsible(accesses, hazard.kind, dot));
        let by = access.and_then(|access| machine.listing(access.by, 1).first().map(ToString::to_string));
        let Hazard { kind, frame, line, dot, what, cure } = hazard;
        HazardAnswer { kind: kind.name(), frame, line, dot, what, cure, by }
    };
    inspector.finish(None).into_iter().map(told).collect()
}

fn line_starts(record: &backporch_routine::FrameRecord) -> Vec<u64> {
    let lines = record.frame.lines.iter();
    lines.scan(0, |end, line| Some(std::mem::replace(end, *end + u64::from(line.dots)))).collect()
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
