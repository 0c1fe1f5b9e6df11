//! From the file as written to sightings that can be: names, bounds, words.

use std::sync::Arc;

use backporch_bench::{Bench, Library, Overrides};
use backporch_input::{InputError, Range, Source, parse};
use thiserror::Error;

use super::file::{ExperimentFile, SightingFile, SightingsFile};
use super::phrase::{self, PHRASES};
use super::{Experiment, Observer, Seen, Sightings, Statement, Steps};
use crate::scene::{Specimen, Staging};

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
    /// More sightings than are taken.
    TooMany,
}

impl SightingError {
    /// What was found.
    #[must_use]
    pub fn found(&self) -> String {
        match self {
            Self::Step { found, .. } => found.to_string(),
            Self::Impossible { found, .. } => found.clone(),
            Self::TooMany => "more sightings".to_string(),
        }
    }

    /// What is allowed.
    #[must_use]
    pub fn allowed(&self) -> String {
        match self {
            Self::Step { max, .. } => format!("0..={max}"),
            Self::Impossible { allowed, .. } => allowed.clone(),
            Self::TooMany => format!("at most {}", super::MOST_SIGHTINGS),
        }
    }

    fn impossible(found: impl ToString, allowed: impl ToString) -> Self {
        Self::Impossible { found: found.to_string(), allowed: allowed.to_string() }
    }
}

/// Whether the register can hold every step.
pub(super) fn steps(experiment: &Experiment, steps: Steps) -> Result<(), SightingError> {
    let max = experiment.bench.adapter().field_info(experiment.over).max();
    match steps.0.last() <= u64::from(max) {
        true => Ok(()),
        false => Err(SightingError::Step { found: steps.0.last(), max }),
    }
}

/// Whether what was seen can be in frames of that size and over these steps.
pub(super) fn possible(experiment: &Experiment, steps: Steps, seen: &Seen) -> Result<(), SightingError> {
    let (from, last) = (steps.0.from(), steps.0.last());
    match seen {
        Seen::Nothing { .. } => Ok(()),
        Seen::CleanAgainAt(at) => match steps.0.contains(u64::from(*at)) && u64::from(*at) > from {
            true => Ok(()),
            false => Err(SightingError::impossible(at, format!("one of the steps {from} to {last}, not the first"))),
        },
        Seen::RepeatsEvery(period) => {
            let fits = *period > 0
                && u64::from(*period) <= last - from
                && u64::from(*period).is_multiple_of(steps.0.step().max(1));
            let allowed = format!("1..={} in whole steps", last - from);
            if fits { Ok(()) } else { Err(SightingError::impossible(period, allowed)) }
        }
        Seen::Said(_, statements) => {
            let (width, height) = experiment.scene(from as u32).size();
            statements.iter().try_for_each(|statement| in_frame(statement, width, height))?;
            agree(statements)
        }
    }
}

fn in_frame(statement: &Statement, width: u32, height: u32) -> Result<(), SightingError> {
    let lines = format!("lines 0..={}", height.saturating_sub(1));
    let (possible, allowed) = match statement {
        Statement::Every { period, first } => {
            let first = first.unwrap_or(0);
            (*period <= height && first < *period, format!("every n-th line, n to {height}, from a line below n"))
        }
        Statement::Lines(list) => (list.iter().all(|line| *line < height), lines),
        Statement::Count(count) => (*count <= height, format!("0 to {height} lines")),
        Statement::Pixels(_, to) => (*to < width, format!("pixels 0 to {}", width.saturating_sub(1))),
        Statement::ShiftedBy(pixels) => (*pixels > 0, "shifted by 1 or more".to_string()),
        _ => (true, String::new()),
    };
    if possible { Ok(()) } else { Err(SightingError::impossible(statement, allowed)) }
}

/// Whether statements can be true of one frame together.
fn agree(statements: &[Statement]) -> Result<(), SightingError> {
    for (at, one) in statements.iter().enumerate() {
        if let Some(other) = statements[at + 1..].iter().find(|other| clash(one, other)) {
            return Err(SightingError::impossible(format!("{one} and {other}"), "one of them"));
        }
    }
    Ok(())
}

/// Whether two statements cannot both be true of one frame.
pub(super) fn clash(one: &Statement, other: &Statement) -> bool {
    use Statement::{
        Across, AllOfIt, Bottom, Broken, Clean, Count, EdgeDamaged, Every, Left, LeftEdge, Lines, NoPicture, Pixels,
        Right, RightEdge, Top,
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
        (Lines(lines), Count(count)) => lines.len() != *count as usize,
        (Pixels(from, to), Pixels(f, t)) => (from, to) != (f, t),
        _ => false,
    };
    ordered(one, other) || ordered(other, one)
}

