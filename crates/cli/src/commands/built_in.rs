//! `benches`, `monitors`, `processors`, `routines`, `sightings`: what is built in, a line each.

use anyhow::{Context, Result};
use backporch_answer::{
    BenchesAnswer, EntryAnswer, MonitorsAnswer, ProcessorsAnswer, RoutinesAnswer, SightingsAnswer, entries_text,
};
use backporch_bench::BUILT_IN_BENCHES;
use backporch_drive::BUILT_IN_PROGRAMS;
use backporch_evidence::BUILT_IN_SIGHTINGS;
use backporch_script::{BUILT_IN_CPUS, BUILT_IN_ROUTINES};
use backporch_signal::BUILT_IN_MONITORS;
use serde::Deserialize;

use crate::output::{Found, Output};

/// What every file form has; the rest is left unread.
#[derive(Deserialize)]
struct Titled {
    title: String,
}

pub fn benches(output: &mut Output) -> Result<Found> {
    let answer = BenchesAnswer { benches: entries(BUILT_IN_BENCHES)? };
    output.answer(&answer, |answer| entries_text(&answer.benches))?;
    Ok(Found::Nothing)
}

pub fn monitors(output: &mut Output) -> Result<Found> {
    let answer = MonitorsAnswer { monitors: entries(BUILT_IN_MONITORS)? };
    output.answer(&answer, |answer| entries_text(&answer.monitors))?;
    Ok(Found::Nothing)
}

pub fn processors(output: &mut Output) -> Result<Found> {
    let answer = ProcessorsAnswer { processors: entries(BUILT_IN_CPUS)? };
    output.answer(&answer, |answer| entries_text(&answer.processors))?;
    Ok(Found::Nothing)
}

/// Scripts, then programs; a program's bench of the same name has its title.
pub fn routines(output: &mut Output) -> Result<Found> {
    let mut routines = entries(BUILT_IN_ROUTINES)?;
    let of_programs =
        BUILT_IN_BENCHES.iter().filter(|(name, _)| BUILT_IN_PROGRAMS.iter().any(|(known, _)| known == name));
    routines.extend(entries(of_programs)?);
    output.answer(&RoutinesAnswer { routines }, |answer| entries_text(&answer.routines))?;
    Ok(Found::Nothing)
}

pub fn sightings(output: &mut Output) -> Result<Found> {
    let answer = SightingsAnswer { sightings: entries(BUILT_IN_SIGHTINGS)? };
    output.answer(&answer, |answer| entries_text(&answer.sightings))?;
    Ok(Found::Nothing)
}

/// Names and titles of built-in files.
fn entries<'a>(files: impl IntoIterator<Item = &'a (&'a str, &'a str)>) -> Result<Vec<EntryAnswer>> {
    let entry = |(name, text): &(&str, &str)| {
        let Titled { title } = ron::from_str(text).with_context(|| format!("the built-in file {name}"))?;
        Ok(EntryAnswer { name: (*name).to_string(), title })
    };
    files.into_iter().map(entry).collect()
}
