//! The faults to get around: the bench's own, or a diagnosis with its probabilities.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::Result;
use backporch_bench::{Bench, Library};
use backporch_input::{InputError, Source};
use backporch_quirk::QuirkStack;
use backporch_workaround::SuspectedFault;
use serde::Deserialize;

/// Suspects taken into a search: those that together have this much of the probability.
const ENOUGH: f64 = 0.999;
/// At most so many of them.
const MOST: usize = 32;

/// Faults and what they are called.
#[derive(Debug)]
pub struct Faults {
    /// Every fault with its probability.
    pub suspects: Vec<SuspectedFault<QuirkStack>>,
    /// What they are called, for people.
    pub names: Vec<String>,
}

/// The part of a diagnosis that a search needs; the rest is left unread.
#[derive(Debug, Deserialize)]
struct DiagnosisFile {
    /// The likeliest member of each family, with the probability of the whole family.
    suspects: Vec<DiagnosisSuspect>,
    /// The likeliest members of all families, each with its own probability.
    #[serde(default)]
    members: Vec<DiagnosisSuspect>,
    #[serde(default)]
    probes: Vec<DiagnosisProbe>,
}

#[derive(Debug, Deserialize)]
struct DiagnosisProbe {
    registers: BTreeMap<String, u32>,
}

#[derive(Debug, Deserialize)]
struct DiagnosisSuspect {
    quirk: String,
    #[serde(default)]
    parameters: BTreeMap<String, i64>,
    probability: f64,
}

/// The bench's quirks as one certain fault, or the suspects of a diagnosis.
pub fn faults(bench: &Bench, diagnosis: Option<&Source>) -> Result<Faults> {
    match diagnosis {
        Some(source) => diagnosed(bench, source),
        None => Ok(own(bench)),
    }
}

fn own(bench: &Bench) -> Faults {
    let names: Vec<String> = bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect();
    let name = names.join(" + ");
    let suspects = match names.is_empty() {
        true => Vec::new(),
        false => vec![SuspectedFault { name: name.clone(), tap: bench.stack(), probability: 1.0 }],
    };
    Faults { names: vec![if name.is_empty() { "healthy".to_string() } else { name }], suspects }
}

/// The registers of a diagnosis's probe, counted from 1.
pub fn probe(diagnosis: &Source, number: usize) -> Result<BTreeMap<String, u32>> {
    let mut probes = read(diagnosis)?.probes;
    match number.checked_sub(1).filter(|at| *at < probes.len()) {
        Some(at) => Ok(probes.swap_remove(at).registers),
        None => Err(InputError::new("--probe", number, format!("1..={} of the diagnosis", probes.len())).into()),
    }
}

/// A diagnosis's text, where there is one.
pub fn source(path: Option<&Path>) -> Result<Option<Source>> {
    Ok(path.map(Source::read).transpose()?)
}

fn read(source: &Source) -> Result<DiagnosisFile> {
    let unread = |found: String| InputError::new(source.name(), found, "the JSON answer of diagnose");
    Ok(serde_json::from_str(source.text()).map_err(|error| unread(error.to_string()))?)
}

fn diagnosed(bench: &Bench, source: &Source) -> Result<Faults> {
    let told = read(source)?;
    let mut listed = if told.members.is_empty() { told.suspects } else { told.members };
    let wrong = |one: &&DiagnosisSuspect| !(0.0..=1.0).contains(&one.probability);
    if let Some(one) = listed.iter().find(wrong) {
        return Err(InputError::new(source.name(), one.probability, "0 to 1").in_field("probability").into());
    }
    listed.sort_by(|one, other| other.probability.total_cmp(&one.probability));
    let mut faults = Faults { suspects: Vec::new(), names: Vec::new() };
    let mut sum = 0.0;
    for one in listed.into_iter().take(MOST) {
        if sum >= ENOUGH {
            break;
        }
        sum += one.probability;
        let quirk = Library::default().family(&one.quirk)?.close(&one.parameters)?;
        let stack = QuirkStack::new(vec![quirk], bench.seed());
        let parameters: Vec<String> = one.parameters.iter().map(|(name, value)| format!("{name} {value}")).collect();
        let name = format!("{} {}", one.quirk, parameters.join(", "));
        faults.names.push(format!("{} (probability {:.3})", name.trim_end(), one.probability));
        faults.suspects.push(SuspectedFault { name, tap: stack, probability: one.probability });
    }
    Ok(faults)
}
