//! Places: the common road of the fetch and the pixel stage.
//!
//! Both stages change a row of values, bytes or pixels. An action there does
//! two things at most: it takes the value of another place of the same line
//! (its *source*), and it changes a value. One source a place keeps the work
//! of a stack linear in its height, and lets any stretch of a line be changed
//! on its own: what the stretch does not hold is traced back through the
//! actions before, place by place.

use std::ops::Range;

use backporch_raster::Line;

use crate::compiled::Armed;
use crate::scene::Scene;

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
    /// The scene in which its condition is asked.
    fn scene(line: &Line, at: u32) -> Scene<'_>;

    /// Whether it acts by what was noted of writes; its condition was asked then.
    fn acts_by_notes(&self) -> bool;

    /// Whether places may take the value of another.
    fn moves(&self) -> bool;

    /// The place whose value this one takes.
    fn source(&self, on: On<'_>, at: u32) -> u32;

    /// What becomes of a value at a place.
    fn value(&self, on: On<'_>, at: u32, value: u8) -> u8;
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
    fn are_of(&self, line: &Line) -> bool {
        self.line == (line.frame, line.scan_line) && !self.marks.is_empty()
    }

    /// The value noted last at a place, a character clock having so many places.
    pub fn at(&self, at: u32, per_char: u32) -> Option<u8> {
        let holds = |mark: &&Mark| at.checked_sub(mark.char.saturating_mul(per_char)).is_some_and(|at| at < mark.count);
        Some(self.marks.iter().rev().find(holds)?.value)
    }
}

/// The effects of one stage that may act on one line, in stacking order.
pub(crate) struct Row<'a, A> {
    line: &'a Line,
    effects: Vec<(&'a Armed<A>, On<'a>)>,
}

impl<'a, A: PlaceAction> Row<'a, A> {
    /// Of a whole stack, those that may act on the line.
    pub fn of(effects: &'a [Armed<A>], notes: &'a [Notes], line: &'a Line) -> Self {
        let all = effects.iter().zip(notes);
        let acting = all.filter(|(effect, notes)| may_act(effect, notes, line));
        let effects = acting.map(|(effect, notes)| (effect, On { line, key: effect.key, notes })).collect();
        Self { line, effects }
    }

    /// Changes the values from place `first` on; `peek` gives the unchanged value of any place.
    pub fn bend(&self, first: u32, values: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        let mut before = Vec::new();
        for (position, (effect, on)) in self.effects.iter().enumerate() {
            if effect.action.moves() {
                before.clear();
                before.extend_from_slice(values);
            }
            for places in self.acting_runs(position, first, values.len() as u32) {
                for at in places {
                    let value = match effect.action.moves() {
                        true => {
                            let source = effect.action.source(*on, at);
                            let here = source.checked_sub(first).and_then(|source| before.get(source as usize));
                            here.copied().unwrap_or_else(|| self.traced(position, source, peek))
                        }
                        false => values[(at - first) as usize],
                    };
                    values[(at - first) as usize] = effect.action.value(*on, at, value);
                }
            }
        }
    }

    /// The effects that act at a place.
    pub fn acting_at(&self, at: u32) -> impl Iterator<Item = &'a Armed<A>> + '_ {
        let acting = (0..self.effects.len()).filter(move |position| self.acts(*position, at).0);
        acting.map(|position| self.effects[position].0)
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
        let effect = self.effects[position].0;
        if effect.action.acts_by_notes() {
            return (true, u32::MAX);
        }
        let answer = effect.truth.ask(&A::scene(self.line, at));
        (answer.may_hold(), answer.len.max(1))
    }

    /// The value of any place after the first `count` effects.
    fn traced(&self, count: usize, at: u32, peek: &dyn Fn(u32) -> u8) -> u8 {
        let mut at = at;
        let mut way = Vec::new();
        for position in (0..count).rev() {
            if self.acts(position, at).0 {
                let (effect, on) = &self.effects[position];
                way.push((position, at));
                at = effect.action.source(*on, at);
            }
        }
        let origin = peek(at);
        way.into_iter().rev().fold(origin, |value, (position, at)| {
            let (effect, on) = &self.effects[position];
            effect.action.value(*on, at, value)
        })
    }
}

/// Whether an effect may act on a line.
pub(crate) fn may_act<A: PlaceAction>(effect: &Armed<A>, notes: &Notes, line: &Line) -> bool {
    match effect.action.acts_by_notes() {
        true => notes.are_of(line),
        false => effect.truth.ask(&Scene::Line(line)).may_hold(),
    }
}
