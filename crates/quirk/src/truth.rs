//! Truth: a closed condition, ready to be asked at any place.
//!
//! A condition is asked once a line without a place first: *no* spares the
//! whole line, *yes* and *it depends* lead to the places. There the answer
//! says for how many places on it stays, so that whole runs are answered at once.

use backporch_adapter::{Cell, PortRole};

use crate::chance::draw;
use crate::language::{Condition, Each, Quantity};
use crate::scene::{Reading, Scene};

/// An answer, and for how many places on it stays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Answer {
    /// `None`: it depends on the place.
    pub holds: Option<bool>,
    /// Number of places, this one included, for which that is so; at least 1.
    pub len: u32,
}

impl Answer {
    /// The same all along.
    pub fn steady(holds: bool) -> Self {
        Self { holds: Some(holds), len: u32::MAX }
    }

    /// Whether the effect may act.
    pub fn may_hold(self) -> bool {
        self.holds != Some(false)
    }
}

/// A closed condition.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Truth {
    Always(bool),
    All(Box<[Truth]>),
    Any(Box<[Truth]>),
    Not(Box<Truth>),
    Within { of: Quantity<i32>, from: i64, to: i64 },
    Every { of: Quantity<i32>, count: i64, phase: i64 },
    Bits { of: Quantity<i32>, mask: i64, value: i64 },
    Chance { key: u64, below: u64, each: Each },
    Text,
    UpperHalf,
    Register(Option<Cell>),
    To(PortRole),
}

impl Truth {
    /// Makes a condition ready; every chance in it gets a key of its own from `key`.
    pub fn of(condition: &Condition<i32>, key: &mut dyn FnMut() -> u64) -> Self {
        match condition {
            Condition::Always => Self::Always(true),
            Condition::All(parts) => Self::all(parts.iter().map(|part| Self::of(part, key)).collect()),
            Condition::Any(parts) => Self::any(parts.iter().map(|part| Self::of(part, key)).collect()),
            Condition::Not(part) => Self::of(part, key).negated(),
            Condition::Is { of, value } => Self::Within { of: of.clone(), from: (*value).into(), to: (*value).into() },
            Condition::Every { of, count, phase } => {
                Self::Every { of: of.clone(), count: (*count).into(), phase: (*phase).into() }
            }
            Condition::Within { of, from, to } => {
                Self::Within { of: of.clone(), from: (*from).into(), to: (*to).into() }
            }
            Condition::Bits { of, mask, value } => {
                Self::Bits { of: of.clone(), mask: (*mask).into(), value: (*value).into() }
            }
            Condition::Chance { in_1000, each } => {
                let below = (*in_1000 as u64) * (u64::MAX / 1000);
                Self::Chance { key: key(), below, each: *each }.settled(*in_1000)
            }
            Condition::Text => Self::Text,
            Condition::UpperHalf => Self::UpperHalf,
            Condition::Register { bank, index } => Self::Register(Cell::new(*bank, *index as u8)),
            Condition::To(role) => Self::To(*role),
        }
    }

    fn settled(self, in_1000: i32) -> Self {
        match in_1000 {
            0 => Self::Always(false),
            1000 => Self::Always(true),
            _ => self,
        }
    }

    /// That a quantity is `from` or more.
    pub fn at_least(of: Quantity<i32>, from: i32) -> Self {
        Self::Within { of, from: from.into(), to: i64::MAX }
    }

    /// All of them, as short as can be.
    pub fn all(parts: Vec<Self>) -> Self {
        let mut left: Vec<Self> = parts.into_iter().filter(|part| *part != Self::Always(true)).collect();
        match left.len() {
            _ if left.contains(&Self::Always(false)) => Self::Always(false),
            0 => Self::Always(true),
            1 => left.remove(0),
            _ => Self::All(left.into()),
        }
    }

    fn any(parts: Vec<Self>) -> Self {
        Self::all(parts.into_iter().map(Self::negated).collect()).negated_all()
    }

    /// The opposite.
    pub fn negated(self) -> Self {
        match self {
            Self::Always(holds) => Self::Always(!holds),
            Self::Not(part) => *part,
            other => Self::Not(Box::new(other)),
        }
    }

    /// The opposite of a conjunction of opposites: one of them.
    fn negated_all(self) -> Self {
        match self {
            Self::All(parts) => Self::Any(parts.into_iter().map(Self::negated).collect()),
            other => other.negated(),
        }
    }

