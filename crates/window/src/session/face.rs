//! The face of a session: what tells whether anything it shows has changed, so that a window at rest need not be drawn.

use super::Session;

/// Equal as long as nothing that is shown changes.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Face {
    revisions: [u64; 4],
    quirks: usize,
    picked: usize,
    progress: [Option<(u64, u64)>; 2],
    message: Option<String>,
    problem: Option<String>,
    recorded: Option<usize>,
    is_running: bool,
    looks_for_photograph: bool,
}

impl Session {
    /// The face as it is now.
    pub(crate) fn face(&self) -> Face {
        let (inspection, notes) = (&self.inspection, self.findings.notes());
        Face {
            revisions: [
                inspection.revision(),
                inspection.memory_revision(),
                self.sweep.thumbnails.revision(),
                notes.revision(),
            ],
            quirks: self.quirks.list().len(),
            picked: notes.picked().len(),
            progress: [self.findings.searching(), self.findings.diagnosing()],
            message: self.message.clone(),
            problem: self.files.problem().map(ToString::to_string),
            recorded: self.files.recorded(),
            is_running: self.transport.is_running(),
            looks_for_photograph: self.looks_for_photograph(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Command;

    #[test]
    fn a_session_at_rest_keeps_its_face() {
        let mut session = Session::open("harbour-256-plain", &Default::default()).unwrap();
        let mut now = 0.0;
        while !session.sweep().thumbnails().is_whole() {
            session.tick(now);
            now += 0.5;
        }
        let face = session.face();
        (0..10).for_each(|second| session.tick(now + f64::from(second)));
        assert_eq!(session.face(), face);
        session.perform(Command::FrameOn);
        assert_ne!(session.face(), face);
        let face = session.face();
        session.report("something");
        assert_ne!(session.face(), face);
    }
}
