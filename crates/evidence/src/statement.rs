//! What may be said of a frame, from vague words to exact lists.

use std::fmt;

use crate::measured::MeasuredLines;

/// One thing said of a frame.
///
/// It is always held against what was meant: what the plain board of the class shows under the
/// same registers and memory. A *bad* line is one that differs from that.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Statement {
    /// As meant.
    Clean,
    /// Anything wrong.
    Damaged,
    /// Something is wrong, every bad line only in its right half.
    EdgeDamaged,
    /// Something is wrong in the left half of a line or in the whole picture.
    Broken,
    /// Everything is wrong, on every line, from left to right.
    AllOfIt,
    /// Every `period`-th line is bad, where known from line `first` on.
    Every {
        /// Distance of neighbouring bad lines, from 1.
        period: u32,
        /// The first bad line, from 0, below `period`.
        first: Option<u32>,
    },
    /// At most about a tenth of the lines is bad.
    FewLines,
    /// Some lines are bad and some are not.
    SomeLines,
    /// More than half of the lines are bad.
    MostLines,
    /// Just these lines are bad, counted from 0 at the top.
    Lines(Vec<u32>),
    /// These lines are bad, and others may be.
    Examples(Vec<u32>),
    /// That many lines are bad.
    Count(u32),
    /// The damage lies in the right half.
    Right,
    /// The damage lies in the left half.
    Left,
    /// The damage lies in the last tenth of the line.
    RightEdge,
    /// The damage lies in the first tenth of the line.
    LeftEdge,
    /// The damage reaches across the line.
    Across,
    /// The bad lines are in the upper half of the picture.
    Top,
    /// The bad lines are in the lower half of the picture.
    Bottom,
    /// The damage lies between these pixels, both included.
    Pixels(u32, u32),
    /// The first bad line is this one, counted from 0 at the top.
    UppermostLine(u32),
    /// The bad line after the first is this one.
    SecondLine(u32),
    /// The last bad line is this one.
    LowermostLine(u32),
    /// The damage begins at this pixel.
    LeftmostPixel(u32),
    /// The damage ends at this pixel.
    RightmostPixel(u32),
    /// The bad lines show what belongs that many pixels beside, to either side.
    ShiftedBy(u32),
    /// The content of what is bad stands that far from its place.
    Shifted(MoveDirection, u32),
    /// The content of what is bad stands half a line beside its place.
    ShiftedHalfLine,
    /// The whole picture stands in another place.
    Displaced,
    /// Lines end before they should, and the rest is black.
    Narrower,
    /// Only the colours are wrong: every shape is in its place.
    WrongColours,
    /// Only the colours are wrong, in this way.
    Tinged(Tinge),
    /// Single wrong dots, scattered.
    Specks,
    /// No stable picture.
    NoPicture,
    /// It comes and goes while nothing is changed.
    Flickers,
    /// It is another one each time the machine or the routine is started, under the same settings.
    DiffersBetweenRuns,
}

/// A primary colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Primary {
    /// Red.
    Red,
    /// Green.
    Green,
    /// Blue.
    Blue,
}

/// How colours are wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Tinge {
    /// Nothing has any of it.
    Missing(Primary),
    /// There is less of it.
    TooLittle(Primary),
    /// There is more of it.
    TooMuch(Primary),
    /// There is less of all three.
    TooDark,
    /// There is more of all three.
    TooBright,
}

impl Primary {
    /// All three, in the order of a colour's components.
    pub const ALL: [Self; 3] = [Self::Red, Self::Green, Self::Blue];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Red => "red",
            Self::Green => "green",
            Self::Blue => "blue",
        }
    }
}

impl fmt::Display for Tinge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing(primary) => write!(f, "{} missing", primary.name()),
            Self::TooLittle(primary) => write!(f, "too little {}", primary.name()),
            Self::TooMuch(primary) => write!(f, "too {}", primary.name()),
            Self::TooDark => f.write_str("too dark"),
            Self::TooBright => f.write_str("too bright"),
        }
    }
}

