//! What every check knows of the board and of what stands around it.

use std::sync::Arc;

use backporch_adapter::{Adapter, MemoryAccess, PLANES, Spread};
use backporch_raster::Line;
use backporch_script::{Cpu, DotTime};
use backporch_signal::{Hertz, Monitor, Signal};

/// How the picture was meant to lie in video memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MeantLayout {
    /// Bytes from row to row.
    pub pitch: u32,
    /// Bytes of a row that are meant to be shown.
    pub displayed: u32,
}

/// What stands around the board.
#[derive(Clone, Debug, Default)]
pub struct Surroundings {
    /// Dots a second; the first clock of the board's class where `None`.
    pub dot_clock: Option<Hertz>,
    /// Processor; margins are given in its clocks.
    pub cpu: Option<Cpu>,
    /// Clocks of a round of the polling loop beyond the plain one.
    pub poll_extra_clocks: u32,
    /// Monitor.
    pub monitor: Option<Monitor>,
    /// How the picture lies in memory.
    pub layout: Option<MeantLayout>,
}

/// A class of boards and its surroundings, as the checks ask about them.
#[derive(Clone, Debug)]
pub(super) struct JudgedBoard {
    pub adapter: Arc<Adapter>,
    pub around: Surroundings,
    clock: DotTime,
    /// Line and frame rates of the class's own modes, in hertz.
    rates: Vec<(f64, f64)>,
}

/// How far a line rate and a frame rate may lie from those of the class's modes before a monitor made for them is taken
/// not to follow, as shares of them (assumed: monitors of one rate differ).
const LINE_RATE: f64 = 0.05;
const FRAME_RATE: f64 = 0.15;

impl JudgedBoard {
    pub fn new(adapter: Arc<Adapter>, around: Surroundings) -> Self {
        let modes = adapter.profile().modes.iter();
        let signals = modes.filter_map(|mode| adapter.signal(&adapter.start_up(mode)).ok());
        let rates = signals.map(|signal| (signal.line_rate_hz(), signal.frame_rate_hz())).collect();
        Self { clock: DotTime::new(around.dot_clock.unwrap_or(adapter.dot_clock())), adapter, around, rates }
    }

    /// Bytes of memory behind one address of the processor: those of all planes, where there are planes.
    pub fn bytes_at_address(&self) -> u32 {
        match self.adapter.memory().access {
            MemoryAccess::Linear => 1,
            MemoryAccess::Planes => PLANES,
        }
    }

    /// Bytes that are shown for one address of the processor's window, on lines fetched so: those of all planes, shared
    /// out where words or double words are taken apart.
    pub fn bytes_at_offset(&self, line: &Line) -> u32 {
        match (self.adapter.memory().access, line.spread) {
            (MemoryAccess::Linear, _) | (_, Spread::DoubleWord) => 1,
            (_, Spread::WordBit13 | Spread::WordBit15) => PLANES / 2,
            (_, Spread::Byte) => PLANES,
        }
    }

    /// Whether a signal is as those of the class's own modes: what is asked where no monitor is named.
    pub fn is_like_a_mode(&self, signal: &Signal) -> bool {
        let like = |rate: f64, of: f64, share: f64| (rate / of - 1.0).abs() <= share;
        let (line, frame) = (signal.line_rate_hz(), signal.frame_rate_hz());
        let is_line = |(of, _): &(f64, f64)| like(line, *of, LINE_RATE);
        let is_frame = |(_, of): &(f64, f64)| like(frame, *of, FRAME_RATE);
        self.rates.iter().any(is_line) && self.rates.iter().any(is_frame)
    }

    /// Microseconds of this many dots.
    pub fn microseconds(&self, dots: u64) -> f64 {
        self.clock.picosecond_of(dots) as f64 / 1e6
    }

    /// "3.2 us (25 clocks)".
    pub fn duration(&self, dots: u64) -> String {
        let microseconds = self.microseconds(dots);
        match &self.around.cpu {
            Some(cpu) => format!("{microseconds:.1} us ({} clocks)", cpu.base().clocks_in(dots)),
            None => format!("{microseconds:.1} us"),
        }
    }

    /// Dots of one round of the polling loop.
    pub fn poll_dots(&self) -> Option<u64> {
        let cpu = self.around.cpu.as_ref()?;
        Some(cpu.base().dot_at(u64::from(cpu.poll_round() + self.around.poll_extra_clocks)))
    }
}
