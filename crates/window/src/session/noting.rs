//! Noting sightings.

use backporch_analysis::Verdict;

use super::{Session, Sighting};

impl Session {
    pub(crate) fn note(&mut self, verdict: Verdict) {
        let over = self.sweep.active.name().to_string();
        let mut registers = self.setup.differing_from_file(&self.transport.boards().intended);
        registers.remove(&over);
        let at = self.sweep.active.value();
        let registers = registers.into_iter().map(|(name, value)| (name, value.get())).collect();
        self.findings.notes.note(Sighting {
            board: self.setup.overrides.board.clone(),
            registers,
            over,
            at,
            seen: verdict,
            lines: Vec::new(),
        });
        let noted = self.findings.notes.noted();
        if let Some(newest) = noted.last() {
            self.report(format!("noted {}: {} at {at}: {}", noted.len(), newest.over, newest.saw()));
        }
    }

    pub(crate) fn undo_note(&mut self) {
        match self.findings.notes.undo() {
            Some(sighting) => {
                self.findings.forget_diagnosis();
                self.report(format!("took back: {}", sighting.seen.word()));
            }
            None => self.report("nothing is noted"),
        }
    }

    /// Picks a line of the picture for the next sighting, or lets it go.
    pub fn pick_line(&mut self, line: u32) {
        self.findings.notes.pick(line);
        self.inspection.changed();
    }
}
