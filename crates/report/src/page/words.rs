//! Numbers and findings as a person would say them.

use backporch_analysis::{LinePattern, Sweep, SweepStep, Verdict};
use backporch_picture::mark::Mark;

/// How a verdict looks.
pub fn mark(verdict: Verdict) -> Mark {
    match verdict {
        Verdict::Clean => Mark::Clean,
        Verdict::EdgeDamaged => Mark::EdgeDamaged,
        Verdict::Broken => Mark::Broken,
    }
}

/// `1 step`, `2 steps`.
pub fn count(number: usize, one: &str) -> String {
    match number {
        1 => format!("1 {one}"),
        _ => format!("{number} {one}s"),
    }
}

/// `every line`, `every other line`, `every 4th line`.
pub fn every(pattern: LinePattern) -> String {
    let ending = match (pattern.period % 10, pattern.period % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    match pattern.period {
        1 => "every line".to_string(),
        2 => "every other line".to_string(),
        period => format!("every {period}{ending} line"),
    }
}

/// Which lines of a step are bad.
pub fn lines(step: &SweepStep) -> String {
    match step.pattern {
        Some(pattern) if pattern.period > 1 => format!("{}, from line {}", every(pattern), pattern.phase),
        Some(pattern) => every(pattern),
        None if step.verdict == Verdict::Clean => String::new(),
        None => "no regular lines".to_string(),
    }
}

/// Which pixels of the bad lines.
pub fn pixels(step: &SweepStep) -> String {
    match &step.damage.x {
        Some(x) if x.start() == x.end() => format!("{}", x.start()),
        Some(x) => format!("{} to {}", x.start(), x.end()),
        None => String::new(),
    }
}

/// What a sweep found, in a sentence or two.
pub fn finding(sweep: &Sweep) -> String {
    let bad: Vec<&SweepStep> = sweep.bad().collect();
    let all = count(sweep.steps.len(), "step");
    let Some(worst) = bad.iter().map(|step| step.verdict).max() else {
        return format!("All {all} show what the plain board shows.");
    };
    let mut text = match bad.len() {
        1 => format!("1 of {all} is damaged"),
        damaged => format!("{damaged} of {all} are damaged"),
    };
    let period = |step: &&SweepStep| step.pattern.map(|pattern| pattern.period);
    let alike = bad.iter().all(|step| period(step) == period(&bad[0]));
    if let Some(pattern) = bad[0].pattern.filter(|_| alike) {
        text += &format!(", on {}", every(pattern));
    }
    if worst == Verdict::EdgeDamaged {
        text += ", at the right-hand end";
    }
    text += ".";
    if let Some(period) = sweep.repeats_every {
        text += &format!(" The pattern comes back every {period} steps.");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_said_in_english() {
        let said = |period| every(LinePattern { period, phase: 0 });
        assert_eq!(said(1), "every line");
        assert_eq!(said(2), "every other line");
        assert_eq!([3, 4, 11, 13, 21, 22, 23, 112].map(said).join("|").matches("th line").count(), 4);
        assert_eq!(said(21), "every 21st line");
        assert_eq!(count(1, "step"), "1 step");
        assert_eq!(count(64, "step"), "64 steps");
    }
}
