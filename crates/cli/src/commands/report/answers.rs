//! Hazards of the bench's own routine, and the answers' files, for the page.

use std::path::Path;

use anyhow::Result;
use backporch_bench::Bench;
use backporch_drive::Driver;
use backporch_hazards::beam_chart;
use backporch_input::Source;
use backporch_report::page::{Embedded, Hazards};

use crate::commands::hazards::{look, record_of};

/// Frames of the bench's own routine that are looked at.
const FRAMES: u64 = 60;

/// Hazards of the bench's own routine, one of each kind, with the frame of the first as the beam draws it.
pub fn own_hazards(bench: &Bench) -> Result<Option<Hazards>> {
    let Some(driver) = Driver::of(bench)? else { return Ok(None) };
    let looked = look(bench, &driver, FRAMES, false)?;
    let signal = bench.adapter().signal(bench.registers()).ok();
    let mut hazards = Hazards::summed(&looked.hazards, FRAMES, signal.as_ref());
    if let Some(first) = hazards.hazards.first() {
        let record = record_of(bench, &driver, u64::from(first.frame).min(FRAMES - 1))?;
        hazards.drawn = record.map(|record| (record.frame.number, beam_chart(&record, bench.adapter())));
    }
    Ok(Some(hazards))
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
