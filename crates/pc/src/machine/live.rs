//! A program watched as it runs: up to a dot, key by key, its place shown beside the beam's.

use backporch_raster::{Board, Tap};

use super::{Deadline, Machine, Over};
use crate::devices::keys::Key;
use crate::devices::mouse::{Mouse, MouseMovement};
use crate::listing::{self, ListingLine};
use crate::registers::Far;
use crate::stops::Stop;

impl<T: Tap> Machine<T> {
    /// Runs until the beam is at a dot or beyond: to the end of the first instruction that lasts that long.
    ///
    /// `None` once it is there; otherwise what stopped the program before. Whole frames are let go.
    /// Afterwards there is no deadline.
    pub fn run_to(&mut self, dot: u64) -> Option<Stop> {
        self.deadline = Deadline::Dot(dot);
        self.hardware.reconsider();
        let stop = loop {
            match self.run() {
                Stop::Frame(frame) => self.recycle(*frame),
                Stop::TimeOver => break None,
                stop => break Some(stop),
            }
        };
        self.deadline = Deadline::Never;
        stop
    }

    /// The dot the program has come to: the end of the last instruction executed.
    #[must_use]
    pub fn dot(&self) -> u64 {
        self.hardware.dot()
    }

    /// The dot at which the last instruction executed began.
    #[must_use]
    pub fn began(&self) -> u64 {
        self.hardware.dot_at(self.began)
    }

    /// The instructions executed last, at most this many of them, disassembled; the newest at the end.
    #[must_use]
    pub fn recent(&self, most: usize) -> Vec<ListingLine> {
        let places: Vec<Far> = self.trail.places().collect();
        let newest = &places[places.len().saturating_sub(most)..];
        newest.iter().map(|at| listing::line(*at, |address| self.hardware.peek(address))).collect()
    }

    /// Whether it stands in a service that waits for a key.
    #[must_use]
    pub fn waits_for_key(&self) -> bool {
        self.waits_for_key && self.over.is_none()
    }

    /// Whether it has ended for good.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.over.is_some()
    }

    /// How it has ended for good, where it has.
    #[must_use]
    pub fn ended(&self) -> Option<Stop> {
        self.over.as_ref().map(Over::stop)
    }

    /// A key goes down, or up, now, or at a later moment in nanoseconds of the machine; when it does, to press it then again.
    pub fn key(&mut self, key: Key, down: bool, earliest: u64) -> u64 {
        let clock = self.hardware.clock();
        let at = self.hardware.clocks().max(clock.clocks_reaching(earliest));
        self.hardware.keyboard.turn(key, down, at);
        self.hardware.reconsider();
        clock.nanoseconds_reaching(at)
    }

    /// Puts a mouse there, where there is none, which is not moved yet.
    pub fn attach_mouse(&mut self) {
        if self.system.mouse.is_none() {
            self.install_mouse(Mouse::new([]));
        }
    }

    /// Whether the program has asked for anything of the mouse.
    #[must_use]
    pub fn uses_mouse(&self) -> bool {
        self.system.mouse.as_ref().is_some_and(|mouse| mouse.asked)
    }

    /// What the hand has to do for the mouse's pointer to be at a place, given as parts of its range from 0 to 1 across and
    /// down, with these buttons held (bit 0 left, bit 1 right); `None` where that changes nothing, or there is no mouse.
    #[must_use]
    pub fn movement_to(&self, place: Option<[f32; 2]>, buttons: u8) -> Option<MouseMovement> {
        let mut mouse = self.system.mouse.clone()?;
        mouse.attend(self.hardware.clocks() + 1);
        let steps = place.map_or([0; 2], |place| mouse.steps_to(place));
        let movement = MouseMovement { steps, buttons: buttons & 3 };
        (steps != [0; 2] || movement.buttons != mouse.buttons).then_some(movement)
    }

    /// The hand moves the mouse now, or at a later moment in nanoseconds of the machine; when it does, to do it then again.
    pub fn move_mouse(&mut self, movement: MouseMovement, earliest: u64) -> u64 {
        let clock = self.hardware.clock();
        // A service that has just looked at the mouse did not see this.
        let at = (self.hardware.clocks() + 1).max(clock.clocks_reaching(earliest));
        if let Some(mouse) = &mut self.system.mouse {
            mouse.push(at, movement);
        }
        self.hardware.reconsider();
        clock.nanoseconds_reaching(at)
    }

    /// Lets the instruction that comes next go by, breakpoint or not.
    pub fn pass(&mut self) {
        self.passing = Some(self.processor.registers.next());
    }

    /// Does something to the board that the program has no part in, such as turning a register by hand.
    pub fn past_the_program(&mut self, act: impl FnOnce(&mut Board<T>)) {
        self.hardware.catch_up();
        act(self.hardware.board_mut());
    }
}
