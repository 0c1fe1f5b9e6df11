//! The faults to get around: the bench's own, or a diagnosis with its probabilities.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::Result;
use backporch_answer::{DiagnoseAnswer, Document, MemberAnswer};
use backporch_bench::Bench;
use backporch_input::{InputError, Source, refuse_doubled_keys};
use backporch_quirk::{Family, QuirkStack};
use backporch_workaround::SuspectedFault;
use serde::de::DeserializeOwned;

/// Suspects taken into a search: those that together have this much of the probability.
const ENOUGH: f64 = 0.99;
/// A suspect less probable than this is left out: what holds does not change by it, and each is judged at as much cost.
const LEAST: f64 = 0.005;
/// The cause that the board is as its class is built.
pub const BY_DESIGN: &str = "by-design";
/// Suspects taken, at most.
const MOST: usize = 32;

/// Faults and what they are called.
#[derive(Debug)]
pub struct Faults {
    /// Every fault with its probability.
    pub suspects: Vec<SuspectedFault<QuirkStack>>,
    /// What they are called, for people.
    pub names: Vec<String>,
}

/// A document of another command, read from a file.
#[derive(Debug)]
pub struct ReadDocument<T> {
    pub source: Source,
    pub answer: T,
}

/// Reads the JSON document of a command.
pub fn document<T: DeserializeOwned>(path: &Path, command: &str) -> Result<ReadDocument<T>> {
    let source = Source::read(path)?;
    refuse_doubled_keys(&source)?;
    let document: Document<T> = serde_json::from_str(source.text())
        .map_err(|error| InputError::new(source.name(), error, format!("the JSON answer of {command}")))?;
    Ok(ReadDocument { source, answer: document.answer })
}

/// The diagnosis in a file, where one was named.
pub fn read(path: Option<&Path>) -> Result<Option<ReadDocument<DiagnoseAnswer>>> {
    path.map(|path| document(path, "diagnose")).transpose()
}

/// The bench's board as it is, or the suspects of a diagnosis, each on top of what the class does by design.
pub fn faults(bench: &Bench, diagnosis: Option<&ReadDocument<DiagnoseAnswer>>) -> Result<Faults> {
    match diagnosis {
        Some(diagnosis) => diagnosed(bench, diagnosis),
        None => Ok(own(bench)),
    }
}

fn own(bench: &Bench) -> Faults {
    if bench.layers().is_plain() {
        return Faults { suspects: Vec::new(), names: vec!["no faults".to_string()] };
    }
    let design = bench.layers().design().iter().map(|one| format!("{} (by design)", one.name));
    let names: Vec<String> = design.chain(bench.quirks().iter().map(|quirk| quirk.name().to_string())).collect();
    let name = names.join(" + ");
    let suspect = SuspectedFault { name: name.clone(), tap: bench.stack(), probability: 1.0 };
    Faults { suspects: vec![suspect], names: vec![name] }
}

fn diagnosed(bench: &Bench, ReadDocument { source, answer }: &ReadDocument<DiagnoseAnswer>) -> Result<Faults> {
    let of_family = answer.suspects.iter().map(|one| MemberAnswer {
        quirk: one.quirk.clone(),
        parameters: one.parameters.clone(),
        probability: one.probability,
    });
    let mut members: Vec<MemberAnswer> =
        if answer.members.is_empty() { of_family.collect() } else { answer.members.clone() };
    let by_design = answer.others.iter().find(|other| other.cause == BY_DESIGN).map_or(0.0, |other| other.probability);
    members.push(MemberAnswer { quirk: BY_DESIGN.to_string(), parameters: BTreeMap::new(), probability: by_design });
    members.retain(|one| one.probability != 0.0);
    if let Some(one) = members.iter().find(|one| !(0.0..=1.0).contains(&one.probability)) {
        return Err(InputError::new(source.name(), one.probability, "0 to 1").in_field("probability").into());
    }
    members.sort_by(|one, other| other.probability.total_cmp(&one.probability));
    let own = answer.own_families.iter().map(|own| {
        let name = format!("{}, family {}", source.name(), own.quirk);
        Family::from_source(&Source::built_in(name, own.text.clone()))
    });
    let own = own.collect::<Result<Vec<_>, _>>()?;
    let mut faults = Faults { suspects: Vec::new(), names: Vec::new() };
    let mut sum = 0.0;
    for MemberAnswer { quirk, parameters, probability } in members.into_iter().take(MOST) {
        if sum >= ENOUGH || (probability < LEAST && !faults.suspects.is_empty()) {
            break;
        }
        sum += probability;
        let tap = if quirk == BY_DESIGN {
            bench.layers().by_design()
        } else {
            let family = match own.iter().find(|own| own.name() == quirk) {
                Some(own) => own.clone(),
                // A diagnosis names no file: whatever is no family of the library is a mistake in it.
                None => Family::built_in(&quirk).ok_or_else(|| unknown(source, &quirk))?,
            };
            bench.layers().under(vec![family.close(&parameters)?])
        };
        let parameters: Vec<String> = parameters.iter().map(|(name, value)| format!("{name} {value}")).collect();
        let name = format!("{quirk} {}", parameters.join(", "));
        faults.names.push(format!("{} (probability {probability:.3})", name.trim_end()));
        faults.suspects.push(SuspectedFault { name, tap, probability });
    }
    Ok(faults)
}

fn unknown(source: &Source, quirk: &str) -> InputError {
    let allowed = "a family of the library (backporch quirks lists them), or one of own_families";
    InputError::new(source.name(), quirk, allowed).in_field("quirk")
}
