//! Autosave: sightings that no file has yet, kept aside so that a window which ends by itself loses none.

use std::fs;
use std::path::{Path, PathBuf};

use backporch_input::write_whole;

use super::Session;

/// How the names of files kept aside begin and end.
const BEGINNING: &str = "unsaved-";
const ENDING: &str = ".sightings.ron";

/// Where sightings are kept aside, and which of them are.
#[derive(Clone, Debug)]
pub(crate) struct Autosave {
    folder: PathBuf,
    process: u32,
    /// Revision of the sightings kept aside; none where there are none.
    kept: Option<u64>,
}

impl Autosave {
    /// Sightings are kept aside in a folder.
    pub fn in_folder(folder: &Path) -> Self {
        Self { folder: folder.to_path_buf(), process: std::process::id(), kept: None }
    }

    fn path(&self) -> PathBuf {
        self.folder.join(format!("{BEGINNING}{}{ENDING}", self.process))
    }

    /// What a window that has ended left behind, the oldest first by name; none of one that still runs.
    pub fn left_behind(&self) -> Option<PathBuf> {
        let entries = fs::read_dir(&self.folder).into_iter().flatten().flatten();
        let mut paths: Vec<PathBuf> =
            entries.map(|entry| entry.path()).filter(|path| self.is_left_behind(path)).collect();
        paths.sort();
        paths.into_iter().next()
    }

    fn is_left_behind(&self, path: &Path) -> bool {
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        let number = name.strip_prefix(BEGINNING).and_then(|rest| rest.strip_suffix(ENDING));
        let process = number.and_then(|number| number.parse::<u32>().ok());
        process.is_some_and(|process| process != self.process && !Path::new(&format!("/proc/{process}")).exists())
    }

    /// Keeps the sightings aside where some are in no file, and lets go of them where all are.
    pub fn keep(&mut self, session: &Session) {
        let notes = session.findings().notes();
        let wanted = notes.unsaved().then(|| notes.revision());
        if wanted == self.kept {
            return;
        }
        self.kept = wanted;
        if wanted.is_none() {
            self.let_go();
        } else {
            // What cannot be kept aside is kept here all the same.
            let _ = fs::create_dir_all(&self.folder);
            let _ = write_whole(&self.path(), session.sightings_text().as_bytes());
        }
    }

    /// Lets go of what was kept aside.
    pub fn let_go(&self) {
        // It may never have been there.
        let _ = fs::remove_file(self.path());
    }
}

impl Session {
    /// Opens sightings that were kept aside, as ones that no file has, with their bench; whether that was possible.
    pub fn restore_sightings(&mut self, path: &Path) -> bool {
        self.open_sightings(&path.to_string_lossy());
        let is_restored = self.files.problem().is_none();
        if is_restored {
            self.findings.notes.touch();
            // They are kept aside anew under another name.
            let _ = fs::remove_file(path);
        }
        is_restored
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Command;
    use backporch_analysis::Verdict;

    #[test]
    fn what_was_noted_survives_a_window_that_ends_by_itself() {
        let folder = tempfile::tempdir().unwrap();
        let mut session = Session::open("harbour-256-plain", &Default::default()).unwrap();
        session.write_to(folder.path());
        // No process has this number: it is above the greatest there is (proc(5), pid_max).
        let mut ended = Autosave { process: 1 << 30, ..Autosave::in_folder(folder.path()) };
        ended.keep(&session);
        let mut next = Autosave::in_folder(folder.path());
        assert_eq!(next.left_behind(), None, "nothing was noted");
        session.perform(Command::Note(Verdict::Clean));
        session.perform(Command::StepRegister(1));
        session.perform(Command::Note(Verdict::Broken));
        ended.keep(&session);
        let noted = session.findings().notes().noted().to_vec();
        drop(session);

        let left = next.left_behind().unwrap();
        let mut session = Session::open("harbour-cg", &Default::default()).unwrap();
        session.write_to(folder.path());
        assert!(session.restore_sightings(&left));
        assert_eq!((session.name(), session.findings().notes().noted()), ("harbour-256-plain", noted.as_slice()));
        assert_eq!(session.unsaved().sightings, 2);
        next.keep(&session);
        assert_eq!(next.left_behind(), None, "it is this window's own now");
        assert!(next.path().exists());
        session.perform(Command::SaveSightings);
        next.keep(&session);
        assert!(!next.path().exists());
    }
}
