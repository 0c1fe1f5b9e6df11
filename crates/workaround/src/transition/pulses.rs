//! Sync pulses as a controller sends them while registers are set.

use backporch_adapter::{Adapter, Registers, Timing};
use backporch_raster::Counters;

use super::{BeamMoment, Transition};

/// Character clocks from one port write to the next: about as fast as a bus of the time made them (common practice).
const APART: u32 = 4;
/// Seconds without a pulse after which nothing is waited for any more; no monitor holds a picture so long.
const PATIENCE: f64 = 0.2;
/// Vertical syncs that are looked at before the first write and after the last one.
const AROUND: u32 = 2;

/// The shortest and the longest time from one pulse to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Intervals {
    /// In microseconds.
    pub shortest_us: f64,
    /// In microseconds.
    pub longest_us: f64,
}

/// What comes down the cable while registers are set, the writes starting with vertical retrace.
///
/// A comparison that a counter has passed when its register is written is met only after the counter has run on to its end,
/// so one line or frame on the way may be far longer than either signal's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulses {
    /// From one horizontal sync to the next; `None` where fewer than two came.
    pub lines: Option<Intervals>,
    /// From one vertical sync to the next; `None` where fewer than two came.
    pub frames: Option<Intervals>,
}

impl Pulses {
    /// Lets the counters run from two frames before the first write of a transition to two after the last.
    #[must_use]
    pub fn sent(adapter: &Adapter, from: &Registers, transition: &Transition) -> Self {
        let mut sender = Sender::new(adapter, from.clone());
        sender.frames(AROUND);
        for stage in &transition.stages {
            if stage.moment == BeamMoment::Retrace {
                sender.until_retrace();
            }
            for cell in &stage.cells {
                sender.run(APART * cell.ports.len() as u32);
                sender.registers.set_cell(cell.cell, cell.byte);
                sender.decode();
            }
        }
        sender.frames(AROUND);
        Self { lines: sender.lines.seen, frames: sender.verticals.seen }
    }
}

/// When pulses of one kind came.
#[derive(Clone, Copy, Debug, Default)]
struct Watch {
    last: Option<f64>,
    seen: Option<Intervals>,
}

impl Watch {
    fn pulse(&mut self, now: f64) {
        if let Some(last) = self.last.replace(now) {
            let took = (now - last) * 1e6;
            let seen = self.seen.get_or_insert(Intervals { shortest_us: took, longest_us: took });
            seen.shortest_us = seen.shortest_us.min(took);
            seen.longest_us = seen.longest_us.max(took);
        }
    }
}

/// Counters that run, and what they sent.
struct Sender<'a> {
    adapter: &'a Adapter,
    registers: Registers,
    timing: Timing,
    /// Seconds of a character clock.
    char_seconds: f64,
    counters: Counters,
    now: f64,
    lines: Watch,
    verticals: Watch,
}

impl<'a> Sender<'a> {
    fn new(adapter: &'a Adapter, registers: Registers) -> Self {
        let timing = adapter.timing(&registers);
        let counters = Counters::at_frame_start(0, &timing);
        let (lines, verticals) = (Watch::default(), Watch::default());
        let mut sender = Self { adapter, registers, timing, char_seconds: 0.0, counters, now: 0.0, lines, verticals };
        sender.decode();
        sender
    }

    /// Takes the registers as they are now.
    fn decode(&mut self) {
        self.timing = self.adapter.timing(&self.registers);
        let dots = self.adapter.format(self.adapter.format_index(&self.registers)).char_dots;
        self.char_seconds = f64::from(dots) / self.adapter.dot_clock_of(&self.registers).get();
    }

    /// Runs some character clocks on.
    fn run(&mut self, chars: u32) {
        let mut left = chars;
        while left > 0 {
            left -= self.stretch(left);
        }
    }

    /// Runs until this many more vertical syncs have begun, or none comes.
    fn frames(&mut self, count: u32) {
        for _ in 0..count {
            let (before, began) = (self.verticals.last, self.now);
            while self.verticals.last == before && self.now - began < PATIENCE {
                self.stretch(u32::MAX);
            }
        }
    }

    fn until_retrace(&mut self) {
        let began = self.now;
        while !self.counters.vertical_sync() && self.now - began < PATIENCE {
            self.stretch(u32::MAX);
        }
    }

    /// Runs as long as nothing changes, `most` character clocks at most; answers how many it were.
    fn stretch(&mut self, most: u32) -> u32 {
        let (in_line_sync, in_frame_sync) = (self.counters.sync.on, self.counters.vertical_sync());
        let chars = self.counters.stretch(&self.timing, 1, most).max(1);
        if !in_line_sync && self.counters.sync.on {
            self.lines.pulse(self.now);
        }
        self.counters.advance(&self.timing, chars);
        self.now += f64::from(chars) * self.char_seconds;
        if !in_frame_sync && self.counters.vertical_sync() {
            self.verticals.pulse(self.now);
        }
        chars
    }
}
