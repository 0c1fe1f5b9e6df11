//! CompiledCondition: a closed condition, ready to be asked at any place.
//!
//! A condition is asked once a line without a place first: *no* spares the
//! whole line, *yes* and *it depends* lead to the places. There the answer
//! says for how many places on it stays, so that whole runs are answered at once.

use backporch_adapter::{Cell, PortRole};

use crate::chance::draw;
use crate::context::{Context, QuantityReading, Slope, division};
use crate::language::{Condition, Each, Quantity};

/// An answer, and for how many places on it stays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct ConditionResult {
    /// `None`: it depends on the place.
    pub holds: Option<bool>,
    /// Number of places, this one included, for which that is so; at least 1.
    pub len: u32,
}

impl ConditionResult {
    /// It depends on the place.
    const OPEN: Self = Self { holds: None, len: 1 };

    /// The same all along.
    pub fn constant(holds: bool) -> Self {
        Self { holds: Some(holds), len: u32::MAX }
    }

    /// Whether the effect may act.
    pub fn may_hold(self) -> bool {
        self.holds != Some(false)
    }

    /// The same, or the opposite where that is wanted.
    fn wanted(self, wanted: bool) -> Self {
        Self { holds: self.holds.map(|holds| holds == wanted), ..self }
    }
}

/// A closed condition. What can be denied carries whether it is `wanted`, so
/// that no condition is wrapped in its denial.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum CompiledCondition {
    Always(bool),
    All(Box<[CompiledCondition]>),
    Any(Box<[CompiledCondition]>),
    Measured { of: Quantity<i32>, test: Comparand, wanted: bool },
    Plain { predicate: Predicate, wanted: bool },
}

/// What a quantity is held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Comparand {
    Within { from: i64, to: i64 },
    Every { count: u32, phase: u32 },
    Bits { mask: i64, value: i64 },
}

/// What needs no quantity.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Predicate {
    Chance { key: u64, below: u64, each: Each },
    Text,
    UpperHalf,
    Register(Option<Cell>),
    To(PortRole),
}

impl CompiledCondition {
    /// Makes a condition ready; every chance in it gets a key of its own from `key`.
    pub fn of(condition: &Condition<i32>, key: &mut dyn FnMut() -> u64) -> Self {
        let plain = |predicate| Self::Plain { predicate, wanted: true };
        let measured = |of: &Quantity<i32>, test| Self::Measured { of: of.clone(), test, wanted: true };
        match condition {
            Condition::Always => Self::Always(true),
            Condition::All(parts) => Self::all(parts.iter().map(|part| Self::of(part, key)).collect()),
            Condition::Any(parts) => Self::any(parts.iter().map(|part| Self::of(part, key)).collect()),
            Condition::Not(part) => Self::of(part, key).negated(),
            Condition::Is { of, value } => {
                measured(of, Comparand::Within { from: (*value).into(), to: (*value).into() })
            }
            Condition::Every { count, phase, .. } if phase >= count => Self::Always(false),
            Condition::Every { of, count, phase } => {
                measured(of, Comparand::Every { count: *count as u32, phase: *phase as u32 })
            }
            Condition::Within { of, from, to } => {
                measured(of, Comparand::Within { from: (*from).into(), to: (*to).into() })
            }
            Condition::Bits { of, mask, value } => {
                measured(of, Comparand::Bits { mask: (*mask).into(), value: (*value).into() })
            }
            Condition::Chance { in_1000, each } => match (key(), *in_1000) {
                (_, 0) => Self::Always(false),
                (_, 1000) => Self::Always(true),
                (key, in_1000) => {
                    plain(Predicate::Chance { key, below: in_1000 as u64 * (u64::MAX / 1000), each: *each })
                }
            },
            Condition::Text => plain(Predicate::Text),
            Condition::UpperHalf => plain(Predicate::UpperHalf),
            Condition::Register { bank, index } => plain(Predicate::Register(Cell::new(*bank, *index as u8))),
            Condition::To(role) => plain(Predicate::To(*role)),
        }
    }

    /// That a quantity is `from` or more.
    pub fn at_least(of: Quantity<i32>, from: i32) -> Self {
        Self::Measured { of, test: Comparand::Within { from: from.into(), to: i64::MAX }, wanted: true }
    }

    /// All of them, as short as can be.
    pub fn all(parts: Vec<Self>) -> Self {
        Self::joined(parts, false, Self::All)
    }

    /// Any of them, as short as can be.
    fn any(parts: Vec<Self>) -> Self {
        Self::joined(parts, true, Self::Any)
    }

    /// Parts of which one that is `settles` settles the matter.
    fn joined(parts: Vec<Self>, settles: bool, join: impl Fn(Box<[Self]>) -> Self) -> Self {
        if parts.contains(&Self::Always(settles)) {
            return Self::Always(settles);
        }
        let mut left: Vec<Self> = parts.into_iter().filter(|part| *part != Self::Always(!settles)).collect();
        match left.len() {
            0 => Self::Always(!settles),
            1 => left.remove(0),
            _ => join(left.into()),
        }
    }

