//! The impression a frame leaves on a person: a few words, no measuring.

use backporch_analysis::{FrameSignature, Nature};

use crate::statement::Statement;

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
    /// Lines end before they should.
    Narrower,
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

impl Impression {
    /// What a person says who sees a frame of this signature.
    #[must_use]
    pub fn of(signature: &FrameSignature) -> Self {
        let (amount, flickers) = (Amount::of(signature), signature.flickers);
        match signature.nature {
            None => Self::Clean,
            Some(Nature::NoPicture) => Self::NoPicture,
            Some(Nature::Displaced) if signature.short > 0 => Self::Narrower,
            Some(Nature::Displaced) => Self::Displaced,
            Some(Nature::Colours) => Self::Colours,
            Some(Nature::Pixels) if signature.density() < SPECKS => Self::Specks { amount, flickers },
            Some(Nature::Pixels | Nature::Addresses) => {
                Self::Damage { amount, side: Side::of(signature), band: Band::of(signature), flickers }
            }
        }
    }

    /// The same as statements of a sighting.
    #[must_use]
    pub fn statements(self) -> Vec<Statement> {
        let (first, amount, flickers) = match self {
            Self::Clean => return vec![Statement::Clean],
            Self::Colours => return vec![Statement::WrongColours],
            Self::Displaced => return vec![Statement::Displaced],
            Self::Narrower => return vec![Statement::Narrower],
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

    /// Whether two people who look at the same frame may well say either: neighbouring words of amount and place.
    #[must_use]
    pub fn is_near(self, other: Self) -> bool {
        match (self, other) {
            (Self::Specks { amount, .. }, Self::Specks { amount: that, .. }) => amount.is_near(that),
            (
                Self::Damage { amount, side, flickers, .. },
                Self::Damage { amount: that, side: beside, flickers: also, .. },
            ) => amount.is_near(that) && side.is_near(beside) && flickers == also,
            _ => self == other,
        }
    }

    /// Whether it describes lines and places.
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
    fn of(signature: &FrameSignature) -> Self {
        match signature.lines.pattern() {
            Some(pattern) if pattern.period <= Self::MOST_COUNTED => Self::Every(pattern.period),
            _ => match signature.lines.share() {
                share if share <= 0.1 => Self::Few,
                share if share <= 0.5 => Self::Some,
                share if share < 0.9 => Self::Most,
                _ => Self::Every(1),
            },
        }
    }

    fn is_near(self, other: Self) -> bool {
        let pair = (self.min(other), self.max(other));
        self == other
            || match pair {
                (Self::Every(one), Self::Every(that)) => one > 4 && that - one == 1,
                (Self::Few, Self::Some) | (Self::Some, Self::Most) | (Self::Every(1), Self::Most) => true,
                _ => false,
            }
    }

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
    fn of(signature: &FrameSignature) -> Self {
        let (half, tenth) = (signature.width.div_ceil(2), signature.width / 10);
        match signature.x {
            Some((from, _)) if from >= signature.width - tenth => Self::RightEdge,
            Some((from, _)) if from >= half => Self::Right,
            Some((_, to)) if to < tenth => Self::LeftEdge,
            Some((_, to)) if to < half => Self::Left,
            _ => Self::Across,
        }
    }

    fn is_near(self, other: Self) -> bool {
        let half = |side: Self| match side {
            Self::LeftEdge | Self::Left => -1,
            Self::Across => 0,
            Self::Right | Self::RightEdge => 1,
        };
        half(self) == half(other)
    }

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
    fn of(signature: &FrameSignature) -> Self {
        let half = signature.lines.height().div_ceil(2);
        match signature.lines.ends() {
            Some((first, _)) if first >= half => Self::Bottom,
            Some((_, last)) if last < half => Self::Top,
            _ => Self::Whole,
        }
    }

    fn statement(self) -> Option<Statement> {
        match self {
            Self::Top => Some(Statement::Top),
            Self::Whole => None,
            Self::Bottom => Some(Statement::Bottom),
        }
    }
}
