//! The machine: a program, its processor, and the board under test.

mod live;
pub(crate) mod load;
mod run;
pub(crate) mod stuck;

use backporch_raster::{Board, Frame, Plain, Tap};
use thiserror::Error;

use crate::asked::Asked;
use crate::devices::keyboard::KeyPress;
use crate::devices::keys::Key;
use crate::devices::mouse::{Mouse, MouseMovement};
use crate::folder::Folder;
use crate::hardware::{Hardware, Waits};
use crate::image::ProgramImage;
use crate::listing::{self, ListingLine};
use crate::processor::Processor;
use crate::record::RecordedAccess;
use crate::registers::Far;
use crate::stops::{Breakpoints, Stop, Trail};
use crate::system::System;
use crate::trouble::Report;
use backporch_processor_timing::Model;
use backporch_processor_timing::ProcessorClock;

/// Longest command tail in bytes.
pub const LONGEST_TAIL: usize = 126;

/// Everything about a machine but its board and program.
#[derive(Clone, Debug)]
pub struct MachineSetup {
    /// Processor.
    pub model: Model,
    /// Its clock.
    pub clock: ProcessorClock,
    /// Its wait states.
    pub waits: Waits,
    /// Dots the beam is ahead when the program starts.
    pub phase: u64,
    /// The folder the program sees.
    pub folder: Option<Folder>,
    /// What follows the program's name on its command line, at most [`LONGEST_TAIL`] bytes.
    pub tail: String,
    /// Whether asking for what is not present ends the program.
    pub strict: bool,
    /// The mouse, where there is one: what the hand does, each at a time in nanoseconds.
    pub mouse: Option<Vec<(u64, MouseMovement)>>,
}

impl MachineSetup {
    /// A processor at a clock with the usual wait states; no folder, no phase, lenient.
    #[must_use]
    pub fn new(model: Model, clock: ProcessorClock) -> Self {
        Self {
            model,
            clock,
            waits: Waits::common(model, clock),
            phase: 0,
            folder: None,
            tail: String::new(),
            strict: false,
            mouse: None,
        }
    }
}

/// A program that cannot be started.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum StartError {
    /// Its memory does not suffice.
    #[error("the program needs {needed} bytes, of which {free} are free")]
    Memory {
        /// Bytes needed.
        needed: u32,
        /// Bytes free.
        free: u32,
    },
    /// The command line is too long.
    #[error("found a command line of {found} bytes, allowed at most {LONGEST_TAIL}")]
    Tail {
        /// Bytes found.
        found: usize,
    },
}

/// A program, its processor, and the board under test.
///
/// A clone is a snapshot: it runs on exactly as the original would. Files the
/// program has open are part of it, files already written are not.
#[derive(Clone, Debug)]
pub struct Machine<T: Tap = Plain> {
    pub(crate) processor: Processor,
    pub(crate) hardware: Hardware<T>,
    pub(crate) system: System,
    trail: Trail,
    breakpoints: Breakpoints,
    passing: Option<Far>,
    /// Scan line seen last.
    line_seen: u32,
    deadline: Deadline,
    live: bool,
    waits_for_key: bool,
    /// Clocks at which the last instruction began.
    began: u64,
    over: Option<Over>,
}

/// When a run stops, whatever the program does.
#[derive(Clone, Copy, Debug)]
enum Deadline {
    Never,
    /// This many clocks after the start.
    Clocks(u64),
    /// When the beam is at a dot.
    Dot(u64),
}

impl Deadline {
    /// The clock it falls on, at the dot clock the board has now.
    fn clocks<T: Tap>(self, hardware: &Hardware<T>) -> u64 {
        match self {
            Self::Never => u64::MAX,
            Self::Clocks(clocks) => clocks,
            Self::Dot(dot) => hardware.clocks_reaching(dot),
        }
    }
}

/// How a program has ended for good.
#[derive(Clone, Debug)]
enum Over {
    Exit(u8),
    Trouble(Box<Report>),
}

impl Over {
    fn stop(&self) -> Stop {
        match self {
            Self::Exit(code) => Stop::Exit(*code),
            Self::Trouble(report) => Stop::Trouble(report.clone()),
        }
    }
}

