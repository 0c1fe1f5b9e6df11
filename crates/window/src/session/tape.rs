//! The tape of a session: what was done at which dot, with snapshots on the
//! way, so that any moment of the past can be played again.
//!
//! Going back restores the nearest snapshot before the moment and plays the
//! acts after it once more; the boards are deterministic, so the same frames
//! come out. Going forward from the past plays on what was done before, until
//! something new is done: then what came after is forgotten.

use backporch_bench::Bench;

use super::pair::{Act, Pair};
use super::place::Place;

/// Frames between snapshots, the newest ones first: (age up to, distance).
const SPACING: [(u64, u64); 3] = [(64, 4), (1024, 64), (u64::MAX, 1024)];

/// Most snapshots held; each is a copy of both boards' memory and frames.
const MOST_KEPT: usize = 160;

/// An act, and the frame and dot in which it was done.
#[derive(Clone, Debug)]
struct Done {
    frame: u64,
    dot: u64,
    act: Act,
}

/// A snapshot at the start of a frame.
#[derive(Clone, Debug)]
struct Kept {
    frame: u64,
    dot: u64,
    /// Position in the tape of the first act not yet done.
    next: usize,
    pair: Pair,
}

/// The past of a pair of boards, and the pair at the moment looked at.
#[derive(Clone, Debug)]
pub(crate) struct Tape {
    pair: Pair,
    done: Vec<Done>,
    /// Position of the first act not yet done at the moment looked at.
    next: usize,
    kept: Vec<Kept>,
    /// Dot at which the first frame ends, once it has.
    first_end: u64,
}

impl Tape {
    /// A tape that begins with `pair`, which has drawn nothing yet.
    pub fn new(pair: Pair) -> Self {
        let first = Kept { frame: pair.frame(), dot: pair.now(), next: 0, pair: pair.clone() };
        Self { pair, done: Vec::new(), next: 0, kept: vec![first], first_end: 0 }
    }

    /// The boards at the moment looked at.
    pub fn pair(&self) -> &Pair {
        &self.pair
    }

    /// Dot at which the first frame ends; 0 before it has.
    pub fn first_end(&self) -> u64 {
        self.first_end
    }

    /// Whether the future of this moment was recorded before.
    pub fn replays(&self) -> bool {
        self.next < self.done.len()
    }

    /// Does something now. What was recorded after this moment is forgotten.
    pub fn act(&mut self, bench: &Bench, act: Act) {
        self.pair.settle();
        let (frame, dot) = (self.pair.frame(), self.pair.asked());
        self.done.truncate(self.next);
        self.kept.retain(|kept| kept.dot <= dot && kept.next <= self.next && kept.pair.ahead() <= dot);
        self.pair.act(bench, &act);
        self.done.push(Done { frame, dot, act });
        self.next += 1;
        self.hold();
    }

    /// What drives the boards must not run beyond the next act.
    fn hold(&mut self) {
        self.pair.hold(self.done.get(self.next).map(|done| done.dot));
    }

    /// Asks runs to stop at a place inside a frame, or nowhere any more.
    pub fn stop_at(&mut self, place: Option<Place>) {
        self.pair.stop_at(place);
    }

    /// Runs to a dot of the future; `false` where it stopped before.
    pub fn run_to(&mut self, bench: &Bench, dot: u64) -> bool {
        while let Some(at) = self.done.get(self.next).map(|done| done.dot).filter(|at| *at < dot) {
            if !self.pair.run_to(at) {
                return false;
            }
            self.play(bench);
        }
        self.pair.run_to(dot)
    }

    /// Runs to the end of the frame under way; `false` where it stopped before.
    pub fn finish_frame(&mut self, bench: &Bench) -> bool {
        while let Some(done) = self.done.get(self.next).filter(|done| done.frame == self.pair.frame()) {
            let dot = done.dot;
            if !self.pair.run_to(dot) {
                return false;
            }
            self.play(bench);
        }
        if !self.pair.finish_frame() {
            return false;
        }
        if self.first_end == 0 {
            self.first_end = self.pair.now();
        }
        self.keep();
        true
    }

