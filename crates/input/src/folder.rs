//! Writing a folder of files whole or not at all.
//!
//! The files go to a new folder beside the one asked for, which then takes the name.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use crate::sum::sum;
use crate::temporary::{LIST, Temporary, temporary_name};
use crate::write::{cannot_write, check_folder, folder_of, refuse_dangling, resolved, unusable};
use crate::{InputError, Overwrite};

/// A folder that is filled file by file and takes its name at the end.
///
/// It lists its files and their check sums (SHA-256) in a file of its own, [`WholeFolder::LIST`]: by that it is known
/// again. Dropped without [`finish`](Self::finish), it leaves nothing behind.
#[derive(Debug)]
pub struct WholeFolder {
    path: PathBuf,
    target: PathBuf,
    temporary: Temporary,
    list: File,
    sums: BTreeMap<String, String>,
    replaces: bool,
}

impl WholeFolder {
    /// Name of the file that lists what is in the folder, a line a file: check sum, two spaces, name.
    pub const LIST: &str = LIST;

    /// Begins a folder. One that stands there is replaced at the end only if it is empty, or made by this type, every
    /// file in it still the same, so that no file put there is lost. A link stays, and the folder it leads to
    /// is replaced.
    ///
    /// # Errors
    /// Kind [`Unreadable`](crate::InputErrorKind::Unreadable) for a path that cannot be such a folder, kind
    /// [`Machine`](crate::InputErrorKind::Machine) for all that the system refuses.
    pub fn create(path: &Path) -> Result<Self, InputError> {
        refuse_dangling(path)?;
        let target = resolved(path);
        let replaces = match fs::read_dir(&target) {
            Ok(_) => {
                Overwrite::AnyFile.check_folder(path)?;
                if let Some(found) = foreign(&target).map_err(|error| cannot_write(path, &error))? {
                    let allowed = "a new folder, an empty one, or one written by the same command";
                    return Err(unusable(path, &format!("a folder that holds {found}"), allowed));
                }
                true
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                check_folder(path, &target)?;
                false
            }
            Err(error) if error.kind() == io::ErrorKind::NotADirectory => {
                return Err(unusable(path, "a file", "a folder"));
            }
            Err(error) => return Err(cannot_write(path, &error)),
        };
        let (temporary, list) = Temporary::folder(folder_of(&target)).map_err(|error| cannot_write(path, &error))?;
        Ok(Self { path: path.to_owned(), target, temporary, list, sums: BTreeMap::new(), replaces })
    }

    /// Puts a file into the folder, and the folders that its name leads through, parts divided by `/`.
    ///
    /// # Errors
    /// What the system refuses, under the name of the folder.
    pub fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), InputError> {
        let path = self.temporary.path().join(name);
        let written = fs::create_dir_all(folder_of(&path)).and_then(|()| fs::write(path, bytes));
        written.map_err(|error| cannot_write(&self.path, &error))?;
        self.sums.insert(name.to_owned(), sum(bytes));
        Ok(())
    }

    /// Puts a folder without files into the folder.
    ///
    /// # Errors
    /// What the system refuses, under the name of the folder.
    pub fn write_folder(&mut self, name: &str) -> Result<(), InputError> {
        fs::create_dir_all(self.temporary.path().join(name)).map_err(|error| cannot_write(&self.path, &error))
    }

    /// Gives the folder its name.
    ///
    /// # Errors
    /// What the system refuses; what stood under the name is then as it was.
    pub fn finish(mut self) -> Result<(), InputError> {
        let lines = self.sums.iter().map(|(name, sum)| format!("{sum}  {name}\n"));
        let listed = self.list.write_all(lines.collect::<String>().as_bytes());
        let Self { path, target, temporary, replaces, .. } = self;
        listed.and_then(|()| take_name(temporary, &target, replaces)).map_err(|error| cannot_write(&path, &error))
    }
}

fn take_name(temporary: Temporary, target: &Path, replaces: bool) -> io::Result<()> {
    if !replaces {
        return temporary.rename_to(target);
    }
    // No name that is swept: killed right here, the program has left the old folder under this one.
    let aside = folder_of(target).join(temporary_name() + "-before");
    fs::rename(target, &aside)?;
    match temporary.rename_to(target) {
        Ok(()) => fs::remove_dir_all(&aside),
        Err(error) => {
            fs::rename(&aside, target)?;
            Err(error)
        }
    }
}

/// What is in a folder besides the files it lists as they were written, and the folders they lie in.
fn foreign(folder: &Path) -> io::Result<Option<String>> {
    let listed = fs::read_to_string(folder.join(LIST)).unwrap_or_default();
    let listed = listed.lines().filter_map(|line| line.split_once("  ")).map(|(sum, name)| (name, sum)).collect();
    foreign_below(folder, "", &listed)
}

