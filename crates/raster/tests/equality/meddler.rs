//! A tap that meddles at every stage, as a stack of quirks does: by line, by
//! place, by what it peeks at and by what it remembers of writes.

use backporch_adapter::{Guard, Palette, Timing};
use backporch_raster::{
    Explain, Intercept, LatchMoment, Line, LineEffects, LineReuse, MemoryWrite, PortWrite, Run, Shift, Stages,
    WriteOutcome,
};

/// Meddles at the stages it is given.
#[derive(Clone, Debug)]
pub struct Meddler {
    stages: Stages,
    /// Byte of the last write to memory.
    last: u8,
    writes: u32,
}

/// Every stage, in the order of the bits of a case.
const ALL: [Stages; 8] = [
    Stages::PORT,
    Stages::LATCH,
    Stages::ADDRESS,
    Stages::FETCH,
    Stages::PIXEL,
    Stages::COLOUR,
    Stages::SYNC,
    Stages::MEMORY,
];

impl Meddler {
    /// With the stages of the set bits.
    pub fn new(bits: u8) -> Self {
        let chosen = ALL.into_iter().enumerate().filter(|(bit, _)| bits >> bit & 1 != 0);
        let stages = chosen.fold(Stages::empty(), |stages, (_, stage)| stages | stage);
        Self { stages, last: 0, writes: 0 }
    }
}

/// A number for a place of a line.
fn place(line: &Line, at: u32) -> u32 {
    (line.scan_line.wrapping_mul(31) ^ at.wrapping_mul(7) ^ line.frame as u32).wrapping_mul(2_654_435_761) >> 16
}

/// Every third line is left as it is.
fn spares(line: &Line) -> bool {
    line.scan_line % 3 == 1
}

impl Intercept for Meddler {
    fn stages(&self) -> Stages {
        self.stages
    }

    fn port(&mut self, write: &PortWrite) -> WriteOutcome {
        self.writes += 1;
        match write.scan_line.wrapping_add(write.char) % 5 {
            0 => WriteOutcome::Lost,
            1 => WriteOutcome::Take(write.value ^ 1, Guard::AsRegister),
            2 => WriteOutcome::Take(write.value, Guard::Open),
            3 => WriteOutcome::Take(write.value, Guard::Shut),
            _ => WriteOutcome::Take(write.value, Guard::AsRegister),
        }
    }

    fn memory(&mut self, write: &MemoryWrite) {
        self.last = write.value ^ write.char as u8;
    }

    fn latch(&mut self, moment: &LatchMoment) -> u32 {
        moment.start ^ (moment.frame as u32 & 3) ^ moment.since_write.map_or(0, |dots| dots as u32 & 1)
    }

    fn latch_delay(&self) -> u32 {
        self.writes % 4
    }

    fn timing(&self, timing: &mut Timing) {
        timing.sync_start = timing.sync_start.saturating_sub(1);
        timing.sync_width /= 2;
    }

    fn address(&self, line: &Line, _offset: u32, linear: u32) -> Run {
        // Rows of 64 bytes, one reload a line.
        if spares(line) {
            return Run { linear, len: u32::MAX };
        }
        let row = (linear >> 6).min((line.linear >> 6) + 1);
        Run { linear: row << 6 | linear & 63, len: 64 - (linear & 63) }
    }

    fn bank(&self, line: &Line) -> u32 {
        line.bank ^ if line.row % 2 == 1 && !spares(line) { 0x2000 } else { 0 }
    }

    fn fetch(&self, line: &Line, offset: u32, bytes: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        for (byte, at) in bytes.iter_mut().zip(offset..) {
            *byte = match place(line, at) % 4 {
                _ if spares(line) => *byte,
                0 => peek(at ^ 1),
                1 => *byte ^ self.last,
                _ => *byte,
            };
        }
    }

    fn pixels(&self, line: &Line, x: u32, values: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        for (value, at) in values.iter_mut().zip(x..) {
            *value = match place(line, at) % 5 {
                _ if spares(line) => *value,
                0 => peek(at + 1),
                1 => peek(at.saturating_sub(3)),
                2 => *value ^ 1,
                _ => *value,
            };
        }
    }

    fn colour(&self, frame: u64, palette: &mut Palette) {
        palette.colours.rotate_left(1 + frame as usize % 3);
    }

    fn shift(&mut self, frame: u64) -> Shift {
        Shift { dots: frame as i32 % 3, lines: self.writes as i32 % 2 }
    }
}

impl LineReuse for Meddler {
    fn line_effects(&self, line: &Line) -> LineEffects {
        let stages = if spares(line) { Stages::empty() } else { self.stages };
        LineEffects { stages, detail: [0; 6] }
    }
}

impl Explain for Meddler {}
