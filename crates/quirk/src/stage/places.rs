//! Places: the common road of the fetch and the pixel stage.
//!
//! Both stages change a row of values, bytes or pixels. An action there does
//! two things at most: it takes the value of another place of the same line
//! (its *source*), and it changes a value. One source a place keeps the work
//! of a stack linear in its height, and lets any stretch of a line be changed
//! on its own: what the stretch does not hold is traced back through the
//! actions before, place by place.

use std::ops::Range;

use backporch_raster::{Line, LineDependencies};
use smallvec::SmallVec;

use crate::compiled_condition::{CompiledCondition, ConditionResult};
use crate::compiled_effect::CompiledEffect;
use crate::context::AtLine;
use crate::line_stage::LineStage;
use crate::on_line::OnLine;

/// What an action sees of the line it acts on.
#[derive(Clone, Copy, Debug)]
pub(crate) struct On<'a> {
    pub line: &'a Line,
    /// What chance draws from.
    pub key: u64,
    /// What was noted of writes while the line was drawn.
    pub notes: &'a Notes,
}

/// An action on the values of a line.
pub(crate) trait PlaceAction {
    /// Asks its condition at a place.
    fn ask(condition: &CompiledCondition, line: &Line, at: u32) -> ConditionResult;

    /// How it works.
    fn way(&self) -> ValueAction;

    /// What of a line may change what it does there.
    fn depends_on(&self) -> LineDependencies;

    /// The places whose values this one and those that follow take.
    fn sources(&self, on: On<'_>, at: u32) -> SourceRun;

    /// Changes the values of places from `first` on.
    fn change(&self, on: On<'_>, first: u32, values: &mut [u8]);

    /// What becomes of a value at a place.
    fn changed(&self, on: On<'_>, at: u32, value: u8) -> u8 {
        let mut one = [value];
        self.change(on, at, &mut one);
        one[0]
    }
}

/// Places that follow each other and take the values of places that do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct SourceRun {
    /// The first place whose value is taken.
    pub from: u32,
    /// Number of places, at least 1.
    pub len: u32,
}

impl SourceRun {
    /// One place takes the value of another.
    pub fn one(from: u32) -> Self {
        Self { from, len: 1 }
    }

    /// All places from one on take values in their order.
    pub fn onwards(from: u32) -> Self {
        Self { from, len: u32::MAX }
    }

    /// Place `at` and those after it take the values of places `by` further on. What would lie before the line is its first.
    pub fn shifted(at: u32, by: i32) -> Self {
        match at.checked_add_signed(by) {
            Some(from) => Self::onwards(from),
            None if by < 0 => Self::one(0),
            None => Self::one(u32::MAX),
        }
    }
}

/// How an action works on the values of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ValueAction {
    /// It changes values.
    Changes,
    /// It changes values by chance, drawn anew for each place of each scan line.
    ChangesByChance,
    /// Places take the value of another.
    Moves,
    /// Places take the value of another, chosen by chance anew for each scan line.
    MovesByChance,
    /// Values come from what was noted of writes; its condition was asked then.
    ShowsWrites,
}

impl ValueAction {
    /// Whether it acts by what was noted of writes.
    pub fn is_by_notes(self) -> bool {
        self == Self::ShowsWrites
    }

    /// Whether places may take the value of another.
    fn moves(self) -> bool {
        matches!(self, Self::Moves | Self::MovesByChance)
    }

    /// Whether its own chance is drawn anew on a scan line that shows the same picture line once more.
    pub fn tells_scan_lines_apart(self) -> bool {
        matches!(self, Self::ChangesByChance | Self::MovesByChance)
    }

    /// What of a line it depends on: chance and notes of writes belong to one
    /// scan line of one frame, wherever it is fetched from.
    pub fn depends_on(self) -> LineDependencies {
        match self {
            Self::Changes | Self::Moves => LineDependencies::empty(),
            Self::ChangesByChance | Self::MovesByChance | Self::ShowsWrites => {
                LineDependencies::FRAME | LineDependencies::PLACE
            }
        }
    }
}

/// A write that shows on the line under the beam.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Mark {
    /// Character clock from which it shows.
    char: u32,
    /// Places for which it shows.
    count: u32,
    value: u8,
}

/// Writes that show on the line under the beam. What came on earlier lines is
/// drawn already, so only the newest line is kept.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Notes {
    line: (u64, u32),
    marks: Vec<Mark>,
}

/// More writes than this in a scan line are no longer told apart.
const MOST_MARKS: usize = 256;

impl Notes {
    /// Notes that `value` shows for `count` places from a character clock of a scan line on.
    pub fn note(&mut self, (frame, scan_line): (u64, u32), char: u32, count: u32, value: u8) {
        if self.line != (frame, scan_line) {
            self.line = (frame, scan_line);
            self.marks.clear();
        }
        if self.marks.len() < MOST_MARKS {
            self.marks.push(Mark { char, count, value });
        }
    }

    /// Whether anything was noted of a line.
    pub fn are_of(&self, line: &Line) -> bool {
        self.line == (line.frame, line.scan_line) && !self.marks.is_empty()
    }

    /// The value noted last at a place, a character clock having this many places.
    pub fn at(&self, at: u32, per_char: u32) -> Option<u8> {
        let holds = |mark: &&Mark| at.checked_sub(mark.char.saturating_mul(per_char)).is_some_and(|at| at < mark.count);
        Some(self.marks.iter().rev().find(holds)?.value)
    }
}