    /// The opposite.
    pub fn negated(self) -> Self {
        match self {
            Self::Always(holds) => Self::Always(!holds),
            Self::All(parts) => Self::Any(parts.into_iter().map(Self::negated).collect()),
            Self::Any(parts) => Self::All(parts.into_iter().map(Self::negated).collect()),
            Self::Measured { of, test, wanted } => Self::Measured { of, test, wanted: !wanted },
            Self::Plain { predicate, wanted } => Self::Plain { predicate, wanted: !wanted },
        }
    }

    /// Whether it is the same on all lines: what it measures is the place alone, if anything.
    pub fn is_same_on_all_lines(&self) -> bool {
        match self {
            Self::Always(_) => true,
            Self::All(parts) | Self::Any(parts) => parts.iter().all(Self::is_same_on_all_lines),
            Self::Measured { of, .. } => of.changes_along_a_line(),
            Self::Plain { predicate, .. } => matches!(predicate, Predicate::Chance { each: Each::Place, .. }),
        }
    }

    /// Whether it may answer otherwise on a scan line that shows the same picture line once more.
    pub fn tells_scan_lines_apart(&self) -> bool {
        match self {
            Self::Always(_) => false,
            Self::All(parts) | Self::Any(parts) => parts.iter().any(Self::tells_scan_lines_apart),
            Self::Measured { of, .. } => matches!(of.base(), Quantity::ScanLine | Quantity::RowAddress),
            Self::Plain { predicate, .. } => {
                matches!(predicate, Predicate::Chance { each: Each::Line | Each::Place | Each::Write, .. })
            }
        }
    }

    /// Asks it at a place.
    #[inline]
    pub fn ask(&self, context: &impl Context) -> ConditionResult {
        match self {
            Self::Always(holds) => ConditionResult::constant(*holds),
            Self::Measured { of, test, wanted } => match context.read(of) {
                Some(reading) => test.ask(reading).wanted(*wanted),
                None => ConditionResult::OPEN,
            },
            Self::All(parts) => ask_until(parts, context, false),
            Self::Any(parts) => ask_until(parts, context, true),
            Self::Plain { predicate, wanted } => predicate.ask(context).wanted(*wanted),
        }
    }
}

/// Asks parts until one settles the matter by answering `settles`.
fn ask_until(parts: &[CompiledCondition], context: &impl Context, settles: bool) -> ConditionResult {
    let mut all = ConditionResult::constant(!settles);
    for part in parts {
        let answer = part.ask(context);
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

impl Predicate {
    fn ask(&self, context: &impl Context) -> ConditionResult {
        ConditionResult::constant(match self {
            Self::Chance { key, below, each } => {
                let Some((frame, within)) = context.occasion(*each) else {
                    return ConditionResult::OPEN;
                };
                let len = if *each == Each::Place { 1 } else { u32::MAX };
                return ConditionResult { holds: Some(draw(*key, frame, within) < *below), len };
            }
            Self::Text => context.line().is_some_and(|line| line.pixel_bits == 0),
            Self::UpperHalf => context.write().is_some_and(|write| write.upper_half),
            Self::Register(cell) => context.write().is_some_and(|write| cell.is_some() && write.cell == *cell),
            Self::To(role) => context.write().is_some_and(|write| write.role == Some(*role)),
        })
    }
}

impl Comparand {
    #[inline]
    fn ask(self, reading: QuantityReading) -> ConditionResult {
        let (holds, len) = match self {
            Self::Within { from, to } => within(reading, from, to),
            Self::Every { count, phase } => every(reading, count, phase),
            Self::Bits { mask, value } => {
                let len = if reading.slope == Slope::Level { u32::MAX } else { 1 };
                (reading.value & mask == value, len)
            }
        };
        ConditionResult { holds: Some(holds), len: len.min(reading.len.get()) }
    }
}

/// Whether the value lies within, and places until it passes an edge.
fn within(reading: QuantityReading, from: i64, to: i64) -> (bool, u32) {
    let value = reading.value;
    let holds = (from..=to).contains(&value);
    let edge = match reading.slope {
        Slope::Level => i64::MAX,
        Slope::Rising if holds => to.saturating_sub(value).saturating_add(1),
        Slope::Falling if holds => value.saturating_sub(from).saturating_add(1),
        Slope::Rising if value < from => from.saturating_sub(value),
        Slope::Falling if value > to => value.saturating_sub(to),
        _ => i64::MAX,
    };
    (holds, edge.min(u32::MAX.into()) as u32)
}

/// Whether the value leaves the phase, and places until it does or no longer does.
fn every(reading: QuantityReading, count: u32, phase: u32) -> (bool, u32) {
    let left = division(reading.value, count).1;
    let holds = left == phase;
    let next = match reading.slope {
        Slope::Level => u32::MAX,
        _ if holds => 1,
        Slope::Rising if phase > left => phase - left,
        Slope::Rising => phase + (count - left),
        Slope::Falling if left > phase => left - phase,
        Slope::Falling => left + (count - phase),
    };
    (holds, next)
}
