//! A bench to pass on: one bench file that says everything, and the files it needs beside it.
//!
//! What the command line overrides is written into the bench file, so that the pack alone sets the same bench up again.

use std::collections::{BTreeMap, HashMap};
use std::fs;
use std::path::{Path, PathBuf};

use backporch_adapter::Adapter;
use backporch_input::{InputError, InputErrorKind, parse};
use backporch_quirk::Family;
use backporch_signal::Monitor;

use crate::bench::{Bench, Overrides};
use crate::built_in::BENCHES;
use crate::file::{BenchFile, PictureRef, QuirkRef};
use crate::library::Library;
use crate::setup::folder_of_bench;
use crate::written::differing;

/// A file of a pack.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Packed {
    /// Its name, without a folder.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// Packs the bench of that name with what `overrides` lay over it: the bench file first, then the files it names.
///
/// # Errors
/// As [`Bench::open`], and where a file that the bench names cannot be read.
pub fn pack(name: &str, overrides: &Overrides) -> Result<Vec<Packed>, InputError> {
    let bench = Bench::open(name, overrides)?;
    let source = BENCHES.open(name, Path::new(""))?;
    let library = Library::beside(folder_of_bench(name));
    let file: BenchFile = parse(&source)?;
    let own_name = own_name(name);
    let mut packer = Packer { library, files: Vec::new(), names: HashMap::new() };
    packer.names.insert(own_name.clone(), PathBuf::new());
    let packed = packer.bench(&file, &bench, overrides)?;
    // A file that already says everything stays as its writer left it.
    let text = if packed == file { source.text().to_string() } else { packed.to_text() };
    let first = Packed { name: own_name, bytes: text.into_bytes() };
    Ok(std::iter::once(first).chain(packer.files).collect())
}

/// The name of the bench file in the pack.
fn own_name(name: &str) -> String {
    let base = Path::new(name).file_name().map_or_else(|| name.into(), |base| base.to_string_lossy().into_owned());
    match base.strip_suffix(".ron") {
        Some(stem) => format!("{}.bench.ron", stem.trim_end_matches(".bench")),
        None => format!("{base}.bench.ron"),
    }
}

/// Gathers the files that a bench names.
struct Packer {
    library: Library,
    files: Vec<Packed>,
    /// Names taken, and by which file.
    names: HashMap<String, PathBuf>,
}

impl Packer {
    /// The bench file with all overrides in it, its files in the same folder.
    fn bench(&mut self, file: &BenchFile, bench: &Bench, overrides: &Overrides) -> Result<BenchFile, InputError> {
        let here = Library::default();
        let beside = self.library.clone();
        let (adapter, folder) = overrides.board.as_ref().map_or((&file.adapter, &beside), |board| (board, &here));
        let adapter = self.unless(Adapter::built_in(adapter).is_some(), adapter, folder)?;
        let monitor = match (&overrides.monitor, &file.monitor) {
            (Some(name), _) => Some(self.unless(Monitor::built_in(name).is_some(), name, &here)?),
            (None, Some(name)) => Some(self.unless(Monitor::built_in(name).is_some(), name, &beside)?),
            (None, None) => None,
        };
        let picture = match (&overrides.picture, &file.picture) {
            (Some(path), place) => {
                let source = self.take(&path.to_string_lossy(), &here)?;
                let place = place.clone().unwrap_or_else(|| PictureRef::new(String::new()));
                Some(PictureRef { source, ..place })
            }
            (None, Some(picture)) => {
                let source = self.unless(picture.source == "harbour", &picture.source, &beside)?;
                Some(PictureRef { source, ..picture.clone() })
            }
            (None, None) => None,
        };
        Ok(BenchFile {
            version: file.version,
            title: file.title.clone(),
            adapter,
            mode: match overrides.mode.is_some() || overrides.board.is_some() {
                true => Some(bench.mode().name.clone()),
                false => file.mode.clone(),
            },
            registers: match overrides.set.is_empty() && overrides.board.is_none() && overrides.mode.is_none() {
                true => file.registers.clone(),
                false => differing(bench.adapter(), bench.registers(), &bench.adapter().start_up(bench.mode())),
            },
            plain: file.plain || overrides.plain,
            quirks: self.quirks(file, overrides)?,
            picture,
            memory: match &file.memory {
                Some(name) => Some(self.take(name, &beside)?),
                None => None,
            },
            routine: self.driving(overrides.routine.as_ref(), file.routine.as_ref())?,
            cpu: self.driving(overrides.cpu.as_ref(), file.cpu.as_ref())?,
            // A program's folder stays where it is: what the program reads there is its own affair.
            machine: file.machine.clone(),
            monitor,
            seed: file.seed,
        })
    }

