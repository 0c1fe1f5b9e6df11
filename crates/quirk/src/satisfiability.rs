//! What can come about: whether a closed condition can hold at all.
//!
//! One quantity at a time is tried with the values it can have, the others
//! left open. A condition that fails whatever the value can never hold; one
//! that is found possible may still fail by two quantities working together.

use crate::language::{Condition, Quantity};

/// How often a condition holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Likelihood {
    Never,
    Always,
    Sometimes,
}

/// Values of a quantity tried from its least on; those of most are all tried.
const WINDOW: i64 = 1 << 16;
/// Values tried from each number that stands in the condition on.
const AROUND: i64 = 1 << 13;
/// Divisors up to this are met within both windows.
const LARGEST_PERIOD: i64 = 1 << 12;

/// A search with bounded effort.
#[derive(Clone, Debug)]
pub(crate) struct Search {
    /// Parts of conditions still to be tried with a value before giving in.
    left: u64,
}

impl Default for Search {
    fn default() -> Self {
        Self { left: 20_000_000 }
    }
}

impl Search {
    /// How often a condition holds, as far as one quantity at a time tells;
    /// sometimes, where the effort is used up.
    pub fn likelihood(&mut self, condition: &Condition<i32>) -> Likelihood {
        let mut quantities = Vec::new();
        bases(condition, &mut quantities);
        let open = match under(condition, None) {
            Some(true) => return Likelihood::Always,
            Some(false) => return Likelihood::Never,
            None => quantities,
        };
        for base in open {
            match self.under_all(condition, &base) {
                Some(true) => return Likelihood::Always,
                Some(false) => return Likelihood::Never,
                None => {}
            }
        }
        Likelihood::Sometimes
    }

    /// The answer that is the same for all values of one quantity.
    fn under_all(&mut self, condition: &Condition<i32>, base: &Quantity<i32>) -> Option<bool> {
        let (from, to) = base.range();
        let mut numbers = Vec::new();
        let mut longest = 1;
        numbers_of(condition, &mut numbers, &mut longest);
        let wide = to - from >= WINDOW;
        if wide && longest > LARGEST_PERIOD {
            return None;
        }
        let near = numbers.into_iter().flat_map(|number| number.saturating_sub(1)..=number.saturating_add(AROUND));
        let near = near.filter(|value| (from..=to).contains(value) && wide);
        let size = size(condition);
        let mut answers = (from..=to.min(from + WINDOW)).chain(near).map(|value| {
            self.left = self.left.saturating_sub(size);
            if self.left == 0 { None } else { under(condition, Some((base, value))) }
        });
        let first = answers.next()??;
        answers.all(|answer| answer == Some(first)).then_some(first)
    }
}

fn bases(condition: &Condition<i32>, found: &mut Vec<Quantity<i32>>) {
    for part in parts(condition) {
        bases(part, found);
    }
    if let Some(of) = condition.quantity() {
        let of = of.base();
        if !found.contains(of) {
            found.push(of.clone());
        }
    }
}

/// Number of a condition's parts, itself included.
fn size(condition: &Condition<i32>) -> u64 {
    1 + parts(condition).iter().map(size).sum::<u64>()
}

fn parts(condition: &Condition<i32>) -> &[Condition<i32>] {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => parts,
        Condition::Not(part) => std::slice::from_ref(part),
        _ => &[],
    }
}

/// The numbers quantities are compared with, and the longest period of any.
fn numbers_of(condition: &Condition<i32>, numbers: &mut Vec<i64>, longest: &mut i64) {
    for part in parts(condition) {
        numbers_of(part, numbers, longest);
    }
    match condition {
        Condition::Is { value, .. } => numbers.push((*value).into()),
        Condition::Within { from, to, .. } => numbers.extend([i64::from(*from), (*to).into()]),
        Condition::Every { count, .. } => *longest = (*longest).max((*count).into()),
        Condition::Bits { mask, .. } => *longest = (*longest).max((*mask).into()),
        _ => {}
    }
    let mut of = condition.quantity();
    while let Some(Quantity::Remainder(inner, by) | Quantity::Quotient(inner, by)) = of {
        *longest = (*longest).max((*by).into());
        of = Some(inner);
    }
}