/// Which way content has moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MoveDirection {
    /// To the left, in pixels.
    Left,
    /// To the right, in pixels.
    Right,
    /// Upwards, in picture lines.
    Up,
    /// Downwards, in picture lines.
    Down,
}

/// For how many of the frames it is said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Share {
    /// For each of them.
    #[default]
    Each,
    /// For more than half of them.
    Most,
    /// For two or more of them.
    Several,
    /// For a few among many, as the picture goes through them.
    NowAndThen,
    /// For about that share of them, in percent, 1 to 99.
    About(u8),
    /// For none of them.
    NoFrame,
}

/// What was seen in one frame or over a range of steps.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Seen {
    /// Nothing: not looked at, or looked at without being sure.
    Nothing {
        /// Whether anyone looked.
        looked: bool,
    },
    /// All of these, for that share of the frames; at least one statement.
    Said(Share, Vec<Statement>),
    /// Bad before this step, and clean again at it.
    CleanAgainAt(u32),
    /// All of these from this step on, and not before it; at least one statement.
    FromStep(u32, Vec<Statement>),
    /// After that many steps it looks the same again.
    RepeatsEvery(u32),
    /// Another specimen shows the same as the board under suspicion.
    SameAsSuspected,
    /// What a capture says of every picture line.
    Measured(MeasuredLines),
}

impl Statement {
    /// Whether it speaks of something wrong.
    #[must_use]
    pub fn is_bad(&self) -> bool {
        *self != Self::Clean
    }

    /// Whether it says which lines or columns are bad.
    #[must_use]
    pub fn is_of_places(&self) -> bool {
        match self {
            Self::Every { .. }
            | Self::FewLines
            | Self::SomeLines
            | Self::MostLines
            | Self::Lines(_)
            | Self::Examples(_)
            | Self::Count(_)
            | Self::Right
            | Self::Left
            | Self::RightEdge
            | Self::LeftEdge
            | Self::Across
            | Self::Top
            | Self::Bottom
            | Self::Pixels(..)
            | Self::UppermostLine(_)
            | Self::SecondLine(_)
            | Self::LowermostLine(_)
            | Self::LeftmostPixel(_)
            | Self::RightmostPixel(_)
            | Self::AllOfIt => true,
            Self::Clean
            | Self::Damaged
            | Self::EdgeDamaged
            | Self::Broken
            | Self::ShiftedBy(_)
            | Self::Shifted(..)
            | Self::ShiftedHalfLine
            | Self::Displaced
            | Self::Narrower
            | Self::WrongColours
            | Self::Tinged(_)
            | Self::Specks
            | Self::NoPicture
            | Self::Flickers
            | Self::DiffersBetweenRuns => false,
        }
    }

    /// Whether it says where damage begins or ends.
    #[must_use]
    pub fn is_of_an_end(&self) -> bool {
        matches!(
            self,
            Self::UppermostLine(_)
                | Self::SecondLine(_)
                | Self::LowermostLine(_)
                | Self::LeftmostPixel(_)
                | Self::RightmostPixel(_)
        )
    }

