//! Making cases: the same files give the same bytes.

use std::collections::BTreeMap;
use std::io::{Cursor, Write};

use zip::result::ZipError;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, System, ZipWriter};

use super::name::{self, folded, is_safe};
use super::{CASE_LIST, CaseFile, Holds, MOST_CASE_BYTES, MOST_CASE_FILE_BYTES, MOST_CASE_FILES, manifest};
use crate::InputError;
use crate::sum::sum;

/// A file that goes into a case.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileOfCase {
    /// Its name: relative, parts divided by `/`.
    pub name: String,
    /// What it is there for.
    pub holds: Holds,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// Makes a case of files, one of which is the bench, and of folders that are there though empty. `name` is what errors
/// call it.
///
/// The list comes first and as it is, then the bench, then all else by name; times and permissions are always the same.
///
/// # Errors
/// Where a name cannot be in a case, stands twice, or there are too many files or bytes.
pub fn case_of(name: &str, files: &[FileOfCase], folders: &[String]) -> Result<Vec<u8>, InputError> {
    let mut sorted: BTreeMap<(bool, &str), &FileOfCase> = BTreeMap::new();
    let mut seen: BTreeMap<String, &str> = BTreeMap::new();
    let mut bytes = 0_u64;
    for file in files {
        let refuse = |found: String, allowed: String| Err(InputError::new(name, found, allowed).in_field(&file.name));
        if !is_safe(&file.name) {
            return refuse("a name that leads elsewhere".to_string(), name::ALLOWED.to_string());
        }
        if let Some(other) = seen.insert(folded(&file.name), &file.name) {
            return refuse(
                format!("a second file beside {other}"),
                "each name once, whatever its capitals".to_string(),
            );
        }
        let length = file.bytes.len() as u64;
        bytes += length;
        if length > MOST_CASE_FILE_BYTES {
            return refuse(format!("{length} bytes"), format!("at most {MOST_CASE_FILE_BYTES} bytes"));
        }
        sorted.insert((file.holds != Holds::Bench, &file.name), file);
    }
    if bytes > MOST_CASE_BYTES {
        return Err(InputError::new(
            name,
            format!("{bytes} bytes"),
            format!("at most {MOST_CASE_BYTES} bytes in a case"),
        ));
    }
    if files.len() + folders.len() > MOST_CASE_FILES {
        let found = format!("{} files", files.len() + folders.len());
        return Err(InputError::new(name, found, format!("at most {MOST_CASE_FILES} in a case")));
    }
    let listed: Vec<CaseFile> = sorted.values().map(|file| file.listed()).collect();
    let text = manifest::text_of(&listed);
    // What is made is what would be read.
    manifest::read(&crate::Source::built_in(name, text.as_str()))?;
    zipped(&text, sorted.values().copied(), folders)
        .map_err(|error| InputError::new(name, format!("what cannot be packed ({error})"), "files as they were read"))
}

impl FileOfCase {
    /// What the list of a case says of it.
    #[must_use]
    pub fn listed(&self) -> CaseFile {
        let Self { name, holds, bytes } = self;
        CaseFile { name: name.clone(), holds: *holds, bytes: bytes.len() as u64, sha256: sum(bytes) }
    }
}

fn zipped<'a>(
    list: &str,
    files: impl Iterator<Item = &'a FileOfCase>,
    folders: &[String],
) -> Result<Vec<u8>, ZipError> {
    // Nothing of the machine or the moment it is made on.
    let options = |method| {
        let options = SimpleFileOptions::default().compression_method(method).compression_level(None);
        options.last_modified_time(DateTime::default()).system(System::Unix).unix_permissions(0o644)
    };
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    zip.start_file(CASE_LIST, options(CompressionMethod::Stored))?;
    zip.write_all(list.as_bytes())?;
    for folder in folders {
        zip.add_directory(format!("{folder}/"), options(CompressionMethod::Stored).unix_permissions(0o755))?;
    }
    for file in files {
        zip.start_file(file.name.as_str(), options(CompressionMethod::Deflated))?;
        zip.write_all(&file.bytes)?;
    }
    Ok(zip.finish()?.into_inner())
}
