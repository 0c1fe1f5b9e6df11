//! Mistakes with the instruction of a program that made them.

use backporch_answer::HazardAnswer;
use backporch_bench::Bench;
use backporch_drive::{RealMode, Watcher, responsible};
use backporch_hazards::{Hazard, Inspector, Surroundings};
use backporch_pc::Machine;
use backporch_pc::record::AccessKind;
use backporch_quirk::QuirkStack;
use backporch_raster::Tap;
use std::sync::Arc;

/// Mistakes listed at most; those beyond are counted.
pub const MOST_LISTED: usize = 10_000;

/// A mistake with the instruction of a program that made it.
pub fn of_program<T: Tap>(hazard: Hazard, machine: &Machine<T>) -> HazardAnswer {
    let by = responsible(&hazard);
    let by = by.and_then(|by| machine.listing(by, 1).first().map(ToString::to_string));
    HazardAnswer::new(hazard, by)
}

/// The mistakes of a program while it runs.
pub struct Mistakes {
    watcher: Watcher<QuirkStack>,
    found: Vec<HazardAnswer>,
    beyond: u64,
    /// Accesses of the machine's record that have been taken in.
    seen: usize,
}

impl Mistakes {
    /// Of a program about to start on the bench's board.
    pub fn new(bench: &Bench, program: &RealMode) -> Self {
        let mut board = bench.faulty(bench.registers());
        board.run_to(program.setup.phase);
        drop(board.take_frame());
        // The program lays out what it shows by itself.
        let around = Surroundings {
            dot_clock: Some(bench.dot_clock()),
            monitor: bench.monitor().cloned(),
            ..Surroundings::default()
        };
        let inspector = Inspector::new(Arc::clone(bench.adapter()), around);
        Self { watcher: Watcher::new(board, inspector), found: Vec::new(), beyond: 0, seen: 0 }
    }

    /// Takes in what the machine has done, which it goes on to keep where `keeps` says so.
    pub fn follow<T: Tap>(&mut self, machine: &mut Machine<T>, keeps: bool) {
        let dot = machine.hardware().dot();
        let found = if keeps {
            let record = machine.recorded();
            // A wait that is under way may yet grow.
            let waits = record.last().is_some_and(|last| last.kind == AccessKind::PortRead);
            let end = record.len().saturating_sub(usize::from(waits)).max(self.seen.min(record.len()));
            let new = record.get(self.seen..end).unwrap_or_default();
            self.seen = end;
            self.watcher.follow(new, dot)
        } else {
            self.watcher.follow(&machine.take_recorded(), dot)
        };
        self.list(found, machine);
    }

    fn list<T: Tap>(&mut self, found: Vec<Hazard>, machine: &Machine<T>) {
        for hazard in found {
            if self.found.len() < MOST_LISTED {
                self.found.push(of_program(hazard, machine));
            } else {
                self.beyond += 1;
            }
        }
    }

    /// All mistakes in order of frames, and how many there are beyond those listed.
    pub fn finish<T: Tap>(mut self, machine: &mut Machine<T>, keeps: bool, ended: bool) -> (Vec<HazardAnswer>, u64) {
        self.follow(machine, keeps);
        let watcher = self.watcher.clone();
        self.list(watcher.finish(ended), machine);
        self.found.sort_by_key(|hazard| (hazard.frame, hazard.line, hazard.dot));
        (self.found, self.beyond)
    }
}
