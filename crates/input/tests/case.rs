//! Cases that come back as they were made, and zip files that are none: each is refused with a word on what it is.

use std::fs;
use std::io::{Cursor, Write};
use std::path::{Path, PathBuf};

use backporch_input::{
    CASE_LIST, Case, FileOfCase, Holds, InputError, MOST_CASE_FILES, Source, case_of, file_beside, is_there,
    leads_outside, read_bytes,
};
use proptest::prelude::*;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

fn file(name: &str, holds: Holds, bytes: &[u8]) -> FileOfCase {
    FileOfCase { name: name.to_string(), holds, bytes: bytes.to_vec() }
}

fn files() -> Vec<FileOfCase> {
    vec![
        file("mine.bench.ron", Holds::Bench, b"(version: 1)"),
        file("art/quay.png", Holds::Part, &[7; 3000]),
        file("ANSWERS.TXT", Holds::Answers, b""),
    ]
}

/// A folder with a file of these bytes in it.
fn written(bytes: &[u8]) -> (tempfile::TempDir, PathBuf) {
    let here = tempfile::tempdir().unwrap();
    let path = here.path().join("a.case.zip");
    fs::write(&path, bytes).unwrap();
    (here, path)
}

/// A list of one bench with this content, as a case has it.
fn list_of(name: &str, content: &[u8]) -> String {
    let made = case_of("a", &[file(name, Holds::Bench, content)], &[]).unwrap();
    let (_here, path) = written(&made);
    String::from_utf8(zip_entry(&path, CASE_LIST)).unwrap()
}

fn zip_entry(path: &Path, name: &str) -> Vec<u8> {
    let mut archive = zip::ZipArchive::new(fs::File::open(path).unwrap()).unwrap();
    let mut bytes = Vec::new();
    std::io::copy(&mut archive.by_name(name).unwrap(), &mut bytes).unwrap();
    bytes
}

/// A zip file made by hand: names, how each is kept, and bytes.
struct Handmade(ZipWriter<Cursor<Vec<u8>>>);

impl Handmade {
    fn new() -> Self {
        Self(ZipWriter::new(Cursor::new(Vec::new())))
    }

    fn file(mut self, name: &str, bytes: &[u8]) -> Self {
        self.0.start_file(name, SimpleFileOptions::default()).unwrap();
        self.0.write_all(bytes).unwrap();
        self
    }

    fn finish(self) -> Vec<u8> {
        self.0.finish().unwrap().into_inner()
    }
}

fn refused(bytes: &[u8]) -> InputError {
    let (_here, path) = written(bytes);
    Case::open(&path).unwrap_err()
}

/// Replaces every occurrence of some bytes by as many others.
fn patched(mut bytes: Vec<u8>, from: &[u8], to: &[u8]) -> Vec<u8> {
    assert_eq!(from.len(), to.len());
    let mut found = 0;
    for at in 0..=bytes.len() - from.len() {
        if bytes[at..].starts_with(from) {
            bytes[at..at + to.len()].copy_from_slice(to);
            found += 1;
        }
    }
    assert!(found > 0, "nothing to patch");
    bytes
}

