//! A bench to pass on: one bench file that says everything, and the files it needs beside it.
//!
//! What the command line overrides is written into the bench file, so that the pack alone sets the same bench up again.
//! Files of the bench's folder keep their places in it; a file that already says everything stays as its writer left it.

use std::collections::{BTreeMap, HashMap};
use std::fs;
use std::path::{Path, PathBuf};

use backporch_input::{
    CASE_ENDING, CASE_LIST, FileOfCase, Holds, InputError, InputErrorKind, MOST_CASE_FILE_BYTES, Number, case_of,
    downwards, folded, is_hidden, is_in_case, parse, read_bytes,
};

use crate::bench::{Bench, Overrides};
use crate::built_in::BENCHES;
use crate::file::{BenchFile, MachineRef, PictureRef, QuirkRef};
use crate::library::Library;
use crate::resource::{Resource, ResourceKind, is_under};
use crate::setup::{case_of_bench, folder_of_bench, source_of};
use crate::written::differing;

/// The files of a bench, the bench file first.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Pack {
    /// The files.
    pub files: Vec<FileOfCase>,
    /// Folders that are there though no file is in them.
    pub empty_folders: Vec<String>,
}

impl Pack {
    /// All of it as a case; `name` is what errors call it.
    ///
    /// # Errors
    /// Where there is more than a case may hold.
    pub fn case(&self, name: &str) -> Result<Vec<u8>, InputError> {
        case_of(name, &self.files, &self.empty_folders)
    }
}

/// The name of the case of a bench: `harbour-256.case.zip`.
#[must_use]
pub fn case_name(bench: &str) -> String {
    let name = base_of(Path::new(bench)).unwrap_or_else(|| bench.to_string());
    let stem = [CASE_ENDING, ".zip", ".bench.ron", ".ron"].iter().find_map(|ending| name.strip_suffix(ending));
    let stem = stem.unwrap_or(&name);
    format!("{}{CASE_ENDING}", if stem.is_empty() { "bench".to_string() } else { stem.replace(is_hidden, "_") })
}

/// What becomes of files outside the bench's folder that the bench names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outside {
    /// They are named and not taken: whoever gets the pack has not asked for them.
    Named,
    /// Taken where they lie in one of these files and folders, else refused.
    Allowed(Vec<PathBuf>),
}

/// What goes into a pack besides the files that the bench itself names.
#[derive(Clone, Debug, Default)]
pub struct Along {
    /// Files that a file of the bench names, by the names they have from the bench's folder.
    pub parts: Vec<String>,
    /// Files of the program's folder, each by its path from there, and where it lies.
    pub of_folder: Vec<(String, PathBuf)>,
    /// Its folders without files, by their paths from there.
    pub empty_folders: Vec<String>,
    /// Files handed along.
    pub handed: Vec<Handed>,
}

/// A file that is handed along with a bench.
#[derive(Clone, Debug)]
pub struct Handed {
    /// Where it lies.
    pub path: PathBuf,
    /// What goes into the pack.
    pub file: FileOfCase,
}

/// Packs the bench of that name with what `overrides` lay over it and what goes `along`. What a case has been given along
/// before goes along again.
///
/// # Errors
/// As [`Bench::open`], where a file that the bench names cannot be read, and where one lies outside its folder and is not
/// to be taken.
pub fn pack(name: &str, overrides: &Overrides, outside: &Outside, along: &Along) -> Result<Pack, InputError> {
    let bench = Bench::open(name, overrides)?;
    let source = source_of(name)?;
    let library = Library::beside(folder_of_bench(name));
    let file: BenchFile = parse(&source)?;
    let own_name = bench_name(name)?;
    let folder = (!BENCHES.contains(name)).then(|| library.folder().to_path_buf());
    let names = [own_name.as_str(), CASE_LIST].map(|taken| (folded(taken), PathBuf::new()));
    let mut packer = Packer { library, folder, outside, pack: Pack::default(), names: names.into() };
    if let Some(folder) = &packer.folder {
        // A program may find the bench file in its folder.
        packer
            .names
            .insert(folded(&own_name), real(&folder.join(base_of(Path::new(source.name())).unwrap_or_default())));
    }
    let packed = packer.bench(&file, &bench, overrides, along)?;
    packer.hand(along.handed.iter().cloned())?;
    if let Some(case) = case_of_bench(name)? {
        let given = case.files().iter().filter(|file| !matches!(file.holds, Holds::Bench | Holds::Part));
        for file in given {
            let path = case.path_of(&file.name);
            let bytes = read_bytes(&path, MOST_CASE_FILE_BYTES)?;
            let file = FileOfCase { name: file.name.clone(), holds: file.holds, bytes };
            packer.hand([Handed { path, file }])?;
        }
    }
    let text = if packed == file { source.text().to_string() } else { packed.to_text() };
    let first = FileOfCase { name: own_name, holds: Holds::Bench, bytes: text.into_bytes() };
    packer.pack.files.insert(0, first);
    Ok(packer.pack)
}

