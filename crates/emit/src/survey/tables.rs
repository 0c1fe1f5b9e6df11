//! The experiments: what is laid one after the other, and with which registers.
//!
//! A multiplication between two bus cycles lets the queue fill and the bus come to rest, so that a bus cycle costs what it
//! costs by itself. Delays of single clocks come from the bits of a factor on the processors that count shifts whole (a
//! clock a bit; four clocks a place of a shift), and from the places of a shift on the others (a clock a place): published
//! clocks of *The 8086 Family User's Manual* and the *iAPX 286 Programmer's Reference*.

use super::facts::Facts;
use super::layout::{Variables, segment, wait};
use crate::draft::Data;

/// Delays of a series: enough to meet memory refresh in every way; and enough to go once through the slots of a board.
const DELAYS: u16 = 16;
const ALL_DELAYS: u16 = 32;

/// The interrupt that only comes back (one of those the system leaves to programs: common practice).
pub(super) const OWN_INTERRUPT: u8 = 0x60;

/// Copies of a pattern whose delay matters.
const SOME: u16 = 128;
/// Copies that fit the blanked part of a frame.
const FEW: u16 = 20;
/// Beats of the timer that suffice to tell a clock, and those that tell the processor's.
const BEATS: u16 = 6_000;
const MANY_BEATS: u16 = 24_000;

/// Instructions of the patterns.
mod instruction {
    /// `mul bl`.
    pub const MULTIPLY: [u8; 2] = [0xF6, 0xE3];
    /// `shl si, cl`.
    pub const SHIFT: [u8; 2] = [0xD3, 0xE6];
    /// `mov bx, 1`.
    pub const LOAD: [u8; 3] = [0xBB, 0x01, 0x00];
    /// `in al, dx` and `in ax, dx`.
    pub const IN_BYTE: [u8; 1] = [0xEC];
    pub const IN_WORD: [u8; 1] = [0xED];
    /// `mov al, ch`.
    pub const FACTOR: [u8; 2] = [0x8A, 0xC5];
    /// `mov dl, [di]` and `mov dx, [di]`.
    pub const READ_BYTE: [u8; 2] = [0x8A, 0x15];
    pub const READ_WORD: [u8; 2] = [0x8B, 0x15];
    /// `mov [di], dl` and `mov [di], dx`.
    pub const WRITE_BYTE: [u8; 2] = [0x88, 0x15];
    pub const WRITE_WORD: [u8; 2] = [0x89, 0x15];
    /// `int 60h`.
    pub const INTERRUPT: [u8; 2] = [0xCD, super::OWN_INTERRUPT];
    /// `mov ah, 0Fh` and `int 10h`: firmware tells the mode.
    pub const FIRMWARE: [u8; 4] = [0xB4, 0x0F, 0xCD, 0x10];
}

/// First and last address of two tables.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tables {
    pub machine: (u32, u32),
    pub video: (u32, u32),
}

/// One experiment.
struct Experiment {
    name: String,
    pattern: Vec<u8>,
    /// Copies, or the beats that they shall take.
    copies: u16,
    beats: u16,
    wait: u16,
    segment: u16,
    di: u16,
    dx: u16,
    delays: u16,
}

impl Experiment {
    fn new(name: impl Into<String>, parts: &[&[u8]]) -> Self {
        let (name, pattern) = (name.into(), parts.concat());
        let (wait, segment) = (wait::NONE, segment::OWN);
        Self { name, pattern, copies: 0, beats: BEATS, wait, segment, di: 0, dx: 0, delays: 0 }
    }

    /// An access behind a delay.
    fn access(name: impl Into<String>, access: &[u8]) -> Self {
        let made = Self::new(name, &[&instruction::FACTOR, &instruction::MULTIPLY, &instruction::SHIFT, access]);
        Self { copies: SOME, ..made }
    }

    fn delayed(self, delays: u16) -> Self {
        Self { delays, ..self }
    }

