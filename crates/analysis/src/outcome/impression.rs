//! The impression a frame leaves on a person: few words, told apart by eye.

use crate::outcome::Outcome;
use crate::sightings::Statement;

/// What is wrong with a frame; of several the greatest counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Nature {
    /// Right pixel values in wrong colours.
    Colours,
    /// Wrong pixel values from the right addresses.
    Pixels,
    /// Wrong addresses.
    Addresses,
    /// The picture stands in another place.
    Displaced,
    /// No stable picture.
    NoPicture,
}

/// How many lines are bad, as far as one sees by eye.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Amount {
    /// Every `n`-th, from 1 to [`Amount::MOST_COUNTED`].
    Every(u32),
    /// At most a tenth, without a pattern.
    Few,
    /// Up to a half, without a pattern.
    Some,
    /// More than half.
    Most,
}

impl Amount {
    /// The largest distance of lines that is counted by eye; wider patterns are some lines or few.
    pub const MOST_COUNTED: u32 = 10;
}

/// Where on the line the damage lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// In the left half only.
    Left,
    /// In the right half only.
    Right,
    /// In both halves.
    Across,
}

/// What a person says who looks at a frame without measuring.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Impression {
    /// Nothing is wrong.
    Clean,
    /// Wrong colours and nothing else.
    Colours,
    /// The picture stands in another place.
    Displaced,
    /// No stable picture.
    NoPicture,
    /// Some lines are bad somewhere.
    Damage {
        /// How many.
        amount: Amount,
        /// Where.
        side: Side,
        /// Whether it comes and goes.
        flickers: bool,
    },
}

impl Outcome {
    /// What a person says who sees this frame.
    #[must_use]
    pub fn impression(&self) -> Impression {
        match self.nature {
            None => Impression::Clean,
            Some(Nature::NoPicture) => Impression::NoPicture,
            Some(Nature::Displaced) => Impression::Displaced,
            Some(Nature::Colours) => Impression::Colours,
            Some(Nature::Pixels | Nature::Addresses) => {
                Impression::Damage { amount: self.amount(), side: self.side(), flickers: self.flickers }
            }
        }
    }

    fn amount(&self) -> Amount {
        match self.lines.pattern() {
            Some(pattern) if pattern.period <= Amount::MOST_COUNTED => Amount::Every(pattern.period),
            _ => match self.lines.share() {
                share if share <= 0.1 => Amount::Few,
                share if share <= 0.5 => Amount::Some,
                share if share < 1.0 => Amount::Most,
                _ => Amount::Every(1),
            },
        }
    }

    fn side(&self) -> Side {
        let half = self.width.div_ceil(2);
        match self.x {
            Some((from, _)) if from >= half => Side::Right,
            Some((_, to)) if to < half => Side::Left,
            _ => Side::Across,
        }
    }
}

impl Impression {
    /// The same as statements of a sighting.
    #[must_use]
    pub fn statements(self) -> Vec<Statement> {
        let (amount, side, flickers) = match self {
            Self::Clean => return vec![Statement::Clean],
            Self::Colours => return vec![Statement::WrongColours],
            Self::Displaced => return vec![Statement::Displaced],
            Self::NoPicture => return vec![Statement::NoPicture],
            Self::Damage { amount, side, flickers } => (amount, side, flickers),
        };
        let amount = match amount {
            Amount::Every(period) => Statement::Every { period, first: None },
            Amount::Few => Statement::FewLines,
            Amount::Some => Statement::SomeLines,
            Amount::Most => Statement::MostLines,
        };
        let side = match side {
            Side::Left => Statement::Left,
            Side::Right => Statement::Right,
            Side::Across => Statement::Across,
        };
        let mut said = vec![Statement::Damaged, amount, side];
        said.extend(flickers.then_some(Statement::Flickers));
        said
    }

    /// The same in one phrase: `damaged on the right, every fourth line`.
    #[must_use]
    pub fn words(self) -> String {
        let words: Vec<String> = self.statements().iter().map(ToString::to_string).collect();
        words.join(", ")
    }
}
