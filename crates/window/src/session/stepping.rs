//! Stepping through time: frames, lines and character clocks, on and back.

use std::sync::Arc;

use backporch_hazards::Hazard;
use backporch_input::InputError;

use super::board_pair::BoardAction;
use super::stop_condition::PendingStop;
use super::{ProgramState, Session, StopCondition, hazards};

/// Frames run in one tick on the way to a frame far ahead.
const JUMP_AT_ONCE: u64 = 24;

/// Running frames from one thumbnail to the next.
const THUMB_EVERY: u64 = 10;

/// Farthest frame one can jump to.
pub(crate) const FARTHEST: u64 = 1_000_000;

impl Session {
    /// Whether something was asked for that no frame shows yet.
    #[must_use]
    pub fn awaits_frame(&self) -> bool {
        !self.transport.pending.is_empty() || self.sweep.active.is_settling()
    }

    /// Lets frames run, or stops them.
    pub fn run(&mut self, on: bool) {
        self.transport.run(on);
    }

    /// Runs until something happens.
    pub fn run_until(&mut self, until: StopCondition) {
        let refused = match until {
            StopCondition::Hazard if self.routine().is_none() => {
                "no routine drives this bench: a hazard is a routine's mistake"
            }
            StopCondition::PortWrite(_) if self.routine().is_none() => {
                "no routine drives this bench: nothing writes to a port"
            }
            StopCondition::Instruction(_) if self.transport.boards().program().is_none() => {
                "no program drives this bench"
            }
            _ => "",
        };
        if !refused.is_empty() {
            self.report(refused);
            return;
        }
        self.run(true);
        self.transport.history.stop_at(until.breakpoint());
        let hazards = self.transport.boards().hazard_count();
        let intended = &self.transport.boards().intended;
        self.transport.stop = Some(PendingStop::new(until, intended, &self.inspection.damage, hazards));
    }

    /// Lets time pass: runs the frames that are due, looks after files once a
    /// second, and draws a few thumbnails. `now_s` counts seconds from any start.
    pub fn tick(&mut self, now_s: f64) {
        if self.files.is_look_due(now_s) {
            self.look_at_files();
        }
        self.poll_search();
        self.poll_diagnosis();
        self.poll_photograph();
        if self.transport.replay.is_some() {
            self.play_anew(JUMP_AT_ONCE);
        } else if let Some(goal) = self.transport.goal {
            self.near(goal);
        } else if self.transport.running {
            self.transport.pace.set_rate(self.frame_rate_hz());
            for _ in 0..self.transport.pace.due(now_s) {
                if self.transport.running {
                    self.next_frame();
                }
            }
        }
        // A thumbnail takes two boards and a picture laid: while frames run there is seldom time for one.
        let has_time = !self.transport.running || self.transport.frame_shown().is_multiple_of(THUMB_EVERY);
        self.draw_thumbnails(if has_time { 2 - u32::from(self.transport.running) } else { 0 });
    }

    /// Runs part of the way to a frame far ahead.
    fn near(&mut self, goal: u64) {
        let next = (self.transport.frame_shown() + JUMP_AT_ONCE).min(goal);
        self.transport.history.seek(&self.setup.bench, next);
        if next == goal {
            self.transport.goal = None;
        }
        self.arrived();
    }

    /// Runs to the end of the frame under way, doing on the way what was asked for.
    pub(crate) fn next_frame(&mut self) {
        if !self.transport.pending.is_empty() {
            self.do_pending();
        }
        let before = self.transport.boards().program().map(ProgramState::of);
        let whole = self.transport.finish_frame(&self.setup.bench);
        self.refresh();
        self.tell_end(before);
        let boards = self.transport.boards();
        let met = |stop: &PendingStop| {
            !whole || stop.is_met(&boards.intended, &self.inspection.damage, boards.hazard_count())
        };
        if let Some(condition) = self.transport.stop.as_ref().filter(|stop| met(stop)).map(|stop| stop.condition) {
            let words = self.stopped_words(condition);
            self.run(false);
            self.report(words);
        }
    }

    fn stopped_words(&self, until: StopCondition) -> String {
        let found = self.transport.boards().newest_hazard().filter(|_| until == StopCondition::Hazard);
        let what = match (found, until.value()) {
            (Some(hazard), _) => hazards::words(hazard),
            (None, Some(value)) => format!("{} {value}", until.words()),
            (None, None) => until.words().to_string(),
        };
        let (frame, beam) = (self.transport.frame_number(), self.transport.beam());
        match until.value() {
            Some(_) => format!("stopped in frame {frame}, line {}: {what}", beam.scan_line),
            None => format!("stopped at frame {frame}: {what}"),
        }
    }

    /// Does what was asked for, a quarter down the frame.
    fn do_pending(&mut self) {
        self.transport.run_to_quarter(&self.setup.bench);
        for action in std::mem::take(&mut self.transport.pending) {
            self.apply(action);
        }
    }

    /// Applies an action to the boards, now.
    pub(crate) fn apply(&mut self, action: BoardAction) {
        self.transport.history.apply(&self.setup.bench, action);
        self.inspection.forget_after(self.transport.frame_shown());
        if self.sweep.active.is_pending() {
            let frame = self.transport.boards().frame();
            self.sweep.active.applied_in(frame);
        }
    }

