//! A modelled machine under the patterns of a survey.

use std::collections::BTreeSet;
use std::sync::Arc;

use backporch_adapter::{Adapter, Bank, Mode, PortRole};
use backporch_evidence::survey::{SeriesPattern, SurveyPattern, TimedPattern};
use backporch_pc::hardware::Waits;
use backporch_pc::{Breakpoints, Far, Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop};
use backporch_raster::Board;

/// Where a flat program begins in its segment.
const BEGINS: u16 = 0x100;

/// Bytes of patterns that a program can hold.
const MOST_BYTES: usize = 0xE000;

/// Longest that a run may take, in nanoseconds of the machine.
const LONGEST: u64 = 2_000_000_000;

/// Whose memory a pattern reaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum PatternMemory {
    /// The program's own.
    Own,
    /// The board's.
    Board,
}

/// A machine to be tried.
#[derive(Clone, Debug)]
pub(crate) struct Rig<'a> {
    pub adapter: &'a Arc<Adapter>,
    pub mode: &'a Mode,
    pub model: Model,
    pub clock: ProcessorClock,
    pub waits: Waits,
}

impl Rig<'_> {
    /// Clocks that a copy of a pattern takes, for delays of 0, 1, 2, … clocks.
    pub fn series(&self, pattern: SeriesPattern, memory: PatternMemory, copies: u32, delays: usize) -> Vec<f64> {
        let copies = (copies as usize).min(MOST_BYTES / (pattern.bytes().len() * delays.max(1)));
        let masks = self.model.is_from(Model::P80186);
        let delays = (0..delays as u16).map(|delay| SeriesPattern::delayed(masks, delay));
        self.run(&pattern.bytes(), copies, &delays.collect::<Vec<_>>(), memory, u16::from(pattern.is_odd()))
    }

    /// Clocks that a copy of a pattern takes.
    pub fn timed(&self, pattern: TimedPattern, copies: u32) -> Option<f64> {
        let bytes = pattern.bytes();
        let copies = (copies as usize).min(MOST_BYTES / bytes.len().max(1)).min(1024);
        self.run(&bytes, copies, &[0], PatternMemory::Own, 0).first().copied()
    }

    fn run(&self, pattern: &[u8], copies: usize, delays: &[u16], memory: PatternMemory, odd: u16) -> Vec<f64> {
        let registers = self.adapter.start_up(self.mode);
        let window = self.adapter.mapped_window(&registers).unwrap_or_default();
        let port = self.adapter.port_of(&registers, PortRole::Index(Bank::Crtc)).unwrap_or_default();
        let word = |opcode: u8, value: u16| [[opcode].as_slice(), &value.to_le_bytes()].concat();
        // cli; mov ax, segment; mov ds, ax; mov bx, 1; mov dx, port; mov di, 0; xor si, si; xor ax, ax
        let mut program = vec![0xFA];
        match memory {
            PatternMemory::Own => program.extend([0x8C, 0xC8, 0x90]),
            PatternMemory::Board => program.extend(word(0xB8, (window >> 4) as u16)),
        }
        program.extend([0x8E, 0xD8]);
        program.extend(word(0xBB, 1));
        program.extend(word(0xBA, port));
        let own = BEGINS + 0xF000;
        program.extend(word(0xBF, odd + if memory == PatternMemory::Own { own } else { 0 }));
        // And one byte more, so that every copy of a pattern of even length stands at an even address, as in a survey.
        program.extend([0x31, 0xF6, 0x31, 0xC0, 0x90]);
        let mut marks = Vec::new();
        for delay in delays {
            marks.push(BEGINS + program.len() as u16);
            // mov cx, delay; nop
            program.extend(word(0xB9, *delay));
            program.push(0x90);
            (0..copies).for_each(|_| program.extend_from_slice(pattern));
            if program.len() % 2 == 1 {
                program.push(0x90);
            }
        }
        marks.push(BEGINS + program.len() as u16);
        // mov ax, 4C00h; int 21h
        program.extend([0xB8, 0x00, 0x4C, 0xCD, 0x21]);
        let clocks = self.clocks_at(&program, &marks).unwrap_or_default();
        clocks.windows(2).map(|pair| (pair[1] - pair[0]) as f64 / copies.max(1) as f64).collect()
    }

    /// Clocks at which the machine comes to each of these places.
    fn clocks_at(&self, program: &[u8], marks: &[u16]) -> Option<Vec<u64>> {
        let board = Board::plain(Arc::clone(self.adapter), self.adapter.start_up(self.mode));
        let setup = MachineSetup { waits: self.waits, ..MachineSetup::new(self.model, self.clock) };
        let image = ProgramImage::parse(program).ok()?;
        let mut machine = Machine::new(board, &image, &self.mode.name, setup).ok()?;
        let segment = machine.processor().registers.next().segment;
        let places: BTreeSet<Far> = marks.iter().map(|offset| Far::new(segment, *offset)).collect();
        machine.set_breakpoints(Breakpoints { addresses: places, ..Breakpoints::default() });
        machine.set_deadline(LONGEST);
        let mut clocks = Vec::new();
        while clocks.len() < marks.len() {
            match machine.run() {
                Stop::Frame(frame) => machine.recycle(*frame),
                Stop::Address(_) => clocks.push(machine.hardware().clocks()),
                _ => return None,
            }
        }
        Some(clocks)
    }
}
