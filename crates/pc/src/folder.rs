//! The one folder a program sees: read only unless asked, and nothing outside it.
//!
//! Names are 8.3 and case does not matter. Every part of a path is looked up
//! in the folder as it really is, links are followed, and what then lies
//! outside is refused: there is no way out by `..`, by link or by drive.

use std::fs;
use std::io;
use std::path::{Component, Path, PathBuf};

use backporch_input::{Case, case_at, note_read, read_bytes};

/// Largest file a program may open.
const LARGEST: u64 = 16 << 20;

/// A folder on the disk, or one in a case, which can only be read.
#[derive(Clone, Debug)]
pub struct Folder {
    root: PathBuf,
    case: Option<Case>,
    writable: bool,
}

/// Where a path leads.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FolderEntry {
    /// A file.
    File(PathBuf),
    /// A folder.
    Folder(PathBuf),
    /// Nothing there; a file could be made at this path.
    Missing(PathBuf),
    /// Not even the folder it would be in.
    NoFolder,
    /// Outside.
    Outside,
}

/// What a program can see in a folder.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Contents {
    /// Each file by its path from the folder, parts divided by `/`, and where it lies.
    pub files: Vec<(String, PathBuf)>,
    /// Folders without anything a program can see.
    pub empty_folders: Vec<String>,
}

impl Folder {
    /// The folder at a path, where there is one.
    ///
    /// # Errors
    /// What the machine's own disk says; where it is to be writable and lies in a case.
    pub fn new(path: &Path, writable: bool) -> io::Result<Self> {
        match case_at(path).map_err(|error| io::Error::other(error.to_string()))? {
            Some(_) if writable => Err(io::Error::new(io::ErrorKind::ReadOnlyFilesystem, "a case can only be read")),
            Some((case, name)) if case.has_folder(&name) => {
                Ok(Self { root: case.path_of(&name), case: Some(case), writable })
            }
            Some(_) => Err(io::Error::new(io::ErrorKind::NotFound, "no such folder in the case")),
            None => {
                let root = path.canonicalize()?;
                let there = root.is_dir();
                if there { Ok(Self { root, case: None, writable }) } else { Err(io::ErrorKind::NotADirectory.into()) }
            }
        }
    }

    /// Whether a folder found here is the whole.
    #[must_use]
    pub fn is_root(&self, folder: &Path) -> bool {
        folder == self.root
    }

    /// Whether programs may write here.
    #[must_use]
    pub fn is_writable(&self) -> bool {
        self.writable
    }

    /// Looks a program's path up: parts divided by `\` or `/`, perhaps with the drive `C:`.
    #[must_use]
    pub fn find(&self, path: &str) -> FolderEntry {
        let path = match path.get(..2) {
            Some(drive) if drive.eq_ignore_ascii_case("c:") => &path[2..],
            Some(drive) if drive.ends_with(':') => return FolderEntry::Outside,
            _ => path,
        };
        let mut here = self.root.clone();
        let parts: Vec<&str> = path.split(['\\', '/']).filter(|part| !matches!(*part, "" | ".")).collect();
        let Some((last, folders)) = parts.split_last() else {
            return FolderEntry::Folder(here);
        };
        for part in folders {
            match self.step(&here, part) {
                FolderEntry::Folder(next) => here = next,
                FolderEntry::Outside => return FolderEntry::Outside,
                _ => return FolderEntry::NoFolder,
            }
        }
        self.step(&here, last)
    }

    /// One part of a path.
    fn step(&self, here: &Path, part: &str) -> FolderEntry {
        if part == ".." {
            let up = here.parent().filter(|up| up.starts_with(&self.root));
            return up.map_or(FolderEntry::Outside, |up| FolderEntry::Folder(up.to_path_buf()));
        }
        // A name that is more than one plain part on the real disk leads who knows where.
        let plain = Path::new(part).components().eq([Component::Normal(part.as_ref())]);
        if !plain || !is_name(part) {
            return FolderEntry::NoFolder;
        }
        let Some(real) = self.entry(here, part) else {
            return FolderEntry::Missing(here.join(part.to_ascii_uppercase()));
        };
        if let Some((case, name)) = self.in_case(&real) {
            return if case.file(&name).is_some() { FolderEntry::File(real) } else { FolderEntry::Folder(real) };
        }
        match real.canonicalize() {
            Ok(real) if !real.starts_with(&self.root) => FolderEntry::Outside,
            Ok(real) if real.is_dir() => FolderEntry::Folder(real),
            Ok(real) if real.is_file() => FolderEntry::File(real),
            // A link that leads nowhere, a device, a socket.
            _ => FolderEntry::Outside,
        }
    }

