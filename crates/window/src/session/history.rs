//! The history of a session: what was done at which dot, with snapshots on the
//! way, so that any moment of the past can be played again.
//!
//! Going back restores the nearest snapshot before the moment and plays the
//! actions after it once more; the boards are deterministic, so the same frames
//! come out. Going forward from the past plays on what was done before, until
//! something new is done: then what came after is kept as another course of
//! events, to be gone back to. What was done last can be taken back and done again.

use std::collections::VecDeque;

use backporch_bench::Bench;

use super::board_pair::{BoardAction, BoardPair};
use super::breakpoint::Breakpoint;

/// Frames between snapshots, the newest ones first: (age up to, distance).
const SPACING: [(u64, u64); 3] = [(64, 4), (1024, 64), (u64::MAX, 1024)];

/// Most snapshots held; each is a copy of both boards' memory and frames.
const MOST_SNAPSHOTS: usize = 160;

/// Other courses of events that are kept.
const MOST_COURSES: usize = 16;

/// An action, and the frame and dot in which it was done.
#[derive(Clone, Debug)]
pub(crate) struct Recorded {
    /// The same in every course of events it belongs to.
    pub id: u64,
    pub frame: u64,
    /// Dots since that frame began.
    pub into_frame: u64,
    /// Dots since the boards were made.
    dot: u64,
    pub action: BoardAction,
}

impl Recorded {
    /// An action of another reading of the bench, to be placed by its frame.
    pub fn unplaced(id: u64, frame: u64, into_frame: u64, action: BoardAction) -> Self {
        Self { id, frame, into_frame, dot: 0, action }
    }

    /// Whether what was done next belongs with it: at the same dot, or the mouse moved on with the same buttons held.
    fn goes_on_with(&self, next: &Self) -> bool {
        let moves_on = match (&self.action, &next.action) {
            (BoardAction::Mouse(one), BoardAction::Mouse(other)) => one.buttons == other.buttons,
            _ => false,
        };
        moves_on || (self.frame, self.into_frame) == (next.frame, next.into_frame)
    }
}

/// A course of events that is kept.
#[derive(Clone, Debug)]
struct Kept {
    actions: Vec<Recorded>,
    /// Whether its dots are those of these boards: a course of another reading of the bench is played anew.
    is_placed: bool,
}

/// A course of events of another reading of the bench, played anew from the first frame on: an action at the same
/// place of the same frame each.
#[derive(Clone, Debug)]
pub(crate) struct KeptReplay {
    fresh: Box<BoardHistory>,
    rest: VecDeque<Recorded>,
    /// The frame that shows its last action.
    last: u64,
    /// What was done.
    pub done: DoneTogether,
}

/// A snapshot at the start of a frame.
#[derive(Clone, Debug)]
struct Snapshot {
    frame: u64,
    dot: u64,
    /// Position in the history of the first action not yet done.
    next: usize,
    boards: BoardPair,
}

/// The past of a pair of boards, and the pair at the moment looked at.
#[derive(Clone, Debug)]
pub(crate) struct BoardHistory {
    boards: BoardPair,
    actions: Vec<Recorded>,
    /// Position of the first action not yet done at the moment looked at.
    next: usize,
    snapshots: Vec<Snapshot>,
    /// Dot at which the first frame ends, once it has.
    first_end: u64,
    /// Actions applied, played again and undone so far.
    changes: u64,
    /// Courses of events that were left for others, the oldest first.
    courses: Vec<Kept>,
    /// Actions recorded so far.
    recorded: u64,
}

/// What was done together, at one dot.
pub(crate) type DoneTogether = Vec<BoardAction>;

/// How another moment is come to.
#[derive(Clone, Debug)]
pub(crate) enum Travel {
    /// It is there.
    Arrived(DoneTogether),
    /// It has to be played anew.
    Replay(KeptReplay),
}

/// A course of events that was left for another one.
#[derive(Clone, Debug)]
pub(crate) struct Course {
    /// The frame in which it parted from the present one.
    pub frame: u64,
    /// What was done from there on.
    pub done: DoneTogether,
}

