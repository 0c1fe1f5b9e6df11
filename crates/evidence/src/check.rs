//! Whether a sighting can be: steps the register holds, lines and pixels inside the frame, no contradiction.

use backporch_analysis::Specimen;
use backporch_bench::Bench;
use thiserror::Error;

use crate::experiment::{Experiment, StepRange};
use crate::statement::{Seen, Statement};

/// Why a sighting cannot be taken. Displays as `found …, allowed …`.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("found {}, allowed {}", self.found(), self.allowed())]
pub enum SightingError {
    /// A step does not fit its register.
    Step {
        /// The last step.
        found: u64,
        /// What the register holds.
        max: u32,
    },
    /// What was seen cannot be in a frame of that size, or contradicts itself.
    Impossible {
        /// The words.
        found: String,
        /// What can be.
        allowed: String,
    },
    /// A survey of another class of boards than the one under suspicion.
    OtherBoard {
        /// Profile that the survey was made for.
        found: String,
        /// Profile of the board under suspicion.
        suspected: String,
    },
    /// More sightings than are taken.
    TooMany {
        /// Most that are taken.
        most: usize,
    },
}

impl SightingError {
    /// What was found.
    #[must_use]
    pub fn found(&self) -> String {
        match self {
            Self::Step { found, .. } => found.to_string(),
            Self::Impossible { found, .. } => found.clone(),
            Self::OtherBoard { found, .. } => format!("a survey of {found}"),
            Self::TooMany { most } => format!("more than {most} sightings"),
        }
    }

    /// What is allowed.
    #[must_use]
    pub fn allowed(&self) -> String {
        match self {
            Self::Step { max, .. } => format!("0..={max}"),
            Self::Impossible { allowed, .. } => allowed.clone(),
            Self::OtherBoard { suspected, .. } => format!("one of {suspected}, the board of the bench"),
            Self::TooMany { most } => format!("at most {most}"),
        }
    }

    fn impossible(found: impl ToString, allowed: impl ToString) -> Self {
        Self::Impossible { found: found.to_string(), allowed: allowed.to_string() }
    }
}

/// Whether the register can hold every step.
pub(crate) fn steps(experiment: &Experiment, steps: StepRange) -> Result<(), SightingError> {
    let max = experiment.bench.adapter().field_info(experiment.over).max();
    let last = steps.0.last();
    if last <= u64::from(max) { Ok(()) } else { Err(SightingError::Step { found: last, max }) }
}

/// Whether what was seen can be in frames of that size and over these steps.
pub(crate) fn possible(experiment: &Experiment, steps: StepRange, seen: &Seen) -> Result<(), SightingError> {
    let (from, last) = (steps.0.from(), steps.0.last());
    match seen {
        Seen::Nothing { .. } => Ok(()),
        Seen::SameAsSuspected if experiment.conditions.specimen == Specimen::Another => Ok(()),
        Seen::SameAsSuspected => {
            Err(SightingError::impossible(seen, "that only of another specimen of the same class"))
        }
        Seen::CleanAgainAt(at) => {
            let fits = steps.0.contains(u64::from(*at)) && u64::from(*at) > from;
            let allowed = format!("one of the steps {from} to {last}, not the first");
            if fits { Ok(()) } else { Err(SightingError::impossible(at, allowed)) }
        }
        Seen::FromStep(at, statements) => {
            let fits = steps.0.contains(u64::from(*at)) && u64::from(*at) > from;
            if !fits {
                return Err(SightingError::impossible(at, format!("one of the steps {from} to {last}, not the first")));
            }
            can_be(experiment, from, statements)
        }
        Seen::RepeatsEvery(period) => {
            let fits = *period > 0
                && u64::from(*period) <= last - from
                && u64::from(*period).is_multiple_of(steps.0.step().max(1));
            let allowed = format!("1..={} in whole steps", last - from);
            if fits { Ok(()) } else { Err(SightingError::impossible(period, allowed)) }
        }
        Seen::Said(_, statements) => can_be(experiment, from, statements),
        Seen::Measured(_) if from != last => {
            Err(SightingError::impossible(format!("steps {from} to {last}"), "one step: a capture shows one"))
        }
        Seen::Measured(lines) => {
            let (_, height) = experiment.setup(from as u32).size();
            let found = || format!("{} lines measured", lines.height());
            if lines.height() == height {
                Ok(())
            } else {
                Err(SightingError::impossible(found(), format!("{height} lines")))
            }
        }
    }
}

fn can_be(experiment: &Experiment, step: u64, statements: &[Statement]) -> Result<(), SightingError> {
    let (width, height) = experiment.setup(step as u32).size();
    statements.iter().try_for_each(|statement| in_frame(statement, width, height))?;
    agree(statements)
}

/// Whether another specimen that is held against the board under suspicion is of its class.
pub(crate) fn same_class(suspected: &Bench, experiment: &Experiment, seen: &Seen) -> Result<(), SightingError> {
    let same = experiment.bench.adapter().name() == suspected.adapter().name();
    if same || *seen != Seen::SameAsSuspected {
        return Ok(());
    }
    Err(SightingError::impossible(experiment.bench.adapter().name(), suspected.adapter().name()))
}

fn in_frame(statement: &Statement, width: u32, height: u32) -> Result<(), SightingError> {
    let lines = format!("lines 0..={}", height.saturating_sub(1));
    let (possible, allowed) = match statement {
        Statement::Every { period, first } => {
            let first = first.unwrap_or(0);
            (*period <= height && first < *period, format!("every n-th line, n to {height}, from a line below n"))
        }
        Statement::Lines(list) | Statement::Examples(list) => (list.iter().all(|line| *line < height), lines),
        Statement::Count(count) => (*count <= height, format!("0 to {height} lines")),
        Statement::Pixels(_, to) => (*to < width, format!("pixels 0 to {}", width.saturating_sub(1))),
        Statement::UppermostLine(line) | Statement::SecondLine(line) | Statement::LowermostLine(line) => {
            (*line < height, lines)
        }
        Statement::LeftmostPixel(pixel) | Statement::RightmostPixel(pixel) => {
            (*pixel < width, format!("pixels 0 to {}", width.saturating_sub(1)))
        }
        Statement::ShiftedBy(pixels) => (*pixels > 0, "shifted by 1 or more".to_string()),
        Statement::Shifted(way, by) if way.is_sideways() => {
            ((1..=width).contains(by), format!("shifted by 1 to {width} pixels"))
        }
        Statement::Shifted(_, by) => ((1..=height).contains(by), format!("shifted by 1 to {height} lines")),
        _ => (true, String::new()),
    };
    if possible { Ok(()) } else { Err(SightingError::impossible(statement, allowed)) }
}

/// Whether statements can be true of one frame together.
fn agree(statements: &[Statement]) -> Result<(), SightingError> {
    for (at, one) in statements.iter().enumerate() {
        if let Some(other) = statements[at + 1..].iter().find(|other| one.contradicts(other)) {
            return Err(SightingError::impossible(format!("{one} and {other}"), "one of them"));
        }
    }
    Ok(())
}
