//! Sightings read: a file or built-in text to experiments and what was seen in them.

use std::path::Path;
use std::sync::Arc;

use backporch_analysis::{Conditions, Specimen};
use backporch_bench::{Bench, Library, Overrides};
use backporch_input::{InputError, Range, Source, parse};

use crate::check::SightingError;
use crate::experiment::{Experiment, Observer, Steps};
use crate::file::{ExperimentFile, SightingFile, SightingsFile};
use crate::phrase::{self, PHRASES};
use crate::sightings::Sightings;

/// Built-in sightings: name and RON text.
pub const BUILT_IN_SIGHTINGS: &[(&str, &str)] = &[
    ("harbour-glance", include_str!("../../../assets/sightings/harbour-glance.sightings.ron")),
    ("harbour-sweep", include_str!("../../../assets/sightings/harbour-sweep.sightings.ron")),
    ("harbour-widths", include_str!("../../../assets/sightings/harbour-widths.sightings.ron")),
];

/// The text of built-in sightings.
fn built_in(name: &str) -> Option<Source> {
    let (name, text) = BUILT_IN_SIGHTINGS.iter().find(|(known, _)| *known == name)?;
    Some(Source::built_in(*name, *text))
}

impl Sightings {
    /// Reads the sightings of that name: built in, or the path of a file.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn open(name: &str) -> Result<Self, InputError> {
        if let Some(source) = built_in(name) {
            return Self::from_source(&source, None);
        }
        let path = Path::new(name);
        if path.extension().is_none() && !path.exists() {
            let known: Vec<&str> = BUILT_IN_SIGHTINGS.iter().map(|(name, _)| *name).collect();
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
    pub fn from_source(source: &Source, folder: Option<&Path>) -> Result<Self, InputError> {
        let file: SightingsFile = parse(source)?;
        Reader { source, folder, file: &file }.read()
    }
}

struct Reader<'a> {
    source: &'a Source,
    folder: Option<&'a Path>,
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
        let conditions = Conditions { specimen, moment: written.moment, look: written.look, layout: written.picture };
        Ok(Experiment { title: written.title.clone(), bench, settings, over, conditions })
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