impl<T: Tap> Machine<T> {
    /// A machine with a program loaded, about to execute its first instruction.
    ///
    /// `mode` is the name of the mode the board is in, for programs that ask.
    ///
    /// # Errors
    /// Where the program does not fit.
    pub fn new(board: Board<T>, image: &ProgramImage, mode: &str, setup: MachineSetup) -> Result<Self, StartError> {
        let MachineSetup { model, clock, waits, phase, folder, tail, strict, mouse } = setup;
        if tail.len() > LONGEST_TAIL {
            return Err(StartError::Tail { found: tail.len() });
        }
        let system = System::new(load::arena(), folder);
        let mut machine = Self {
            processor: Processor::new(model),
            hardware: Hardware::new(board, model, clock, waits, phase),
            system,
            trail: Trail::default(),
            breakpoints: Breakpoints::default(),
            passing: None,
            line_seen: 0,
            deadline: Deadline::Never,
            live: false,
            waits_for_key: false,
            began: 0,
            over: None,
        };
        machine.prepare_firmware(mode);
        machine.hardware.strict = strict;
        if let Some(movements) = mouse {
            let movements = movements.into_iter().map(|(at, movement)| (clock.clocks_in(at), movement));
            machine.install_mouse(Mouse::new(movements));
        }
        machine.load_program(image, &tail)?;
        Ok(machine)
    }

    // ---- what there is to see --------------------------------------------------------

    /// The processor.
    #[must_use]
    pub fn processor(&self) -> &Processor {
        &self.processor
    }

    /// Everything around it.
    #[must_use]
    pub fn hardware(&self) -> &Hardware<T> {
        &self.hardware
    }

    /// The board.
    #[must_use]
    pub fn board(&self) -> &Board<T> {
        self.hardware.board()
    }

    /// Gives a frame's memory back, for the next one to use.
    pub fn recycle(&mut self, frame: Frame) {
        self.hardware.board_mut().recycle(frame);
    }

    /// What the program has written to its console.
    #[must_use]
    pub fn printed(&self) -> String {
        self.system.console.iter().map(|byte| char::from(*byte)).collect()
    }

    /// What the program asked for and the machine does not have, once each in the order in which it came.
    #[must_use]
    pub fn asked(&self) -> &[Asked] {
        self.hardware.asked.list()
    }

    /// Requests for what is not present beyond those listed.
    #[must_use]
    pub fn asked_beyond(&self) -> u64 {
        self.hardware.asked.more()
    }

    /// Time since the start in nanoseconds of the machine.
    #[must_use]
    pub fn nanoseconds(&self) -> u64 {
        self.hardware.clock().nanoseconds(self.hardware.clocks())
    }

    /// This many instructions from an address on, disassembled.
    #[must_use]
    pub fn listing(&self, from: Far, count: usize) -> Vec<ListingLine> {
        listing::lines(from, count, |address| self.hardware.peek(address))
    }

    /// The frame under way, finished as if the program did nothing more.
    pub fn finish_frame(&mut self) -> Frame {
        self.hardware.finish_frame()
    }

    // ---- what can be asked of it --------------------------------------------------------

    /// Stops runs at these places.
    pub fn set_breakpoints(&mut self, breakpoints: Breakpoints) {
        self.hardware.port_breaks.clone_from(&breakpoints.ports);
        self.hardware.port_hit = None;
        self.line_seen = self.board().beam().scan_line;
        self.breakpoints = breakpoints;
    }

    /// Stops runs at this time, in nanoseconds of the machine.
    pub fn set_deadline(&mut self, nanoseconds: u64) {
        self.deadline = Deadline::Clocks(self.hardware.clock().clocks_in(nanoseconds));
        self.hardware.reconsider();
    }

    /// Whether keys may still be pressed by hand: then a program that waits for one does wait.
    pub fn set_live(&mut self, live: bool) {
        self.live = live;
    }

    /// Presses a key at a time in nanoseconds of the machine, now if that is past, and lets it go soon after.
    pub fn press(&mut self, key: Key, nanoseconds: u64) {
        self.hold(KeyPress::short(key, nanoseconds));
    }

    /// Holds a key for a time; where that has begun already, from now on for as long.
    pub fn hold(&mut self, press: KeyPress) {
        let clock = self.hardware.clock();
        let [from, to] = [press.from, press.to].map(|moment| clock.clocks_in(moment));
        let down = from.max(self.hardware.clocks());
        let up = down.saturating_add(to.saturating_sub(from));
        self.hardware.keyboard.press(press.key, down, up);
        self.hardware.reconsider();
    }

    /// Starts or stops recording what the program does to the board.
    pub fn record(&mut self, on: bool) {
        self.hardware.record.set(on);
    }

    /// What was recorded so far.
    #[must_use]
    pub fn recorded(&self) -> &[RecordedAccess] {
        self.hardware.record.accesses()
    }

    /// The dot of the first access for which the record had no place any more.
    #[must_use]
    pub fn record_full_at(&self) -> Option<u64> {
        self.hardware.record.full_at()
    }

    /// Gives what was recorded and forgets it.
    pub fn take_recorded(&mut self) -> Vec<RecordedAccess> {
        self.hardware.record.take()
    }
}