impl BoardHistory {
    /// A history that begins with boards that have drawn nothing yet.
    pub fn new(boards: BoardPair) -> Self {
        let first = Snapshot { frame: boards.frame(), dot: boards.now(), next: 0, boards: boards.clone() };
        Self {
            boards,
            actions: Vec::new(),
            next: 0,
            snapshots: vec![first],
            first_end: 0,
            changes: 0,
            courses: Vec::new(),
            recorded: 0,
        }
    }

    /// The boards at the moment looked at.
    pub fn boards(&self) -> &BoardPair {
        &self.boards
    }

    /// Dot at which the first frame ends; 0 before it has.
    pub fn first_end(&self) -> u64 {
        self.first_end
    }

    /// Counts whatever changed the boards otherwise than by running: actions applied,
    /// played again, and undone by going back.
    pub fn changes(&self) -> u64 {
        self.changes
    }

    /// Whether the future of this moment was recorded before.
    pub fn replays(&self) -> bool {
        self.next < self.actions.len()
    }

    /// Applies an action now. What was recorded after this moment is kept as another course of events.
    pub fn apply(&mut self, bench: &Bench, action: BoardAction) {
        self.boards.settle();
        self.recorded += 1;
        self.apply_as(bench, self.recorded, action);
    }

    fn apply_as(&mut self, bench: &Bench, id: u64, action: BoardAction) {
        let (frame, dot) = (self.boards.frame(), self.boards.asked());
        let into_frame = dot.saturating_sub(self.boards.frame_start());
        if self.replays() {
            self.keep_course();
        }
        self.actions.truncate(self.next);
        self.snapshots
            .retain(|snapshot| snapshot.dot <= dot && snapshot.next <= self.next && snapshot.boards.ahead() <= dot);
        self.boards.apply(bench, &action);
        self.actions.push(Recorded { id, frame, into_frame, dot, action });
        self.next += 1;
        self.changes += 1;
        self.hold();
    }

    // ---- taking back, doing again, other courses of events ------------------------------

    /// What was done last before this moment.
    pub fn done_last(&self) -> Option<DoneTogether> {
        let first = self.first_of_last()?;
        Some(done(&self.actions[first..self.next]))
    }

    /// Position of the first action of those done last: all at one dot, or one movement of the mouse.
    fn first_of_last(&self) -> Option<usize> {
        let done = self.actions.get(..self.next)?;
        let last = done.len().checked_sub(1)?;
        Some((0..last).rev().take_while(|at| done[*at].goes_on_with(&done[at + 1])).last().unwrap_or(last))
    }

    /// Takes back what was done last, and shows the frame in which it was done as it is without it; `None`
    /// where nothing was done. It can be done again.
    pub fn undo(&mut self, bench: &Bench) -> Option<DoneTogether> {
        let first = self.first_of_last()?;
        let frame = self.actions[first].frame;
        let undone = self.done_last();
        self.keep_course();
        self.adopt(self.actions[..first].to_vec());
        self.seek(bench, frame);
        undone
    }

    /// What would be done again.
    pub fn undone_last(&self) -> Option<DoneTogether> {
        self.again().map(|again| done(&again.actions))
    }

    /// The next actions of the newest course that goes on where the present one ends.
    fn again(&self) -> Option<Kept> {
        if self.replays() {
            return None;
        }
        let goes_on = |kept: &&Kept| kept.actions.len() > self.actions.len() && begins(&kept.actions, &self.actions);
        let kept = self.courses.iter().rev().find(goes_on)?;
        let coming = &kept.actions[self.actions.len()..];
        let more = coming.windows(2).take_while(|pair| pair[0].goes_on_with(&pair[1])).count();
        let actions = coming.get(..=more)?.to_vec();
        Some(Kept { actions, is_placed: kept.is_placed })
    }