/// The name of the bench file in the pack: its own.
///
/// # Errors
/// Where a case does not hold together.
pub fn bench_name(name: &str) -> Result<String, InputError> {
    if BENCHES.contains(name) {
        return Ok(format!("{name}.bench.ron"));
    }
    let case = case_of_bench(name)?;
    let path = case.map_or_else(|| PathBuf::from(name), |case| case.bench());
    let own = placed(&base_of(&path).unwrap_or_else(|| "bench".to_string()));
    Ok(if folded(&own) == CASE_LIST { format!("2-{own}") } else { own })
}

fn base_of(path: &Path) -> Option<String> {
    path.file_name().map(|name| name.to_string_lossy().into_owned())
}

/// Where a file really lies; links in a case there are none.
fn real(path: &Path) -> PathBuf {
    fs::canonicalize(path).unwrap_or_else(|_| path.to_owned())
}

/// A name without what a case does not take.
fn placed(name: &str) -> String {
    name.replace(|sign: char| sign == ':' || sign == '\\' || is_hidden(sign), "_")
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
struct Packer<'a> {
    library: Library,
    /// The bench's folder; a built-in bench has none.
    folder: Option<PathBuf>,
    outside: &'a Outside,
    pack: Pack,
    /// Names taken, and by which file.
    names: HashMap<String, PathBuf>,
}

