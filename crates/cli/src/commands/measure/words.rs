//! What was measured, in the words of sightings.
//!
//! Only what the captures show beyond doubt is said: bad lines are named as examples, since a line may be bad in memory
//! and yet show the same.

use std::collections::BTreeMap;

use backporch_evidence::MeasuredLines;
use backporch_measure::{Finding, LineEvidence, StretchContent};

/// Lines named as examples, at most.
const EXAMPLES: usize = 12;
/// The widest distance of bad lines that is taken for a pattern.
const LONGEST_PERIOD: usize = 32;
/// Share of lines that must have been read for the picture to be called clean.
const READ: f64 = 0.8;
/// Share of bad lines that must agree on how far they have moved.
const AGREE: f64 = 0.8;

/// What one says of a picture whose lines show that, `width` pixels wide.
pub fn saw(lines: &[LineEvidence], width: usize) -> String {
    let judged = lines.iter().filter(|line| line.is_as_meant().is_some()).count();
    let bad = bad(lines);
    if bad.is_empty() {
        let clean = judged as f64 >= READ * lines.len() as f64;
        return if clean { "clean" } else { "could not tell" }.to_string();
    }
    let mut words = vec!["damaged".to_string()];
    let (pattern, bad) = in_pattern(lines, bad);
    let [colours, rest @ ..] = beside_lines(lines, &bad, width);
    words.extend(colours);
    words.extend(pattern);
    words.extend(rest.into_iter().flatten());
    // Evenly among all of them.
    let step = bad.len().div_ceil(EXAMPLES);
    let examples: Vec<String> = bad.iter().step_by(step).map(ToString::to_string).collect();
    words.push(format!("for example lines {}", examples.join(" ")));
    words.join(", ")
}

/// The sightings that say all of it: each line by its odds, and what is wrong with those that are.
pub fn sightings(lines: &[LineEvidence], width: usize) -> Vec<String> {
    if lines.iter().all(|line| line.is_as_meant().is_none()) {
        return vec!["could not tell".to_string()];
    }
    let odds = lines.iter().map(|line| {
        let sure = (line.probability / (1.0 - line.probability).max(f64::MIN_POSITIVE)).ln();
        line.is_as_meant().map_or(0.0, |meant| if meant { sure } else { -sure })
    });
    let measured = MeasuredLines::new(odds).to_string();
    let (_, bad) = in_pattern(lines, bad(lines));
    let beside: Vec<String> = beside_lines(lines, &bad, width).into_iter().flatten().collect();
    [Some(measured), Some(beside.join(", ")).filter(|words| !words.is_empty())].into_iter().flatten().collect()
}

fn bad(lines: &[LineEvidence]) -> Vec<usize> {
    (0..lines.len()).filter(|line| lines[*line].is_as_meant() == Some(false)).collect()
}

/// The bad lines' pattern in words, where they have one, and those that follow it: one line in many may have been misread.
fn in_pattern(lines: &[LineEvidence], mut bad: Vec<usize>) -> (Option<String>, Vec<usize>) {
    let Some((period, first)) = pattern(lines, &bad) else { return (None, bad) };
    bad.retain(|line| line % period == first);
    let words = if period == 1 { "every line".to_string() } else { format!("every {period}th line from {first}") };
    (Some(words), bad)
}

/// What is wrong with the bad lines, and where along them: colours, distance, side.
fn beside_lines(lines: &[LineEvidence], bad: &[usize], width: usize) -> [Option<String>; 3] {
    let colours = bad.iter().filter(|line| lines[**line].finding == Finding::WrongColours).count();
    let tinted = !bad.is_empty() && colours as f64 >= AGREE * bad.len() as f64;
    [
        tinted.then(|| "wrong colours".to_string()),
        moved(lines, bad).map(|moved| format!("shifted by {moved}")),
        place(lines, bad, width).map(str::to_string),
    ]
}

