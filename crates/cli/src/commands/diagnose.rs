//! `diagnose`: suspects, what they explain, which cannot be told apart, and the probes worth making.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::Result;
use backporch_analysis::PredictionCache;
use backporch_answer::{DiagnoseAnswer, GuessAnswer};
use backporch_bench::{Bench, Overrides, case_of_bench};
use backporch_diagnosis::{Conclusion, Prior, QuirkFamilies, candidate_count, diagnose, learn, members, probes};
use backporch_evidence::survey::Survey;
use backporch_evidence::{Answers, BlankAnswers, Observer, SIGHTINGS, SightingError, Sightings};
use backporch_input::{Holds, InputError, Source, WholeFolder};
use backporch_quirk::Family;
use clap::Args;

use super::calibrate::survey_of;
use crate::args::BenchArgs;
use crate::output::{CheckResult, Output};
use crate::progress;

/// Sightings where none are named.
const USUAL: &str = "harbour-sweep";
/// Guesses made, at most.
const GUESSES: usize = 3;

#[derive(Debug, Args)]
pub struct DiagnoseArgs {
    /// A sightings file, or the name of built-in sightings; with answers or a survey the bench they are of, or sightings to
    /// add them to; or a case, with the sightings, answers and survey in it
    #[arg(value_name = "SIGHTINGS|BENCH")]
    pub sightings: Option<String>,
    /// The answers of a test session (again for more)
    #[arg(long = "answers", value_name = "FILE")]
    pub answers: Vec<PathBuf>,
    /// What a survey of the machine with the board in it wrote
    #[arg(long, value_name = "FILE")]
    pub survey: Option<PathBuf>,
    /// The code that the session has shown in place of a file; the answers are then its sheet
    #[arg(long, value_name = "CODE", requires = "answers")]
    pub code: Option<String>,
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

pub fn run(args: &DiagnoseArgs, output: &mut Output) -> Result<CheckResult> {
    let answer = args.diagnosis(output)?;
    if let Some(folder) = args.guesses.as_deref().filter(|_| !answer.guesses.is_empty()) {
        write_guesses(folder, &answer.guesses)?;
    }
    output.answer(&answer, |answer| answer.text(args.most))?;
    Ok(if answer.conclusion.is_wrong() { CheckResult::Something } else { CheckResult::Nothing })
}

/// What a diagnosis is of.
struct Named {
    /// Sightings, or a bench.
    opened: Option<String>,
    /// Files of answers.
    answers: Vec<PathBuf>,
    /// The file of a survey.
    survey: Option<PathBuf>,
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
            sightings: Some(sightings.to_string()),
            answers: Vec::new(),
            survey: None,
            code: None,
            quirks: Vec::new(),
            guesses: None,
            observer_errors: None,
            most: 6,
            probes: 3,
        }
    }

    /// What is named: of a case, with what was handed along in it.
    fn named(&self) -> Result<Named, InputError> {
        let (named, own) = (self.sightings.clone(), self.survey.clone());
        let Some(case) = named.as_deref().map(case_of_bench).transpose()?.flatten() else {
            return Ok(Named { opened: named, answers: self.answers.clone(), survey: own });
        };
        let paths = |holds| case.holding(holds).map(|file| case.path_of(&file.name)).collect::<Vec<_>>();
        let (sightings, mut answers) = (paths(Holds::Sightings), paths(Holds::Answers));
        answers.extend(self.answers.iter().cloned());
        let survey = if own.is_some() { own } else { survey_of(&case)? };
        let refuse =
            |found: String, allowed: &str| Err(InputError::new(case.path().display().to_string(), found, allowed));
        match sightings.as_slice() {
            [one] => Ok(Named { opened: Some(one.display().to_string()), answers, survey }),
            [] if answers.is_empty() && survey.is_none() => {
                refuse("neither sightings nor answers".to_string(), "a case packed with some, or --answers")
            }
            [] => Ok(Named { opened: named, answers, survey }),
            _ => {
                let names: Vec<String> = sightings.iter().map(|path| path.display().to_string()).collect();
                refuse(format!("{} files of sightings", names.len()), &format!("one of them: {}", names.join(", ")))
            }
        }
    }

    /// The sightings with the answers of sessions and a survey added, what they were opened as, and the words typed at the machine.
    fn seen(&self) -> Result<(String, Sightings, Vec<String>)> {
        let Named { opened, answers, survey } = self.named()?;
        if answers.is_empty() && survey.is_none() {
            let name = opened.as_deref().unwrap_or(USUAL);
            return Ok((name.to_string(), Sightings::open(name)?, Vec::new()));
        }
        if self.code.is_some() && answers.len() > 1 {
            let found = format!("{} files", answers.len());
            return Err(InputError::new("--answers", found, "with a code the one sheet that it fills in").into());
        }
        let name = opened.as_deref().unwrap_or(BenchArgs::USUAL);
        let is_sightings = SIGHTINGS.contains(name) || name.ends_with(".sightings.ron");
        let of_bench = |mode: Option<&str>, bench: &str| {
            let overrides = Overrides { no_quirks: true, mode: mode.map(str::to_string), ..Overrides::default() };
            Bench::open(bench, &overrides).map(Arc::new)
        };
        let mut sightings = if is_sightings {
            Sightings::open(name)?
        } else {
            Sightings::new(of_bench(None, name)?, Observer::default())
        };
        let bench = Arc::clone(sightings.bench());
        let in_mode = |mode: &str| of_bench(Some(mode), bench.name());
        let mut notes = Vec::new();
        for path in &answers {
            let answers = Answers::from_source(&Source::read(path)?, &bench, &in_mode)?;
            let answers = match &self.code {
                Some(code) => BlankAnswers::new(answers).filled_in(code)?,
                None => answers,
            };
            answers.add_to(&mut sightings)?;
            notes.extend(answers.notes().map(|note| format!("{}, {note}", path.display())));
        }
        if let Some(path) = &survey {
            let survey = Survey::from_source(&Source::read(path)?)?;
            let refused =
                |error: SightingError| InputError::new(path.display().to_string(), error.found(), error.allowed());
            sightings = sightings.with_survey(survey).map_err(refused)?;
        }
        Ok((name.to_string(), sightings, notes))
    }

    /// Reads the sightings and diagnoses them, with progress.
    pub fn diagnosis(&self, output: &Output) -> Result<DiagnoseAnswer> {
        let (name, mut sightings, notes) = self.seen()?;
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
        let answer = DiagnoseAnswer::new(&name, &sightings, &faults, &diagnosis, &probes).with_notes(notes);
        let unknown = diagnosis.conclusion == Conclusion::NoneOfThese;
        let guesses = if unknown { learn(&sightings, sightings.bench().layers(), GUESSES) } else { Vec::new() };
        Ok(answer.with_guesses(&guesses))
    }
}
