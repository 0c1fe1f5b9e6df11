//! Where a path leads: to the disk, or into a case.

use std::ffi::OsString;
use std::fs;
use std::path::{Component, Path, PathBuf};

use super::Case;
use crate::{InputError, InputErrorKind};

/// A place in a case.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct CasePath {
    /// Where the case lies.
    pub case: PathBuf,
    /// The name in it, empty for the case itself; none where the path leads out of it.
    pub name: Option<String>,
}

/// The place in a case that a path leads to: one of the folders on it is a file.
pub(crate) fn place_in_case(path: &Path) -> Option<CasePath> {
    let case = path.ancestors().skip(1).find(|above| is_file(above)).filter(|above| Case::is_case(above))?;
    let rest = path.strip_prefix(case).ok()?;
    Some(CasePath { case: case.to_owned(), name: downwards(rest) })
}

/// The same, where the path may be that of the case itself.
fn place_of_folder(folder: &Path) -> Option<CasePath> {
    if is_file(folder) && Case::is_case(folder) {
        return Some(CasePath { case: folder.to_owned(), name: Some(String::new()) });
    }
    place_in_case(folder)
}

fn is_file(path: &Path) -> bool {
    fs::metadata(path).is_ok_and(|data| data.is_file())
}

/// The parts of a path that leads down from a folder or a case, divided by `/`: its name there. None where it leads elsewhere,
/// or is no text.
#[must_use]
pub fn downwards(rest: &Path) -> Option<String> {
    let mut parts: Vec<&str> = Vec::new();
    for component in rest.components() {
        match component {
            Component::Normal(part) => parts.push(part.to_str()?),
            Component::CurDir => {}
            Component::ParentDir => {
                parts.pop()?;
            }
            Component::RootDir | Component::Prefix(_) => return None,
        }
    }
    Some(parts.join("/"))
}

/// The path of a file that is named in a file of `folder`. In a case no name leads out of it: `/name` is taken for
/// `name`, and with `..` beyond the case nothing is found.
#[must_use]
pub fn file_beside(folder: &Path, name: impl AsRef<Path>) -> PathBuf {
    let name = name.as_ref();
    if !name.has_root() || place_of_folder(folder).is_none() {
        return folder.join(name);
    }
    let mut path = OsString::from(folder);
    path.push("/");
    path.push(name);
    path.into()
}

/// The case that a path leads into, opened, and the name there; empty for the case itself. None where the path leads into
/// none.
///
/// # Errors
/// Where the case does not hold together, or the path leads out of it again.
pub fn case_at(path: &Path) -> Result<Option<(Case, String)>, InputError> {
    let Some(CasePath { case, name }) = place_of_folder(path) else { return Ok(None) };
    let outside = || {
        let path = path.display().to_string();
        InputError::new(path, "a path that leads out of the case", "a place in it").of_kind(InputErrorKind::Unreadable)
    };
    Ok(Some((Case::open(&case)?, name.ok_or_else(outside)?)))
}

/// Whether a path is that of a case, or leads into one.
#[must_use]
pub fn is_in_case(path: &Path) -> bool {
    place_of_folder(path).is_some()
}

/// The file on the disk that a path leads to: that of the case, where it leads into one.
#[must_use]
pub fn file_on_disk(path: &Path) -> PathBuf {
    place_in_case(path).map_or_else(|| path.to_owned(), |place| place.case)
}

/// Whether there is a file or a folder at a path, on the disk or in a case.
#[must_use]
pub fn is_there(path: &Path) -> bool {
    if path.exists() {
        return true;
    }
    let Ok(Some((case, name))) = case_at(path) else { return false };
    case.has_folder(&name) || case.file(&name).is_some()
}

/// Whether a path leads out of a folder, links followed. What is not there leads nowhere; out of a case leads every
/// path that is not in it.
#[must_use]
pub fn leads_outside(folder: &Path, path: &Path) -> bool {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let place = place_in_case(path);
    if let Some(of_folder) = place_of_folder(folder) {
        return place.is_none_or(|place| place.case != of_folder.case || place.name.is_none());
    }
    let path = place.map_or_else(|| path.to_owned(), |place| place.case);
    match (fs::canonicalize(path), fs::canonicalize(folder)) {
        (Ok(path), Ok(folder)) => !path.starts_with(folder),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_lead_into_a_case_and_not_out_of_it() {
        let here = tempfile::tempdir().unwrap();
        let case = here.path().join("a.case.zip");
        fs::write(&case, b"PK\x05\x06").unwrap();
        fs::write(here.path().join("secret"), b"no zip").unwrap();
        let name = |path: &str| place_in_case(&case.join(path)).unwrap().name;
        assert_eq!(name("b/c").as_deref(), Some("b/c"));
        assert_eq!(name("./b/../c").as_deref(), Some("c"));
        assert_eq!(name("../secret"), None);
        assert_eq!(name("b/../../secret"), None);
        assert_eq!(place_in_case(&case), None);
        assert_eq!(place_in_case(&here.path().join("secret/b")), None, "no zip file");
        let secret = here.path().join("secret");
        let absolute = file_beside(&case, &secret);
        assert_eq!(place_in_case(&absolute).unwrap().name, downwards(secret.strip_prefix("/").unwrap()));
        assert!(leads_outside(&case, &case.join("../secret")) && leads_outside(&case, &secret));
        assert!(!leads_outside(&case, &case.join("b")) && !leads_outside(here.path(), &case.join("b")));
        assert!(!leads_outside(&here.path().join("none"), &here.path().join("none")));
    }
}