    /// Does again what was taken back last, and shows it; `None` where nothing was.
    pub fn redo(&mut self, bench: &Bench) -> Option<Travel> {
        let Kept { actions: again, is_placed } = self.again()?;
        let frame = again.last()?.frame;
        let redone = done(&again);
        let actions = self.actions.iter().cloned().chain(again).collect();
        if !is_placed {
            return Some(Travel::Replay(self.replay_of(actions, redone)?));
        }
        self.adopt(actions);
        self.seek(bench, frame + 1);
        Some(Travel::Arrived(redone))
    }

    /// The other courses of events, the oldest first.
    pub fn courses(&self) -> Vec<Course> {
        let parts = |Kept { actions: course, .. }: &Kept| {
            let own = &course[common(course, &self.actions)..];
            Course { frame: own.first().map_or(0, |first| first.frame), done: done(own) }
        };
        self.courses.iter().map(parts).collect()
    }

    /// Goes over to another course of events, to where its last action shows; `None` where there is none at `at`.
    pub fn take_course(&mut self, bench: &Bench, at: usize) -> Option<Travel> {
        let Kept { actions: course, is_placed } = self.courses.get(at).cloned()?;
        let own = done(&course[common(&course, &self.actions)..]);
        if !is_placed {
            return Some(Travel::Replay(self.replay_of(course, own)?));
        }
        self.keep_course();
        self.courses.retain(|other| !begins(&course, &other.actions));
        let frame = course.last().map_or(0, |last| last.frame);
        self.adopt(course);
        self.seek(bench, frame + 1);
        Some(Travel::Arrived(own))
    }

    /// Every course of events, the present one last.
    pub fn all_courses(&self) -> Vec<Vec<Recorded>> {
        let is_part = self.courses.iter().any(|kept| begins(&kept.actions, &self.actions));
        let present = Some(self.actions.clone()).filter(|_| !is_part && !self.actions.is_empty());
        self.courses.iter().map(|kept| kept.actions.clone()).chain(present).collect()
    }

    /// Keeps courses of events of another reading of the bench, to be gone over to.
    pub fn keep_unplaced(&mut self, courses: Vec<Vec<Recorded>>) {
        let newest = courses.iter().flatten().map(|recorded| recorded.id).max();
        self.recorded = self.recorded.max(newest.unwrap_or(0));
        self.courses.extend(courses.into_iter().map(|actions| Kept { actions, is_placed: false }));
        let more = self.courses.len().saturating_sub(MOST_COURSES);
        self.courses.drain(..more);
    }

    /// What plays a course of events anew; `None` of one in which nothing was done.
    fn replay_of(&self, course: Vec<Recorded>, done: DoneTogether) -> Option<KeptReplay> {
        let last = course.last()?.frame + 1;
        let fresh = Box::new(Self::new(self.snapshots.first()?.boards.clone()));
        Some(KeptReplay { fresh, rest: course.into(), last, done })
    }

    /// Takes over what was played anew; the present course of events is kept.
    pub fn take_replay(&mut self, replay: KeptReplay) {
        self.keep_course();
        let fresh = *replay.fresh;
        self.courses.retain(|other| !begins(&fresh.actions, &other.actions));
        let changes = self.changes + fresh.changes + 1;
        let (courses, recorded) = (std::mem::take(&mut self.courses), self.recorded);
        *self = Self { courses, recorded, changes, ..fresh };
    }

    /// Keeps the present course of events, unless it is part of one that is kept.
    fn keep_course(&mut self) {
        if self.courses.iter().any(|course| begins(&course.actions, &self.actions)) {
            return;
        }
        let present = self.actions.clone();
        self.courses.retain(|course| !begins(&present, &course.actions));
        self.courses.push(Kept { actions: present, is_placed: true });
        if self.courses.len() > MOST_COURSES {
            self.courses.remove(0);
        }
    }

