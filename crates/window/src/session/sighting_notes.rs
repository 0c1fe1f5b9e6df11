//! Sightings noted by key while watching or read from a file, and the file they are saved in.

use backporch_analysis::Verdict;
use backporch_evidence::{ExperimentFile, SightingFile, SightingsFile};
use backporch_input::{Range, Version1};

/// One sighting: under which setting, and what was seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Sighting {
    /// The setting, as the file form has it, nothing seen in it.
    pub setting: ExperimentFile,
    /// Stored values of the register stepped; the setting's own if left out.
    pub at: Option<Range>,
    /// What was seen, in the words of the file form.
    pub saw: String,
}

/// Sightings of one board, in the order in which they were noted.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SightingNotes {
    /// Title of the file they were read from.
    title: Option<String>,
    observer_errors: Option<f64>,
    noted: Vec<Sighting>,
    picked: Vec<u32>,
    /// Changes with every sighting noted or taken back.
    revision: u64,
    /// The revision that a file has.
    saved: u64,
}

impl SightingNotes {
    /// The sightings of a file, as they are there.
    pub(crate) fn of_file(file: SightingsFile) -> Self {
        let SightingsFile { title, observer_errors, experiments, .. } = file;
        let of_experiment = |mut setting: ExperimentFile| {
            let seen = std::mem::take(&mut setting.seen);
            seen.into_iter().map(move |SightingFile { at, saw }| Sighting { setting: setting.clone(), at, saw })
        };
        let noted = experiments.into_iter().flat_map(of_experiment).collect();
        Self { title: Some(title), observer_errors, noted, ..Self::default() }
    }

    /// The sightings, oldest first.
    #[must_use]
    pub fn noted(&self) -> &[Sighting] {
        &self.noted
    }

    /// Lines picked for the next sighting, from the top.
    #[must_use]
    pub fn picked(&self) -> &[u32] {
        &self.picked
    }

    /// Changes with every sighting noted or taken back.
    #[must_use]
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Whether there are sightings that no file has.
    #[must_use]
    pub fn unsaved(&self) -> bool {
        self.saved != self.revision && !self.noted.is_empty()
    }

    /// Picks a line for the next sighting, or lets it go.
    pub(crate) fn pick(&mut self, line: u32) {
        match self.picked.binary_search(&line) {
            Ok(at) => {
                self.picked.remove(at);
            }
            Err(at) => self.picked.insert(at, line),
        }
    }

    /// Notes what was seen, with the lines picked; the same setting seen again
    /// replaces what was noted of it.
    pub(crate) fn note(&mut self, setting: ExperimentFile, at: u32, seen: Verdict) {
        let saw = words(seen, &std::mem::take(&mut self.picked));
        let sighting = Sighting { setting, at: Some(Range::single(u64::from(at))), saw };
        self.noted.retain(|noted| (&noted.setting, noted.at) != (&sighting.setting, sighting.at));
        self.noted.push(sighting);
        self.revision += 1;
    }

    /// Takes the newest sighting back.
    pub(crate) fn undo(&mut self) -> Option<Sighting> {
        let newest = self.noted.pop();
        self.revision += u64::from(newest.is_some());
        newest
    }

    pub(crate) fn saved(&mut self) {
        self.saved = self.revision;
    }

    /// The file: a sighting a line, those of one setting together.
    #[must_use]
    pub fn file(&self, title: &str, bench: &str) -> SightingsFile {
        let mut experiments: Vec<ExperimentFile> = Vec::new();
        for Sighting { setting, at, saw } in &self.noted {
            let same = |known: &ExperimentFile| ExperimentFile { seen: Vec::new(), ..known.clone() } == *setting;
            let place = experiments.iter().position(same).unwrap_or_else(|| {
                experiments.push(setting.clone());
                experiments.len() - 1
            });
            experiments[place].seen.push(SightingFile { at: *at, saw: saw.clone() });
        }
        for experiment in &mut experiments {
            experiment.seen.sort_by_key(|sighting| sighting.at.map(|at| at.from()));
        }
        SightingsFile {
            version: Version1,
            title: self.title.clone().unwrap_or_else(|| title.to_string()),
            bench: bench.to_string(),
            observer_errors: self.observer_errors,
            experiments,
        }
    }
}

/// A setting of a board, nothing seen in it yet.
pub(crate) fn setting(board: Option<String>, over: String) -> ExperimentFile {
    ExperimentFile { board, ..ExperimentFile::stepping(over) }
}

impl Sighting {
    /// The verdict it begins with, where it says one.
    #[must_use]
    pub fn verdict(&self) -> Option<Verdict> {
        let all = [Verdict::Clean, Verdict::EdgeDamaged, Verdict::Broken];
        all.into_iter().find(|verdict| self.saw.starts_with(verdict.word()))
    }

    /// The register stepped and its values.
    #[must_use]
    pub fn place(&self) -> String {
        let over = self.setting.over.as_deref().unwrap_or("start_address");
        self.at.map_or_else(|| over.to_string(), |at| format!("{over} {at}"))
    }
}

/// A verdict and the lines picked, in the words of the file form.
fn words(seen: Verdict, lines: &[u32]) -> String {
    let listed = lines.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
    // Whoever clicks a few lines has not said that there are no others; of a clean picture there are none.
    match lines {
        _ if seen == Verdict::Clean => seen.word().to_string(),
        [] => seen.word().to_string(),
        _ => format!("{}, for example lines {listed}", seen.word()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn picked_lines_are_examples_and_not_all_there_are() {
        assert_eq!(words(Verdict::EdgeDamaged, &[]), "edge-damaged");
        assert_eq!(words(Verdict::EdgeDamaged, &[3]), "edge-damaged, for example lines 3");
        assert_eq!(words(Verdict::Clean, &[3]), "clean", "a clean picture has no bad line");
        assert_eq!(words(Verdict::EdgeDamaged, &[3, 7, 11]), "edge-damaged, for example lines 3 7 11");
    }

    #[test]
    fn what_was_taken_back_is_no_longer_what_was_saved() {
        let mut notes = SightingNotes::default();
        assert!(!notes.unsaved());
        for at in [1, 2] {
            notes.note(setting(None, "start_address".to_string()), at, Verdict::Clean);
        }
        notes.saved();
        let before = notes.revision();
        // As many as before, but not the same.
        notes.note(setting(None, "start_address".to_string()), 2, Verdict::Broken);
        assert_eq!(notes.noted().len(), 2);
        assert!(notes.unsaved() && notes.revision() != before);
    }
}
