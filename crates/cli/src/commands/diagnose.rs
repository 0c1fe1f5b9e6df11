//! `diagnose`: suspects, what they explain, which cannot be told apart, and the probes worth making.

use std::path::{Path, PathBuf};

use anyhow::Result;
use backporch_analysis::PredictionCache;
use backporch_answer::{DiagnoseAnswer, GuessAnswer};
use backporch_diagnosis::{Conclusion, Prior, QuirkFamilies, candidate_count, diagnose, learn, members, probes};
use backporch_evidence::{Observer, Sightings};
use backporch_input::{InputError, Source, WholeFolder};
use backporch_quirk::Family;
use clap::Args;

use crate::output::{Found, Output};
use crate::progress;

/// Guesses made, at most.
const GUESSES: usize = 3;

#[derive(Debug, Args)]
pub struct DiagnoseArgs {
    /// A sightings file, or the name of built-in sightings
    #[arg(default_value = "harbour-sweep")]
    pub sightings: String,
    /// A family of your own beside the library's (again for more)
    #[arg(long = "quirk", value_name = "FILE")]
    pub quirks: Vec<PathBuf>,
    /// Share of sightings that are wrong, in place of the file's
    #[arg(long, value_name = "SHARE")]
    pub observer_errors: Option<f64>,
    /// Suspects printed
    #[arg(long, value_name = "NUMBER", default_value_t = 6)]
    pub most: usize,
    /// Where no known fault explains what was seen: the folder to write guesses to, as files to try
    #[arg(long, value_name = "FOLDER")]
    pub guesses: Option<PathBuf>,
    /// Probes named
    #[arg(long, value_name = "NUMBER", default_value_t = 3)]
    pub probes: usize,
}

pub fn run(args: &DiagnoseArgs, output: &mut Output) -> Result<Found> {
    let answer = args.diagnosis(output)?;
    if let Some(folder) = args.guesses.as_deref().filter(|_| !answer.guesses.is_empty()) {
        write_guesses(folder, &answer.guesses)?;
    }
    output.answer(&answer, |answer| answer.text(args.most))?;
    Ok(if answer.conclusion.is_wrong() { Found::Something } else { Found::Nothing })
}

/// Writes each guess as a file of quirks, all or none.
fn write_guesses(path: &Path, guesses: &[GuessAnswer]) -> Result<()> {
    let mut folder = WholeFolder::create(path)?;
    for guess in guesses {
        folder.write(&format!("{}.ron", guess.quirk), guess.text.as_bytes())?;
    }
    Ok(folder.finish()?)
}

impl DiagnoseArgs {
    /// As usual, of these sightings.
    pub fn of(sightings: &str) -> Self {
        Self {
            sightings: sightings.to_string(),
            quirks: Vec::new(),
            guesses: None,
            observer_errors: None,
            most: 6,
            probes: 3,
        }
    }

    /// Reads the sightings and diagnoses them, with progress.
    pub fn diagnosis(&self, output: &Output) -> Result<DiagnoseAnswer> {
        let mut sightings = Sightings::open(&self.sightings)?;
        if let Some(errors) = self.observer_errors {
            let allowed = format!("{} to {}", Observer::ALLOWED.start(), Observer::ALLOWED.end());
            let observer =
                Observer::new(errors).ok_or_else(|| InputError::new("--observer-errors", errors, allowed))?;
            sightings = sightings.seen_by(observer);
        }
        let families = self.quirks.iter().map(|path| Family::from_source(&Source::read(path)?));
        let families = families.collect::<Result<Vec<_>, InputError>>()?;
        let faults = QuirkFamilies::library_and(families, sightings.bench().layers());
        let cache = PredictionCache::default();
        let bar = progress::bar(output, "judging", members(&faults));
        let diagnosis = diagnose(&sightings, &faults, &Prior::default(), &cache, &|judged| bar.inc(judged));
        bar.finish_and_clear();
        let bar = progress::bar(output, "choosing probes", candidate_count(&sightings));
        let probes = probes(&sightings, &faults, &diagnosis, self.probes, &cache, &|| bar.inc(1));
        bar.finish_and_clear();
        let answer = DiagnoseAnswer::new(&self.sightings, &sightings, &faults, &diagnosis, &probes);
        let unknown = diagnosis.conclusion == Conclusion::NoneOfThese;
        let guesses = if unknown { learn(&sightings, sightings.bench().layers(), GUESSES) } else { Vec::new() };
        Ok(answer.with_guesses(&guesses))
    }
}
