//! Transport through time: frames, lines and character clocks, on and back.

use backporch_analysis::Damage;
use backporch_raster::Beam;

use super::board_pair::Action;
use super::memory::MemoryCoverage;
use super::stop_condition::Wait;
use super::{ProgramState, Session, StopCondition, hazards};

/// Frames run in one tick on the way to a frame far ahead.
const JUMP_AT_ONCE: u64 = 24;

/// Running frames from one thumbnail to the next.
const THUMB_EVERY: u64 = 10;

/// Farthest frame one can jump to.
pub(crate) const FARTHEST: u64 = 1_000_000;

impl Session {
    /// Whether frames run by themselves.
    #[must_use]
    pub fn is_running(&self) -> bool {
        self.running || self.goal.is_some()
    }

    /// What the run waits for, where it waits for something.
    #[must_use]
    pub fn waits_for(&self) -> Option<StopCondition> {
        self.wait.as_ref().map(|wait| wait.until)
    }

    /// Whether something was asked for that no frame shows yet.
    #[must_use]
    pub fn awaits_frame(&self) -> bool {
        !self.pending.is_empty() || self.active.is_settling()
    }

    /// The frame a jump is on its way to.
    #[must_use]
    pub fn goal(&self) -> Option<u64> {
        self.goal
    }

    /// Number of the whole frame shown.
    #[must_use]
    pub fn frame_shown(&self) -> u64 {
        self.history.boards().newest.faulty.number
    }

    /// Whether the beam stands inside a frame, with part of it drawn.
    #[must_use]
    pub fn is_mid_frame(&self) -> bool {
        let boards = self.history.boards();
        boards.now() > boards.frame_start()
    }

    /// Where the faulty board's beam is.
    #[must_use]
    pub fn beam(&self) -> Beam {
        self.history.boards().faulty.beam()
    }

    /// Whether what comes next was seen before and is played again.
    #[must_use]
    pub fn replays(&self) -> bool {
        self.history.replays()
    }

