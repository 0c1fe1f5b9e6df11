//! A real-mode program in its machine, under the session.
//!
//! The machine has a board of its own, as it must: the program polls it. What the program
//! does there is done to a watched board, too, which is where hazards are found.

use std::collections::VecDeque;

use backporch_bench::{KeyRef, MouseRef};
use backporch_drive::{Follower, responsible};
use backporch_hazards::Hazard;
use backporch_pc::listing::ListingLine;
use backporch_pc::{Breakpoints, Far, Key, Machine, MouseMovement, RegisterListing, Stop, Writers};
use backporch_quirk::QuirkStack;
use backporch_raster::Board;
use backporch_script::{FrameRecord, Watched};

use super::typed_keys::{HandMoves, TypedKeys};
use crate::session::breakpoint::Breakpoint;

/// Frames whose writers are remembered one by one.
const FRAMES_KEPT: usize = 5;

/// A program, its machine, and what it did in the last frames.
#[derive(Clone, Debug)]
pub(crate) struct LiveProgram {
    machine: Machine<QuirkStack>,
    follower: Follower<QuirkStack>,
    /// First dots of the frames remembered.
    frames: VecDeque<u64>,
    writers: Writers,
    is_at_breakpoint: bool,
    typed: TypedKeys,
    moved: HandMoves,
}

impl LiveProgram {
    /// A program about to start; `board` is like its machine's at the start.
    pub fn new(mut machine: Machine<QuirkStack>, board: Board<QuirkStack>) -> Self {
        machine.record(true);
        machine.set_live(true);
        machine.attach_mouse();
        let writers = Writers::new(board.adapter());
        let follower = Follower::new(board);
        let (frames, typed, moved) = (VecDeque::new(), TypedKeys::default(), HandMoves::default());
        Self { machine, follower, frames, writers, is_at_breakpoint: false, typed, moved }
    }

    /// Runs to the end of the first instruction that takes the beam to a dot. A program
    /// that has ended, or stands where it was to stop, leaves its board to run on alone.
    pub fn run_to(&mut self, dot: u64) {
        if self.is_at_breakpoint {
            return;
        }
        if self.machine.is_over() {
            self.follower.run_to(dot);
            return;
        }
        self.is_at_breakpoint = matches!(self.machine.run_to(dot), Some(Stop::Address(_) | Stop::Port(_)));
        for access in self.machine.take_recorded() {
            let board = self.follower.board().board();
            self.writers.see(&access, board.adapter(), board.registers());
            self.follower.follow(&[access]);
        }
        let here = self.machine.dot();
        self.follower.run_to(if self.machine.is_over() { here.max(dot) } else { here });
    }

    /// The dot it has come to: the end of an instruction, or, once it has ended, where its board is.
    pub fn now(&self) -> u64 {
        if self.machine.is_over() { self.watched().at().dot } else { self.machine.dot() }
    }

    /// Takes in a whole frame.
    pub fn see(&mut self, record: &FrameRecord) {
        self.frames.push_back(record.frame.first_dot);
        if self.frames.len() > FRAMES_KEPT {
            self.frames.pop_front();
        }
        let first = self.frames.front().copied().unwrap_or_default();
        self.writers.settle(first);
    }

    /// The instruction that made a mistake, disassembled.
    pub fn blamed(&self, hazard: &Hazard) -> Option<String> {
        self.instruction(responsible(hazard)?)
    }

    /// The instruction that last wrote to a byte of video memory at a dot or before it, disassembled.
    pub fn writer_of(&self, byte: u32, dot: u64) -> Option<String> {
        self.instruction(self.writers.of(byte, dot)?)
    }

    fn instruction(&self, at: Far) -> Option<String> {
        self.machine.listing(at, 1).first().map(|line| format!("{} {}", line.at, line.text))
    }

    // ---- what the board pair and the session ask ---------------------------------------------