    /// Whether it is the same on all lines: what it measures is the place alone, if anything.
    pub fn is_same_on_all_lines(&self) -> bool {
        match self {
            Self::Always(_) => true,
            Self::All(parts) | Self::Any(parts) => parts.iter().all(Self::is_same_on_all_lines),
            Self::Not(part) => part.is_same_on_all_lines(),
            Self::Within { of, .. } | Self::Every { of, .. } | Self::Bits { of, .. } => of.changes_along_a_line(),
            Self::Chance { each, .. } => *each == Each::Place,
            Self::Text | Self::UpperHalf | Self::Register(_) | Self::To(_) => false,
        }
    }

    /// Whether it may answer otherwise on a scan line that shows the same picture line once more.
    pub fn tells_scan_lines_apart(&self) -> bool {
        match self {
            Self::All(parts) | Self::Any(parts) => parts.iter().any(Self::tells_scan_lines_apart),
            Self::Not(part) => part.tells_scan_lines_apart(),
            Self::Within { of, .. } | Self::Every { of, .. } | Self::Bits { of, .. } => {
                matches!(of.base(), Quantity::ScanLine | Quantity::RowAddress)
            }
            Self::Chance { each, .. } => *each != Each::Frame,
            _ => false,
        }
    }

    /// Asks it at a place.
    pub fn ask(&self, scene: &impl Scene) -> Answer {
        match self {
            Self::Always(holds) => Answer::steady(*holds),
            Self::All(parts) => combined(parts, scene, false),
            Self::Any(parts) => combined(parts, scene, true),
            Self::Not(part) => {
                let answer = part.ask(scene);
                Answer { holds: answer.holds.map(|holds| !holds), ..answer }
            }
            Self::Within { of, from, to } => measured(scene, of, |reading| within(reading, *from, *to)),
            Self::Every { of, count, phase } => measured(scene, of, |reading| every(reading, *count, *phase)),
            Self::Bits { of, mask, value } => {
                measured(scene, of, |reading| place_by_place(reading, reading.value & mask == *value))
            }
            Self::Chance { key, below, each } => match scene.occasion(*each) {
                Some((frame, within)) => {
                    let len = if *each == Each::Place { 1 } else { u32::MAX };
                    Answer { holds: Some(draw(*key, frame, within) < *below), len }
                }
                None => Answer { holds: None, len: 1 },
            },
            Self::Text => Answer::steady(scene.line().is_some_and(|line| line.pixel_bits == 0)),
            Self::UpperHalf => Answer::steady(scene.write().is_some_and(|write| write.upper_half)),
            Self::Register(cell) => {
                Answer::steady(scene.write().is_some_and(|write| cell.is_some() && write.cell == *cell))
            }
            Self::To(role) => Answer::steady(scene.write().is_some_and(|write| write.role == Some(*role))),
        }
    }
}

/// Asks parts until one settles the matter by answering `settles`.
fn combined(parts: &[Truth], scene: &impl Scene, settles: bool) -> Answer {
    let mut all = Answer::steady(!settles);
    for part in parts {
        let answer = part.ask(scene);
        if answer.holds == Some(settles) {
            return answer;
        }
        all.len = all.len.min(answer.len);
        if answer.holds.is_none() {
            all.holds = None;
        }
    }
    all
}

fn measured(scene: &impl Scene, of: &Quantity<i32>, ask: impl Fn(Reading) -> Answer) -> Answer {
    scene.read(of).map_or(Answer { holds: None, len: 1 }, ask)
}

fn place_by_place(reading: Reading, holds: bool) -> Answer {
    let len = if reading.slope == 0 { reading.len } else { 1 };
    Answer { holds: Some(holds), len }
}

fn within(reading: Reading, from: i64, to: i64) -> Answer {
    let value = reading.value;
    let holds = (from..=to).contains(&value);
    // Places until the value, going up or down, passes an edge.
    let edge = match (reading.slope, holds) {
        (0, _) => i64::MAX,
        (up, true) if up > 0 => to.saturating_sub(value).saturating_add(1),
        (_, true) => value.saturating_sub(from).saturating_add(1),
        (up, false) if up > 0 && value < from => from.saturating_sub(value),
        (up, false) if up < 0 && value > to => value.saturating_sub(to),
        _ => i64::MAX,
    };
    Answer { holds: Some(holds), len: reading.len.min(edge.min(u32::MAX.into()) as u32) }
}

fn every(reading: Reading, count: i64, phase: i64) -> Answer {
    let left = reading.value.rem_euclid(count);
    let holds = left == phase;
    let next = match reading.slope {
        0 => i64::MAX,
        _ if phase >= count => i64::MAX,
        _ if holds => 1,
        up if up > 0 => (phase - left).rem_euclid(count),
        _ => (left - phase).rem_euclid(count),
    };
    Answer { holds: Some(holds), len: reading.len.min(next.min(u32::MAX.into()) as u32) }
}
