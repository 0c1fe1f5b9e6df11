//! What the list of benches to open holds while it is open.

use std::path::{Path, PathBuf};

use backporch_bench::{BENCHES, BenchFile, source_of};
use backporch_evidence::{SIGHTINGS, SightingsFile};
use backporch_input::{CASE_ENDING, parse};

use crate::session::{Session, names_sightings};

/// Files listed of a folder at most.
const MOST: usize = 64;

/// Something that can be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct ListedBench {
    /// By what it is opened.
    pub name: String,
    /// The same as one reads it.
    pub shown: String,
    /// Its title; empty where it has none.
    pub title: String,
}

/// The list while it is open.
#[derive(Clone, Debug, Default)]
pub(crate) struct BenchList {
    /// What was typed.
    pub text: String,
    /// All there is, under its headings; looked for when the list opens.
    sections: Vec<(&'static str, Vec<ListedBench>)>,
    /// Whether it was just opened.
    pub fresh: bool,
}

impl BenchList {
    /// A list of what was opened lately, is built in, lies in the working folder and beside the bench.
    pub(crate) fn of(session: &Session, recent: &[String]) -> Self {
        let beside = Path::new(session.name()).parent().map(Path::to_path_buf).unwrap_or_default();
        let mut files = files_in(Path::new("."));
        if !beside.as_os_str().is_empty() && beside != Path::new(".") {
            files.extend(files_in(&beside));
        }
        let is_there = |name: &&String| BENCHES.contains(name) || SIGHTINGS.contains(name) || Path::new(name).exists();
        let files = files.iter().map(|path| path.to_string_lossy().into_owned());
        let sections = vec![
            ("OPENED LATELY", recent.iter().filter(is_there).map(|name| ListedBench::of(name)).collect()),
            ("FILES", files.map(|name| ListedBench::of(&name)).collect()),
            ("BUILT IN", BENCHES.names().map(ListedBench::of).collect()),
            ("BUILT-IN SIGHTINGS", SIGHTINGS.names().map(ListedBench::of).collect()),
        ];
        Self { text: String::new(), sections, fresh: true }
    }

    /// What has every word typed in its name or title, under its headings.
    pub fn found(&self) -> Vec<(&'static str, Vec<&ListedBench>)> {
        let wanted = self.text.to_lowercase();
        let has = |listed: &&ListedBench| {
            let all = format!("{} {}", listed.shown, listed.title).to_lowercase();
            wanted.split_whitespace().all(|word| all.contains(word))
        };
        let found = self.sections.iter().map(|(heading, all)| (*heading, all.iter().filter(has).collect::<Vec<_>>()));
        found.filter(|(_, listed)| !listed.is_empty()).collect()
    }
}

impl ListedBench {
    fn of(name: &str) -> Self {
        let shown = name.trim_start_matches("./").to_string();
        Self { name: name.to_string(), shown, title: title_of(name).unwrap_or_default() }
    }
}

/// The title of a bench or of sightings, where it can be read.
fn title_of(name: &str) -> Option<String> {
    if name.ends_with(CASE_ENDING) {
        // All of a case would be checked for it.
        return Some("a case: a bench and all that belongs to it".to_string());
    }
    if names_sightings(name) {
        let source = SIGHTINGS.open(name, Path::new("")).ok()?;
        return parse::<SightingsFile>(&source).ok().map(|file| file.title);
    }
    parse::<BenchFile>(&source_of(name).ok()?).ok().map(|file| file.title)
}

/// Files of benches, cases and sightings of a folder, by name; none where it cannot be read.
fn files_in(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let paths = entries.map(|entry| entry.path());
    let is_listed = |path: &PathBuf| {
        let name = path.to_string_lossy();
        name.ends_with(".bench.ron") || name.ends_with(CASE_ENDING) || names_sightings(&name)
    };
    let mut files: Vec<PathBuf> = paths.filter(is_listed).collect();
    files.sort();
    files.truncate(MOST);
    files
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_can_be_opened_is_listed_with_its_title_and_found_by_words() {
        let session = Session::open("harbour-256", &Default::default()).unwrap();
        let recent = ["harbour-cg".to_string(), "/no/such.bench.ron".to_string()];
        let mut list = BenchList::of(&session, &recent);
        let found = list.found();
        assert_eq!(found[0].0, "OPENED LATELY");
        assert_eq!(found[0].1.iter().map(|one| one.name.as_str()).collect::<Vec<_>>(), ["harbour-cg"]);
        let built_in = found.iter().find(|(heading, _)| *heading == "BUILT IN").unwrap();
        assert!(built_in.1.len() == BENCHES.names().len() && built_in.1.iter().all(|one| !one.title.is_empty()));
        list.text = "Scroll LATE".to_string();
        let late = list.found();
        assert!(late.iter().any(|(_, listed)| listed.iter().any(|one| one.name == "scroll-late")));
        assert!(late.iter().map(|(_, listed)| listed.len()).sum::<usize>() < 6);
    }
}