impl Sightings {
    /// Reads the sightings of that name: built in, or the path of a file.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn open(name: &str) -> Result<Self, InputError> {
        if let Some(source) = super::built_in::source(name) {
            return Self::from_source(&source, None);
        }
        let path = std::path::Path::new(name);
        if path.extension().is_none() && !path.exists() {
            let known: Vec<&str> = super::BUILT_IN_SIGHTINGS.iter().map(|(name, _)| *name).collect();
            let allowed = format!("{}, or the path of a sightings file", known.join(", "));
            let error = InputError::new("sightings", name, allowed);
            return Err(match backporch_input::nearest(name, known.iter().copied()) {
                Some(guess) => error.with_help(format!("did you mean {guess}?")),
                None => error,
            });
        }
        Self::from_source(&Source::read(path)?, path.parent())
    }

    /// Reads sightings from their text; the bench they name is looked up beside it, in `folder`.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_source(source: &Source, folder: Option<&std::path::Path>) -> Result<Self, InputError> {
        let file: SightingsFile = parse(source)?;
        Reader { source, folder, file: &file }.read()
    }
}

struct Reader<'a> {
    source: &'a Source,
    folder: Option<&'a std::path::Path>,
    file: &'a SightingsFile,
}

impl Reader<'_> {
    fn read(&self) -> Result<Sightings, InputError> {
        let errors = self.file.observer_errors.unwrap_or(Observer::USUAL_ERRORS);
        let allowed = || format!("{} to {}", Observer::ALLOWED.start(), Observer::ALLOWED.end());
        let observer =
            Observer::new(errors).ok_or_else(|| self.source.fault(&["observer_errors"], errors, allowed()))?;
        let bench = self.bench(&Overrides { no_quirks: true, ..Overrides::default() }, &["bench"])?;
        let mut sightings = Sightings::new(Arc::clone(&bench), observer);
        sightings.title.clone_from(&self.file.title);
        for (at, written) in self.file.experiments.iter().enumerate() {
            let experiment = self.experiment(&bench, written, at)?;
            for (number, sighting) in written.seen.iter().enumerate() {
                self.sighting(&mut sightings, &experiment, sighting, (at, number))?;
            }
        }
        Ok(sightings)
    }

    /// The bench; a fault in its name is one of this file.
    fn bench(&self, overrides: &Overrides, path: &[&str]) -> Result<Arc<Bench>, InputError> {
        let name = &self.file.bench;
        let beside = match (self.folder, backporch_bench::built_in(name)) {
            (Some(folder), None) => Library::beside(folder).path(name).to_string_lossy().into_owned(),
            _ => name.clone(),
        };
        Bench::open(&beside, overrides).map(Arc::new).map_err(|error| match error.line() {
            Some(_) => error,
            None => self.source.fault(path, error.found(), error.allowed()),
        })
    }

    fn experiment(&self, bench: &Arc<Bench>, written: &ExperimentFile, at: usize) -> Result<Experiment, InputError> {
        let at = at.to_string();
        let path = |field: &'static str| ["experiments", at.as_str(), field];
        let bench = match (&written.board, &written.mode) {
            (None, None) => Arc::clone(bench),
            (board, mode) => {
                let field = if board.is_some() { "board" } else { "mode" };
                let overrides =
                    Overrides { no_quirks: true, board: board.clone(), mode: mode.clone(), ..Overrides::default() };
                self.bench(&overrides, &path(field))?
            }
        };
        let adapter = bench.adapter();
        let named = |path: &[&str], name: &str| {
            bench.field(name).map_err(|error| self.source.fault(path, error.found(), error.allowed()))
        };
        let over = match &written.over {
            Some(name) => named(&path("over"), name)?,
            None => adapter.start_address(),
        };
        let mut settings = Vec::new();
        for (name, value) in &written.registers {
            let path = ["experiments", at.as_str(), "registers", name.as_str()];
            let field = named(&path, name)?;
            let max = adapter.field_info(field).max();
            match u32::try_from(value.get()) {
                Ok(value) if value <= max => settings.push((field, value)),
                _ => return Err(self.source.fault(&path, value, format!("0..={max}"))),
            }
        }
        let another = written.board.is_some() && adapter.name() != self.suspected_adapter();
        let specimen = if another { Specimen::Another } else { written.specimen };
        let staging = Staging { specimen, moment: written.moment, look: written.look, laid: written.picture };
        Ok(Experiment { title: written.title.clone(), bench, settings, over, staging })
    }

    fn suspected_adapter(&self) -> String {
        let overrides = Overrides { no_quirks: true, ..Overrides::default() };
        self.bench(&overrides, &["bench"]).map_or_else(|_| String::new(), |bench| bench.adapter().name().to_string())
    }

    fn sighting(
        &self,
        sightings: &mut Sightings,
        experiment: &Experiment,
        written: &SightingFile,
        (at, number): (usize, usize),
    ) -> Result<(), InputError> {
        let (at, number) = (at.to_string(), number.to_string());
        let path = |field: &'static str| ["experiments", at.as_str(), "seen", number.as_str(), field];
        let seen = phrase::read(&written.saw).map_err(|unknown| self.source.fault(&path("saw"), unknown.0, PHRASES))?;
        let steps = Steps(written.at.unwrap_or_else(|| Range::single(u64::from(experiment.own_step()))));
        sightings.add(experiment, steps, seen).map_err(|error| {
            let field = if matches!(error, SightingError::Step { .. }) { "at" } else { "saw" };
            self.source.fault(&path(field), error.found(), error.allowed())
        })
    }
}
