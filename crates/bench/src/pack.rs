//! A bench to pass on: one bench file that says everything, and the files it needs beside it.
//!
//! What the command line overrides is written into the bench file, so that the pack alone sets the same bench up again.

use std::collections::{BTreeMap, HashMap};
use std::fs;
use std::path::{Path, PathBuf};

use backporch_input::{InputError, Number, parse, read_bytes};

use crate::bench::{Bench, Overrides};
use crate::file::{BenchFile, MachineRef, PictureRef, QuirkRef};
use crate::library::Library;
use crate::resource::{Kind, Resource};
use crate::setup::{folder_of_bench, source_of};
use crate::written::differing;

/// Largest file taken into a pack, in bytes: that of a long write trace.
const LARGEST_FILE: u64 = 256 << 20;

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
    let source = source_of(name)?;
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

/// The name of the folder a program may read. It stays where it is: what the program reads there is its own affair, and
/// where it lies on this machine is nobody's.
fn folder_name(resources: &[Resource]) -> Option<String> {
    let folder = resources.iter().find(|one| one.kind == Kind::Folder)?;
    let name = Path::new(&folder.name);
    let stays = name.is_relative() && !folder.is_outside();
    if stays { Some(folder.name.clone()) } else { name.file_name().map(|name| name.to_string_lossy().into_owned()) }
}

/// What the command line changed of a bench beside what it names.
struct Changed<'a> {
    bench: &'a Bench,
    file: &'a BenchFile,
    overrides: &'a Overrides,
}

impl Changed<'_> {
    fn mode(&self) -> Option<String> {
        let changed = self.overrides.mode.is_some() || self.overrides.board.is_some();
        if changed { Some(self.bench.mode().name.clone()) } else { self.file.mode.clone() }
    }

    fn registers(&self) -> BTreeMap<String, Number> {
        let Overrides { set, board, mode, start, .. } = self.overrides;
        let same = set.is_empty() && board.is_none() && mode.is_none() && start.is_none();
        if same {
            return self.file.registers.clone();
        }
        let adapter = self.bench.adapter();
        differing(adapter, self.bench.registers(), &adapter.start_up(self.bench.mode()))
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
        let beside = self.library.clone();
        let resources = file.resources(&beside, overrides);
        let changed = Changed { bench, file, overrides };
        Ok(BenchFile {
            version: file.version,
            title: file.title.clone(),
            adapter: self.last(&resources, Kind::Adapter)?.unwrap_or_default(),
            mode: changed.mode(),
            registers: changed.registers(),
            plain: file.plain || overrides.plain,
            quirks: self.quirks(&resources, file)?,
            picture: match self.last(&resources, Kind::Picture)? {
                Some(source) => {
                    let place = file.picture.clone().unwrap_or_else(|| PictureRef::new(String::new()));
                    Some(PictureRef { source, ..place })
                }
                None => None,
            },
            memory: self.last(&resources, Kind::Memory)?,
            routine: self.last(&resources, Kind::Routine)?,
            cpu: self.last(&resources, Kind::Processor)?,
            machine: MachineRef { folder: folder_name(&resources), ..file.machine.clone() },
            monitor: self.last(&resources, Kind::Monitor)?,
            seed: file.seed,
        })
    }

    /// The name in the pack of the resource of a kind that counts: the last one named.
    fn last(&mut self, resources: &[Resource], kind: Kind) -> Result<Option<String>, InputError> {
        resources.iter().rev().find(|one| one.kind == kind).map(|one| self.packed(one)).transpose()
    }

    fn quirks(&mut self, resources: &[Resource], file: &BenchFile) -> Result<Vec<QuirkRef>, InputError> {
        let mut written = file.quirks.iter();
        let mut quirks = Vec::new();
        for one in resources.iter().filter(|one| one.kind == Kind::Quirk) {
            let parameters =
                if one.field.is_some() { written.next().map(|quirk| quirk.parameters.clone()) } else { None };
            quirks.push(QuirkRef { name: self.packed(one)?, parameters: parameters.unwrap_or_default() });
        }
        Ok(quirks)
    }

    /// The name of a resource in the pack: its own where it is built in, else that of the file in the pack. A file from
    /// outside the bench's folder is named, never taken along: whoever gets the pack has not asked for it.
    fn packed(&mut self, one: &Resource) -> Result<String, InputError> {
        match one.path() {
            None => Ok(one.name.clone()),
            Some(path) if one.is_outside() => {
                Ok(path.file_name().map_or_else(|| one.name.clone(), |name| name.to_string_lossy().into_owned()))
            }
            Some(_) => self.take(&one.name, &one.library),
        }
    }

    /// Takes a file into the pack; gives its name there.
    fn take(&mut self, name: &str, folder: &Library) -> Result<String, InputError> {
        let path = folder.path(name);
        let path = fs::canonicalize(&path).unwrap_or(path);
        let base = path.file_name().map_or_else(|| "file".into(), |base| base.to_string_lossy().into_owned());
        // A name without an ending could be that of something built in.
        let base = if base.contains('.') { base } else { base + ".file" };
        let numbered = (2..).map(|number| format!("{number}-{base}"));
        for candidate in std::iter::once(base.clone()).chain(numbered) {
            match self.names.get(&candidate) {
                Some(taken) if *taken == path => return Ok(candidate),
                Some(_) => {}
                None => {
                    let bytes = read_bytes(&path, LARGEST_FILE)?;
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
    use backporch_test_tools::ROWS_BENCH;

    use super::*;
    use crate::built_in::BENCHES;
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
        let (bench, again, _) = through_a_folder(ROWS_BENCH, &overrides);
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
        fn any_title_comes_back(title in "\\PC{0,40}", seed: u64) {
            prop_assume!(!title.chars().any(backporch_input::is_hidden));
            let source = Source::built_in("harbour-256", BENCHES.entries()[0].1);
            let file: BenchFile = parse(&source).unwrap();
            let file = BenchFile { title, seed, ..file };
            let again: BenchFile = parse(&Source::built_in("again", file.to_text())).unwrap();
            prop_assert_eq!(again, file);
        }
    }
}