/// Whether a condition holds where one quantity has a value and nothing else
/// is known; `None` where that is not enough to tell.
fn under(condition: &Condition<i32>, known: Option<(&Quantity<i32>, i64)>) -> Option<bool> {
    let measure = |of: &Quantity<i32>| value_of(of, known);
    match condition {
        Condition::Always => Some(true),
        Condition::All(parts) => combined(parts, known, false),
        Condition::Any(parts) => combined(parts, known, true),
        Condition::Not(part) => under(part, known).map(|holds| !holds),
        Condition::Is { of, value } => measure(of).map(|of| of == i64::from(*value)),
        Condition::Every { count, phase, .. } if phase >= count => Some(false),
        Condition::Every { of, count, phase } => {
            measure(of).map(|of| of.rem_euclid((*count).into()) == i64::from(*phase))
        }
        Condition::Within { from, to, .. } if from > to => Some(false),
        Condition::Within { of, from, to } => measure(of).map(|of| (i64::from(*from)..=i64::from(*to)).contains(&of)),
        Condition::Bits { mask, value, .. } if value & !mask != 0 => Some(false),
        Condition::Bits { of, mask, value } => measure(of).map(|of| of & i64::from(*mask) == i64::from(*value)),
        Condition::Chance { in_1000: 0, .. } => Some(false),
        Condition::Chance { in_1000: 1000, .. } => Some(true),
        _ => None,
    }
}

fn combined(parts: &[Condition<i32>], known: Option<(&Quantity<i32>, i64)>, settles: bool) -> Option<bool> {
    let mut open = false;
    for part in parts {
        match under(part, known) {
            Some(holds) if holds == settles => return Some(settles),
            Some(_) => {}
            None => open = true,
        }
    }
    if open { None } else { Some(!settles) }
}

fn value_of(of: &Quantity<i32>, known: Option<(&Quantity<i32>, i64)>) -> Option<i64> {
    match of {
        Quantity::Remainder(of, by) => Some(value_of(of, known)?.rem_euclid((*by).into())),
        Quantity::Quotient(of, by) => Some(value_of(of, known)?.div_euclid((*by).into())),
        plain => known.filter(|(base, _)| *base == plain).map(|(_, value)| value),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch_input::{Source, parse};

    fn likelihood(text: &str) -> Likelihood {
        let condition: Condition<crate::Value> = parse(&Source::built_in("c", text)).unwrap();
        let closed = condition.map(&mut |value| match value {
            crate::Value::Number(number) => *number as i32,
            crate::Value::Parameter(_) => 0,
        });
        Search::default().likelihood(&closed)
    }

    #[test]
    fn conditions_that_never_hold_are_found() {
        for text in [
            "Any([])",
            "Not(Always)",
            "Every(of: Line, count: 4, phase: 4)",
            "Within(of: Line, from: 9, to: 3)",
            "Is(of: RowAddress, value: 32)",
            "Is(of: Remainder(Line, 4), value: 4)",
            "Bits(of: Start, mask: 0x0F, value: 0x10)",
            "Chance(in_1000: 0, each: Frame)",
            "All([Is(of: Line, value: 3), Is(of: Line, value: 5)])",
            "All([Every(of: Line, count: 4, phase: 3), Every(of: Line, count: 2, phase: 0)])",
            "All([Is(of: Line, value: 8), Is(of: Remainder(Line, 4), value: 1)])",
            "All([Text, Within(of: Start, from: 2000000, to: 2000001), Every(of: Start, count: 8, phase: 3)])",
            "All([Is(of: Line, value: 1), Not(Within(of: Line, from: 0, to: 10))])",
        ] {
            assert_eq!(likelihood(text), Likelihood::Never, "{text}");
        }
    }

    #[test]
    fn conditions_that_always_hold_are_found() {
        for text in ["All([])", "Within(of: Line, from: 0, to: 99999)", "Any([Text, Not(Is(of: Row, value: 300))])"] {
            assert_eq!(likelihood(text), Likelihood::Always, "{text}");
        }
    }

    #[test]
    fn what_can_happen_is_not_denied() {
        for text in [
            "Text",
            "Is(of: Start, value: 9000000)",
            "Every(of: Start, count: 100000, phase: 99999)",
            "All([Within(of: Frame, from: 1000000, to: 2000000), Every(of: Frame, count: 4000, phase: 3999)])",
            "Any([Is(of: Line, value: 3), Is(of: Line, value: 5)])",
            "Bits(of: FirstByte, mask: 0xFF0000, value: 0x10000)",
            "Is(of: LinesToLatch, value: -3)",
        ] {
            assert_eq!(likelihood(text), Likelihood::Sometimes, "{text}");
        }
    }
}