    /// Runs to the end of the frame under way; `false` where it stopped before, at the beginning of a scan line.
    pub fn finish_frame_or_come_to(&mut self, bench: &Bench, line: u32) -> bool {
        let frame = self.pair.frame();
        loop {
            self.finish_line(bench);
            if self.pair.wrong.beam().scan_line == line {
                return false;
            }
            if self.pair.frame() != frame {
                return true;
            }
        }
    }

    /// Runs on by one scan line.
    pub fn finish_line(&mut self, bench: &Bench) {
        let line = |pair: &Pair| (pair.frame(), pair.wrong.frame_so_far().lines.len());
        let before = line(&self.pair);
        while line(&self.pair) == before {
            self.step_char(bench);
        }
    }

    /// Runs on by one character clock.
    pub fn step_char(&mut self, bench: &Bench) {
        self.step_to(bench, self.pair.now() + 1);
    }

    /// Runs to the end of the program's instruction under way; `false` where none is.
    pub fn finish_instruction(&mut self, bench: &Bench) -> bool {
        // What was done at this very dot comes first.
        while self.done.get(self.next).is_some_and(|done| done.dot <= self.pair.asked()) {
            self.play(bench);
        }
        let end = self.pair.end_of_instruction();
        end.inspect(|end| self.step_to(bench, *end)).is_some()
    }

    fn step_to(&mut self, bench: &Bench, dot: u64) {
        let frame = self.pair.frame();
        self.run_to(bench, dot);
        if self.pair.frame() != frame {
            self.keep();
        }
    }

    /// Goes back, or on, to the moment at which frame `number` has just ended.
    pub fn seek(&mut self, bench: &Bench, number: u64) {
        let target = number + 1;
        if self.pair.frame() > target || self.pair.frame() == target && self.pair.now() > self.pair.frame_start() {
            self.restore(number);
        }
        while self.pair.frame() < target {
            self.finish_frame(bench);
        }
    }

    /// Goes back to a dot, with the frame before it whole again.
    pub fn seek_dot(&mut self, bench: &Bench, dot: u64) {
        if dot < self.pair.now() {
            let under_way = self.kept.iter().rev().find(|kept| kept.dot <= dot).map_or(0, |kept| kept.frame);
            self.restore(under_way.saturating_sub(1));
        }
        self.run_to(bench, dot);
    }

    /// Restores the newest snapshot at or before the start of a frame.
    fn restore(&mut self, frame: u64) {
        let at = self.kept.iter().rposition(|kept| kept.frame <= frame).unwrap_or(0);
        if let Some(kept) = self.kept.get(at) {
            self.pair = kept.pair.clone();
            self.next = kept.next;
            self.hold();
        }
    }

    /// Does the next act on the tape once more.
    fn play(&mut self, bench: &Bench) {
        if let Some(done) = self.done.get(self.next) {
            self.pair.act(bench, &done.act);
            self.next += 1;
            self.hold();
        }
    }

    /// Takes a snapshot at the start of a frame, and lets go of old ones.
    fn keep(&mut self) {
        let frame = self.pair.frame();
        let newest = self.kept.last().map_or(0, |kept| kept.frame);
        if frame < newest + SPACING[0].1 {
            return;
        }
        let mut pair = self.pair.clone();
        pair.stop_at(None);
        self.kept.push(Kept { frame, dot: pair.now(), next: self.next, pair });
        self.thin(frame);
    }

    /// Widens the distance of snapshots the older they are; the first one stays.
    fn thin(&mut self, now: u64) {
        let distance = |age: u64| SPACING.iter().find(|(most, _)| age <= *most).map_or(1, |(_, distance)| *distance);
        let mut last = None;
        self.kept.retain(|kept| {
            let keeps = last.is_none_or(|last| kept.frame >= last + distance(now - kept.frame));
            if keeps {
                last = Some(kept.frame);
            }
            keeps
        });
        if self.kept.len() > MOST_KEPT {
            let mut position = 0;
            self.kept.retain(|_| {
                position += 1;
                position % 2 == 1 || position > MOST_KEPT / 2
            });
        }
    }
}