    /// Reads a file found here.
    ///
    /// # Errors
    /// Why not, in words.
    pub fn read(&self, file: &Path) -> Result<Vec<u8>, String> {
        let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if self.case.is_some() {
            return read_bytes(file, LARGEST).map_err(|error| format!("could not read {error}"));
        }
        let size = fs::metadata(file).map_err(|error| format!("could not read {name}: {error}"))?.len();
        if size > LARGEST {
            return Err(format!("opened {name}, which has {size} bytes: at most {LARGEST} are allowed"));
        }
        note_read(file);
        fs::read(file).map_err(|error| format!("could not read {name}: {error}"))
    }

    /// Names in a folder found here that a program can see, sorted, with their sizes; folders have none.
    #[must_use]
    pub fn list(&self, folder: &Path) -> Vec<(String, Option<u64>)> {
        let mut names: Vec<(String, Option<u64>)> = Vec::new();
        for name in self.names_in(folder).into_iter().filter(|name| is_name(name)) {
            match self.step(folder, &name) {
                FolderEntry::File(real) => names.push((name.to_ascii_uppercase(), Some(self.size(&real)))),
                FolderEntry::Folder(_) => names.push((name.to_ascii_uppercase(), None)),
                _ => {}
            }
        }
        names.sort();
        names.dedup_by(|one, two| one.0 == two.0);
        names
    }

    /// Everything here that a program can see, at most `most` files and folders.
    #[must_use]
    pub fn contents(&self, most: usize) -> Contents {
        let mut contents = Contents::default();
        let mut waiting = vec![(String::new(), self.root.clone(), vec![self.root.clone()])];
        while let Some((prefix, folder, above)) = waiting.pop() {
            let before = contents.files.len() + waiting.len();
            for name in self.names_in(&folder).into_iter().filter(|name| is_name(name)) {
                let path = format!("{prefix}{name}");
                match self.step(&folder, &name) {
                    FolderEntry::File(real) => contents.files.push((path, real)),
                    // A link may lead back up.
                    FolderEntry::Folder(real) if !above.contains(&real) => {
                        let above = above.iter().chain([&real]).cloned().collect();
                        waiting.push((path + "/", real, above));
                    }
                    _ => {}
                }
                if contents.files.len() + waiting.len() > most {
                    return contents;
                }
            }
            if contents.files.len() + waiting.len() == before && !prefix.is_empty() {
                contents.empty_folders.push(prefix.trim_end_matches('/').to_string());
            }
        }
        contents.files.sort();
        contents.empty_folders.sort();
        contents
    }