    /// Puts other actions in place of those recorded. What they do not share is undone: then the boards stand at an
    /// earlier moment.
    fn adopt(&mut self, actions: Vec<Recorded>) {
        let shared = common(&self.actions, &actions);
        let parted = [&self.actions, &actions].into_iter().filter_map(|all| all.get(shared));
        let fork = parted.map(|recorded| recorded.dot).min();
        self.courses.retain(|course| !begins(&actions, &course.actions));
        self.actions = actions;
        self.changes += 1;
        if let Some(fork) = fork {
            let first = self.snapshots.first().map(|snapshot| snapshot.frame);
            self.snapshots.retain(|snapshot| {
                let knows_nothing = snapshot.next <= shared && snapshot.dot <= fork && snapshot.boards.ahead() <= fork;
                knows_nothing || Some(snapshot.frame) == first
            });
            if self.next > shared || self.boards.ahead() > fork {
                self.restore(u64::MAX);
            }
        }
        self.hold();
    }

    /// What drives the boards must not run beyond the next recorded action.
    fn hold(&mut self) {
        self.boards.hold(self.actions.get(self.next).map(|recorded| recorded.dot));
    }

    /// Asks runs to stop at a breakpoint inside a frame, or nowhere any more.
    pub fn stop_at(&mut self, breakpoint: Option<Breakpoint>) {
        self.boards.stop_at(breakpoint);
    }

    /// Runs to a dot of the future; `false` where it stopped before.
    pub fn run_to(&mut self, bench: &Bench, dot: u64) -> bool {
        while let Some(at) = self.actions.get(self.next).map(|recorded| recorded.dot).filter(|at| *at < dot) {
            if !self.boards.run_to(at) {
                return false;
            }
            self.play(bench);
        }
        self.boards.run_to(dot)
    }

    /// Runs to the end of the frame under way; `false` where it stopped before.
    pub fn finish_frame(&mut self, bench: &Bench) -> bool {
        while let Some(recorded) = self.actions.get(self.next).filter(|recorded| recorded.frame == self.boards.frame())
        {
            let dot = recorded.dot;
            if !self.boards.run_to(dot) {
                return false;
            }
            self.play(bench);
        }
        if !self.boards.finish_frame() {
            return false;
        }
        if self.first_end == 0 {
            self.first_end = self.boards.now();
        }
        self.take_snapshot();
        true
    }

    /// Runs to the end of the frame under way; `false` where it stopped before, at the beginning of a scan line.
    pub fn finish_frame_or_come_to(&mut self, bench: &Bench, line: u32) -> bool {
        let frame = self.boards.frame();
        loop {
            self.finish_line(bench);
            if self.boards.faulty.beam().scan_line == line {
                return false;
            }
            if self.boards.frame() != frame {
                return true;
            }
        }
    }

    /// Runs on by one scan line.
    pub fn finish_line(&mut self, bench: &Bench) {
        let line = |boards: &BoardPair| (boards.frame(), boards.faulty.frame_so_far().lines.len());
        let before = line(&self.boards);
        while line(&self.boards) == before {
            self.step_char(bench);
        }
    }

    /// Runs on by one character clock.
    pub fn step_char(&mut self, bench: &Bench) {
        self.step_to(bench, self.boards.now() + 1);
    }

    /// Runs to the end of the program's instruction under way; `false` where none is.
    pub fn finish_instruction(&mut self, bench: &Bench) -> bool {
        // What was done at this very dot comes first.
        while self.actions.get(self.next).is_some_and(|recorded| recorded.dot <= self.boards.asked()) {
            self.play(bench);
        }
        let end = self.boards.end_of_instruction();
        end.inspect(|end| self.step_to(bench, *end)).is_some()
    }

    fn step_to(&mut self, bench: &Bench, dot: u64) {
        let frame = self.boards.frame();
        self.run_to(bench, dot);
        if self.boards.frame() != frame {
            self.take_snapshot();
        }
    }

    /// Goes back, or on, to the moment at which frame `number` has just ended.
    pub fn seek(&mut self, bench: &Bench, number: u64) {
        let target = number + 1;
        if self.boards.frame() > target
            || self.boards.frame() == target && self.boards.now() > self.boards.frame_start()
        {
            self.restore(number);
        }
        while self.boards.frame() < target {
            self.finish_frame(bench);
        }
    }

