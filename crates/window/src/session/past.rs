//! The past: what was done taken back and done again, and other courses of events gone back to.

use super::Session;
use super::board_pair::BoardAction;
use super::history::{DoneTogether, Travel};

/// What the panels show of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PastView {
    /// What was done last.
    pub done: Option<String>,
    /// What was taken back last.
    pub undone: Option<String>,
    /// Other courses of events, the oldest first.
    pub courses: Vec<String>,
}

/// Frames of a course of events that are played anew at once; further ones follow in turns.
const PLAYED_AT_ONCE: u64 = 48;

impl Session {
    /// What was done, and what could be instead.
    #[must_use]
    pub fn past(&self) -> PastView {
        let history = &self.transport.history;
        let courses = history.courses();
        let in_words = |frame: u64, done: &DoneTogether| format!("from frame {frame}: {}", self.words_of(done));
        PastView {
            done: history.done_last().map(|done| self.words_of(&done)),
            undone: history.undone_last().map(|done| self.words_of(&done)),
            courses: courses.iter().map(|course| in_words(course.frame, &course.done)).collect(),
        }
    }

    /// Takes back what was done last.
    pub(crate) fn undo(&mut self) {
        self.begin_travel();
        match self.transport.history.undo(&self.setup.bench) {
            Some(done) => self.arrive_with(format!("taken back: {}", self.words_of(&done))),
            None => self.report("nothing was done before this moment"),
        }
    }

    /// Does again what was taken back last.
    pub(crate) fn redo(&mut self) {
        self.begin_travel();
        match self.transport.history.redo(&self.setup.bench) {
            Some(travel) => self.travel("done again", travel),
            None => self.report("nothing was taken back"),
        }
    }

    /// Goes over to another course of events, counted from 0; the present one is kept.
    pub fn take_course(&mut self, at: usize) {
        self.begin_travel();
        if let Some(travel) = self.transport.history.take_course(&self.setup.bench, at) {
            self.travel("gone over to", travel);
        }
    }

    /// Arrives, or begins to play anew what a few turns may take.
    fn travel(&mut self, how: &str, travel: Travel) {
        match travel {
            Travel::Arrived(done) => self.arrive_with(format!("{how}: {}", self.words_of(&done))),
            Travel::Replay(replay) => {
                self.report(format!("{how}: {}", self.words_of(&replay.done)));
                self.transport.replay = Some(replay);
                self.play_anew(PLAYED_AT_ONCE);
            }
        }
    }

    /// Plays a course of events of another reading of the bench on by some frames, and arrives once it is through.
    pub(super) fn play_anew(&mut self, frames: u64) {
        let Some(mut replay) = self.transport.replay.take() else {
            return;
        };
        if replay.play_on(&self.setup.bench, frames) {
            self.transport.history.take_replay(replay);
            let words = self.message.take().unwrap_or_default();
            self.arrive_with(words);
        } else {
            self.transport.replay = Some(replay);
        }
    }

    fn begin_travel(&mut self) {
        self.run(false);
        self.transport.pending.clear();
    }

    fn arrive_with(&mut self, words: String) {
        self.inspection.forget_after(self.transport.frame_shown());
        self.arrived();
        self.report(words);
    }

    /// What was done, in a line.
    fn words_of(&self, done: &DoneTogether) -> String {
        let adapter = self.setup.bench.adapter();
        let one = |action: &BoardAction| match action {
            BoardAction::WritePorts { field, value } => format!("{} {value}", adapter.field_info(*field).name),
            BoardAction::WriteDirect { field, value } => {
                format!("{} {value}, past its ports", adapter.field_info(*field).name)
            }
            BoardAction::FitQuirks { fitted, .. } => fitted.words(),
            BoardAction::Mouse(_) => "the mouse moved".to_string(),
            BoardAction::Key { down: true, .. } => "a key pressed".to_string(),
            BoardAction::Key { down: false, .. } => "a key let go".to_string(),
        };
        match done.as_slice() {
            [] => String::new(),
            [first] => one(first),
            [first, rest @ ..] => format!("{}, and {} more", one(first), rest.len()),
        }
    }
}