impl Packer<'_> {
    /// The bench file with all overrides in it, its files taken.
    fn bench(
        &mut self,
        file: &BenchFile,
        bench: &Bench,
        overrides: &Overrides,
        along: &Along,
    ) -> Result<BenchFile, InputError> {
        let beside = self.library.clone();
        let resources = file.resources(&beside, overrides);
        let changed = Changed { bench, file, overrides };
        let packed = BenchFile {
            version: file.version,
            title: file.title.clone(),
            adapter: self.last(&resources, ResourceKind::Adapter)?.unwrap_or_default(),
            mode: changed.mode(),
            registers: changed.registers(),
            plain: file.plain || overrides.plain,
            quirks: self.quirks(&resources, file)?,
            picture: match self.last(&resources, ResourceKind::Picture)? {
                Some(source) => {
                    let place = file.picture.clone().unwrap_or_else(|| PictureRef::new(String::new()));
                    Some(PictureRef { source, ..place })
                }
                None => None,
            },
            memory: self.last(&resources, ResourceKind::Memory)?,
            routine: self.last(&resources, ResourceKind::Routine)?,
            cpu: self.last(&resources, ResourceKind::Processor)?,
            machine: MachineRef { folder: self.program_folder(&resources, along)?, ..file.machine.clone() },
            monitor: self.last(&resources, ResourceKind::Monitor)?,
            seed: file.seed,
        };
        for part in &along.parts {
            self.take(part, &beside, true, Holds::Part)?;
        }
        Ok(packed)
    }

    /// The name in the pack of the resource of a kind that counts: the last one named.
    fn last(&mut self, resources: &[Resource], kind: ResourceKind) -> Result<Option<String>, InputError> {
        resources.iter().rev().find(|one| one.kind == kind).map(|one| self.packed(one)).transpose()
    }

    fn quirks(&mut self, resources: &[Resource], file: &BenchFile) -> Result<Vec<QuirkRef>, InputError> {
        let mut written = file.quirks.iter();
        let mut quirks = Vec::new();
        for one in resources.iter().filter(|one| one.kind == ResourceKind::Quirk) {
            let parameters =
                if one.field.is_some() { written.next().map(|quirk| quirk.parameters.clone()) } else { None };
            quirks.push(QuirkRef { name: self.packed(one)?, parameters: parameters.unwrap_or_default() });
        }
        Ok(quirks)
    }

    /// The name of a resource in the pack: its own where it is built in, else that of the file in the pack.
    fn packed(&mut self, one: &Resource) -> Result<String, InputError> {
        match one.path() {
            None => Ok(one.name.clone()),
            Some(path) if one.is_outside() && !self.takes(one, &path)? => {
                Ok(base_of(&path).unwrap_or_else(|| one.name.clone()))
            }
            Some(_) => self.take(&one.name, &one.library, one.field.is_some(), Holds::Part),
        }
    }

    /// Whether a file or folder from outside the bench's folder is taken; where it may be neither named nor taken, it is
    /// refused.
    fn takes(&self, one: &Resource, path: &Path) -> Result<bool, InputError> {
        match self.outside {
            Outside::Named => Ok(false),
            Outside::Allowed(allowed) if is_under(path, allowed) => Ok(true),
            Outside::Allowed(_) => {
                let found = format!("{}, outside the bench's folder", one.name);
                let field = one.field.as_ref().map(|field| field.join(".")).unwrap_or_default();
                let error = InputError::new(self.library.folder().display().to_string(), found, "what lies in it");
                let help = format!("--with {} takes it along", path.display());
                Err(error.in_field(field).with_help(help).of_kind(InputErrorKind::Unreadable))
            }
        }
    }

    /// Takes the folder whose files a program may read; gives its name in the pack.
    fn program_folder(&mut self, resources: &[Resource], along: &Along) -> Result<Option<String>, InputError> {
        let Some(folder) = resources.iter().find(|one| one.kind == ResourceKind::Folder) else { return Ok(None) };
        let path = folder.path().unwrap_or_default();
        let outside = folder.is_outside();
        let base = placed(&base_of(&path).unwrap_or_default());
        if outside && !self.takes(folder, &path)? {
            return Ok(Some(base));
        }
        let down = downwards(Path::new(&folder.name)).filter(|_| !outside);
        // A whole path may lead down all the same.
        let name = down.or_else(|| self.below(&path)).map_or(base, |name| placed(&name));
        let prefix = if name.is_empty() { String::new() } else { format!("{name}/") };
        for (at, path) in &along.of_folder {
            let file = format!("{prefix}{}", placed(at));
            self.take_as(&file, path, Holds::Part)?;
        }
        self.pack.empty_folders.extend(along.empty_folders.iter().map(|at| format!("{prefix}{at}")));
        if along.of_folder.is_empty() && along.empty_folders.is_empty() && !name.is_empty() {
            self.pack.empty_folders.push(name.clone());
        }
        let stays = downwards(Path::new(&folder.name)).as_deref() == Some(name.as_str());
        Ok(Some(if stays { folder.name.clone() } else { name }))
    }

    /// Where a file lies in the bench's folder, links followed.
    fn below(&self, path: &Path) -> Option<String> {
        let folder = self.folder.as_ref()?;
        let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
        let (path, folder) = (fs::canonicalize(path).ok()?, fs::canonicalize(folder).ok()?);
        downwards(path.strip_prefix(folder).ok()?)
    }

    /// Takes a file into the pack; gives its name there. One that the bench names keeps its place in the folder.
    fn take(&mut self, name: &str, library: &Library, named_by_file: bool, holds: Holds) -> Result<String, InputError> {
        let path = library.path(name);
        let down = if named_by_file { downwards(Path::new(name)) } else { None };
        let base = base_of(&path).unwrap_or_else(|| "file".to_string());
        // A name without an ending could be that of something built in.
        let elsewhere = || if base.contains('.') { base.clone() } else { format!("{base}.file") };
        let wanted = down.clone().or_else(|| self.below(&path)).unwrap_or_else(elsewhere);
        let taken = self.take_as(&placed(&wanted), &path, holds)?;
        Ok(if down.as_ref() == Some(&taken) { name.to_string() } else { taken })
    }

    /// Takes a file into the pack under that name, or a like one where another file has it.
    fn take_as(&mut self, wanted: &str, path: &Path, holds: Holds) -> Result<String, InputError> {
        let (name, is_new) = self.name_for(wanted, path);
        if is_new {
            let bytes = read_bytes(path, MOST_CASE_FILE_BYTES)?;
            self.pack.files.push(FileOfCase { name: name.clone(), holds, bytes });
        }
        Ok(name)
    }

    /// The name under which a file goes into the pack, and whether it is not yet in it.
    fn name_for(&mut self, wanted: &str, path: &Path) -> (String, bool) {
        let path = real(path);
        let (folder, base) = wanted.rsplit_once('/').map_or(("", wanted), |(folder, base)| (folder, base));
        let numbered = |number: u32| match (number, folder) {
            (1, _) => wanted.to_string(),
            (number, "") => format!("{number}-{base}"),
            (number, folder) => format!("{folder}/{number}-{base}"),
        };
        let mut number = 1;
        loop {
            let name = numbered(number);
            match self.names.get(&folded(&name)) {
                Some(taken) if *taken == path => return (name, false),
                Some(_) => number += 1,
                None => {
                    self.names.insert(folded(&name), path);
                    return (name, true);
                }
            }
        }
    }

    /// Takes files that are handed along; one that is a part already stays one.
    fn hand(&mut self, handed: impl IntoIterator<Item = Handed>) -> Result<(), InputError> {
        for Handed { path, file } in handed {
            let path = real(&path);
            let same = |known: &FileOfCase| known.name == file.name && known.bytes == file.bytes;
            if self.names.values().any(|taken| *taken == path) || self.pack.files.iter().any(same) {
                continue;
            }
            let (name, is_new) = self.name_for(&placed(&file.name), &path);
            if is_new {
                self.pack.files.push(FileOfCase { name, ..file });
            }
        }
        Ok(())
    }
}