    /// Goes back to a dot, with the frame before it whole again.
    pub fn seek_dot(&mut self, bench: &Bench, dot: u64) {
        if dot < self.boards.now() {
            let under_way =
                self.snapshots.iter().rev().find(|snapshot| snapshot.dot <= dot).map_or(0, |snapshot| snapshot.frame);
            self.restore(under_way.saturating_sub(1));
        }
        self.run_to(bench, dot);
    }

    /// Restores the newest snapshot at or before the start of a frame.
    fn restore(&mut self, frame: u64) {
        let at = self.snapshots.iter().rposition(|snapshot| snapshot.frame <= frame).unwrap_or(0);
        if let Some(snapshot) = self.snapshots.get(at) {
            self.boards = snapshot.boards.clone();
            self.next = snapshot.next;
            self.changes += 1;
            self.hold();
        }
    }

    /// Applies the next recorded action on the history once more.
    fn play(&mut self, bench: &Bench) {
        if let Some(recorded) = self.actions.get(self.next) {
            self.boards.apply(bench, &recorded.action);
            self.next += 1;
            self.changes += 1;
            self.hold();
        }
    }

    /// Takes a snapshot at the start of a frame, and lets go of old ones.
    fn take_snapshot(&mut self) {
        let frame = self.boards.frame();
        let newest = self.snapshots.last().map_or(0, |snapshot| snapshot.frame);
        if frame < newest + SPACING[0].1 {
            return;
        }
        let mut boards = self.boards.clone();
        boards.stop_at(None);
        self.snapshots.push(Snapshot { frame, dot: boards.now(), next: self.next, boards });
        self.thin(frame);
    }

    /// Widens the distance of snapshots the older they are; the first one stays.
    fn thin(&mut self, now: u64) {
        let distance = |age: u64| SPACING.iter().find(|(most, _)| age <= *most).map_or(1, |(_, distance)| *distance);
        let mut last = None;
        self.snapshots.retain(|snapshot| {
            let stays = last.is_none_or(|last| snapshot.frame >= last + distance(now - snapshot.frame));
            if stays {
                last = Some(snapshot.frame);
            }
            stays
        });
        if self.snapshots.len() > MOST_SNAPSHOTS {
            let mut position = 0;
            self.snapshots.retain(|_| {
                position += 1;
                position % 2 == 1 || position > MOST_SNAPSHOTS / 2
            });
        }
    }
}

impl KeptReplay {
    /// Plays on by this many frames at most; whether its last action shows.
    pub fn play_on(&mut self, bench: &Bench, frames: u64) -> bool {
        let until = self.fresh.boards.frame() + frames;
        while self.fresh.boards.frame() < until {
            let frame = self.fresh.boards.frame();
            while self.rest.front().is_some_and(|next| next.frame <= frame)
                && let Some(next) = self.rest.pop_front()
            {
                let place = self.fresh.boards.frame_start() + next.into_frame;
                self.fresh.run_to(bench, place);
                self.fresh.boards.settle();
                self.fresh.apply_as(bench, next.id, next.action);
            }
            if self.rest.is_empty() && self.fresh.boards.frame() > self.last {
                return true;
            }
            self.fresh.finish_frame(bench);
        }
        self.rest.is_empty() && self.fresh.boards.frame() > self.last
    }

    /// The frame it is on the way to.
    pub fn last(&self) -> u64 {
        self.last
    }
}

fn done(recorded: &[Recorded]) -> DoneTogether {
    recorded.iter().map(|recorded| recorded.action.clone()).collect()
}

/// Number of actions that two courses of events share at their beginnings.
fn common(one: &[Recorded], other: &[Recorded]) -> usize {
    one.iter().zip(other).take_while(|(one, other)| one.id == other.id).count()
}

/// Whether a course of events begins with another one, or is the same.
fn begins(course: &[Recorded], other: &[Recorded]) -> bool {
    common(course, other) == other.len()
}