#[test]
fn what_is_packed_is_read_as_any_file() {
    let made = case_of("a", &files(), &["empty/folder".to_string()]).unwrap();
    let (here, path) = written(&made);
    let case = Case::open(&path).unwrap();
    assert_eq!(case.bench(), path.join("mine.bench.ron"));
    assert_eq!(case.holding(Holds::Answers).map(|file| file.name.as_str()).collect::<Vec<_>>(), ["ANSWERS.TXT"]);
    assert_eq!(read_bytes(&path.join("art/quay.png"), 3000).unwrap(), [7; 3000]);
    assert_eq!(read_bytes(&path.join("art/../ANSWERS.TXT"), 0).unwrap(), b"");
    assert_eq!(Source::read(&case.bench()).unwrap().name(), path.join("mine.bench.ron").display().to_string());
    assert_eq!(case.names_in(""), ["ANSWERS.TXT", "art", "empty", "mine.bench.ron"]);
    assert_eq!(case.names_in("art"), ["quay.png"]);
    assert!(
        case.has_folder("") && case.has_folder("art") && case.has_folder("empty") && case.has_folder("empty/folder")
    );
    assert!(!case.has_folder("ar") && !case.has_folder("art/quay.png"));
    assert!(is_there(&path.join("art")) && is_there(&path.join("ANSWERS.TXT")) && !is_there(&path.join("none")));
    for (name, found) in [
        ("none", "no such file"),
        ("art", "a folder"),
        ("../a.case.zip", "a path that leads out of the case"),
        ("art/quay.png/x", "no such file"),
    ] {
        assert_eq!(read_bytes(&path.join(name), 9).unwrap_err().found(), found, "{name}");
    }
    let larger = read_bytes(&path.join("art/quay.png"), 2999).unwrap_err();
    assert_eq!((larger.found(), larger.allowed()), ("3000 bytes", "at most 2999 bytes"));
    assert!(larger.field() == Some("art/quay.png"));
    // An absolute name in a case is no way out of it.
    let secret = here.path().join("secret");
    fs::write(&secret, b"secret").unwrap();
    assert_eq!(read_bytes(&file_beside(&path, &secret), 99).unwrap_err().found(), "no such file");
    assert!(leads_outside(&path, &secret) && !leads_outside(&path, &path.join("art/quay.png")));
}

#[test]
fn a_case_made_twice_is_the_same() {
    let mut files = files();
    let made = case_of("a", &files, &[]).unwrap();
    files.reverse();
    assert_eq!(case_of("a", &files, &[]).unwrap(), made);
}

#[test]
fn what_cannot_be_in_a_case_is_not_packed() {
    let with = |name: &str| {
        let mut files = files();
        files.push(file(name, Holds::Other, b"x"));
        case_of("a", &files, &[]).unwrap_err()
    };
    for name in ["../x", "/x", "c:x", "", "a\\b"] {
        assert_eq!(with(name).found(), "a name that leads elsewhere", "{name}");
    }
    assert_eq!(with("ART/quay.png").found(), "a second file beside art/quay.png");
    assert_eq!(with("Case.ron").found(), "Case.ron twice");
    let none: Vec<FileOfCase> = files().split_off(1);
    assert_eq!(case_of("a", &none, &[]).unwrap_err().found(), "0 benches");
}

#[test]
fn as_many_files_as_are_allowed_are_read() {
    let mut files = vec![file("b", Holds::Bench, b"b")];
    files.extend((1..MOST_CASE_FILES).map(|at| file(&format!("{at}{}", "x".repeat(200)), Holds::Part, b"x")));
    let (_here, path) = written(&case_of("a", &files, &[]).unwrap());
    assert_eq!(Case::open(&path).unwrap().files().len(), MOST_CASE_FILES);
    files.push(file("one more", Holds::Part, b"x"));
    assert_eq!(case_of("a", &files, &[]).unwrap_err().found(), "4097 files");
}

#[test]
fn names_that_lead_elsewhere_are_refused() {
    let list = list_of("bench", b"b");
    for name in ["../x", "/etc/x", "a/../../x", "c:/x", "a//b", "a\\b"] {
        // What makes zip files is more careful than who patches them.
        let zip =
            Handmade::new().file(CASE_LIST, list.as_bytes()).file("bench", b"b").file(&"y".repeat(name.len()), b"x");
        let zip = patched(zip.finish(), "y".repeat(name.len()).as_bytes(), name.as_bytes());
        let error = refused(&zip);
        assert_eq!((error.found(), error.field()), ("a name that leads elsewhere", Some(name)), "{error}");
        assert!(error.allowed().starts_with("a relative name"));
    }
}

#[test]
fn links_devices_and_folders_with_bytes_are_refused() {
    let list = list_of("bench", b"b");
    let base = || Handmade::new().file(CASE_LIST, list.as_bytes()).file("bench", b"b");
    let mut link = base();
    link.0.add_symlink("link", "/etc/passwd", SimpleFileOptions::default()).unwrap();
    assert_eq!(
        refused(&link.finish()).to_string().rsplit(": ").next().unwrap(),
        "found a link or a device, allowed files and folders"
    );
    let mut device = base();
    device.0.start_file("null", SimpleFileOptions::default().external_attributes(0o020_666 << 16)).unwrap();
    assert_eq!(refused(&device.finish()).found(), "a link or a device");
    let zip = base().file("yyy", b"bytes").finish();
    let error = refused(&patched(zip, b"yyy", b"yy/"));
    assert_eq!((error.found(), error.field()), ("5 bytes", Some("yy/")));
}

