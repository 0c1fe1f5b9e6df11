//! The impression a frame leaves on a person: few words, told apart by eye.

use crate::outcome::Outcome;
use crate::sightings::statement::Statement;

/// What is wrong with a frame; of several the greatest counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Nature {
    /// Every shape in its place, in wrong colours.
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
    /// Every `n`-th, from 1 to [`Amount::MOST_COUNTED`]; every one from nine of ten on.
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
    /// In the first tenth.
    LeftEdge,
    /// In the left half.
    Left,
    /// In both halves.
    Across,
    /// In the right half.
    Right,
    /// In the last tenth.
    RightEdge,
}

/// In which part of the picture the bad lines are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Band {
    /// In the upper half.
    Top,
    /// In both.
    Whole,
    /// In the lower half.
    Bottom,
}

/// Share of the bad stretch below which the damage is seen as single dots.
const SPECKS: f64 = 0.03;

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
    /// Single wrong dots, scattered.
    Specks {
        /// On how many lines.
        amount: Amount,
        /// Whether they come and go.
        flickers: bool,
    },
    /// Some lines are bad somewhere.
    Damage {
        /// How many.
        amount: Amount,
        /// Where on the line.
        side: Side,
        /// Where in the picture.
        band: Band,
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
            Some(Nature::Pixels) if self.density() < SPECKS => {
                Impression::Specks { amount: self.amount(), flickers: self.flickers }
            }
            Some(Nature::Pixels | Nature::Addresses) => Impression::Damage {
                amount: self.amount(),
                side: self.side(),
                band: self.band(),
                flickers: self.flickers,
            },
        }
    }

    fn amount(&self) -> Amount {
        match self.lines.pattern() {
            Some(pattern) if pattern.period <= Amount::MOST_COUNTED => Amount::Every(pattern.period),
            _ => match self.lines.share() {
                share if share <= 0.1 => Amount::Few,
                share if share <= 0.5 => Amount::Some,
                share if share < 0.9 => Amount::Most,
                _ => Amount::Every(1),
            },
        }
    }

    fn side(&self) -> Side {
        let (half, tenth) = (self.width.div_ceil(2), self.width / 10);
        match self.x {
            Some((from, _)) if from >= self.width - tenth => Side::RightEdge,
            Some((from, _)) if from >= half => Side::Right,
            Some((_, to)) if to < tenth => Side::LeftEdge,
            Some((_, to)) if to < half => Side::Left,
            _ => Side::Across,
        }
    }

    fn band(&self) -> Band {
        let half = self.lines.height().div_ceil(2);
        match self.lines.ends() {
            Some((first, _)) if first >= half => Band::Bottom,
            Some((_, last)) if last < half => Band::Top,
            _ => Band::Whole,
        }
    }
}

impl Impression {
    /// The same as statements of a sighting.
    #[must_use]
    pub fn statements(self) -> Vec<Statement> {
        let (first, amount, flickers) = match self {
            Self::Clean => return vec![Statement::Clean],
            Self::Colours => return vec![Statement::WrongColours],
            Self::Displaced => return vec![Statement::Displaced],
            Self::NoPicture => return vec![Statement::NoPicture],
            Self::Specks { amount, flickers } => (Statement::Specks, amount, flickers),
            Self::Damage { amount, flickers, .. } => (Statement::Damaged, amount, flickers),
        };
        let mut said = vec![first, amount.statement()];
        if let Self::Damage { side, band, .. } = self {
            said.push(side.statement());
            said.extend(band.statement());
        }
        said.extend(flickers.then_some(Statement::Flickers));
        said
    }

    /// Whether it tells of lines and places.
    #[must_use]
    pub fn is_damage(self) -> bool {
        matches!(self, Self::Damage { .. })
    }

    /// The same in one phrase: `damaged on the right, every fourth line`.
    #[must_use]
    pub fn words(self) -> String {
        let words: Vec<String> = self.statements().iter().map(ToString::to_string).collect();
        words.join(", ")
    }
}

impl Amount {
    fn statement(self) -> Statement {
        match self {
            Self::Every(period) => Statement::Every { period, first: None },
            Self::Few => Statement::FewLines,
            Self::Some => Statement::SomeLines,
            Self::Most => Statement::MostLines,
        }
    }
}

impl Side {
    fn statement(self) -> Statement {
        match self {
            Self::LeftEdge => Statement::LeftEdge,
            Self::Left => Statement::Left,
            Self::Across => Statement::Across,
            Self::Right => Statement::Right,
            Self::RightEdge => Statement::RightEdge,
        }
    }
}

impl Band {
    fn statement(self) -> Option<Statement> {
        match self {
            Self::Top => Some(Statement::Top),
            Self::Whole => None,
            Self::Bottom => Some(Statement::Bottom),
        }
    }
}