    /// The name of a routine or a CPU model in the pack, the override's before the file's.
    fn driving(&mut self, overriding: Option<&String>, written: Option<&String>) -> Result<Option<String>, InputError> {
        let folder = if overriding.is_some() { Library::default() } else { self.library.clone() };
        match overriding.or(written) {
            // Anything else is built in, or missing for whoever runs it.
            Some(name) if folder.path(name).is_file() => Ok(Some(self.take(name, &folder)?)),
            other => Ok(other.cloned()),
        }
    }

    fn quirks(&mut self, file: &BenchFile, overrides: &Overrides) -> Result<Vec<QuirkRef>, InputError> {
        let (beside, here) = (self.library.clone(), Library::default());
        let of_file = if overrides.no_quirks { &[] } else { file.quirks.as_slice() };
        let mut quirks = Vec::new();
        for quirk in of_file {
            let name = self.unless(Family::built_in(&quirk.name).is_some(), &quirk.name, &beside)?;
            quirks.push(QuirkRef { name, ..quirk.clone() });
        }
        for name in &overrides.quirks {
            let name = self.unless(Family::built_in(name).is_some(), name, &here)?;
            quirks.push(QuirkRef { name, parameters: BTreeMap::new() });
        }
        Ok(quirks)
    }

    /// The name itself where it is built in, else that of the file in the pack.
    fn unless(&mut self, built_in: bool, name: &str, folder: &Library) -> Result<String, InputError> {
        if built_in { Ok(name.to_string()) } else { self.take(name, folder) }
    }