    /// The place in the case that a path here stands for.
    fn in_case(&self, path: &Path) -> Option<(&Case, String)> {
        let case = self.case.as_ref()?;
        let name = path.strip_prefix(case.path()).ok()?;
        Some((case, name.components().map(|part| part.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/")))
    }

    fn size(&self, file: &Path) -> u64 {
        match self.in_case(file) {
            Some((case, name)) => case.file(&name).map_or(0, |file| file.bytes),
            None => fs::metadata(file).map_or(0, |data| data.len()),
        }
    }

    fn names_in(&self, folder: &Path) -> Vec<String> {
        if let Some((case, name)) = self.in_case(folder) {
            return case.names_in(&name);
        }
        let entries = fs::read_dir(folder).into_iter().flatten().flatten();
        entries.filter_map(|entry| entry.file_name().into_string().ok()).collect()
    }

    /// The entry of that name whatever its case; of several, the first by name.
    fn entry(&self, folder: &Path, name: &str) -> Option<PathBuf> {
        let found = self.names_in(folder).into_iter().filter(|known| known.eq_ignore_ascii_case(name)).min();
        found.map(|found| folder.join(found))
    }
}

/// Whether a name is one of at most eight characters and an ending of at most three.
#[must_use]
pub fn is_name(name: &str) -> bool {
    let (stem, ending) = name.split_once('.').unwrap_or((name, ""));
    let allowed = |character: char| character.is_ascii_alphanumeric() || "!#$%&'()-@^_`{}~".contains(character);
    (1..=8).contains(&stem.len()) && ending.len() <= 3 && stem.chars().chain(ending.chars()).all(allowed)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder() -> (tempfile::TempDir, Folder) {
        let outer = tempfile::tempdir().unwrap();
        fs::write(outer.path().join("secret.txt"), "no").unwrap();
        fs::create_dir_all(outer.path().join("quay/maps")).unwrap();
        fs::write(outer.path().join("quay/Pier.Dat"), "pier").unwrap();
        fs::write(outer.path().join("quay/maps/A.BIN"), "a").unwrap();
        fs::write(outer.path().join("quay/a name too long.text"), "x").unwrap();
        let folder = Folder::new(&outer.path().join("quay"), false).unwrap();
        (outer, folder)
    }

    #[test]
    fn names_are_found_whatever_their_case() {
        let (_outer, folder) = folder();
        for path in ["PIER.DAT", "pier.dat", "c:\\Pier.Dat", ".\\maps\\..\\PIER.dat"] {
            let FolderEntry::File(file) = folder.find(path) else { panic!("{path}") };
            assert_eq!(folder.read(&file).unwrap(), b"pier");
        }
        assert_eq!(folder.list(&folder.root), [("MAPS".to_string(), None), ("PIER.DAT".to_string(), Some(4))]);
        assert!(matches!(folder.find("NEW.DAT"), FolderEntry::Missing(_)));
        assert_eq!(folder.find("NO\\NEW.DAT"), FolderEntry::NoFolder);
    }

    #[test]
    fn a_folder_in_a_case_is_one_that_can_only_be_read() {
        use backporch_input::{FileOfCase, Holds, case_of};
        let here = tempfile::tempdir().unwrap();
        let file = |name: &str, holds| FileOfCase { name: name.to_string(), holds, bytes: b"pier".to_vec() };
        let files =
            [file("bench", Holds::Bench), file("quay/Pier.Dat", Holds::Part), file("quay/maps/A.BIN", Holds::Part)];
        let path = here.path().join("a.case.zip");
        fs::write(&path, case_of("a", &files, &["quay/none".to_string()]).unwrap()).unwrap();
        let folder = Folder::new(&path.join("quay"), false).unwrap();
        for name in ["PIER.DAT", "c:\\pier.dat", ".\\maps\\..\\PIER.dat"] {
            let FolderEntry::File(file) = folder.find(name) else { panic!("{name}") };
            assert_eq!(folder.read(&file).unwrap(), b"pier");
        }
        let listed = [("MAPS".to_string(), None), ("NONE".to_string(), None), ("PIER.DAT".to_string(), Some(4))];
        assert_eq!(folder.list(&folder.root), listed);
        let contents = folder.contents(9);
        let names: Vec<&str> = contents.files.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!((names, contents.empty_folders), (vec!["Pier.Dat", "maps/A.BIN"], vec!["none".to_string()]));
        assert_eq!(folder.find("..\\bench"), FolderEntry::Outside);
        assert!(Folder::new(&path.join("quay"), true).is_err() && Folder::new(&path.join("pier"), false).is_err());
        assert!(Folder::new(&path.join("../x"), false).is_err());
    }

    #[test]
    fn nothing_leads_outside() {
        let (outer, folder) = folder();
        for path in ["..\\secret.txt", "maps\\..\\..\\secret.txt", "D:\\X", "/../secret.txt", "C:/../secret.txt"] {
            assert_eq!(folder.find(path), FolderEntry::Outside, "{path}");
        }
        #[cfg(unix)]
        {
            let link = |to: &Path, name: &str| std::os::unix::fs::symlink(to, folder.root.join(name)).unwrap();
            link(&outer.path().join("secret.txt"), "LINK.TXT");
            link(outer.path(), "UP");
            link(Path::new("/dev/zero"), "ZERO");
            for path in ["LINK.TXT", "UP\\SECRET.TXT", "ZERO"] {
                assert_eq!(folder.find(path), FolderEntry::Outside, "{path}");
            }
        }
        let _ = outer;
    }
}