    /// Lets frames run, or stops them.
    pub fn run(&mut self, on: bool) {
        self.running = on;
        self.wait = None;
        self.history.stop_at(None);
        self.goal = None;
        self.pace.stop();
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
            StopCondition::Instruction(_) if self.history.boards().program().is_none() => {
                "no program drives this bench"
            }
            _ => "",
        };
        if !refused.is_empty() {
            self.report(refused);
            return;
        }
        self.run(true);
        self.history.stop_at(until.breakpoint());
        let hazards = self.history.boards().hazard_count();
        self.wait = Some(Wait::new(until, &self.history.boards().intended, &self.damage, hazards));
    }

    /// Lets time pass: runs the frames that are due, looks after files once a
    /// second, and draws a few thumbnails. `now_s` counts seconds from any start.
    pub fn tick(&mut self, now_s: f64) {
        if now_s - self.looked_at_files_s >= 1.0 || now_s < self.looked_at_files_s {
            self.looked_at_files_s = now_s;
            self.look_at_files();
        }
        self.poll_search();
        self.poll_diagnosis();
        if let Some(goal) = self.goal {
            self.near(goal);
        } else if self.running {
            self.pace.set_rate(self.frame_rate_hz());
            for _ in 0..self.pace.due(now_s) {
                if self.running {
                    self.next_frame();
                }
            }
        }
        // A thumbnail takes two boards and a picture laid: while frames run there is seldom time for one.
        let has_time = !self.running || self.frame_shown().is_multiple_of(THUMB_EVERY);
        self.draw_thumbnails(if has_time { 2 - u32::from(self.running) } else { 0 });
    }

    /// Runs part of the way to a frame far ahead.
    fn near(&mut self, goal: u64) {
        let next = (self.frame_shown() + JUMP_AT_ONCE).min(goal);
        self.history.seek(&self.bench, next);
        if next == goal {
            self.goal = None;
        }
        self.arrived();
    }

    /// Runs to the end of the frame under way, doing on the way what was asked for.
    pub(crate) fn next_frame(&mut self) {
        if !self.pending.is_empty() {
            self.do_pending();
        }
        let before = self.history.boards().program().map(ProgramState::of);
        let whole = match self.waits_for() {
            Some(StopCondition::ScanLine(line)) => self.history.finish_frame_or_come_to(&self.bench, line),
            _ => self.history.finish_frame(&self.bench),
        };
        self.refresh();
        self.tell_end(before);
        if let Some(wait) = &self.wait
            && (!whole
                || wait.is_over(&self.history.boards().intended, &self.damage, self.history.boards().hazard_count()))
        {
            let words = self.stopped_words(wait.until);
            self.run(false);
            self.report(words);
        }
    }

    fn stopped_words(&self, until: StopCondition) -> String {
        let found = self.history.boards().newest_hazard().filter(|_| until == StopCondition::Hazard);
        let what = match (found, until.value()) {
            (Some(hazard), _) => hazards::words(hazard),
            (None, Some(value)) => format!("{} {value}", until.words()),
            (None, None) => until.words().to_string(),
        };
        match until.value() {
            Some(_) => format!("stopped in frame {}, line {}: {what}", self.beam().frame, self.beam().scan_line),
            None => format!("stopped at frame {}: {what}", self.frame_shown()),
        }
    }

    /// Does what was asked for a quarter down the frame: far from any latch, in
    /// the active area of every mode.
    fn do_pending(&mut self) {
        let boards = self.history.boards();
        let length: u64 = boards.newest.faulty.lines.iter().map(|line| u64::from(line.dots)).sum();
        if boards.now() > boards.frame_start() + length / 4 {
            self.history.finish_frame(&self.bench);
        }
        let quarter = self.history.boards().frame_start() + length / 4;
        self.history.run_to(&self.bench, quarter);
        for action in std::mem::take(&mut self.pending) {
            self.apply(action);
        }
    }

    /// Applies an action to the boards, now.
    pub(crate) fn apply(&mut self, action: Action) {
        self.history.apply(&self.bench, action);
        self.timeline.forget_after(self.frame_shown());
        self.memory_revision += 1;
        if self.active.is_pending() {
            let frame = self.history.boards().frame();
            self.active.applied_in(frame);
        }
    }

    /// Frames on, or back where `frames` is below zero.
    pub fn step_frames(&mut self, frames: i64) {
        self.run(false);
        match u64::try_from(frames) {
            Ok(frames) => (0..frames).for_each(|_| self.next_frame()),
            Err(_) => {
                // Inside a frame, the first step back goes to its start.
                let back = frames.unsigned_abs() - u64::from(self.is_mid_frame());
                self.seek(self.frame_shown().saturating_sub(back));
            }
        }
    }

    /// Scan lines on, or back where `lines` is below zero.
    pub fn step_lines(&mut self, lines: i64) {
        self.run(false);
        for _ in 0..lines.max(0) {
            self.history.finish_line(&self.bench);
        }
        if lines < 0 {
            let dots = self.history.boards().newest.faulty.lines.first().map_or(1, |line| u64::from(line.dots));
            let into_line = u64::from(self.beam().line_dot);
            let back = into_line + dots * (lines.unsigned_abs() - u64::from(into_line > 0));
            self.seek_dot(self.history.boards().now().saturating_sub(back));
        }
        self.refresh();
    }

    /// One instruction of the program on or back, where one drives the boards.
    pub fn step_instructions(&mut self, on: bool) {
        self.run(false);
        let boards = self.history.boards();
        let Some(program) = boards.program() else {
            self.report("no program drives this bench");
            return;
        };
        if on {
            let before = ProgramState::of(program);
            if !self.history.finish_instruction(&self.bench) {
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
            self.history.step_char(&self.bench);
        }
        if chars < 0 {
            let adapter = self.bench.adapter();
            let format = adapter.format(adapter.format_index(self.history.boards().faulty.registers()));
            let back = u64::from(format.char_dots) * chars.unsigned_abs();
            self.seek_dot(self.history.boards().now().saturating_sub(back));
        }
        self.refresh();
    }

    /// Goes to a frame of the past at once, or to one far ahead over the next ticks.
    pub fn jump(&mut self, frame: u64) {
        self.run(false);
        let frame = frame.min(FARTHEST);
        match frame > self.frame_shown() + JUMP_AT_ONCE {
            true => self.goal = Some(frame),
            false => self.seek(frame),
        }
    }

    fn seek(&mut self, frame: u64) {
        self.pending.clear();
        self.history.seek(&self.bench, frame);
        self.arrived();
    }

    fn seek_dot(&mut self, dot: u64) {
        // The first frame is always whole: before its end there is nothing to show.
        let first_end = self.history.first_end();
        self.pending.clear();
        self.history.seek_dot(&self.bench, dot.max(first_end));
        self.arrived();
    }

    /// Takes in how things stand at another moment.
    fn arrived(&mut self) {
        let value = self.bench.adapter().get(&self.history.boards().intended, self.active.field);
        self.active.changed_to(value);
        self.memory_revision += 1;
        self.refresh();
    }

    /// Works out what is seen of the newest frames.
    pub(crate) fn refresh(&mut self) {
        self.follow_routine();
        let boards = self.history.boards();
        let frame = boards.newest.faulty.number;
        self.damage = Damage::between(&boards.newest.healthy, &boards.newest.faulty);
        self.active.see(frame, &self.damage);
        self.timeline.note(frame, self.damage.verdict());
        if self.fetched != boards.newest.faulty.spans {
            self.fetched.clone_from(&boards.newest.faulty.spans);
            let coverage = MemoryCoverage::of(&boards.newest.faulty, boards.faulty.memory().len());
            self.newly_shown =
                if self.coverage.count() == 0 { MemoryCoverage::default() } else { coverage.beyond(&self.coverage) };
            self.coverage = coverage;
        }
        self.capture();
        self.refresh_inspected();
        self.revision += 1;
    }
}
