//! Opening cases, and reading what lies in them: whatever a zip file says is held against what is allowed.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::io::{self, BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering::Relaxed;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::SystemTime;

use zip::read::{ArchiveOffset, Config};
use zip::result::ZipError;
use zip::{CompressionMethod, ZipArchive};

use super::name::{self, folded, is_safe, shown};
use super::{CASE_LIST, Case, CaseFile, Content, MOST_CASE_BYTES, MOST_CASE_FILE_BYTES, MOST_CASE_FILES, manifest};
use crate::sum::{Summing, sum};
use crate::{InputError, InputErrorKind, MAX_TEXT_BYTES, Source, note_read};

/// What a zip file begins with: its first file, or its end where it has none (APPNOTE 4.3.7, 4.3.16).
const BEGINNINGS: [&[u8; 4]; 2] = [b"PK\x03\x04", b"PK\x05\x06"];

/// File types of Unix in the upper bits of a mode (POSIX, sys/stat.h); none and a regular file are files.
const TYPE_BITS: u32 = 0o170_000;
const REGULAR: u32 = 0o100_000;
const FOLDER: u32 = 0o040_000;

/// Bytes read at most to learn what a zip file says it holds: a header of 46 bytes, a name and as much again for each.
const DIRECTORY_BYTES: u64 = 8 << 20;

/// What a file was when it was checked.
type Stamp = (u64, Option<SystemTime>);

/// Cases checked so far, by their whole paths.
static CHECKED: Mutex<BTreeMap<PathBuf, (Stamp, Arc<Content>)>> = Mutex::new(BTreeMap::new());

pub(super) fn begins_as_zip(path: &Path) -> bool {
    // Opening a pipe would wait for whoever writes to it.
    if !fs::metadata(path).is_ok_and(|data| data.is_file()) {
        return false;
    }
    let mut head = [0; 4];
    File::open(path).and_then(|mut file| file.read_exact(&mut head)).is_ok_and(|()| BEGINNINGS.contains(&&head))
}

/// The content of a case, checked once as long as its file stays as it is.
pub(super) fn checked(path: &Path) -> Result<Arc<Content>, InputError> {
    let reading = Reading { path };
    let data = fs::metadata(path).map_err(|error| reading.io(&error))?;
    if !data.is_file() {
        return Err(reading.refuse(None, "a folder or a device", "a case, which is a zip file"));
    }
    let stamp = (data.len(), data.modified().ok());
    let whole = fs::canonicalize(path).map_err(|error| reading.io(&error))?;
    let known = |known: &(Stamp, Arc<Content>)| (known.0 == stamp).then(|| Arc::clone(&known.1));
    if let Some(content) = CHECKED.lock().unwrap_or_else(PoisonError::into_inner).get(&whole).and_then(known) {
        return Ok(content);
    }
    note_read(path);
    if data.len() > MOST_CASE_BYTES {
        return Err(reading.refuse(None, format!("{} bytes", data.len()), format!("at most {MOST_CASE_BYTES} bytes")));
    }
    let content = Arc::new(reading.content()?);
    let mut checked = CHECKED.lock().unwrap_or_else(PoisonError::into_inner);
    checked.insert(whole, (stamp, Arc::clone(&content)));
    Ok(content)
}

/// A file of a case.
pub(super) fn file(case: &Case, name: &str, most: u64) -> Result<Vec<u8>, InputError> {
    let reading = Reading { path: &case.path };
    let Some(listed) = case.file(name) else {
        let path = case.path_of(&shown(name)).display().to_string();
        let found = if case.has_folder(name) { "a folder" } else { "no such file" };
        return Err(InputError::new(path, found, "a file in the case").of_kind(InputErrorKind::Unreadable));
    };
    let most = most.min(MOST_CASE_FILE_BYTES);
    if listed.bytes > most {
        let found = format!("{} bytes", listed.bytes);
        return Err(reading.refuse(Some(name), found, format!("at most {most} bytes")));
    }
    let mut archive = reading.archive()?;
    let mut bytes = Vec::new();
    reading.inflate(&mut archive, listed, &mut bytes)?;
    reading.check_sum(listed, &sum(&bytes))?;
    Ok(bytes)
}

type Archive = ZipArchive<Budgeted>;

/// A file of which only this many bytes are read, until the budget is lifted: a directory may claim millions of entries.
struct Budgeted {
    file: BufReader<File>,
    left: Arc<AtomicU64>,
}

impl Read for Budgeted {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.file.read(buffer)?;
        let spent = self.left.fetch_update(Relaxed, Relaxed, |left| left.checked_sub(read as u64));
        spent.map(|_| read).map_err(|_| io::Error::new(io::ErrorKind::QuotaExceeded, "more bytes than are allowed"))
    }
}

