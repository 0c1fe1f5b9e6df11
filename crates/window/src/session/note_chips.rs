//! Chips: what is seen besides a verdict, as one puts it together by hand.

use backporch_evidence::Statement;

/// One thing that can be said of what is seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chip {
    /// Every line of this many is bad: the second, the third, ...
    EveryNth(u32),
    /// Few lines are bad, without a pattern.
    FewLines,
    /// Most lines are bad, without a pattern.
    MostLines,
    /// Bad at the left edge.
    LeftEdge,
    /// Bad from left to right.
    Across,
    /// Bad at the right edge.
    RightEdge,
    /// It comes and goes.
    NowAndThen,
}

/// Of each, one at most is said of a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum About {
    Lines,
    Place,
    Time,
}

impl Chip {
    /// Periods of bad lines that are counted by eye.
    pub const PERIODS: std::ops::RangeInclusive<u32> = 2..=10;

    fn about(self) -> About {
        match self {
            Self::EveryNth(_) | Self::FewLines | Self::MostLines => About::Lines,
            Self::LeftEdge | Self::Across | Self::RightEdge => About::Place,
            Self::NowAndThen => About::Time,
        }
    }

    /// In the words of sightings.
    #[must_use]
    pub fn words(self) -> String {
        let statement = match self {
            Self::EveryNth(period) => Statement::Every { period, first: None },
            Self::FewLines => Statement::FewLines,
            Self::MostLines => Statement::MostLines,
            Self::LeftEdge => Statement::LeftEdge,
            Self::Across => Statement::Across,
            Self::RightEdge => Statement::RightEdge,
            Self::NowAndThen => return "now and then".to_string(),
        };
        statement.to_string()
    }
}

/// The chips chosen for the next sighting.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Chips(Vec<Chip>);

impl Chips {
    pub fn has(&self, chip: Chip) -> bool {
        self.0.contains(&chip)
    }

    /// Chooses a chip in place of others about the same, or lets it go.
    pub fn toggle(&mut self, chip: Chip) {
        let was_chosen = self.has(chip);
        self.0.retain(|other| other.about() != chip.about());
        if !was_chosen {
            self.0.push(chip);
        }
    }

    /// A verdict with what the chips say of it, in the words of the file form.
    pub fn said_of(&self, verdict: &str) -> String {
        let about = |wanted: About| self.0.iter().filter(move |chip| chip.about() == wanted).map(|chip| chip.words());
        let before: String = about(About::Time).map(|words| words + " ").collect();
        let after: String = about(About::Lines).chain(about(About::Place)).map(|words| format!(", {words}")).collect();
        format!("{before}{verdict}{after}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_thing_is_said_of_lines_and_one_of_their_place() {
        let mut chips = Chips::default();
        for chip in [Chip::RightEdge, Chip::FewLines, Chip::EveryNth(4), Chip::NowAndThen] {
            chips.toggle(chip);
        }
        assert_eq!(chips.said_of("broken"), "now and then broken, every fourth line, at the right edge");
        chips.toggle(Chip::EveryNth(4));
        chips.toggle(Chip::NowAndThen);
        assert_eq!(chips.said_of("broken"), "broken, at the right edge");
    }
}