#[test]
fn a_name_stands_once_only() {
    let list = list_of("bench", b"b");
    let two = Handmade::new().file(CASE_LIST, list.as_bytes()).file("bench", b"b").file("bunch", b"c").finish();
    assert_eq!(refused(&patched(two.clone(), b"bunch", b"bench")).found(), "a name that stands twice");
    let error = refused(&patched(two, b"bunch", b"Bench"));
    assert_eq!((error.found(), error.field()), ("the same name twice", Some("Bench")));
}

#[test]
fn files_that_the_list_does_not_tell_are_refused_and_missing_ones_named() {
    let list = list_of("bench", b"b");
    let error =
        refused(&Handmade::new().file(CASE_LIST, list.as_bytes()).file("bench", b"b").file("more", b"x").finish());
    assert_eq!((error.found(), error.field()), ("a file that case.ron does not list", Some("more")));
    let error = refused(&Handmade::new().file(CASE_LIST, list.as_bytes()).finish());
    assert_eq!((error.found(), error.field()), ("no such file", Some("bench")));
    let error = refused(&Handmade::new().file("bench", b"b").finish());
    assert_eq!(error.found(), "a zip file without case.ron");
    let error = refused(&Handmade::new().file(CASE_LIST, b"(version: 2, files: [])").finish());
    assert!(error.file().ends_with("a.case.zip/case.ron") && error.field() == Some("version"), "{error}");
    assert_eq!(refused(&Handmade::new().file(CASE_LIST, b"\xff").finish()).found(), "bytes that are no text");
}

#[test]
fn other_bytes_than_listed_are_refused() {
    let list = list_of("bench", b"content");
    let made = |content: &[u8]| Handmade::new().file(CASE_LIST, list.as_bytes()).file("bench", content).finish();
    let error = refused(&made(b"Content"));
    assert!(error.found().starts_with("SHA-256 ") && error.allowed().ends_with("as case.ron lists it"), "{error}");
    assert_eq!(error.field(), Some("bench"));
    assert_eq!(refused(&made(b"conten")).found(), "6 bytes");
    assert_eq!(refused(&made(b"contents")).found(), "more bytes");
}

/// A file that claims little and unpacks to much is given up after the bytes it claims.
#[test]
fn bombs_are_refused() {
    let list = list_of("bench", b"0000");
    let bomb = Handmade::new().file(CASE_LIST, list.as_bytes()).file("bench", &[b'0'; 64 << 20]).finish();
    assert!(bomb.len() < 200_000);
    assert_eq!(refused(&bomb).found(), "more bytes");
    // One that says so is refused before a byte is unpacked.
    let zip = Handmade::new().file(CASE_LIST, list.as_bytes()).file("bench", b"0000").finish();
    let claims = patched(zip, &[4, 0, 0, 0, 5, 0], &[0xFF, 0xFF, 0xFF, 0x7F, 5, 0]);
    let error = refused(&claims);
    assert_eq!((error.found(), error.allowed()), ("2147483647 bytes", "at most 268435456 bytes"), "{error}");
    let long = Handmade::new().file(CASE_LIST, &[b' '; 5 << 20]).finish();
    assert_eq!(refused(&long).found(), "more than 4194304 bytes");
}

#[test]
fn huge_counts_are_refused() {
    let mut zip = Handmade::new();
    for at in 0..=MOST_CASE_FILES + 1 {
        zip = zip.file(&at.to_string(), b"");
    }
    let error = refused(&zip.finish());
    assert_eq!((error.found(), error.allowed()), ("4098 entries", "at most 4097"));
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    (0..200_000).for_each(|at| zip.start_file(at.to_string(), stored).unwrap());
    let error = refused(&zip.finish().unwrap().into_inner());
    assert_eq!(error.found(), "a directory of more than 8388608 bytes");
    // The end of the directory claims entries that are not there.
    let zip = Handmade::new().file(CASE_LIST, b"x").finish();
    let claims = patched(zip, &[1, 0, 1, 0], &[0xFE, 0xFF, 0xFE, 0xFF]);
    assert!(refused(&claims).found().starts_with("a damaged zip file"), "{}", refused(&claims));
}

