//! Sightings read: a file or built-in text to experiments and what was seen in them.

use std::path::Path;
use std::sync::Arc;

use backporch_adapter::ADAPTERS;
use backporch_analysis::{Conditions, Specimen};
use backporch_bench::{BENCHES, Bench, Overrides};
use backporch_input::{Catalogue, InputError, Range, Source, file_beside, parse};

use crate::check::SightingError;
use crate::experiment::{Experiment, Observer, StepRange};
use crate::file::{ExperimentFile, SightingFile, SightingsFile};
use crate::nearest;
use crate::phrase;
use crate::settings;
use crate::sightings::Sightings;

/// Built-in sightings, as RON texts.
pub const SIGHTINGS: Catalogue = Catalogue::new(
    "sightings",
    &[
        ("harbour-as-built", include_str!("../../../assets/sightings/harbour-as-built.sightings.ron")),
        ("harbour-glance", include_str!("../../../assets/sightings/harbour-glance.sightings.ron")),
        ("harbour-sweep", include_str!("../../../assets/sightings/harbour-sweep.sightings.ron")),
        ("harbour-widths", include_str!("../../../assets/sightings/harbour-widths.sightings.ron")),
    ],
);

impl Sightings {
    /// Reads the sightings of that name: built in, or the path of a file.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn open(name: &str) -> Result<Self, InputError> {
        let folder = if SIGHTINGS.contains(name) { None } else { Path::new(name).parent() };
        Self::from_source(&SIGHTINGS.open(name, Path::new(""))?, folder)
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
        let beside = match self.folder {
            Some(folder) if !BENCHES.contains(name) => file_beside(folder, name).to_string_lossy().into_owned(),
            _ => name.clone(),
        };
        Bench::open(&beside, overrides).map(Arc::new).map_err(|error| self.source.at_field(path, error))
    }

    /// A board by its name, or by the path of its profile from this file.
    fn beside(&self, board: &str) -> String {
        match self.folder {
            Some(folder) if !ADAPTERS.contains(board) => file_beside(folder, board).to_string_lossy().into_owned(),
            _ => board.to_string(),
        }
    }

    fn experiment(&self, bench: &Arc<Bench>, written: &ExperimentFile, at: usize) -> Result<Experiment, InputError> {
        let at = at.to_string();
        let path = |field: &'static str| ["experiments", at.as_str(), field];
        let bench = match (&written.board, &written.mode) {
            (None, None) => Arc::clone(bench),
            (board, mode) => {
                let field = if board.is_some() { "board" } else { "mode" };
                let board = board.as_ref().map(|board| self.beside(board));
                let overrides = Overrides { no_quirks: true, board, mode: mode.clone(), ..Overrides::default() };
                self.bench(&overrides, &path(field))?
            }
        };
        let bench = if written.card { Arc::new(bench.with_test_card()) } else { bench };
        let adapter = bench.adapter();
        let (settings, over) =
            settings::of_file(self.source, &at, &bench, &written.registers, written.over.as_deref())?;
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
        let seen = phrase::read(&written.saw).map_err(|unknown| {
            let allowed = nearest::allowed(&unknown.0);
            self.source.fault(&path("saw"), unknown.0, allowed)
        })?;
        let steps = StepRange(written.at.unwrap_or_else(|| Range::single(u64::from(experiment.own_step()))));
        sightings.add(experiment, steps, seen).map_err(|error| {
            let field = if matches!(error, SightingError::Step { .. }) { "at" } else { "saw" };
            self.source.fault(&path(field), error.found(), error.allowed())
        })
    }
}
