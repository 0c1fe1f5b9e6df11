//! The one folder a program sees: read only unless asked, and nothing outside it.
//!
//! Names are 8.3 and case does not matter. Every part of a path is looked up
//! in the folder as it really is, links are followed, and what then lies
//! outside is refused: there is no way out by `..`, by link or by drive.

use std::fs;
use std::path::{Component, Path, PathBuf};

use backporch_input::note_read;

/// Largest file a program may open.
const LARGEST: u64 = 16 << 20;

/// A folder.
#[derive(Clone, Debug)]
pub struct Folder {
    root: PathBuf,
    writable: bool,
}

/// Where a path leads.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
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

impl Folder {
    /// The folder at a path, where there is one.
    ///
    /// # Errors
    /// What the machine's own disk says.
    pub fn new(path: &Path, writable: bool) -> std::io::Result<Self> {
        let root = path.canonicalize()?;
        if root.is_dir() { Ok(Self { root, writable }) } else { Err(std::io::ErrorKind::NotADirectory.into()) }
    }

    /// Whether programs may write here.
    #[must_use]
    pub fn is_writable(&self) -> bool {
        self.writable
    }

    /// Looks a program's path up: parts divided by `\` or `/`, perhaps with the drive `C:`.
    #[must_use]
    pub fn find(&self, path: &str) -> Found {
        let path = match path.get(..2) {
            Some(drive) if drive.eq_ignore_ascii_case("c:") => &path[2..],
            Some(drive) if drive.ends_with(':') => return Found::Outside,
            _ => path,
        };
        let mut here = self.root.clone();
        let parts: Vec<&str> = path.split(['\\', '/']).filter(|part| !matches!(*part, "" | ".")).collect();
        let Some((last, folders)) = parts.split_last() else {
            return Found::Folder(here);
        };
        for part in folders {
            match self.step(&here, part) {
                Found::Folder(next) => here = next,
                Found::Outside => return Found::Outside,
                _ => return Found::NoFolder,
            }
        }
        self.step(&here, last)
    }

    /// One part of a path.
    fn step(&self, here: &Path, part: &str) -> Found {
        if part == ".." {
            let up = here.parent().filter(|up| up.starts_with(&self.root));
            return up.map_or(Found::Outside, |up| Found::Folder(up.to_path_buf()));
        }
        // A name that is more than one plain part on the real disk leads who knows where.
        let plain = Path::new(part).components().eq([Component::Normal(part.as_ref())]);
        if !plain || !is_name(part) {
            return Found::NoFolder;
        }
        let Some(real) = entry(here, part) else {
            return Found::Missing(here.join(part.to_ascii_uppercase()));
        };
        match real.canonicalize() {
            Ok(real) if !real.starts_with(&self.root) => Found::Outside,
            Ok(real) if real.is_dir() => Found::Folder(real),
            Ok(real) if real.is_file() => Found::File(real),
            // A link that leads nowhere, a device, a socket.
            _ => Found::Outside,
        }
    }

    /// Reads a file found here.
    ///
    /// # Errors
    /// Why not, in words.
    pub fn read(&self, file: &Path) -> Result<Vec<u8>, String> {
        let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
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
        for name in names_in(folder).filter(|name| is_name(name)) {
            match self.step(folder, &name) {
                Found::File(real) => {
                    let size = fs::metadata(real).map_or(0, |data| data.len());
                    names.push((name.to_ascii_uppercase(), Some(size)));
                }
                Found::Folder(_) => names.push((name.to_ascii_uppercase(), None)),
                _ => {}
            }
        }
        names.sort();
        names.dedup_by(|one, two| one.0 == two.0);
        names
    }
}

fn names_in(folder: &Path) -> impl Iterator<Item = String> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries.filter_map(|entry| entry.file_name().into_string().ok())
}

/// The entry of that name whatever its case; of several, the first by name.
fn entry(folder: &Path, name: &str) -> Option<PathBuf> {
    let found = names_in(folder).filter(|known| known.eq_ignore_ascii_case(name)).min();
    found.map(|found| folder.join(found))
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
            let Found::File(file) = folder.find(path) else { panic!("{path}") };
            assert_eq!(folder.read(&file).unwrap(), b"pier");
        }
        assert_eq!(folder.list(&folder.root), [("MAPS".to_string(), None), ("PIER.DAT".to_string(), Some(4))]);
        assert!(matches!(folder.find("NEW.DAT"), Found::Missing(_)));
        assert_eq!(folder.find("NO\\NEW.DAT"), Found::NoFolder);
    }

    #[test]
    fn nothing_leads_outside() {
        let (outer, folder) = folder();
        for path in ["..\\secret.txt", "maps\\..\\..\\secret.txt", "D:\\X", "/../secret.txt", "C:/../secret.txt"] {
            assert_eq!(folder.find(path), Found::Outside, "{path}");
        }
        #[cfg(unix)]
        {
            let link = |to: &Path, name: &str| std::os::unix::fs::symlink(to, folder.root.join(name)).unwrap();
            link(&outer.path().join("secret.txt"), "LINK.TXT");
            link(outer.path(), "UP");
            link(Path::new("/dev/zero"), "ZERO");
            for path in ["LINK.TXT", "UP\\SECRET.TXT", "ZERO"] {
                assert_eq!(folder.find(path), Found::Outside, "{path}");
            }
        }
        let _ = outer;
    }
}
