//! Patterns in what was found: which lines, and every how many steps.

use serde::Serialize;

/// Lines `phase`, `phase + period`, `phase + 2 × period`, …
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct LinePattern {
    /// Distance of neighbouring lines.
    pub period: u32,
    /// The first of them.
    pub phase: u32,
}

impl LinePattern {
    /// The pattern that `marked` follows exactly, where it has one.
    ///
    /// A pattern needs to be seen at least three times over, so its period is
    /// at most a third of the lines.
    #[must_use]
    pub fn find(marked: &[bool]) -> Option<Self> {
        let mut hits = marked.iter().enumerate().filter(|(_, hit)| **hit).map(|(line, _)| line);
        let first = hits.next()?;
        let period = match hits.next() {
            Some(second) => second - first,
            None => return None,
        };
        let follows = |(line, hit): (usize, &bool)| *hit == (line % period == first % period);
        let seen_enough = period * 3 <= marked.len() && first < period;
        let found = seen_enough && marked.iter().enumerate().all(follows);
        found.then_some(Self { period: period as u32, phase: first as u32 })
    }
}

/// The least period of a sequence that shows it at least twice over.
///
/// `None` where the items never repeat so, or where all are alike.
#[must_use]
pub fn period<T: PartialEq>(items: &[T]) -> Option<usize> {
    // Of each beginning, how much of it ends as the whole begins.
    let mut borders = vec![0; items.len()];
    for at in 1..items.len() {
        let mut border = borders[at - 1];
        while border > 0 && items[border] != items[at] {
            border = borders[border - 1];
        }
        borders[at] = border + usize::from(items[border] == items[at]);
    }
    let least = items.len() - borders.last()?;
    (2..=items.len() / 2).contains(&least).then_some(least)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marks(lines: usize, hit: impl Fn(usize) -> bool) -> Vec<bool> {
        (0..lines).map(hit).collect()
    }

    #[test]
    fn every_fourth_line_is_found() {
        let found = LinePattern::find(&marks(200, |line| line % 4 == 3));
        assert_eq!(found, Some(LinePattern { period: 4, phase: 3 }));
        assert_eq!(LinePattern::find(&marks(200, |_| true)), Some(LinePattern { period: 1, phase: 0 }));
    }

    #[test]
    fn what_is_not_regular_has_no_pattern() {
        assert_eq!(LinePattern::find(&marks(200, |_| false)), None);
        assert_eq!(LinePattern::find(&marks(200, |line| line == 7)), None);
        assert_eq!(LinePattern::find(&marks(200, |line| line % 4 == 3 && line != 99)), None);
        assert_eq!(LinePattern::find(&marks(200, |line| line > 50 && line % 4 == 3)), None);
    }

    #[test]
    fn periods_are_the_least_that_hold() {
        assert_eq!(period(&[0, 1, 2, 0, 1, 2, 0]), Some(3));
        assert_eq!(period(&[0, 1, 2, 0, 1]), None, "not seen twice over");
        assert_eq!(period(&[5, 5, 5, 5]), None, "nothing changes");
        assert_eq!(period::<u8>(&[]), None);
    }
}