    /// Frames on, or back where `frames` is below zero.
    pub fn step_frames(&mut self, frames: i64) {
        self.run(false);
        if let Ok(frames) = u64::try_from(frames) {
            (0..frames).for_each(|_| self.next_frame());
        } else {
            // Inside a frame, the first step back goes to its start.
            let back = frames.unsigned_abs() - u64::from(self.transport.is_mid_frame());
            self.seek(self.transport.frame_shown().saturating_sub(back));
        }
    }

    /// Scan lines on, or back where `lines` is below zero.
    pub fn step_lines(&mut self, lines: i64) {
        self.run(false);
        for _ in 0..lines.max(0) {
            self.transport.history.finish_line(&self.setup.bench);
        }
        if lines < 0 {
            let dots = self.transport.boards().newest.faulty.lines.first().map_or(1, |line| u64::from(line.dots));
            let into_line = u64::from(self.transport.beam().line_dot);
            let back = into_line + dots * (lines.unsigned_abs() - u64::from(into_line > 0));
            self.seek_dot(self.transport.boards().now().saturating_sub(back));
        }
        self.refresh();
    }

    /// One instruction of the program on or back, where one drives the boards.
    pub fn step_instructions(&mut self, on: bool) {
        self.run(false);
        let boards = self.transport.boards();
        let Some(program) = boards.program() else {
            self.report("no program drives this bench");
            return;
        };
        if on {
            let before = ProgramState::of(program);
            if !self.transport.history.finish_instruction(&self.setup.bench) {
                self.report("the program has ended: there is no instruction to come");
            }
            self.tell_end(Some(before));
        } else {
            let began = program.began(boards.asked());
            self.seek_dot(began.saturating_sub(1));
        }
        self.refresh();
    }

    /// Character clocks on, or back where `chars` is below zero.
    pub fn step_chars(&mut self, chars: i64) {
        self.run(false);
        for _ in 0..chars.max(0) {
            self.transport.history.step_char(&self.setup.bench);
        }
        if chars < 0 {
            let adapter = self.setup.bench.adapter();
            let format = adapter.format(adapter.format_index(self.transport.boards().faulty.registers()));
            let back = u64::from(format.char_dots) * chars.unsigned_abs();
            self.seek_dot(self.transport.boards().now().saturating_sub(back));
        }
        self.refresh();
    }

    /// Goes to a frame of the past at once, or to one far ahead over the next ticks.
    ///
    /// # Errors
    /// Where the frame is too far away; then nothing moves.
    pub fn jump(&mut self, frame: u64) -> Result<(), InputError> {
        if frame > FARTHEST {
            return Err(InputError::new("frame", frame, format!("0..={FARTHEST}")));
        }
        self.run(false);
        if frame > self.transport.frame_shown() + JUMP_AT_ONCE {
            self.transport.goal = Some(frame);
        } else {
            self.seek(frame);
        }
        Ok(())
    }

    /// Goes to the next hazard, or to the one before, where the beam made it.
    pub(crate) fn step_to_hazard(&mut self, on: bool) {
        let (trail, frame, standing) = (&self.inspection.hazards, self.transport.frame_number(), self.standing_at());
        let found = if on { trail.next(standing, frame) } else { trail.previous(standing, frame) };
        let none = if on { "no hazard is known from here on: run further" } else { "no hazard is known before this" };
        match found.cloned() {
            Some(hazard) => self.go_to_hazard(&hazard),
            None => self.report(none),
        }
    }

    /// The hazard that was gone to last, while the beam still stands there.
    #[must_use]
    pub fn standing_at(&self) -> Option<&Hazard> {
        let here = self.transport.boards().now();
        self.at_hazard.as_ref().filter(|(dot, _)| *dot == here).map(|(_, hazard)| hazard.as_ref())
    }

    /// Goes to the place of the beam at which a mistake was made, or else at which it shows.
    pub fn go_to_hazard(&mut self, hazard: &Hazard) {
        self.run(false);
        let dot = hazard.made.unwrap_or_else(|| {
            self.transport.history.seek(&self.setup.bench, hazard.frame.saturating_sub(1));
            let boards = self.transport.boards();
            let above = boards.newest.faulty.lines.iter().take(hazard.line as usize);
            boards.frame_start() + above.map(|line| u64::from(line.dots)).sum::<u64>() + u64::from(hazard.dot)
        });
        self.seek_dot(dot);
        self.at_hazard = Some((self.transport.boards().now(), Arc::new(hazard.clone())));
        self.report(hazards::words(hazard));
    }

    /// Goes back to the first frame.
    pub(super) fn step_to_first(&mut self) {
        self.run(false);
        self.seek(0);
    }

    fn seek(&mut self, frame: u64) {
        self.transport.pending.clear();
        self.transport.history.seek(&self.setup.bench, frame);
        self.arrived();
    }

    pub(super) fn seek_dot(&mut self, dot: u64) {
        // The first frame is always whole: before its end there is nothing to show.
        let first_end = self.transport.history.first_end();
        self.transport.pending.clear();
        self.transport.history.seek_dot(&self.setup.bench, dot.max(first_end));
        self.arrived();
    }

    /// Takes in how things stand at another moment.
    pub(super) fn arrived(&mut self) {
        let value = self.setup.bench.adapter().get(&self.transport.boards().intended, self.sweep.active.field);
        self.sweep.active.changed_to(value);
        self.refresh();
    }

    /// Works out what is seen of the newest frames.
    pub(crate) fn refresh(&mut self) {
        self.follow_quirks();
        self.follow_routine();
        self.inspection.refresh(self.transport.boards(), self.transport.history.changes());
        self.sweep.active.see(self.transport.frame_shown(), &self.inspection.damage);
        self.capture();
    }
}