#[test]
fn what_is_no_whole_zip_file_is_refused() {
    let made = case_of("a", &files(), &[]).unwrap();
    assert!(refused(b"no zip").found().starts_with("a damaged zip file"));
    let (here, path) = written(b"no zip");
    assert!(!Case::is_case(&path) && !Case::is_case(here.path()) && !Case::is_case(&here.path().join("none")));
    assert_eq!(Case::open(here.path()).unwrap_err().found(), "a folder or a device");
    assert_eq!(Case::open(&here.path().join("none")).unwrap_err().found(), "no such file");
    for length in 0..made.len() {
        let error = refused(&made[..length]);
        assert!(!error.found().is_empty() && error.file().ends_with("a.case.zip"), "{length}: {error}");
    }
    let encrypted = patched(made.clone(), &[20, 0, 0, 0, 8, 0], &[20, 0, 1, 0, 8, 0]);
    assert_eq!(refused(&encrypted).found(), "an encrypted file");
    let squeezed = patched(made, &[20, 0, 0, 0, 8, 0], &[20, 0, 0, 0, 12, 0]);
    assert_eq!(refused(&squeezed).found(), "another compression");
}

#[test]
fn entries_that_share_bytes_are_refused() {
    let mut zip = Handmade::new().file(CASE_LIST, list_of("bench", b"b").as_bytes()).file("bench", b"b");
    zip.0.shallow_copy_file("bench", "again").unwrap();
    let error = refused(&zip.finish());
    assert!(error.found().contains("damaged zip file"), "{error}");
}

/// A case that is changed between two reads is checked again, and what was checked before is not believed.
#[test]
fn a_case_that_changes_is_checked_again() {
    let (_here, path) = written(&case_of("a", &files(), &[]).unwrap());
    assert_eq!(read_bytes(&path.join("mine.bench.ron"), 99).unwrap(), b"(version: 1)");
    let mut other = files();
    other[0].bytes = b"(version: 1, title: \"other\")".to_vec();
    fs::write(&path, case_of("a", &other, &[]).unwrap()).unwrap();
    assert_eq!(read_bytes(&path.join("mine.bench.ron"), 99).unwrap(), other[0].bytes);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Whatever byte of a case is changed, it is refused, or what it says and holds is what it was.
    #[test]
    fn no_changed_byte_goes_unnoticed(at: prop::sample::Index, byte: u8) {
        let made = case_of("a", &files(), &[]).unwrap();
        let mut changed = made.clone();
        changed[at.index(made.len())] = byte;
        let (_here, path) = written(&changed);
        if let Ok(case) = Case::open(&path) {
            for file in files() {
                prop_assert_eq!(case.read(&file.name, 9999).unwrap(), file.bytes);
            }
        }
    }

    #[test]
    fn any_files_come_back(contents in prop::collection::btree_map("[a-z]{1,8}(/[a-z]{1,8}\\.[a-z]{1,3})?", prop::collection::vec(any::<u8>(), 0..300), 1..20)) {
        let of = |(at, (name, bytes)): (usize, (&String, &Vec<u8>))| {
            file(&format!("{at}{name}"), if at == 0 { Holds::Bench } else { Holds::Part }, bytes)
        };
        let files: Vec<FileOfCase> = contents.iter().enumerate().map(of).collect();
        let (_here, path) = written(&case_of("a", &files, &[]).unwrap());
        for file in &files {
            prop_assert_eq!(&read_bytes(&path.join(&file.name), 300).unwrap(), &file.bytes);
        }
    }

    #[test]
    fn random_bytes_are_refused(bytes: Vec<u8>) {
        let (_here, path) = written(&[b"PK\x03\x04".as_slice(), &bytes].concat());
        prop_assert!(Case::open(&path).is_err());
    }
}