    /// Whether it was counted or measured.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        self.is_of_an_end()
            || matches!(
                self,
                Self::Lines(_)
                    | Self::Count(_)
                    | Self::Pixels(..)
                    | Self::ShiftedBy(_)
                    | Self::Shifted(..)
                    | Self::ShiftedHalfLine
                    | Self::Every { first: Some(_), .. }
            )
    }

    /// Whether two statements cannot both be true of one frame.
    #[must_use]
    pub fn contradicts(&self, other: &Self) -> bool {
        use Statement::{
            Across, AllOfIt, Bottom, Broken, Clean, Count, EdgeDamaged, Every, Examples, Left, LeftEdge, LeftmostPixel,
            Lines, LowermostLine, NoPicture, Pixels, Right, RightEdge, RightmostPixel, SecondLine, Shifted, Tinged,
            Top, UppermostLine,
        };
        let ordered = |one: &Statement, other: &Statement| match (one, other) {
            (Clean, Count(0)) => false,
            (Clean, other) => other.is_bad(),
            (EdgeDamaged, Broken | AllOfIt | Left | LeftEdge | NoPicture) => true,
            (Right | RightEdge, Left | LeftEdge | AllOfIt | Across) | (Left | LeftEdge, AllOfIt | Across) => true,
            (Top, Bottom | AllOfIt) | (Bottom, AllOfIt) => true,
            (Every { period, first }, Every { period: p, first: f }) => {
                period != p || matches!((first, f), (Some(one), Some(other)) if one != other)
            }
            (Every { period, .. }, AllOfIt) => *period > 1,
            (Lines(one), Lines(other)) => one != other,
            (Count(one), Count(other)) => one != other,
            (Lines(lines), Examples(some)) => some.iter().any(|line| !lines.contains(line)),
            (Every { period, first: Some(first) }, Examples(some)) => {
                some.iter().any(|line| line % (*period).max(1) != *first)
            }
            (Count(count), Examples(some)) => some.len() > *count as usize,
            (Shifted(way, by), Shifted(other, that)) => {
                way.is_sideways() == other.is_sideways() && (way, by) != (other, that)
            }
            (Tinged(Tinge::TooDark), Tinged(Tinge::TooBright)) => true,
            (Tinged(Tinge::Missing(one) | Tinge::TooLittle(one)), Tinged(Tinge::TooMuch(other))) => one == other,
            (Lines(lines), Count(count)) => lines.len() != *count as usize,
            (Pixels(from, to), Pixels(f, t)) => (from, to) != (f, t),
            (UppermostLine(one), UppermostLine(other))
            | (SecondLine(one), SecondLine(other))
            | (LowermostLine(one), LowermostLine(other))
            | (LeftmostPixel(one), LeftmostPixel(other))
            | (RightmostPixel(one), RightmostPixel(other)) => one != other,
            (UppermostLine(first), SecondLine(second)) => first >= second,
            (SecondLine(second), LowermostLine(last)) => second > last,
            (UppermostLine(first), LowermostLine(last)) | (LeftmostPixel(first), RightmostPixel(last)) => first > last,
            _ => false,
        };
        ordered(self, other) || ordered(other, self)
    }
}

impl MoveDirection {
    /// Whether it is along the lines, and counts pixels.
    #[must_use]
    pub fn is_sideways(self) -> bool {
        matches!(self, Self::Left | Self::Right)
    }
}

impl Seen {
    /// Whether it says anything about the board.
    #[must_use]
    pub fn is_informative(&self) -> bool {
        !matches!(self, Self::Nothing { .. })
    }

    /// The same in words for people: lines that were measured as their number.
    #[must_use]
    pub fn in_short(&self) -> String {
        match self {
            Self::Measured(lines) => {
                let (meant, not) = lines.counts();
                format!("on a capture {not} lines not as meant, {meant} as meant")
            }
            said => said.to_string(),
        }
    }

    /// For a single frame: whether it is said to be clean (`Some(true)`) or bad (`Some(false)`).
    #[must_use]
    pub fn clean(&self) -> Option<bool> {
        match self {
            Self::Said(Share::Each, statements) => Some(!statements.iter().any(Statement::is_bad)),
            _ => None,
        }
    }
}

