//! Hazards of the bench's own routine, and the answers' files, for the page.

use std::path::Path;

use anyhow::Result;
use backporch_bench::{Bench, Handed, Pack};
use backporch_drive::Driver;
use backporch_hazards::beam_chart;
use backporch_input::{FileOfCase, Holds, Source};
use backporch_report::page::HazardsPart;

use crate::commands::hazards::{look, record_of};

/// Frames of the bench's own routine that are looked at.
const FRAMES: u64 = 60;

/// Hazards of the bench's own routine, one of each kind, with the frame of the first as the beam draws it.
pub fn own_hazards(bench: &Bench) -> Result<Option<HazardsPart>> {
    let Some(driver) = Driver::of(bench)? else { return Ok(None) };
    let looked = look(bench, &driver, FRAMES, false)?;
    let signal = bench.adapter().signal(bench.registers()).ok();
    let mut hazards = HazardsPart::summed(&looked.hazards, FRAMES, signal.as_ref());
    if let Some(first) = hazards.hazards.first() {
        let record = record_of(bench, &driver, u64::from(first.frame).min(FRAMES - 1))?;
        hazards.drawn = record.map(|record| (record.frame.number, beam_chart(&record, bench.adapter())));
    }
    Ok(Some(hazards))
}

/// An answer's file as it is handed along with the case, so that the page can be made again.
pub fn handed(source: &Source) -> Handed {
    let path = Path::new(source.name());
    let name = path.file_name().map_or_else(|| "answer.json".into(), |base| base.to_string_lossy().into_owned());
    let bytes = source.text().as_bytes().to_vec();
    Handed { path: path.to_owned(), file: FileOfCase { name, holds: Holds::Other, bytes } }
}

/// The name that an answer's file has in the pack.
pub fn packed(source: &Source, pack: &Pack) -> Option<String> {
    let text = source.text().as_bytes();
    pack.files.iter().find(|file| file.holds == Holds::Other && file.bytes == text).map(|file| file.name.clone())
}
