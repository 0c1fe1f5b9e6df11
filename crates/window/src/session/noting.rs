//! Noting sightings, and opening them again.

use std::path::Path;

use backporch_adapter::ADAPTERS;
use backporch_analysis::Verdict;
use backporch_bench::{BENCHES, Overrides, case_of_bench};
use backporch_evidence::{SIGHTINGS, Sightings, SightingsFile};
use backporch_input::{Holds, InputError, parse};

use super::paths::absolute_name;
use super::{Chip, Session, SightingNotes, sighting_notes};

/// How the names of files of sightings end.
const ENDING: &str = ".sightings.ron";

/// Whether a name is that of sightings: of a file, or built in.
#[must_use]
pub fn names_sightings(name: &str) -> bool {
    name.ends_with(ENDING) || SIGHTINGS.contains(name) && !BENCHES.contains(name)
}

impl Session {
    /// Notes a verdict, or without one that one could not tell.
    pub(crate) fn note(&mut self, verdict: Option<Verdict>) {
        let over = self.sweep.active.name().to_string();
        let mut registers = self.setup.differing_from_file(&self.transport.boards().intended);
        registers.remove(&over);
        let board = self.setup.overrides.board.as_deref();
        // The file is written elsewhere than where the board was named.
        let board = board.map(|board| absolute_name(board, Path::new(""), ADAPTERS.contains(board)));
        let mut setting = sighting_notes::setting(board, over);
        setting.registers = registers;
        self.findings.notes.note(setting, self.sweep.active.value(), verdict);
        let noted = self.findings.notes.noted();
        if let Some(newest) = noted.last() {
            self.report(format!("noted {}: {}: {}", noted.len(), newest.place(), newest.saw));
        }
    }

    pub(crate) fn undo_note(&mut self) {
        match self.findings.notes.undo() {
            Some(sighting) => {
                self.findings.forget_diagnosis();
                self.report(format!("took back: {}", sighting.saw));
            }
            None => self.report("nothing is noted"),
        }
    }

    /// Chooses a chip for the next sighting, or lets it go.
    pub fn toggle_chip(&mut self, chip: Chip) {
        self.findings.notes.toggle_chip(chip);
    }

    /// Picks the line of the inspected pixel for the next sighting, or lets it go.
    pub(crate) fn pick_inspected_line(&mut self) {
        match self.inspection.pixel().map(|inspected| inspected.provenance.picture_line) {
            Some(line) => self.pick_line(line),
            None => self.report("no pixel is inspected: point at one, or move the cursor there"),
        }
    }

    /// Picks a line of the picture for the next sighting, or lets it go.
    pub fn pick_line(&mut self, line: u32) {
        self.findings.notes.pick(line);
        self.inspection.changed();
    }

    /// Opens sightings in place of those noted, with the bench they are of.
    pub(crate) fn open_sightings(&mut self, name: &str) {
        match read(name) {
            Ok((file, bench)) => {
                if bench != self.bench_name() && !self.reopen(&bench, &Overrides::default()) {
                    return;
                }
                self.findings.forget_results();
                self.findings.notes = SightingNotes::of_file(file);
                self.files.problem = None;
                self.report(format!("opened {name}: {}", counted(self.findings.notes.noted().len())));
            }
            Err(error) => self.files.problem = Some(error),
        }
    }

    /// Takes the sightings over that a case has in it, where it is one; it was checked when it was opened.
    pub(super) fn take_sightings_of_case(&mut self, name: &str) {
        let case = case_of_bench(name).ok().flatten();
        let inside = case.and_then(|case| {
            let first = case.holding(Holds::Sightings).next()?;
            Some(case.path_of(&first.name).to_string_lossy().into_owned())
        });
        match inside.map(|inside| read(&inside)) {
            Some(Ok((file, _))) => self.findings.notes = SightingNotes::of_file(file),
            Some(Err(error)) => self.files.problem = Some(error),
            None => {}
        }
    }

    /// The open bench, its path a whole one.
    fn bench_name(&self) -> String {
        absolute_name(&self.setup.name, Path::new(""), BENCHES.contains(&self.setup.name))
    }
}

/// Reads and checks sightings; gives them with the bench they are of and every path a whole one.
fn read(name: &str) -> Result<(SightingsFile, String), InputError> {
    // What a file may not say is refused here, with its place.
    Sightings::open(name)?;
    let mut file: SightingsFile = parse(&SIGHTINGS.open(name, Path::new(""))?)?;
    let folder = if SIGHTINGS.contains(name) { None } else { Path::new(name).parent() };
    let folder = folder.unwrap_or(Path::new(""));
    let bench = absolute_name(&file.bench, folder, BENCHES.contains(&file.bench));
    for experiment in &mut file.experiments {
        experiment.board =
            experiment.board.take().map(|board| absolute_name(&board, folder, ADAPTERS.contains(&board)));
    }
    Ok((file, bench))
}

/// Sightings counted, in words.
pub(crate) fn counted(count: usize) -> String {
    match count {
        1 => "1 sighting".to_string(),
        count => format!("{count} sightings"),
    }
}
