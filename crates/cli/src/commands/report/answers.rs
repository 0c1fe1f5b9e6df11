//! Answers of other commands that go on the page: the JSON of `diagnose` and of `hazards`, and the bench's own hazards.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::Result;
use backporch_bench::Bench;
use backporch_drive::Driver;
use backporch_hazards::beam_chart;
use backporch_input::{InputError, Source};
use backporch_quirk::Family;
use backporch_report::page::{BeamChart, Diagnosis, Embedded, Hazard, Hazards, Probe, Row, Seen, Suspect};
use serde::Deserialize;
use serde::de::DeserializeOwned;

use crate::commands::hazards::named::HazardAnswer;
use crate::commands::hazards::{look, record_of};

/// What of a diagnosis goes on the page; the rest is left unread.
#[derive(Debug, Deserialize)]
struct DiagnosisAnswer {
    #[serde(default)]
    says: String,
    #[serde(default)]
    seen: Vec<SeenAnswer>,
    suspects: Vec<SuspectAnswer>,
    #[serde(default)]
    indistinguishable: Vec<Vec<String>>,
    #[serde(default)]
    probes: Vec<ProbeAnswer>,
}

#[derive(Debug, Deserialize)]
struct SeenAnswer {
    at: String,
    saw: String,
}

#[derive(Debug, Deserialize)]
struct SuspectAnswer {
    quirk: String,
    #[serde(default)]
    parameters: BTreeMap<String, i64>,
    probability: f64,
    explains: u32,
    contradicts: u32,
}

#[derive(Debug, Deserialize)]
struct ProbeAnswer {
    registers: BTreeMap<String, u32>,
    expected_information_bits: f64,
    #[serde(default)]
    outcomes: Vec<OutcomeAnswer>,
}

#[derive(Debug, Deserialize)]
struct OutcomeAnswer {
    sees: String,
    #[serde(default)]
    suspects: Vec<String>,
}

#[derive(Debug, Deserialize)]
struct HazardsAnswer {
    hazards: Vec<HazardTold>,
    frames: u32,
}

#[derive(Debug, Deserialize)]
struct HazardTold {
    kind: String,
    frame: u32,
    line: u32,
    dot: u32,
    what: String,
    cure: String,
}

/// Suspects and probes from the JSON answer of `diagnose`.
pub fn diagnosis(source: &Source) -> Result<Diagnosis> {
    let told: DiagnosisAnswer = read(source, "the JSON answer of diagnose")?;
    Ok(Diagnosis {
        says: told.says,
        seen: told.seen.into_iter().map(|one| Seen { setting: one.at, seen: one.saw }).collect(),
        suspects: told.suspects.into_iter().map(suspect).collect(),
        indistinguishable: told.indistinguishable.iter().map(|group| group.join(", ")).collect(),
        probes: told.probes.into_iter().map(probe).collect(),
    })
}

fn suspect(told: SuspectAnswer) -> Suspect {
    let row = |(name, value): (String, i64)| Row::new(name, value.to_string());
    Suspect {
        about: Family::built_in(&told.quirk)
            .map_or_else(String::new, |family| format!("{}. {}", family.title(), family.looks())),
        name: told.quirk,
        parameters: told.parameters.into_iter().map(row).collect(),
        probability: told.probability,
        explains: told.explains,
        contradicts: told.contradicts,
    }
}

fn probe(told: ProbeAnswer) -> Probe {
    let outcome = |outcome: OutcomeAnswer| {
        let left = if outcome.suspects.is_empty() { "none of these".to_string() } else { outcome.suspects.join(", ") };
        Row::new(outcome.sees, left)
    };
    Probe {
        setting: told.registers.into_iter().map(|(name, value)| Row::new(name, value.to_string())).collect(),
        bits: told.expected_information_bits,
        outcomes: told.outcomes.into_iter().map(outcome).collect(),
    }
}

/// Hazards from the JSON answer of `hazards`, marked on the frame of the bench's signal.
pub fn hazards(path: &Path, bench: &Bench) -> Result<Hazards> {
    let told: HazardsAnswer = read(&Source::read(path)?, "the JSON answer of hazards")?;
    let places = told.hazards.iter().map(|hazard| (hazard.dot, hazard.line)).collect();
    let hazard = |told: HazardTold| {
        let HazardTold { kind, frame, line, dot, what, cure } = told;
        Hazard { kind, frame, line, dot, what, cure, again: 0 }
    };
    Ok(Hazards {
        frames: told.frames,
        chart: bench.adapter().signal(bench.registers()).ok().map(|signal| BeamChart::new(&signal, places)),
        drawn: None,
        hazards: told.hazards.into_iter().map(hazard).collect(),
    })
}

/// Frames of the bench's own routine that are looked at.
const FRAMES: u64 = 60;

/// Hazards of the bench's own routine, one of each kind, with the frame of the first as the beam draws it.
pub fn own_hazards(bench: &Bench) -> Result<Option<Hazards>> {
    let Some(driver) = Driver::of(&bench)? else { return Ok(None) };
    let looked = look(bench, &driver, FRAMES, false)?;
    let mut listed: Vec<Hazard> = Vec::new();
    for HazardAnswer { kind, frame, line, dot, what, cure, by } in looked.hazards {
        match listed.iter_mut().find(|known| known.kind == kind) {
            Some(known) => known.again += 1,
            None => {
                let what = by.map_or(what.clone(), |by| format!("{what}; by {by}"));
                listed.push(Hazard { kind: kind.to_string(), frame: frame as u32, line, dot, what, cure, again: 0 });
            }
        }
    }
    let drawn = match listed.first() {
        Some(first) => record_of(bench, &driver, u64::from(first.frame).min(FRAMES - 1))?,
        None => None,
    };
    let places = listed.iter().map(|hazard| (hazard.dot, hazard.line)).collect();
    Ok(Some(Hazards {
        frames: FRAMES as u32,
        chart: bench.adapter().signal(bench.registers()).ok().map(|signal| BeamChart::new(&signal, places)),
        drawn: drawn.map(|record| (record.frame.number, beam_chart(&record, bench.adapter()))),
        hazards: listed,
    }))
}

fn read<T: DeserializeOwned>(source: &Source, allowed: &str) -> Result<T> {
    let read = serde_json::from_str(source.text());
    Ok(read.map_err(|error| InputError::new(source.name(), error, allowed))?)
}

/// Takes an answer's file onto the page, so that the page can be made again, under a name that `taken` does not have.
pub fn embedded(source: &Source, taken: &[Embedded]) -> Embedded {
    let base = Path::new(source.name())
        .file_name()
        .map_or_else(|| "answer.json".into(), |base| base.to_string_lossy().into_owned());
    let numbered = (2..).map(|number| format!("{number}-{base}"));
    let free = |name: &String| taken.iter().all(|file| file.name != *name);
    let name = std::iter::once(base.clone()).chain(numbered).find(free);
    Embedded { name: name.unwrap_or(base), bytes: source.text().as_bytes().to_vec() }
}