/// Where a file handed along goes: its place in the bench's folder, or its own name.
#[must_use]
pub fn place_of_handed(bench: &str, path: &Path) -> String {
    let base = || base_of(path).unwrap_or_else(|| "file".to_string());
    let folder = folder_of_bench(bench);
    if BENCHES.contains(bench) || is_in_case(&folder) {
        return placed(&base());
    }
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { &folder };
    let below = fs::canonicalize(path).ok().zip(fs::canonicalize(folder).ok());
    let below = below.and_then(|(path, folder)| downwards(path.strip_prefix(folder).ok()?));
    placed(&below.unwrap_or_else(base))
}

#[cfg(test)]
mod tests {
    use backporch_test_tools::ROWS_BENCH;

    use super::*;
    use crate::built_in::BENCHES;
    use backporch_input::{Source, file_beside, read_bytes};
    use proptest::prelude::*;

    fn overrides(set: &[(&str, u64)]) -> Overrides {
        Overrides {
            set: set.iter().map(|(name, value)| ((*name).to_string(), *value)).collect(),
            ..Overrides::default()
        }
    }

    /// Packs, unpacks in a folder of its own, and opens.
    fn through_a_folder(name: &str, overrides: &Overrides) -> (Bench, Bench, Vec<FileOfCase>) {
        let folder = tempfile::tempdir().unwrap();
        let packed = pack(name, overrides, &Outside::Named, &Along::default()).unwrap();
        for file in &packed.files {
            let path = folder.path().join(&file.name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, &file.bytes).unwrap();
        }
        let path = folder.path().join(&packed.files[0].name);
        let again = Bench::open(path.to_str().unwrap(), &Overrides::default()).unwrap();
        // As a case it is the same, and packed once more it is the very same.
        let case = folder.path().join("a.case.zip");
        fs::write(&case, packed.case("a").unwrap()).unwrap();
        let case = case.to_str().unwrap();
        alike(&again, &Bench::open(case, &Overrides::default()).unwrap());
        assert_eq!(pack(case, &Overrides::default(), &Outside::Named, &Along::default()).unwrap(), packed);
        (Bench::open(name, overrides).unwrap(), again, packed.files)
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
        assert_eq!(
            names,
            ["art/<i>same.ron", "mine.bench.ron", "raw/harbour", "sets/<i>same.ron", "sets/go.routine.ron"]
        );
        assert_eq!(again.routine(), Some("sets/go.routine.ron"));
    }

