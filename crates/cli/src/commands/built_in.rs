//! `benches`, `monitors`, `processors`, `routines`, `sightings`: what is built in, a line each.

use anyhow::Result;
use backporch_answer::{
    BenchesAnswer, EntryAnswer, MonitorsAnswer, ProcessorsAnswer, RoutinesAnswer, SightingsAnswer, entries_text,
};
use backporch_bench::BENCHES;
use backporch_drive::PROGRAMS;
use backporch_evidence::SIGHTINGS;
use backporch_input::{InputError, Source};
use backporch_script::{PROCESSORS, ROUTINES};
use backporch_signal::MONITORS;
use serde::Deserialize;

use crate::output::{CheckResult, Output};

/// What every file form has; the rest is left unread.
#[derive(Deserialize)]
struct Titled {
    title: String,
}

pub fn benches(output: &mut Output) -> Result<CheckResult> {
    let answer = BenchesAnswer { benches: entries(BENCHES.sources())? };
    output.answer(&answer, |answer| entries_text(&answer.benches))?;
    Ok(CheckResult::Nothing)
}

pub fn monitors(output: &mut Output) -> Result<CheckResult> {
    let answer = MonitorsAnswer { monitors: entries(MONITORS.sources())? };
    output.answer(&answer, |answer| entries_text(&answer.monitors))?;
    Ok(CheckResult::Nothing)
}

pub fn processors(output: &mut Output) -> Result<CheckResult> {
    let answer = ProcessorsAnswer { processors: entries(PROCESSORS.sources())? };
    output.answer(&answer, |answer| entries_text(&answer.processors))?;
    Ok(CheckResult::Nothing)
}

/// Scripts, then programs; a program's bench of the same name has its title.
pub fn routines(output: &mut Output) -> Result<CheckResult> {
    let of_programs = PROGRAMS.names().filter_map(|name| BENCHES.source(name));
    let answer = RoutinesAnswer { routines: entries(ROUTINES.sources().chain(of_programs))? };
    output.answer(&answer, |answer| entries_text(&answer.routines))?;
    Ok(CheckResult::Nothing)
}

pub fn sightings(output: &mut Output) -> Result<CheckResult> {
    let answer = SightingsAnswer { sightings: entries(SIGHTINGS.sources())? };
    output.answer(&answer, |answer| entries_text(&answer.sightings))?;
    Ok(CheckResult::Nothing)
}

/// Names and titles of built-in files.
fn entries(sources: impl Iterator<Item = Source>) -> Result<Vec<EntryAnswer>> {
    let entry = |source: Source| {
        let Titled { title } = ron::from_str(source.text())
            .map_err(|error| InputError::new(source.name(), error, "a file with a title"))?;
        Ok(EntryAnswer { name: source.name().to_string(), title })
    };
    sources.map(entry).collect()
}
