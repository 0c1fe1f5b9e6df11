//! `benches`, `monitors`, `processors`, `routines`, `sightings`: what is built in, a line each.

use anyhow::Result;
use backporch_answer::{
    BenchesAnswer, EntryAnswer, MonitorsAnswer, ProcessorsAnswer, RoutinesAnswer, SightingsAnswer, entries_text,
};
use backporch_bench::BENCHES;
use backporch_drive::PROGRAMS;
use backporch_evidence::SIGHTINGS;
use backporch_input::{Source, parse};
use backporch_script::{PROCESSORS, ROUTINES};
use backporch_signal::MONITORS;
use serde::Deserialize;

use crate::output::{Found, Output};

/// What every file form has; the rest is left unread.
#[derive(Deserialize)]
struct Titled {
    title: String,
}

pub fn benches(output: &mut Output) -> Result<Found> {
    let answer = BenchesAnswer { benches: entries(BENCHES.sources())? };
    output.answer(&answer, |answer| entries_text(&answer.benches))?;
    Ok(Found::Nothing)
}

pub fn monitors(output: &mut Output) -> Result<Found> {
    let answer = MonitorsAnswer { monitors: entries(MONITORS.sources())? };
    output.answer(&answer, |answer| entries_text(&answer.monitors))?;
    Ok(Found::Nothing)
}

pub fn processors(output: &mut Output) -> Result<Found> {
    let answer = ProcessorsAnswer { processors: entries(PROCESSORS.sources())? };
    output.answer(&answer, |answer| entries_text(&answer.processors))?;
    Ok(Found::Nothing)
}

/// Scripts, then programs; a program's bench of the same name has its title.
pub fn routines(output: &mut Output) -> Result<Found> {
    let mut routines = entries(ROUTINES.sources())?;
    let of_programs = BENCHES.sources().filter(|bench| PROGRAMS.contains(bench.name()));
    routines.extend(entries(of_programs)?);
    output.answer(&RoutinesAnswer { routines }, |answer| entries_text(&answer.routines))?;
    Ok(Found::Nothing)
}

pub fn sightings(output: &mut Output) -> Result<Found> {
    let answer = SightingsAnswer { sightings: entries(SIGHTINGS.sources())? };
    output.answer(&answer, |answer| entries_text(&answer.sightings))?;
    Ok(Found::Nothing)
}

/// Names and titles of built-in files.
fn entries(files: impl IntoIterator<Item = Source>) -> Result<Vec<EntryAnswer>> {
    let entry = |file: Source| {
        let Titled { title } = parse(&file)?;
        Ok(EntryAnswer { name: file.name().to_string(), title })
    };
    files.into_iter().map(entry).collect()
}