    /// Takes a file into the pack; gives its name there.
    fn take(&mut self, name: &str, folder: &Library) -> Result<String, InputError> {
        let path = folder.path(name);
        let allowed = "a file that can be read";
        let shown = path.display().to_string();
        let unreadable =
            |error: std::io::Error| InputError::new(&shown, error, allowed).of_kind(InputErrorKind::Unreadable);
        let path = fs::canonicalize(&path).map_err(unreadable)?;
        let base = path.file_name().map_or_else(|| "file".into(), |base| base.to_string_lossy().into_owned());
        // A name without an ending could be that of something built in.
        let base = if base.contains('.') { base } else { base + ".file" };
        let numbered = (2..).map(|number| format!("{number}-{base}"));
        for candidate in std::iter::once(base.clone()).chain(numbered) {
            match self.names.get(&candidate) {
                Some(taken) if *taken == path => return Ok(candidate),
                Some(_) => {}
                None => {
                    let bytes = fs::read(&path).map_err(unreadable)?;
                    self.files.push(Packed { name: candidate.clone(), bytes });
                    self.names.insert(candidate.clone(), path);
                    return Ok(candidate);
                }
            }
        }
        Ok(base)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch_input::Source;
    use proptest::prelude::*;

    fn overrides(set: &[(&str, u64)]) -> Overrides {
        Overrides {
            set: set.iter().map(|(name, value)| ((*name).to_string(), *value)).collect(),
            ..Overrides::default()
        }
    }

    /// Packs, unpacks in a folder of its own, and opens.
    fn through_a_folder(name: &str, overrides: &Overrides) -> (Bench, Bench, Vec<Packed>) {
        let folder = tempfile::tempdir().unwrap();
        let packed = pack(name, overrides).unwrap();
        for file in &packed {
            fs::write(folder.path().join(&file.name), &file.bytes).unwrap();
        }
        let path = folder.path().join(&packed[0].name);
        let again = Bench::open(path.to_str().unwrap(), &Overrides::default()).unwrap();
        (Bench::open(name, overrides).unwrap(), again, packed)
    }

    fn alike(one: &Bench, other: &Bench) {
        assert_eq!((one.title(), one.seed()), (other.title(), other.seed()));
        assert_eq!(one.adapter().profile(), other.adapter().profile());
        assert_eq!(one.registers(), other.registers());
        assert_eq!(one.monitor(), other.monitor());
        assert_eq!(one.memory(one.registers()), other.memory(other.registers()));
        let frame = |bench: &Bench| bench.faulty(bench.registers()).run_frame();
        assert!(frame(one) == frame(other), "another frame");
    }

    #[test]
    fn a_built_in_bench_is_packed_as_it_is_written() {
        for (name, text) in BENCHES.entries() {
            let (bench, again, packed) = through_a_folder(name, &Overrides::default());
            alike(&bench, &again);
            assert_eq!(packed.len(), 1);
            assert_eq!(packed[0].name, format!("{name}.bench.ron"));
            assert_eq!(packed[0].bytes, text.as_bytes());
        }
    }

    #[test]
    fn overrides_are_written_into_the_bench() {
        let overrides = Overrides {
            board: Some("colour-graphics".to_string()),
            no_quirks: true,
            quirks: vec!["row-reload".to_string()],
            monitor: Some("fixed-15".to_string()),
            ..overrides(&[("displayed", 36), ("sync_position", 41)])
        };
        let (bench, again, _) = through_a_folder("harbour-256-rows", &overrides);
        alike(&bench, &again);
        assert_eq!(again.adapter().name(), "colour-graphics");
    }

    #[test]
    fn files_of_any_folder_come_along_under_names_of_their_own() {
        let folder = tempfile::tempdir().unwrap();
        let file = |name: &str, bytes: &[u8]| {
            let path = folder.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(&path, bytes).unwrap();
            path.to_str().unwrap().to_string()
        };
        let png =
            backporch_picture::write::png(&image::RgbImage::from_fn(64, 40, |x, y| image::Rgb([x as u8, y as u8, 99])))
                .unwrap();
        let monitor = include_str!("../../../assets/monitors/fixed-31.ron");
        file("art/<i>same.ron", &png);
        file("sets/<i>same.ron", monitor.as_bytes());
        file("raw/harbour", &[7; 300]);
        file("sets/go.routine.ron", b"(version: 1)");
        let text = r#"(version: 1, routine: "sets/go.routine.ron", title: "Two files \"alike\" \\ <script>", adapter: "linear-256", seed: 9, memory: "raw/harbour",
            picture: (source: "art/<i>same.ron", at: 3), monitor: "sets/<i>same.ron")"#;
        let bench = file("mine.bench.ron", text.as_bytes());
        let (bench, again, packed) = through_a_folder(&bench, &overrides(&[("displayed", 35)]));
        alike(&bench, &again);
        let mut names: Vec<&str> = packed.iter().map(|file| file.name.as_str()).collect();
        names.sort_unstable();
        assert_eq!(names, ["2-<i>same.ron", "<i>same.ron", "go.routine.ron", "harbour.file", "mine.bench.ron"]);
        assert_eq!(again.routine(), Some("go.routine.ron"));
    }

    proptest! {
        #[test]
        fn any_title_comes_back(title in any::<String>(), seed: u64) {
            let source = Source::built_in("harbour-256", BENCHES.entries()[0].1);
            let file: BenchFile = parse(&source).unwrap();
            let file = BenchFile { title, seed, ..file };
            let again: BenchFile = parse(&Source::built_in("again", file.to_text())).unwrap();
            prop_assert_eq!(again, file);
        }
    }
}