/// Settles which effects of a stage act on a line, notes having been taken for each.
pub(crate) fn settle<A: PlaceAction>(stage: &LineStage<A>, notes: &[Notes], line: &Line) -> OnLine {
    let context = AtLine(line);
    let effects = &stage.effects;
    stage.settled.on_line(|position| {
        if effects[position].action.way().is_by_notes() {
            Some(notes[position].are_of(line))
        } else {
            effects[position].condition.ask(&context).holds
        }
    })
}

/// One stage of a stack on one line.
pub(crate) struct LineValues<'a, A> {
    line: &'a Line,
    effects: &'a [CompiledEffect<A>],
    notes: &'a [Notes],
    on_line: OnLine,
}

impl<'a, A: PlaceAction> LineValues<'a, A> {
    /// A stage on a line for which it has been settled which effects act.
    pub fn of(stage: &'a LineStage<A>, notes: &'a [Notes], line: &'a Line, on_line: OnLine) -> Self {
        Self { line, effects: &stage.effects, notes, on_line }
    }

    /// Changes the values from place `first` on; `peek` gives the unchanged value of any place.
    pub fn apply(&self, first: u32, values: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        for position in self.on_line.positions() {
            let action = &self.effects[position].action;
            let on = self.on(position);
            if action.way().moves() {
                self.move_values(position, first, values, peek);
                continue;
            }
            for places in self.acting_runs(position, first, values.len() as u32) {
                let run = &mut values[(places.start - first) as usize..(places.end - first) as usize];
                action.change(on, places.start, run);
            }
        }
    }

    /// Lets an effect take values from other places: all are gathered before any is changed.
    fn move_values(&self, position: usize, first: u32, values: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        let (action, on) = (&self.effects[position].action, self.on(position));
        let runs: SmallVec<[Range<u32>; 8]> = self.acting_runs(position, first, values.len() as u32).collect();
        let mut gathered: Vec<u8> = Vec::with_capacity(values.len());
        for run in &runs {
            let mut at = run.start;
            while at < run.end {
                let SourceRun { from, len } = action.sources(on, at);
                let len = len.clamp(1, run.end - at);
                self.gather(position, from..from.saturating_add(len), (first, values), peek, &mut gathered);
                at += len;
            }
        }
        let mut gathered = gathered.as_slice();
        for run in runs {
            let (these, rest) = gathered.split_at(run.len());
            let places = &mut values[(run.start - first) as usize..(run.end - first) as usize];
            places.copy_from_slice(these);
            action.change(on, run.start, places);
            gathered = rest;
        }
    }

    /// Appends the values that some places have after the effects before one: from `values`, which begin at place `first`,
    /// and traced back where those do not hold them.
    fn gather(
        &self,
        before: usize,
        places: Range<u32>,
        (first, values): (u32, &[u8]),
        peek: &dyn Fn(u32) -> u8,
        gathered: &mut Vec<u8>,
    ) {
        let held = places.start.clamp(first, first + values.len() as u32)
            ..places.end.clamp(first, first + values.len() as u32);
        let outside = |places: Range<u32>| places.map(|at| self.traced(before, at, peek));
        gathered.extend(outside(places.start..places.end.min(first)));
        gathered.extend_from_slice(&values[(held.start - first) as usize..(held.end - first) as usize]);
        gathered.extend(outside(places.start.max(first + values.len() as u32)..places.end));
    }

    /// The effects that act at a place.
    pub fn acting_at(&self, at: u32) -> impl Iterator<Item = &'a CompiledEffect<A>> + '_ {
        let acting = self.on_line.positions().filter(move |position| self.acts(*position, at).0);
        acting.map(|position| &self.effects[position])
    }

    fn on(&self, position: usize) -> On<'a> {
        On { line: self.line, key: self.effects[position].key, notes: &self.notes[position] }
    }

    /// Runs of places at which an effect acts.
    fn acting_runs(&self, position: usize, first: u32, count: u32) -> impl Iterator<Item = Range<u32>> + '_ {
        let end = first + count;
        let mut at = first;
        std::iter::from_fn(move || {
            while at < end {
                let from = at;
                let (acts, len) = self.acts(position, at);
                at = from.saturating_add(len).min(end);
                if acts {
                    return Some(from..at);
                }
            }
            None
        })
    }

    /// Whether an effect acts at a place, and for how many places on that holds.
    fn acts(&self, position: usize, at: u32) -> (bool, u32) {
        let effect = &self.effects[position];
        let answer = self.on_line.answer(position, || {
            if effect.action.way().is_by_notes() {
                ConditionResult::constant(self.notes[position].are_of(self.line))
            } else {
                A::ask(&effect.condition, self.line, at)
            }
        });
        (answer.may_hold(), answer.len)
    }

    /// The value of any place after the effects before one.
    fn traced(&self, before: usize, at: u32, peek: &dyn Fn(u32) -> u8) -> u8 {
        let mut at = at;
        let mut way = Vec::new();
        for position in self.on_line.positions().rev().skip_while(|position| *position >= before) {
            if self.acts(position, at).0 {
                way.push((position, at));
                at = self.effects[position].action.sources(self.on(position), at).from;
            }
        }
        let origin = peek(at);
        way.into_iter()
            .rev()
            .fold(origin, |value, (position, at)| self.effects[position].action.changed(self.on(position), at, value))
    }
}
