//! The list in a case, `case.ron`: what lies in it, and the check sum of each.

use std::collections::{BTreeMap, BTreeSet};

use serde::Deserialize;

use super::name::{self, folded, is_safe, shown};
use super::{CASE_LIST, MOST_CASE_BYTES, MOST_CASE_FILE_BYTES, MOST_CASE_FILES};
use crate::sum::SUM_DIGITS;
use crate::{InputError, MAKER, Source, Version1, parse, quoted};

/// What a file in a case is there for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum Holds {
    /// The bench, which the case is opened as.
    Bench,
    /// What the bench names, or a program of it reads.
    Part,
    /// Sightings of it.
    Sightings,
    /// The answers of a test session.
    Answers,
    /// A survey of the machine.
    Survey,
    /// Anything else that was handed along.
    Other,
}

impl Holds {
    /// The word of the list.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Bench => "Bench",
            Self::Part => "Part",
            Self::Sightings => "Sightings",
            Self::Answers => "Answers",
            Self::Survey => "Survey",
            Self::Other => "Other",
        }
    }
}

/// A file in a case.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CaseFile {
    /// Its name: relative, parts divided by `/`.
    pub name: String,
    /// What it is there for.
    pub holds: Holds,
    /// Its length.
    pub bytes: u64,
    /// Its check sum (SHA-256, FIPS 180-4) in hexadecimal digits.
    pub sha256: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Manifest {
    #[expect(dead_code, reason = "it is checked while it is read")]
    version: Version1,
    files: Vec<CaseFile>,
}

/// The list as it stands in a case.
pub(super) fn text_of(files: &[CaseFile]) -> String {
    let mut text = format!(
        "// A case made by {MAKER}: what lies in it, and the SHA-256 of each file.\n(\n    version: 1,\n    files: [\n"
    );
    for CaseFile { name, holds, bytes, sha256 } in files {
        let (name, holds) = (quoted(name), holds.word());
        text += &format!("        (name: {name}, holds: {holds}, bytes: {bytes}, sha256: \"{sha256}\"),\n");
    }
    text + "    ],\n)\n"
}

/// Reads a list and checks what it says by itself.
pub(super) fn read(source: &Source) -> Result<Vec<CaseFile>, InputError> {
    let Manifest { files, .. } = parse(source)?;
    if files.len() > MOST_CASE_FILES {
        return Err(source.fault(&["files"], format!("{} files", files.len()), format!("at most {MOST_CASE_FILES}")));
    }
    let mut names: BTreeSet<String> = BTreeSet::from([folded(CASE_LIST)]);
    let mut bytes = 0_u64;
    for (at, file) in files.iter().enumerate() {
        let at = at.to_string();
        let fault = |field: &str, found: &str, allowed: String| source.fault(&["files", &at, field], found, allowed);
        if !is_safe(&file.name) {
            return Err(fault("name", &shown(&file.name), name::ALLOWED.to_string()));
        }
        if !names.insert(folded(&file.name)) {
            let found = format!("{} twice", shown(&file.name));
            return Err(fault("name", &found, "each name once, whatever its capitals".to_string()));
        }
        if file.bytes > MOST_CASE_FILE_BYTES {
            return Err(fault("bytes", &file.bytes.to_string(), format!("at most {MOST_CASE_FILE_BYTES}")));
        }
        bytes += file.bytes;
        let is_digit = |digit: u8| matches!(digit, b'0'..=b'9' | b'a'..=b'f');
        if file.sha256.len() != SUM_DIGITS || !file.sha256.bytes().all(is_digit) {
            return Err(fault("sha256", &shown(&file.sha256), format!("{SUM_DIGITS} digits 0 to f")));
        }
    }
    if bytes > MOST_CASE_BYTES {
        return Err(source.fault(&["files"], format!("{bytes} bytes"), format!("at most {MOST_CASE_BYTES}")));
    }
    let benches = files.iter().filter(|file| file.holds == Holds::Bench).count();
    if benches != 1 {
        return Err(source.fault(&["files"], format!("{benches} benches"), "one file that holds: Bench"));
    }
    refuse_files_as_folders(source, &files)?;
    Ok(files)
}

/// No file is the folder of another one.
fn refuse_files_as_folders(source: &Source, files: &[CaseFile]) -> Result<(), InputError> {
    let names: BTreeMap<String, &str> = files.iter().map(|file| (folded(&file.name), file.name.as_str())).collect();
    for (at, file) in files.iter().enumerate() {
        let folded = folded(&file.name);
        let above = folded.match_indices('/').find_map(|(end, _)| names.get(&folded[..end]));
        if let Some(above) = above {
            let found = format!("{}, a file and a folder", shown(above));
            return Err(source.fault(&["files", &at.to_string(), "name"], found, "either"));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(name: &str, holds: Holds) -> CaseFile {
        CaseFile { name: name.to_string(), holds, bytes: 3, sha256: "0a".repeat(32) }
    }

    #[test]
    fn a_list_comes_back_as_it_was_written() {
        let files = vec![file("a \"b\".ron", Holds::Bench), file("x/ä.png", Holds::Part), file("S.TXT", Holds::Survey)];
        let text = text_of(&files);
        assert_eq!(read(&Source::built_in(CASE_LIST, text)).unwrap(), files);
    }

    #[test]
    fn lists_that_cannot_be_are_refused_with_their_place() {
        let bench = file("b", Holds::Bench);
        let wrong = |files: &[CaseFile]| read(&Source::built_in(CASE_LIST, text_of(files))).unwrap_err();
        for (files, field, found) in [
            (vec![], "files", "0 benches"),
            (vec![bench.clone(), file("c", Holds::Bench)], "files", "2 benches"),
            (vec![bench.clone(), file("../c", Holds::Part)], "files.1.name", "../c"),
            (vec![bench.clone(), file("B", Holds::Part)], "files.1.name", "B twice"),
            (vec![bench.clone(), file("Case.ron", Holds::Part)], "files.1.name", "Case.ron twice"),
            (vec![bench.clone(), file("b/c", Holds::Part)], "files.1.name", "b, a file and a folder"),
            (
                vec![bench.clone(), CaseFile { bytes: u64::MAX, ..file("c", Holds::Part) }],
                "files.1.bytes",
                "18446744073709551615",
            ),
            (
                vec![bench.clone(), CaseFile { sha256: "0A".repeat(32), ..file("c", Holds::Part) }],
                "files.1.sha256",
                &"0A".repeat(32),
            ),
        ] {
            let error = wrong(&files);
            assert_eq!((error.field(), error.found()), (Some(field), found), "{error}");
            assert!(error.line().is_some());
        }
        let many: Vec<CaseFile> = (0..=MOST_CASE_FILES).map(|at| file(&at.to_string(), Holds::Part)).collect();
        assert_eq!(wrong(&many).found(), "4097 files");
    }
}