    /// A bench whose files lie elsewhere: they go along only where that was said.
    #[test]
    fn files_from_outside_are_taken_where_that_was_said() {
        let here = tempfile::tempdir().unwrap();
        fs::create_dir(here.path().join("inner")).unwrap();
        fs::write(here.path().join("image"), [7; 9]).unwrap();
        let bench = here.path().join("inner/mine.ron");
        fs::write(&bench, "(version: 1, adapter: \"linear-256\", memory: \"../image\")").unwrap();
        let bench = bench.to_str().unwrap();
        let allowed = Overrides { allow: vec![here.path().to_path_buf()], ..Overrides::default() };
        let refused = pack(bench, &Overrides::default(), &Outside::Named, &Along::default()).unwrap_err();
        assert!(refused.help().is_some_and(|help| help.starts_with("--allow")), "{refused}");
        let packed = |outside| pack(bench, &allowed, &outside, &Along::default());
        assert_eq!(packed(Outside::Named).unwrap().files.len(), 1);
        let refused = packed(Outside::Allowed(Vec::new())).unwrap_err();
        assert!(refused.help().is_some_and(|help| help.starts_with("--with")), "{refused}");
        let taken = packed(Outside::Allowed(vec![here.path().join("image")])).unwrap();
        assert_eq!(taken.files.iter().map(|file| file.name.as_str()).collect::<Vec<_>>(), ["mine.ron", "image.file"]);
        let text = String::from_utf8(taken.files[0].bytes.clone()).unwrap();
        assert!(text.contains("memory: \"image.file\""), "{text}");
    }

    /// Whatever a bench in a case names, nothing is read that is not in the case.
    #[test]
    fn a_bench_in_a_case_reads_from_the_case_alone() {
        let here = tempfile::tempdir().unwrap();
        let secret = here.path().join("secret.ron");
        fs::write(&secret, include_str!("../../../assets/monitors/fixed-31.ron")).unwrap();
        let whole = secret.display().to_string();
        for name in ["../secret.ron", "x/../../secret.ron", &whole] {
            for field in ["memory", "routine", "monitor", "cpu", "adapter", "quirk", "picture", "folder"] {
                let rest = match field {
                    "adapter" => format!("adapter: {name:?}"),
                    "quirk" => format!("adapter: \"linear-256\", quirks: [(name: {name:?})]"),
                    "picture" => format!("adapter: \"linear-256\", picture: (source: {name:?})"),
                    "folder" => format!("adapter: \"linear-256\", machine: (folder: {name:?})"),
                    field => format!("adapter: \"linear-256\", {field}: {name:?}"),
                };
                let bytes = format!("(version: 1, {rest})").into_bytes();
                let files = vec![FileOfCase { name: "b.ron".to_string(), holds: Holds::Bench, bytes }];
                let case = here.path().join("a.case.zip");
                fs::write(&case, Pack { files, empty_folders: Vec::new() }.case("a").unwrap()).unwrap();
                let allow = vec![here.path().to_path_buf(), PathBuf::from("/")];
                let overrides = Overrides { allow, ..Overrides::default() };
                let error = match Bench::open(case.to_str().unwrap(), &overrides) {
                    Err(error) => error,
                    // What is read once the board is driven is looked for in the case, too.
                    Ok(_) => read_bytes(&file_beside(&case, name), 1 << 20).unwrap_err(),
                };
                let outside = error.found() == format!("{name}, outside the case");
                assert!(outside || error.found().contains("no such file"), "{field} {name}: {error}");
            }
        }
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
