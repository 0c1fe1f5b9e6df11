//! Diagnosis: which faults explain the sightings noted.
//!
//! The sightings are taken as the file would have them, so that what is said
//! here is what `diagnose` says of the file; the suspects can be fitted to the
//! board and the probes set up on it at a press.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use backporch_analysis::{ExperimentSetup, PredictionCache};
use backporch_diagnosis::{
    Cause, FaultFamilies, Prior, Probe, QuirkFamilies, Suspect, candidate_count, diagnose, members, probes,
};
use backporch_evidence::{Impression, Sightings};
use backporch_input::{InputError, Source};
use backporch_quirk::Family;

use super::Session;
use super::background::{BackgroundTask, TaskProgress};
use super::paths::absolute_name;

/// Suspects listed at most.
const MOST_SUSPECTS: usize = 6;
/// Probability below which a suspect is not listed.
const LEAST: f64 = 1e-3;
/// Probes proposed.
const PROBES: usize = 3;

/// A quirk, or another cause, that could explain the sightings.
#[derive(Clone, Debug, PartialEq)]
pub struct SuspectRow {
    /// Name of the quirk, or of the other cause.
    pub name: String,
    /// What is wrong, in a few words.
    pub title: String,
    /// The likeliest parameters.
    pub parameters: BTreeMap<String, i64>,
    /// 0 to 1.
    pub probability: f64,
    /// Sightings it explains.
    pub explains: usize,
    /// Sightings it contradicts.
    pub contradicts: usize,
    /// Whether it is a quirk that can be fitted to the board.
    pub fits: bool,
}

/// The next experiment worth making on the real board.
#[derive(Clone, Debug, PartialEq)]
pub struct ProbeRow {
    /// Registers to write, by name, and their stored values.
    pub registers: Vec<(String, u64)>,
    /// What has to be done at the machine.
    pub words: String,
    /// What it teaches on average, in bits.
    pub bits: f64,
    /// What may be seen, the likeliest first, each with its probability and the suspects it speaks for.
    pub outcomes: Vec<(f64, String, Vec<String>)>,
}

/// What follows from the sightings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LiveDiagnosis {
    /// In a sentence.
    pub summary: String,
    /// The likeliest first.
    pub suspects: Vec<SuspectRow>,
    /// The most telling first.
    pub probes: Vec<ProbeRow>,
    /// What the leading suspect shows where something was noted, by the position of the note.
    pub predicted: Vec<Option<String>>,
}

impl LiveDiagnosis {
    fn refused(error: &InputError) -> Self {
        Self { summary: error.to_string(), ..Self::default() }
    }

    /// `order` has the positions of the notes in the order of the sightings.
    fn of(
        sightings: &Sightings,
        order: &[usize],
        own: Vec<Family>,
        cache: &PredictionCache,
        progress: &TaskProgress,
    ) -> Self {
        let faults = &QuirkFamilies::library_and(own, sightings.bench().layers());
        let all = members(faults) + candidate_count(sightings);
        progress.set(0, all);
        let diagnosis = diagnose(sightings, faults, &Prior::default(), cache, &|judged| progress.add(judged));
        let probes = probes(sightings, faults, &diagnosis, PROBES, cache, &|| progress.add(1));
        let listed = diagnosis.suspects.iter().filter(|suspect| suspect.probability >= LEAST);
        Self {
            summary: diagnosis.sentence(),
            suspects: listed.take(MOST_SUSPECTS).map(SuspectRow::new).collect(),
            probes: probes.iter().map(ProbeRow::new).collect(),
            predicted: match diagnosis.suspects.first() {
                Some(leading) => predicted(sightings, order, faults, leading.best.cause),
                None => Vec::new(),
            },
        }
    }
}

/// What a cause shows under the setting of every note, in words, by the note's position.
fn predicted(sightings: &Sightings, order: &[usize], faults: &QuirkFamilies, cause: Cause) -> Vec<Option<String>> {
    let tap = match cause {
        Cause::Fault { family, member } => faults.member(family, member).map(|member| member.tap),
        Cause::ByDesign | Cause::Routine | Cause::NoneOfThese => None,
    };
    let shown = |setup: &ExperimentSetup| match (&tap, cause) {
        (_, Cause::NoneOfThese) => None,
        (Some(tap), _) => Some(Impression::of(&setup.signature(tap))),
        (None, _) => Some(Impression::of(setup.by_design())),
    };
    let mut words = vec![None; order.len()];
    for (sighting, at) in sightings.sightings().iter().zip(order) {
        let all = sighting.setups.iter().map(|setup| shown(&sightings.setups()[*setup]));
        let kinds: BTreeSet<Impression> = all.flatten().collect();
        words[*at] = match kinds.iter().collect::<Vec<_>>().as_slice() {
            [] => None,
            [one] => Some(one.words()),
            [first, rest @ ..] => Some(format!("{}, and {} other looks", first.words(), rest.len())),
        };
    }
    words
}

