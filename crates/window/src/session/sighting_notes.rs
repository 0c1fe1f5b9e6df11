//! Sightings noted by key while watching or read from a file, and the file they are saved in.

use backporch_analysis::Verdict;
use backporch_evidence::{ExperimentFile, SightingFile, SightingsFile};
use backporch_input::{Range, Version1};

use super::note_chips::{Chip, Chips};

/// One sighting: under which setting, and what was seen.
#[derive(Clone, Debug, PartialEq)]
pub struct NotedSighting {
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
    noted: Vec<NotedSighting>,
    picked: Vec<u32>,
    chips: Chips,
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
            seen.into_iter().map(move |SightingFile { at, saw }| NotedSighting { setting: setting.clone(), at, saw })
        };
        let noted = experiments.into_iter().flat_map(of_experiment).collect();
        Self { title: Some(title), observer_errors, noted, ..Self::default() }
    }

    /// The sightings, oldest first.
    #[must_use]
    pub fn noted(&self) -> &[NotedSighting] {
        &self.noted
    }

    /// Lines picked for the next sighting, from the top.
    #[must_use]
    pub fn picked(&self) -> &[u32] {
        &self.picked
    }

    /// Whether a chip is chosen for the next sighting.
    #[must_use]
    pub fn has_chip(&self, chip: Chip) -> bool {
        self.chips.has(chip)
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

    /// Chooses a chip for the next sighting, or lets it go.
    pub(crate) fn toggle_chip(&mut self, chip: Chip) {
        self.chips.toggle(chip);
    }

    /// Notes what was seen, with the lines picked and the chips chosen, or without a verdict that one could not
    /// tell; the same setting seen again replaces what was noted of it.
    pub(crate) fn note(&mut self, setting: ExperimentFile, at: u32, seen: Option<Verdict>) {
        let saw = words(seen, &std::mem::take(&mut self.chips), &std::mem::take(&mut self.picked));
        let sighting = NotedSighting { setting, at: Some(Range::single(u64::from(at))), saw };
        self.noted.retain(|noted| (&noted.setting, noted.at) != (&sighting.setting, sighting.at));
        self.noted.push(sighting);
        self.revision += 1;
    }

    /// Takes the newest sighting back.
    pub(crate) fn undo(&mut self) -> Option<NotedSighting> {
        let newest = self.noted.pop();
        self.revision += u64::from(newest.is_some());
        newest
    }

    /// They are in no file of their own, though they were read from one.
    pub(crate) fn touch(&mut self) {
        self.revision += 1;
    }

    pub(crate) fn saved(&mut self) {
        self.saved = self.revision;
    }

    /// The file: a sighting a line, those of one setting together.
    #[must_use]
    pub fn file(&self, title: &str, bench: &str) -> SightingsFile {
        let seen = |at: &usize| SightingFile { at: self.noted[*at].at, saw: self.noted[*at].saw.clone() };
        let experiments = self
            .by_setting()
            .into_iter()
            .map(|(setting, noted)| ExperimentFile { seen: noted.iter().map(seen).collect(), ..setting.clone() });
        SightingsFile {
            version: Version1,
            title: self.title.clone().unwrap_or_else(|| title.to_string()),
            bench: bench.to_string(),
            observer_errors: self.observer_errors,
            experiments: experiments.collect(),
        }
    }

    /// Positions of the sightings in the order of the file.
    pub(crate) fn file_order(&self) -> Vec<usize> {
        self.by_setting().into_iter().flat_map(|(_, noted)| noted).collect()
    }

    /// The settings in the order in which they came up, each with the positions of its sightings by step.
    fn by_setting(&self) -> Vec<(&ExperimentFile, Vec<usize>)> {
        let mut settings: Vec<(&ExperimentFile, Vec<usize>)> = Vec::new();
        for (at, NotedSighting { setting, .. }) in self.noted.iter().enumerate() {
            match settings.iter_mut().find(|(known, _)| *known == setting) {
                Some((_, noted)) => noted.push(at),
                None => settings.push((setting, vec![at])),
            }
        }
        for (_, noted) in &mut settings {
            noted.sort_by_key(|at| self.noted[*at].at.map(|at| at.from()));
        }
        settings
    }
}

/// A setting of a board, nothing seen in it yet.
pub(crate) fn setting(board: Option<String>, over: String) -> ExperimentFile {
    ExperimentFile { board, ..ExperimentFile::stepping(over) }
}

impl NotedSighting {
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

/// What was seen with the chips chosen and the lines picked, in the words of the file form.
fn words(seen: Option<Verdict>, chips: &Chips, lines: &[u32]) -> String {
    let listed = lines.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
    // Whoever clicks a few lines has not said that there are no others; of a clean picture there are none.
    match (seen, lines) {
        (None, _) => "could not tell".to_string(),
        (Some(Verdict::Clean), _) => Verdict::Clean.word().to_string(),
        (Some(seen), []) => chips.said_of(seen.word()),
        (Some(seen), _) => format!("{}, for example lines {listed}", chips.said_of(seen.word())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn picked_lines_are_examples_and_not_all_there_are() {
        assert_eq!(words(Some(Verdict::EdgeDamaged), &Chips::default(), &[]), "edge-damaged");
        assert_eq!(words(Some(Verdict::EdgeDamaged), &Chips::default(), &[3]), "edge-damaged, for example lines 3");
        assert_eq!(words(Some(Verdict::Clean), &Chips::default(), &[3]), "clean", "a clean picture has no bad line");
        assert_eq!(
            words(Some(Verdict::EdgeDamaged), &Chips::default(), &[3, 7, 11]),
            "edge-damaged, for example lines 3 7 11"
        );
    }

    #[test]
    fn chips_are_said_in_words_that_can_be_read() {
        let mut chips = Chips::default();
        [Chip::NowAndThen, Chip::EveryNth(4), Chip::LeftEdge].into_iter().for_each(|chip| chips.toggle(chip));
        let said = words(Some(Verdict::Broken), &chips, &[7, 11]);
        assert_eq!(said, "now and then broken, every fourth line, at the left edge, for example lines 7 11");
        assert_eq!(words(Some(Verdict::Clean), &chips, &[]), "clean");
        assert_eq!(words(None, &chips, &[3]), "could not tell");
    }

    #[test]
    fn what_was_taken_back_is_no_longer_what_was_saved() {
        let mut notes = SightingNotes::default();
        assert!(!notes.unsaved());
        for at in [1, 2] {
            notes.note(setting(None, "start_address".to_string()), at, Some(Verdict::Clean));
        }
        notes.saved();
        let before = notes.revision();
        // As many as before, but not the same.
        notes.note(setting(None, "start_address".to_string()), 2, Some(Verdict::Broken));
        assert_eq!(notes.noted().len(), 2);
        assert!(notes.unsaved() && notes.revision() != before);
    }
}
