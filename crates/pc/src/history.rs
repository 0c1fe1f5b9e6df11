//! Going back: snapshots every this many frames, and running on from one to the frame wanted.

use std::collections::VecDeque;

use backporch_raster::Tap;

use crate::machine::Machine;
use crate::stops::{Breakpoints, Stop};

/// Snapshots of a run, a bounded number of them.
#[derive(Clone, Debug)]
pub struct History<T: Tap> {
    every: u64,
    most: usize,
    kept: VecDeque<(u64, Machine<T>)>,
}

impl<T: Tap + Clone> History<T> {
    /// A snapshot every this many frames (at least 1), at most this many of them (at least 1), about 1 MB each.
    #[must_use]
    pub fn new(every: u64, most: usize) -> Self {
        Self { every: every.max(1), most: most.max(1), kept: VecDeque::new() }
    }

    /// Looks at a machine at the start of the frame of that number and keeps it if it is time to.
    pub fn note(&mut self, frame: u64, machine: &Machine<T>) {
        while self.kept.back().is_some_and(|(known, _)| *known >= frame) {
            self.kept.pop_back();
        }
        let due = self.kept.back().is_none_or(|(known, _)| frame >= known + self.every);
        if due {
            self.kept.push_back((frame, machine.clone()));
        }
        if self.kept.len() > self.most {
            // The very first stays: from it every frame can be reached.
            self.kept.remove(1);
        }
    }

    /// The machine as it was at the start of a frame: the nearest snapshot before, run on.
    ///
    /// `None` where no snapshot lies before, or the run ends before that frame.
    /// Breakpoints and deadlines of the snapshot are passed over.
    #[must_use]
    pub fn rewind(&self, frame: u64) -> Option<Machine<T>> {
        let (_, snapshot) = self.kept.iter().rev().find(|(known, _)| *known <= frame)?;
        let mut machine = snapshot.clone();
        machine.set_breakpoints(Breakpoints::default());
        machine.set_deadline(u64::MAX);
        while machine.board().frame_so_far().number < frame {
            match machine.run() {
                Stop::Frame(done) => machine.recycle(*done),
                _ => return None,
            }
        }
        Some(machine)
    }
}
