//! Reading files: never more than allowed, never for ever, and with plain words for what goes wrong.

use std::fs::{self, File, Metadata};
use std::io::{self, Read};
use std::path::Path;

use crate::case::{Case, CasePath, place_in_case};
use crate::{InputError, InputErrorKind, note_read};

/// Reads a file of at most `most` bytes, from the disk or, by `CASE/NAME`, from a [case](crate::Case).
///
/// # Errors
/// Kind [`Unreadable`](InputErrorKind::Unreadable) for a path that is missing, a folder, a pipe that may never be written
/// to, not permitted, or too long; kind [`Machine`](InputErrorKind::Machine) if the reading itself fails.
pub fn read_bytes(path: &Path, most: u64) -> Result<Vec<u8>, InputError> {
    let name = path.display().to_string();
    let opening = |error: io::Error| cannot_open(&name, &error);
    if let Some(place) = place_in_case(path) {
        return read_in_case(path, &place, most);
    }
    refuse_waiting(path, &fs::metadata(path).map_err(opening)?)?;
    let file = File::open(path).map_err(opening)?;
    let data = file.metadata().map_err(opening)?;
    if data.is_dir() {
        return Err(unreadable(&name, "a folder", "a file"));
    }
    // A pipe or a device has no length beforehand: `take` below bounds those.
    if data.len() > most {
        return Err(unreadable(&name, &format!("{} bytes", data.len()), &format!("at most {most} bytes")));
    }
    let mut bytes = Vec::new();
    file.take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| InputError::from_io(&name, &error, "a readable file", InputErrorKind::Machine))?;
    if bytes.len() as u64 > most {
        return Err(unreadable(&name, &format!("more than {most} bytes"), &format!("at most {most} bytes")));
    }
    if data.is_file() {
        note_read(path);
    }
    Ok(bytes)
}

/// Reads a file in a case.
fn read_in_case(path: &Path, place: &CasePath, most: u64) -> Result<Vec<u8>, InputError> {
    let case = Case::open(&place.case)?;
    match &place.name {
        Some(name) => case.read(name, most),
        None => Err(unreadable(&path.display().to_string(), "a path that leads out of the case", "a file in it")),
    }
}

/// Refuses a named pipe: opening it waits until its other end is opened, perhaps for ever. One that this process
/// was given open, such as `/dev/stdin`, is none.
pub(crate) fn refuse_waiting(path: &Path, data: &Metadata) -> Result<(), InputError> {
    let is_given = path.starts_with("/dev") || path.starts_with("/proc");
    if is_pipe(data) && !is_given {
        let allowed = "a file, or /dev/stdin for a pipe";
        return Err(unreadable(&path.display().to_string(), "a named pipe", allowed));
    }
    Ok(())
}

#[cfg(unix)]
fn is_pipe(data: &Metadata) -> bool {
    std::os::unix::fs::FileTypeExt::is_fifo(&data.file_type())
}

#[cfg(not(unix))]
fn is_pipe(_: &Metadata) -> bool {
    false
}

fn cannot_open(name: &str, error: &io::Error) -> InputError {
    match error.kind() {
        io::ErrorKind::NotFound => unreadable(name, "no such file", "a file that exists"),
        io::ErrorKind::IsADirectory => unreadable(name, "a folder", "a file"),
        io::ErrorKind::PermissionDenied => unreadable(name, "a file you have no permission to read", "a readable file"),
        _ => InputError::from_io(name, error, "a readable file", InputErrorKind::Unreadable),
    }
}

pub(crate) fn unreadable(name: &str, found: &str, allowed: &str) -> InputError {
    InputError::new(name, found, allowed).of_kind(InputErrorKind::Unreadable)
}