    /// Stops it at a place from now on, or nowhere; where it is to stop before the very
    /// instruction that begins at the dot the beam has reached, it goes on to the next time.
    pub fn stop_at(&mut self, breakpoint: Option<Breakpoint>, reached: u64) {
        self.is_at_breakpoint = false;
        let mut breakpoints = Breakpoints::default();
        match breakpoint {
            Some(Breakpoint::Instruction(at)) => drop(breakpoints.addresses.insert(at)),
            Some(Breakpoint::Port(port)) => drop(breakpoints.ports.insert(port)),
            None => {}
        }
        self.machine.set_breakpoints(breakpoints);
        if reached >= self.machine.dot() {
            self.machine.pass();
        }
    }

    /// Whether it has come to the place where it was asked to stop.
    pub fn is_at_breakpoint(&self) -> bool {
        self.is_at_breakpoint
    }

    /// A key of its keyboard goes down, or up; one that is so already stays.
    pub fn key(&mut self, key: Key, down: bool) {
        if self.typed.is_down(key) != down {
            let at = self.machine.key(key, down, self.typed.next());
            self.typed.turn(key, down, at);
        }
    }

    /// The keys pressed so far, as a bench names them; what is still down comes up now.
    pub fn typed(&self) -> Vec<KeyRef> {
        self.typed.refs(self.machine.nanoseconds())
    }

    /// What moves its mouse to a place, with buttons held; see [`Machine::movement_to`].
    pub fn movement_to(&self, place: Option<[f32; 2]>, buttons: u8) -> Option<MouseMovement> {
        self.machine.movement_to(place, buttons)
    }

    /// Its mouse is moved.
    pub fn move_mouse(&mut self, movement: MouseMovement) {
        let at = self.machine.move_mouse(movement, self.moved.next());
        self.moved.push(at, movement);
    }

    /// How its mouse was moved so far, as a bench names it.
    pub fn moved(&self) -> Vec<MouseRef> {
        self.moved.refs(self.machine.uses_mouse())
    }

    /// Does something to its machine's board that it has no part in.
    pub fn past_the_program(&mut self, action: impl FnOnce(&mut Board<QuirkStack>)) {
        self.machine.past_the_program(action);
    }

    /// The board on which its accesses are noted.
    pub fn watched(&self) -> &Watched<QuirkStack> {
        self.follower.board()
    }

    /// The same, to take records from.
    pub fn watched_mut(&mut self) -> &mut Watched<QuirkStack> {
        self.follower.board_mut()
    }

    // ---- what there is to see ------------------------------------------------------------

    /// The processor, and its clock.
    pub fn processor(&self) -> String {
        let clock = self.machine.hardware().clock().hertz();
        format!("{} at {:.2} MHz", self.machine.processor().model().name(), clock / 1e6)
    }

    /// Whether it has ended.
    pub fn is_over(&self) -> bool {
        self.machine.is_over()
    }

    /// How it has ended, where it has.
    pub fn ended(&self) -> Option<Stop> {
        self.machine.ended()
    }

    /// Whether it waits for a key.
    pub fn waits_for_key(&self) -> bool {
        self.machine.waits_for_key()
    }

    /// Registers, in two lines.
    pub fn registers(&self) -> String {
        RegisterListing(&self.machine.processor().registers).to_string()
    }

    /// What it has written to its console.
    pub fn printed(&self) -> String {
        self.machine.printed()
    }

    /// First dot of the instruction under way at a dot.
    pub fn began(&self, dot: u64) -> u64 {
        if dot < self.now() { self.machine.began() } else { self.now() }
    }

    /// The instructions around the one under way at a dot: those done, that one and those to come.
    pub fn listing(&self, dot: u64, done: usize, to_come: usize) -> (Vec<ListingLine>, Vec<ListingLine>) {
        let under_way = dot < self.now() || self.machine.is_over();
        let mut past = self.machine.recent(done + 1);
        let next = self.machine.processor().registers.next();
        let mut coming: Vec<ListingLine> = past.pop_if(|_| under_way).into_iter().collect();
        past.drain(..past.len().saturating_sub(done));
        coming.extend(self.machine.listing(next, to_come));
        (past, coming)
    }
}
