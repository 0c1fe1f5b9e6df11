//! A case: what was set up and noted here in one file, to be handed on.

use std::path::{Path, PathBuf};

use backporch_adapter::ADAPTERS;
use backporch_bench::{BenchFile, Handed, Library, Outside, Overrides, case_of_bench};
use backporch_drive::checked_pack;
use backporch_input::{
    CASE_ENDING, FileOfCase, Holds, InputError, MOST_CASE_FILE_BYTES, cannot_write, file_on_disk, read_bytes,
    write_whole,
};

use super::Session;

impl Session {
    /// Saves what was set up and noted, with every file it needs, as a case.
    pub(crate) fn save_case(&mut self) {
        match self.write_case() {
            Ok(path) => {
                self.findings.notes.saved();
                self.report(format!("case: {}", path.display()));
            }
            Err(error) => self.report(error.to_string()),
        }
    }

    fn write_case(&self) -> Result<PathBuf, InputError> {
        let path = self.free_name(CASE_ENDING);
        // What is packed is written there first, and gone again afterwards.
        let folder = tempfile::Builder::new().prefix("backporch-case-").tempdir();
        let folder = folder.map_err(|error| cannot_write(&std::env::temp_dir(), &error))?;
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        let stem = name.trim_end_matches(CASE_ENDING).to_string();
        let bench = folder.path().join(format!("{stem}.bench.ron"));
        let file = self.bench_file();
        write_whole(&bench, file.to_text().as_bytes())?;
        let handed = self.handed(&stem)?;
        let name = bench.to_string_lossy();
        let named = named_by(&file);
        let overrides = Overrides { allow: named.clone(), ..Overrides::default() };
        let pack = checked_pack(&name, &overrides, &Outside::Allowed(named), handed)?;
        write_whole(&path, &pack.case(&path.display().to_string())?)?;
        Ok(path)
    }

    /// What goes along: the sightings, and what else a case that is open has been given along.
    fn handed(&self, stem: &str) -> Result<Vec<Handed>, InputError> {
        let mut handed = Vec::new();
        let notes = &self.findings.notes;
        if !notes.noted().is_empty() {
            let mut file = notes.file(self.setup.bench.title(), &format!("{stem}.bench.ron"));
            for board in file.experiments.iter_mut().filter_map(|experiment| experiment.board.as_mut()) {
                if let Some(beside) = Path::new(board.as_str()).file_name().filter(|_| !ADAPTERS.contains(board)) {
                    let (path, name) = (PathBuf::from(board.as_str()), beside.to_string_lossy().into_owned());
                    let bytes = read_bytes(&path, MOST_CASE_FILE_BYTES)?;
                    handed.push(Handed { path, file: FileOfCase { name: name.clone(), holds: Holds::Other, bytes } });
                    *board = name;
                }
            }
            let name = format!("{stem}.sightings.ron");
            let bytes = file.to_text().into_bytes();
            let file = FileOfCase { name: name.clone(), holds: Holds::Sightings, bytes };
            handed.push(Handed { path: PathBuf::from(name), file });
        }
        let Some(case) = case_of_bench(&self.setup.name)? else {
            return Ok(handed);
        };
        let along = |holds: Holds| matches!(holds, Holds::Answers | Holds::Survey | Holds::Other);
        for given in case.files().iter().filter(|file| along(file.holds)) {
            let path = case.path_of(&given.name);
            let bytes = read_bytes(&path, MOST_CASE_FILE_BYTES)?;
            handed.push(Handed { path, file: FileOfCase { name: given.name.clone(), holds: given.holds, bytes } });
        }
        Ok(handed)
    }
}

/// The files and folders that a bench file names by whole paths; of what lies in a case, the case.
fn named_by(file: &BenchFile) -> Vec<PathBuf> {
    let resources = file.resources(&Library::default(), &Overrides::default());
    resources.iter().filter_map(|one| one.path()).map(|path| file_on_disk(&path)).collect()
}
