//! What a capture says of each picture line: how likely it is as meant.
//!
//! Written as a digit a line, from the top: 9 is as meant beyond doubt, 0 is not, and the middle says nothing. A digit
//! `d` stands for the natural logarithm of the odds `d − 4.5`; 4 and 5 together are a line that could not be judged.

use std::fmt;

use backporch_analysis::FrameSignature;

/// Odds (natural logarithm) of the greatest digit.
const GREATEST: f64 = 4.5;
/// Share of lines that are misread whatever their odds.
const MISREAD: f64 = 0.03;
/// Evidence (natural logarithm) from which on more of it counts less and less: what misleads the reading of one line
/// misleads that of others.
const OF_ONE_KIND: f64 = 12.0;
/// Most evidence of a line that shows what was meant against damage of it: damage need not show in every picture.
const HIDDEN: f64 = 0.15;
/// Evidence of a line below which it says nothing.
const LEAST: f64 = 1.0;

/// Lines of a capture.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct MeasuredLines(Vec<u8>);

impl MeasuredLines {
    /// From the natural logarithm of the odds that each line is as meant, from the top; 0 where it could not be judged.
    #[must_use]
    pub fn new(odds: impl IntoIterator<Item = f64>) -> Self {
        let digit = |odds: f64| (GREATEST + odds.clamp(-GREATEST, GREATEST)).round() as u8;
        Self(odds.into_iter().map(digit).collect())
    }

    /// From digits; `None` where there are none, or other characters among them.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let digits: Option<Vec<u8>> = text.chars().map(|one| one.to_digit(10).map(|digit| digit as u8)).collect();
        digits.filter(|digits| !digits.is_empty()).map(Self)
    }

    /// Number of lines.
    #[must_use]
    pub fn height(&self) -> u32 {
        self.0.len() as u32
    }

    /// Lines that are more likely than not as meant, and those that are not; what could not be judged is in neither.
    #[must_use]
    pub fn counts(&self) -> (usize, usize) {
        let count = |is: fn(&u8) -> bool| self.0.iter().filter(|digit| is(digit)).count();
        (count(|digit| *digit > 5), count(|digit| *digit < 4))
    }

    /// How far the lines speak against a frame (natural logarithm, from 0 on).
    fn against(&self, signature: &FrameSignature) -> f64 {
        let most = ((1.0 - MISREAD) / MISREAD).ln();
        let lines = (0u32..).zip(&self.0).map(|(line, digit)| {
            let odds = f64::from(*digit) - GREATEST;
            if odds.abs() < LEAST {
                0.0
            } else if signature.nature.is_some() && signature.lines.has(line) {
                odds.clamp(0.0, HIDDEN)
            } else {
                (-odds).clamp(0.0, most)
            }
        });
        lines.sum()
    }

    /// How far they are true of a frame, 0 to 1.
    #[must_use]
    pub fn grade(&self, signature: &FrameSignature) -> f64 {
        1.0 - ((self.against(signature) - 10.0) / 30.0).clamp(0.0, 1.0)
    }

    /// Natural logarithm of their likelihood under a frame, against that under the best one.
    #[must_use]
    pub fn log(&self, signature: &FrameSignature) -> f64 {
        tempered(self.against(signature))
    }

    /// The chance of just these lines where nothing is known of them.
    #[must_use]
    pub fn chance(&self) -> f64 {
        let (meant, not) = self.counts();
        tempered((meant + not) as f64 * 2f64.ln()).exp()
    }
}

fn tempered(against: f64) -> f64 {
    -OF_ONE_KIND * (against / OF_ONE_KIND).ln_1p()
}

impl fmt::Display for MeasuredLines {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("measured ")?;
        self.0.iter().try_for_each(|digit| write!(f, "{digit}"))
    }
}

#[cfg(test)]
mod tests {
    use backporch_analysis::Nature;

    use super::*;

    fn every_fourth(from: u32) -> FrameSignature {
        let mut signature = FrameSignature::clean(320, 200);
        (from..200).step_by(4).for_each(|line| signature.mark(line, (56, 311), Nature::Addresses));
        signature
    }

    #[test]
    fn digits_come_back() {
        let lines = MeasuredLines::new([9.0, 3.6, 0.4, 0.0, -0.4, -2.0, -20.0]);
        assert_eq!(lines.to_string(), "measured 9855430");
        assert_eq!(MeasuredLines::parse("9855430"), Some(lines.clone()));
        assert_eq!(lines.counts(), (2, 2));
        assert_eq!((MeasuredLines::parse(""), MeasuredLines::parse("98x")), (None, None));
    }

    /// The frame they were read from is the likeliest, a few misread lines or not; far ones are contradicted.
    #[test]
    fn the_frame_that_was_read_is_the_likeliest() {
        let odds = |line: u32| if line % 4 == 3 { -5.0 } else { 5.0 };
        let exact = MeasuredLines::new((0..200).map(odds));
        let misread =
            MeasuredLines::new((0..200).map(|line| if [8, 51, 90].contains(&line) { 4.0 } else { odds(line) }));
        for lines in [&exact, &misread] {
            let (right, wrong) = (every_fourth(3), every_fourth(2));
            assert!(lines.log(&right) > lines.log(&wrong) + 10.0, "{lines}");
            assert!(lines.log(&right) > lines.log(&FrameSignature::clean(320, 200)) + 10.0);
            assert!(lines.grade(&right) >= 0.9 && lines.grade(&wrong) < 0.1);
            assert!(lines.log(&right) > lines.chance().ln() && lines.chance().ln() > lines.log(&wrong) - 8.0);
        }
    }

    /// What could not be judged says nothing.
    #[test]
    fn unreadable_lines_say_nothing() {
        let lines = MeasuredLines::new([0.0; 200]);
        assert!((lines.log(&every_fourth(0)) - lines.log(&FrameSignature::clean(320, 200))).abs() < 1e-12);
        assert!((lines.chance() - 1.0).abs() < 1e-12);
    }
}