impl Seek for Budgeted {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

/// One case being read.
struct Reading<'a> {
    path: &'a Path,
}

impl Reading<'_> {
    fn refuse(&self, file: Option<&str>, found: impl std::fmt::Display, allowed: impl std::fmt::Display) -> InputError {
        let error =
            InputError::new(self.path.display().to_string(), found, allowed).of_kind(InputErrorKind::Unreadable);
        match file {
            Some(name) => error.in_field(shown(name)),
            None => error,
        }
    }

    fn io(&self, error: &io::Error) -> InputError {
        let name = self.path.display().to_string();
        match error.kind() {
            io::ErrorKind::NotFound | io::ErrorKind::PermissionDenied | io::ErrorKind::NotADirectory => {
                InputError::from_io(name, error, "a case that can be read", InputErrorKind::Unreadable)
            }
            _ => InputError::from_io(name, error, "a case that can be read", InputErrorKind::Machine),
        }
    }

    /// What the zip library says of a file that does not hold together.
    fn damaged(&self, file: Option<&str>, error: &ZipError) -> InputError {
        let (found, allowed) = match error {
            ZipError::Io(error) if is_of_machine(error) => return self.io(error),
            ZipError::Io(error) if error.kind() == io::ErrorKind::QuotaExceeded => {
                let found = format!("a directory of more than {DIRECTORY_BYTES} bytes");
                return self.refuse(file, found, format!("at most {MOST_CASE_FILES} files"));
            }
            ZipError::Io(error) if error.kind() == io::ErrorKind::UnexpectedEof => {
                ("a file that ends too early".to_string(), "a whole zip file")
            }
            ZipError::CompressionMethodNotSupported(method) => {
                (format!("compression method {method}"), "stored or deflated files")
            }
            _ => (format!("a damaged zip file ({error})"), "a whole zip file"),
        };
        self.refuse(file, found, allowed)
    }

    fn archive(&self) -> Result<Archive, InputError> {
        let file = File::open(self.path).map(BufReader::new).map_err(|error| self.io(&error))?;
        let left = Arc::new(AtomicU64::new(DIRECTORY_BYTES));
        let reader = Budgeted { file, left: Arc::clone(&left) };
        let config = Config { archive_offset: ArchiveOffset::Known(0) };
        let archive = ZipArchive::with_config(config, reader).map_err(|error| self.damaged(None, &error))?;
        left.store(u64::MAX, Relaxed);
        Ok(archive)
    }

    /// Everything in the case, checked.
    fn content(&self) -> Result<Content, InputError> {
        let mut archive = self.archive()?;
        let folders = self.entries(&archive)?;
        archive.validate_header_consistency().map_err(|error| self.damaged(None, &error))?;
        let files = self.list(&mut archive)?;
        let listed: BTreeSet<&str> = files.iter().map(|file| file.name.as_str()).collect();
        let names = archive.file_names().filter_map(Result::ok);
        let stray = names
            .map(|name| name.into_owned())
            .find(|name| name != CASE_LIST && !name.ends_with('/') && !listed.contains(name.as_str()));
        if let Some(stray) = stray {
            return Err(self.refuse(
                Some(&stray),
                format!("a file that {CASE_LIST} does not list"),
                "files that it lists",
            ));
        }
        for file in &files {
            let mut summing = Summing::default();
            self.inflate(&mut archive, file, &mut summing)?;
            self.check_sum(file, &summing.finish())?;
        }
        // One that holds a file needs no word of its own.
        let holds_one = |folder: &String| files.iter().any(|file| file.name.starts_with(&format!("{folder}/")));
        let folders = folders.into_iter().filter(|folder| !holds_one(folder)).collect();
        Ok(Content { files, folders })
    }

    /// Checks what the zip file says of each entry; gives the names of its folders.
    fn entries(&self, archive: &Archive) -> Result<Vec<String>, InputError> {
        if archive.has_duplicate_names() {
            return Err(self.refuse(None, "a name that stands twice", "each name once"));
        }
        // Besides the list.
        let most = MOST_CASE_FILES + 1;
        if archive.len() > most {
            return Err(self.refuse(None, format!("{} entries", archive.len()), format!("at most {most}")));
        }
        let mut names = BTreeSet::new();
        let mut folders = Vec::new();
        let mut bytes = 0_u64;
        let entries = archive.metadata();
        for at in 0..entries.len() {
            let entry = entries.entry(at).map_err(|error| self.damaged(None, &error))?;
            let name = std::str::from_utf8(entry.name_raw()).unwrap_or("a name that is no UTF-8 text");
            let refuse = |found: &str, allowed: &str| Err(self.refuse(Some(name), found, allowed));
            let bare = name.strip_suffix('/').unwrap_or(name);
            if std::str::from_utf8(entry.name_raw()).is_err() || !is_safe(bare) {
                return refuse("a name that leads elsewhere", name::ALLOWED);
            }
            if !names.insert(folded(bare)) {
                return refuse("the same name twice", "each name once, whatever its capitals");
            }
            let kind = entry.unix_mode().unwrap_or(0) & TYPE_BITS;
            let is_folder = bare != name;
            if entry.is_symlink() || !(kind == 0 || kind == REGULAR || (kind == FOLDER && is_folder)) {
                return refuse("a link or a device", "files and folders");
            }
            if entry.encrypted() {
                return refuse("an encrypted file", "files without a password");
            }
            if !matches!(entry.compression(), CompressionMethod::Stored | CompressionMethod::Deflated) {
                return refuse("another compression", "stored or deflated files");
            }
            let most = if is_folder { 0 } else { MOST_CASE_FILE_BYTES };
            bytes = bytes.saturating_add(entry.size());
            if entry.size() > most {
                return refuse(&format!("{} bytes", entry.size()), &format!("at most {most} bytes"));
            }
            if is_folder {
                folders.push(bare.to_string());
            }
        }
        if bytes > MOST_CASE_BYTES + MAX_TEXT_BYTES {
            return Err(self.refuse(
                None,
                format!("{bytes} bytes unpacked"),
                format!("at most {MOST_CASE_BYTES} bytes"),
            ));
        }
        Ok(folders)
    }

    /// The list.
    fn list(&self, archive: &mut Archive) -> Result<Vec<CaseFile>, InputError> {
        let name = self.path.join(CASE_LIST).display().to_string();
        let Some(at) = archive.index_for_name(CASE_LIST) else {
            let found = format!("a zip file without {CASE_LIST}");
            return Err(self.refuse(None, found, "a case, as backporch pack makes one"));
        };
        let mut bytes = Vec::new();
        let entry = archive.by_index(at).map_err(|error| self.damaged(Some(CASE_LIST), &error))?;
        let read = entry.take(MAX_TEXT_BYTES + 1).read_to_end(&mut bytes);
        read.map_err(|error| self.damaged(Some(CASE_LIST), &ZipError::Io(error)))?;
        if bytes.len() as u64 > MAX_TEXT_BYTES {
            let allowed = format!("at most {MAX_TEXT_BYTES} bytes");
            return Err(self.refuse(Some(CASE_LIST), format!("more than {MAX_TEXT_BYTES} bytes"), allowed));
        }
        let text = String::from_utf8(bytes)
            .map_err(|_| self.refuse(Some(CASE_LIST), "bytes that are no text", "UTF-8 text"))?;
        manifest::read(&Source::built_in(name, text))
    }

    /// Unpacks a file as far as the list says it goes; one byte more is one too many.
    fn inflate(&self, archive: &mut Archive, file: &CaseFile, to: &mut impl io::Write) -> Result<(), InputError> {
        let name = Some(file.name.as_str());
        let Some(at) = archive.index_for_name(&file.name) else {
            return Err(self.refuse(name, "no such file", format!("every file that {CASE_LIST} lists")));
        };
        let entry = archive.by_index(at).map_err(|error| self.damaged(name, &error))?;
        let mut limited = entry.take(file.bytes.saturating_add(1));
        let unpacked = match io::copy(&mut limited, to) {
            Ok(unpacked) => unpacked,
            Err(error) if is_of_machine(&error) => return Err(self.io(&error)),
            Err(error) => {
                let found = format!("bytes that do not unpack ({error})");
                return Err(self.refuse(name, found, "a whole file, its check sums right"));
            }
        };
        if unpacked != file.bytes {
            let found = if unpacked > file.bytes { "more bytes".to_string() } else { format!("{unpacked} bytes") };
            return Err(self.refuse(name, found, format!("the {} bytes that {CASE_LIST} lists", file.bytes)));
        }
        Ok(())
    }

    fn check_sum(&self, file: &CaseFile, found: &str) -> Result<(), InputError> {
        if found == file.sha256 {
            return Ok(());
        }
        let (found, allowed) = (format!("SHA-256 {found}"), format!("{}, as {CASE_LIST} lists it", file.sha256));
        Err(self.refuse(Some(&file.name), found, allowed))
    }
}

/// Whether reading failed for another reason than what was read.
fn is_of_machine(error: &io::Error) -> bool {
    error.raw_os_error().is_some()
}