/// Distance and first of bad lines that follow a pattern: hardly any beside it, and more than half of it seen to be bad.
fn pattern(lines: &[LineEvidence], bad: &[usize]) -> Option<(usize, usize)> {
    let read = |line: &usize| lines[*line].is_as_meant().is_some();
    (1..=LONGEST_PERIOD).rev().find_map(|period| {
        let mut phases = vec![0; period];
        bad.iter().for_each(|line| phases[line % period] += 1);
        let first = (0..period).max_by_key(|phase| phases[*phase])?;
        let of_pattern = (first..lines.len()).step_by(period).filter(read).count();
        let strays = bad.len() - phases[first];
        let fits = strays * 20 <= bad.len() && phases[first] >= 3 && phases[first] * 10 >= of_pattern * 6;
        fits.then_some((period, first))
    })
}

/// Pixels by which the content of bad lines has moved along memory, either way, where they agree.
fn moved(lines: &[LineEvidence], bad: &[usize]) -> Option<u64> {
    let mut counts: BTreeMap<i64, usize> = BTreeMap::new();
    for line in bad {
        let moved = match lines[*line].finding {
            Finding::Elsewhere { moved } => moved,
            Finding::Displaced { half_pixels } if half_pixels % 2 == 0 => -i64::from(half_pixels / 2),
            _ => continue,
        };
        *counts.entry(moved).or_default() += 1;
    }
    let (moved, count) = counts.into_iter().max_by_key(|(_, count)| *count)?;
    (count as f64 >= AGREE * bad.len() as f64 && moved != 0).then_some(moved.unsigned_abs())
}

/// On which side of the lines the damage lies, where that is clear.
fn place(lines: &[LineEvidence], bad: &[usize], width: usize) -> Option<&'static str> {
    let stretches = bad.iter().flat_map(|line| &lines[*line].stretches);
    let known = stretches.filter(|one| one.source != StretchContent::Meant);
    let (from, to) = known.fold((width, 0), |(from, to), one| (from.min(one.from), to.max(one.to)));
    let share = |pixels: usize| pixels as f64 / width.max(1) as f64;
    if from >= to {
        None
    } else if share(from) > 0.9 {
        Some("at the right edge")
    } else if share(from) > 0.5 {
        Some("on the right")
    } else if share(to) < 0.1 {
        Some("at the left edge")
    } else if share(to) < 0.5 {
        Some("on the left")
    } else if share(to - from) > 0.65 {
        Some("across")
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use backporch_measure::{Likelihoods, Stretch};

    use super::*;

    fn line(finding: Finding) -> LineEvidence {
        let likelihoods =
            Likelihoods { as_meant: 0.0, displaced: 0.0, elsewhere: 0.0, wrong_colours: 0.0, something_else: 0.0 };
        let stretches = match finding {
            Finding::Elsewhere { moved } => {
                vec![Stretch { from: 56, to: 311, source: StretchContent::Memory { moved } }]
            }
            _ => Vec::new(),
        };
        LineEvidence { finding, probability: 1.0, likelihoods, stretches }
    }

    #[test]
    fn what_was_measured_is_said_in_the_words_of_sightings() {
        let fourth = |at: usize| if at % 4 == 3 { Finding::Elsewhere { moved: 256 } } else { Finding::AsMeant };
        let lines: Vec<LineEvidence> = (0..200).map(|at| line(fourth(at))).collect();
        assert_eq!(
            saw(&lines, 320),
            "damaged, every 4th line from 3, shifted by 256, across, for example lines 3 23 43 63 83 103 123 143 163 183"
        );
        let lines: Vec<LineEvidence> = (0..200).map(|_| line(Finding::AsMeant)).collect();
        assert_eq!(saw(&lines, 320), "clean");
        let lines: Vec<LineEvidence> = (0..200).map(|_| line(Finding::CouldNotTell)).collect();
        assert_eq!(saw(&lines, 320), "could not tell");
        let lines: Vec<LineEvidence> = (0..200).map(|_| line(Finding::WrongColours)).collect();
        assert!(saw(&lines, 320).starts_with("damaged, wrong colours, every line, for example lines 0 17"));
    }
}