impl SuspectRow {
    fn new(suspect: &Suspect) -> Self {
        Self {
            name: suspect.name.clone(),
            title: suspect.title.clone(),
            parameters: suspect.parameters.clone(),
            probability: suspect.probability,
            explains: suspect.best.explains,
            contradicts: suspect.best.contradicts,
            fits: matches!(suspect.best.cause, Cause::Fault { .. }),
        }
    }
}

impl ProbeRow {
    fn new(probe: &Probe) -> Self {
        let registers = probe.candidate.registers().into_iter().map(|(name, value)| (name, u64::from(value)));
        let outcomes = probe.predictions.iter();
        let outcomes = outcomes.map(|one| (one.probability, Impression::words(one.sees), one.suspects.clone()));
        Self {
            registers: registers.collect(),
            words: probe.instruction(),
            bits: probe.bits,
            outcomes: outcomes.collect(),
        }
    }
}

impl Session {
    /// The sightings file as it would be saved now.
    pub(crate) fn sightings_text(&self) -> String {
        let bench = absolute_name(&self.setup.name, Path::new(""), backporch_bench::BENCHES.contains(&self.setup.name));
        self.findings.notes.file(self.setup.bench.title(), &bench).to_text()
    }

    /// Judges the sightings noted, beside the session.
    pub(crate) fn diagnose(&mut self) {
        if self.findings.notes.noted().is_empty() {
            self.report("nothing is noted: note what the real board shows, then diagnose");
            return;
        }
        let text = Source::built_in("the sightings noted", self.sightings_text());
        let folder = self.setup.folder();
        let own = self.quirks.list().iter().map(|fitted| fitted.quirk.family()).filter(|family| !is_built_in(family));
        let own: Vec<Family> = own.cloned().collect();
        let cache = Arc::clone(&self.findings.predictions);
        let order = self.findings.notes.file_order();
        self.findings.diagnosed = self.findings.notes.revision();
        self.findings.diagnosis =
            BackgroundTask::start(move |progress| match Sightings::from_source(&text, Some(&folder)) {
                Ok(sightings) => LiveDiagnosis::of(&sightings, &order, own, &cache, progress),
                Err(error) => LiveDiagnosis::refused(&error),
            });
        self.report("judging the sightings");
    }

    /// Takes in what a diagnosis has found.
    pub(crate) fn poll_diagnosis(&mut self) {
        if self.findings.diagnosis.poll()
            && let Some(findings) = self.findings.diagnosis.result()
        {
            self.report(format!("diagnosis: {}", findings.summary));
        }
    }

    /// Puts a suspect, counted from 0, on the board in place of the quirks switched on.
    pub fn fit_suspect(&mut self, at: usize) {
        let Some(row) = self.findings.diagnosis().and_then(|findings| findings.suspects.get(at)).cloned() else {
            return;
        };
        if !row.fits || !self.quirks.switch_to(&row.name, &row.parameters) {
            self.report(format!("{} is no quirk that could be fitted", row.name));
            return;
        }
        self.apply_quirks();
        self.report(format!("on the board now: {}", row.name));
    }

    /// Puts the next suspect that can be fitted on the board.
    pub(crate) fn fit_next_suspect(&mut self) {
        let Some(findings) = self.findings.diagnosis() else {
            self.report("no suspects yet: note sightings and diagnose");
            return;
        };
        let fits: Vec<usize> = (0..findings.suspects.len()).filter(|at| findings.suspects[*at].fits).collect();
        let shown = |at: &usize| {
            let row = &findings.suspects[*at];
            self.quirks.on().any(|fitted| fitted.name() == row.name)
        };
        let next = fits.iter().position(shown).map_or(0, |place| (place + 1) % fits.len());
        match fits.get(next).copied() {
            Some(at) => self.fit_suspect(at),
            None => self.report("no suspect is a quirk"),
        }
    }

    /// Sets the board up for a probe, counted from 0, to see what would be seen.
    pub fn try_probe(&mut self, at: usize) {
        let Some(probe) = self.findings.diagnosis().and_then(|findings| findings.probes.get(at)).cloned() else {
            return;
        };
        match self.try_registers(&probe.registers) {
            Ok(()) => self.report(probe.words),
            Err(error) => self.report(error.to_string()),
        }
    }
}

fn is_built_in(family: &Family) -> bool {
    Family::built_in(family.name()).is_some()
}