    fn at(self, segment: u16, di: u16) -> Self {
        Self { segment, di, ..self }
    }

    fn bytes(&self, name: u32, pattern: u32) -> Vec<u8> {
        let words = [
            name as u16,
            pattern as u16,
            self.pattern.len() as u16,
            self.copies,
            self.beats,
            self.wait,
            self.segment,
            self.di,
            self.dx,
            self.delays,
        ];
        words.into_iter().flat_map(u16::to_le_bytes).collect()
    }
}

/// Accesses to memory of one place.
fn accesses(segment: u16, di: u16) -> Vec<Experiment> {
    use instruction::{READ_BYTE, READ_WORD, WRITE_BYTE, WRITE_WORD};
    let kinds: [(&str, &[u8], u16, u16); 7] = [
        ("read-byte-even", &READ_BYTE, 0, ALL_DELAYS),
        ("read-byte-odd", &READ_BYTE, 1, DELAYS),
        ("read-word-even", &READ_WORD, 0, DELAYS),
        ("read-word-odd", &READ_WORD, 1, DELAYS),
        ("write-byte-even", &WRITE_BYTE, 0, DELAYS),
        ("write-word-even", &WRITE_WORD, 0, DELAYS),
        ("write-word-odd", &WRITE_WORD, 1, DELAYS),
    ];
    let made = |(name, access, odd, delays): &(&str, &[u8], u16, u16)| {
        Experiment::access(*name, access).at(segment, di + odd).delayed(*delays)
    };
    kinds.iter().map(made).collect()
}

impl Tables {
    pub fn put(data: &mut Data, facts: &Facts<'_>, v: &Variables) -> Self {
        use instruction::{FIRMWARE, IN_BYTE, IN_WORD, INTERRUPT, LOAD, MULTIPLY, READ_BYTE};
        let port = |name, read: &[u8]| Experiment {
            dx: facts.controller.0,
            ..Experiment::access(name, read).delayed(DELAYS)
        };
        let mut machine = vec![
            Experiment { copies: 1, ..Experiment::new("nothing", &[]) },
            Experiment { beats: MANY_BEATS, ..Experiment::new("multiply", &[&MULTIPLY]) },
            Experiment::new("fetch", &[&LOAD]),
            Experiment::new("interrupt", &[&INTERRUPT]),
            Experiment { copies: SOME, ..Experiment::new("firmware", &[&FIRMWARE]) },
            port("port-byte", &IN_BYTE),
            port("port-word", &IN_WORD),
        ];
        machine.extend(accesses(segment::OWN, v.scratch as u16));
        let mut video = accesses(segment::VIDEO, 0);
        for (name, wait) in [("shown", wait::SHOWN), ("blanked", wait::BLANKED)] {
            video.push(Experiment { copies: FEW, wait, ..Experiment::access(name, &READ_BYTE).at(segment::VIDEO, 0) });
        }
        Self { machine: table(data, "of the machine", &machine), video: table(data, "of video memory", &video) }
    }
}

fn table(data: &mut Data, of: &str, experiments: &[Experiment]) -> (u32, u32) {
    let mut patterns: Vec<(&[u8], u32)> = Vec::new();
    let mut names = Vec::new();
    for experiment in experiments {
        let kind = if experiment.delays == 0 { "time" } else { "delays" };
        let name = data.line("an experiment's name", &format!("{kind} {} copies ", experiment.name));
        let known = patterns.iter().find(|(known, _)| *known == experiment.pattern).map(|(_, at)| *at);
        let pattern = known.unwrap_or_else(|| data.put("its pattern", experiment.pattern.clone()));
        patterns.push((&experiment.pattern, pattern));
        names.push((name, pattern));
    }
    let entries = experiments.iter().zip(names).flat_map(|(one, (name, pattern))| one.bytes(name, pattern)).collect();
    let begin = data.put(format!("experiments {of}: name, pattern, bytes, copies, beats, wait, registers, delays"), entries);
    (begin, data.end())
}