fn foreign_below(folder: &Path, prefix: &str, listed: &BTreeMap<&str, &str>) -> io::Result<Option<String>> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
        if name == LIST {
            continue;
        }
        let kind = entry.file_type()?;
        if kind.is_dir() && !listed.is_empty() {
            match foreign_below(&entry.path(), &format!("{name}/"), listed)? {
                None => continue,
                found => return Ok(found),
            }
        }
        let Some(written) = listed.get(name.as_str()) else { return Ok(Some(name)) };
        let same = kind.is_file() && sum(&fs::read(entry.path())?) == **written;
        if !same {
            return Ok(Some(format!("{name}, changed since it was written")));
        }
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names_in(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> =
            fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    fn fill(path: &Path, names: &[&str]) -> Result<(), InputError> {
        let mut folder = WholeFolder::create(path)?;
        for name in names {
            folder.write(name, b"x").unwrap();
        }
        folder.finish()
    }

    #[test]
    fn a_folder_is_made_and_replaced_whole() {
        let here = tempfile::tempdir().unwrap();
        let path = here.path().join("frames");
        fill(&path, &["1.png", "2.png", "3.png"]).unwrap();
        fill(&path, &["4.png"]).unwrap();
        assert_eq!(names_in(&path), [WholeFolder::LIST, "4.png"]);
        // As `printf x | sha256sum` prints it.
        let sum = "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881";
        assert_eq!(fs::read_to_string(path.join(WholeFolder::LIST)).unwrap(), format!("{sum}  4.png\n"));
        assert_eq!(names_in(here.path()), ["frames"]);
    }

    #[test]
    fn a_folder_with_files_of_others_stays() {
        let here = tempfile::tempdir().unwrap();
        fs::write(here.path().join("letter.txt"), b"dear").unwrap();
        let error = fill(here.path(), &["1.png"]).unwrap_err();
        assert_eq!(error.found(), "a folder that holds letter.txt");
        let file = here.path().join("letter.txt");
        assert_eq!(fill(&file, &[]).unwrap_err().found(), "a file");
        assert_eq!(names_in(here.path()), ["letter.txt"]);
    }

    #[test]
    fn given_up_half_way_nothing_is_left() {
        let here = tempfile::tempdir().unwrap();
        let path = here.path().join("frames");
        let mut folder = WholeFolder::create(&path).unwrap();
        folder.write("1.png", b"x").unwrap();
        drop(folder);
        assert!(names_in(here.path()).is_empty());
        assert!(WholeFolder::create(&here.path().join("none").join("frames")).is_err());
    }

    #[test]
    fn a_folder_of_ours_with_a_file_put_or_changed_there_stays() {
        let here = tempfile::tempdir().unwrap();
        let path = here.path().join("frames");
        fill(&path, &["1.png", "2.png"]).unwrap();
        fs::write(path.join("3.png"), b"x").unwrap();
        assert_eq!(fill(&path, &["1.png"]).unwrap_err().found(), "a folder that holds 3.png");
        fs::remove_file(path.join("3.png")).unwrap();
        fs::write(path.join("2.png"), b"drawn upon").unwrap();
        assert!(fill(&path, &["1.png"]).unwrap_err().found().contains("2.png, changed"));
        assert_eq!(fs::read(path.join("2.png")).unwrap(), b"drawn upon");
    }

    #[test]
    fn folders_within_are_made_and_known_again() {
        let here = tempfile::tempdir().unwrap();
        let path = here.path().join("case");
        let fill = |names: &[&str]| {
            let mut folder = WholeFolder::create(&path)?;
            names.iter().for_each(|name| folder.write(name, b"x").unwrap());
            folder.write_folder("e/f").unwrap();
            folder.finish()
        };
        fill(&["a", "b/c/d"]).unwrap();
        fill(&["b/c"]).unwrap();
        assert_eq!(names_in(&path), [WholeFolder::LIST, "b", "e"]);
        assert!(path.join("e/f").is_dir() && path.join("b/c").is_file());
        fs::write(path.join("b/letter"), b"dear").unwrap();
        assert_eq!(fill(&["a"]).unwrap_err().found(), "a folder that holds b/letter");
    }

    #[cfg(unix)]
    #[test]
    fn a_link_to_a_folder_stays_a_link() {
        let here = tempfile::tempdir().unwrap();
        let (real, link) = (here.path().join("real"), here.path().join("link"));
        fs::create_dir(&real).unwrap();
        std::os::unix::fs::symlink(&real, &link).unwrap();
        fill(&link, &["1.png"]).unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert!(real.join("1.png").exists());
        std::os::unix::fs::symlink(here.path().join("nowhere"), here.path().join("dangling")).unwrap();
        let error = fill(&here.path().join("dangling"), &["1.png"]).unwrap_err();
        assert_eq!(error.found(), "a link that leads nowhere");
    }
}