impl fmt::Display for Statement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Clean => f.write_str("clean"),
            Self::Damaged => f.write_str("damaged"),
            Self::EdgeDamaged => f.write_str("edge-damaged"),
            Self::Broken => f.write_str("broken"),
            Self::AllOfIt => f.write_str("all of it"),
            Self::Every { period: 1, .. } => f.write_str("every line"),
            Self::Every { period, first: None } => write!(f, "every {} line", ordinal(*period)),
            Self::Every { period, first: Some(first) } => write!(f, "every {} line from {first}", ordinal(*period)),
            Self::FewLines => f.write_str("few lines"),
            Self::SomeLines => f.write_str("some lines"),
            Self::MostLines => f.write_str("most lines"),
            Self::Lines(lines) => {
                f.write_str("lines")?;
                lines.iter().try_for_each(|line| write!(f, " {line}"))
            }
            Self::Examples(lines) => {
                f.write_str("for example lines")?;
                lines.iter().try_for_each(|line| write!(f, " {line}"))
            }
            Self::Count(count) => write!(f, "{count} lines"),
            Self::Right => f.write_str("on the right"),
            Self::Left => f.write_str("on the left"),
            Self::RightEdge => f.write_str("at the right edge"),
            Self::LeftEdge => f.write_str("at the left edge"),
            Self::Across => f.write_str("across"),
            Self::Top => f.write_str("at the top"),
            Self::Bottom => f.write_str("at the bottom"),
            Self::Pixels(from, to) => write!(f, "pixels {from} to {to}"),
            Self::UppermostLine(line) => write!(f, "uppermost line {line}"),
            Self::SecondLine(line) => write!(f, "second bad line {line}"),
            Self::LowermostLine(line) => write!(f, "lowermost line {line}"),
            Self::LeftmostPixel(pixel) => write!(f, "leftmost pixel {pixel}"),
            Self::RightmostPixel(pixel) => write!(f, "rightmost pixel {pixel}"),
            Self::ShiftedBy(pixels) => write!(f, "shifted by {pixels}"),
            Self::Shifted(MoveDirection::Left, pixels) => write!(f, "shifted left by {pixels}"),
            Self::Shifted(MoveDirection::Right, pixels) => write!(f, "shifted right by {pixels}"),
            Self::Shifted(MoveDirection::Up, lines) => write!(f, "shifted up by {lines}"),
            Self::Shifted(MoveDirection::Down, lines) => write!(f, "shifted down by {lines}"),
            Self::ShiftedHalfLine => f.write_str("shifted by half a line"),
            Self::Displaced => f.write_str("displaced"),
            Self::Narrower => f.write_str("narrower"),
            Self::WrongColours => f.write_str("wrong colours"),
            Self::Tinged(tinge) => tinge.fmt(f),
            Self::Specks => f.write_str("specks"),
            Self::NoPicture => f.write_str("no picture"),
            Self::Flickers => f.write_str("flickers"),
            Self::DiffersBetweenRuns => f.write_str("differs between runs"),
        }
    }
}

impl fmt::Display for Seen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Nothing { looked: true } => f.write_str("could not tell"),
            Self::Nothing { looked: false } => f.write_str("not looked at"),
            Self::CleanAgainAt(step) => write!(f, "clean again at step {step}"),
            Self::RepeatsEvery(steps) => write!(f, "repeats every {steps} steps"),
            Self::SameAsSuspected => f.write_str("does the same"),
            Self::Measured(lines) => lines.fmt(f),
            Self::FromStep(step, statements) => write!(f, "from step {step} on {}", words(statements)),
            Self::Said(share, statements) => {
                match share {
                    Share::Each => Ok(()),
                    Share::Most => f.write_str("mostly "),
                    Share::Several => f.write_str("several frames "),
                    Share::NowAndThen => f.write_str("now and then "),
                    Share::About(percent) => write!(f, "now and then ({percent} %) "),
                    Share::NoFrame => f.write_str("no frame "),
                }?;
                f.write_str(&words(statements))
            }
        }
    }
}

fn words(statements: &[Statement]) -> String {
    let words: Vec<String> = statements.iter().map(ToString::to_string).collect();
    words.join(", ")
}

/// `second`, `third`, … and from nine on `9th`.
fn ordinal(number: u32) -> String {
    match ORDINALS.get(number.wrapping_sub(2) as usize) {
        Some(word) => (*word).to_string(),
        None => format!("{number}th"),
    }
}

/// The ordinal numbers from two on that are words.
pub(crate) const ORDINALS: [&str; 7] = ["second", "third", "fourth", "fifth", "sixth", "seventh", "eighth"];
