//! Files in the one folder the user names.

use std::fs;
use std::path::PathBuf;
use std::sync::Arc;

use backporch_input::write_whole;
use backporch_raster::Tap;

use super::Served;
use crate::folder::{Folder, FolderEntry};
use crate::machine::Machine;
use crate::registers::{Byte, Far, SegmentRegister, Word};
use crate::system::{FileSearch, HANDLES, Handle, OpenFile};
use crate::trouble::Trouble;

/// Errors of interrupt 21h (common practice).
pub(super) mod error {
    pub const NO_FILE: u16 = 2;
    pub const NO_PATH: u16 = 3;
    pub const NO_HANDLE: u16 = 4;
    pub const DENIED: u16 = 5;
    pub const BAD_HANDLE: u16 = 6;
    pub const NO_MEMORY: u16 = 8;
    pub const NO_PROGRAM: u16 = 11;
    pub const NO_MORE: u16 = 18;
}

/// Largest file a program may write.
const LARGEST: usize = 16 << 20;

/// The drive that the folder is, counted from A.
pub(super) const DRIVE: u8 = 2;

/// Bits of file attributes and of handle information (common practice).
const ATTRIBUTE_FOLDER: u8 = 0x10;
pub(super) const ATTRIBUTE_ARCHIVE: u8 = 0x20;
const ATTRIBUTE_READ_ONLY: u16 = 0x01;
const INFORMATION_CONSOLE: u16 = 0x80D3;
const INFORMATION_NULL: u16 = 0x8084;

/// What tells that a device or file is ready.
const READY: u8 = 0xFF;

/// Time and date of every file, so that runs are alike: midnight, 1 January 1988.
pub(super) const FILE_TIME: u16 = 0;
pub(super) const FILE_DATE: u16 = (1988 - 1980) << 9 | 1 << 5 | 1;

/// Devices that are not present.
const ABSENT: [&str; 9] = ["PRN", "AUX", "LPT1", "LPT2", "LPT3", "COM1", "COM2", "COM3", "COM4"];

/// The device that a driver of expanded memory would be (common practice).
const EXPANDED_MEMORY: &str = "EMMXXXX0";

/// What a service gives back in AX, or its error number.
type Answer = Result<u16, u16>;

impl<T: Tap> Machine<T> {
    pub(super) fn files(&mut self) -> Result<Served, Trouble> {
        let answer = match self.byte(Byte::Ah) {
            0x3C => self.create()?,
            0x3D => self.open()?,
            0x3E => self.close()?,
            0x3F => match self.read()? {
                Some(answer) => answer,
                None => return Ok(Served::WaitForKey),
            },
            0x40 => match self.write() {
                Some(answer) => answer,
                None => return Ok(Served::GoOn),
            },
            0x41 => self.delete()?,
            0x56 => self.rename()?,
            0x42 => self.seek(),
            0x43 if self.byte(Byte::Al) == 0 => self.attributes()?,
            0x43 if self.byte(Byte::Al) == 1 => self.set_attributes()?,
            0x44 => match self.byte(Byte::Al) {
                0 => self.information(),
                // What is set for a device changes nothing here.
                1 => self.handle().map(|_| 0).ok_or(error::BAD_HANDLE),
                6 => self.is_ready(),
                7 => self.handle().map(|_| u16::from(READY)).ok_or(error::BAD_HANDLE),
                // Its disk cannot be taken out.
                8 => Ok(1),
                _ => return Err(self.not_here(0x21)),
            },
            0x45 => self.double(None),
            0x46 => self.double(Some(self.word(Word::Cx))),
            // As many handles as there are suffice for who asks for no more; what is written waits for no order.
            0x67 if usize::from(self.word(Word::Bx)) > HANDLES => Err(error::NO_MEMORY),
            0x67 => Ok(0),
            0x68 => self.handle().map(|_| 0).ok_or(error::BAD_HANDLE),
            0x3B => self.change_folder()?,
            0x4E => self.find_first()?,
            0x4F => self.find_next(),
            0x57 if self.byte(Byte::Al) == 0 => self.file_time(),
            0x47 => {
                // The folder is the drive's root, whose path is empty.
                self.store(self.at(SegmentRegister::Ds, Word::Si), 0);
                Ok(0x0100)
            }
            _ => return self.drives(),
        };
        self.set(Word::Ax, answer.unwrap_or_else(|error| error));
        Ok(Served::BackWith { carry: answer.is_err() })
    }

    fn drives(&mut self) -> Result<Served, Trouble> {
        match self.byte(Byte::Ah) {
            0x36 => self.free_space(),
            0x0E => self.set_byte(Byte::Al, DRIVE + 1),
            0x19 => self.set_byte(Byte::Al, DRIVE),
            0x1A => self.system.transfer = self.at(SegmentRegister::Ds, Word::Dx),
            0x2F => {
                let Far { segment, offset } = self.system.transfer;
                self.processor.registers.set_segment(SegmentRegister::Es, segment);
                self.set(Word::Bx, offset);
            }
            _ => return Err(self.not_here(0x21)),
        }
        Ok(Served::Back)
    }

    /// Free space: 32 MiB in clusters of 2 KiB on the folder's drive, none elsewhere (assumed, so that runs are alike).
    fn free_space(&mut self) {
        if !matches!(self.byte(Byte::Dl), 0 | 3) {
            return self.set(Word::Ax, u16::MAX);
        }
        self.set(Word::Ax, 4);
        self.set(Word::Bx, 0x4000);
        self.set(Word::Cx, 512);
        self.set(Word::Dx, 0x4000);
    }

    // ---- paths -----------------------------------------------------------------------

    pub(super) fn path(&self) -> String {
        String::from_utf8_lossy(&self.text(self.at(SegmentRegister::Ds, Word::Dx), 0)).into_owned()
    }

    pub(super) fn folder(&self, path: &str) -> Result<&Folder, Trouble> {
        let missing = || Trouble::File(format!("asked for {path}, but no folder was named for it"));
        self.system.folder.as_ref().ok_or_else(missing)
    }

    pub(super) fn find(&mut self, path: &str) -> Result<Result<FolderEntry, u16>, Trouble> {
        let found = match self.folder(path) {
            Ok(folder) => folder.find(path),
            Err(trouble) => return self.lacks_file(trouble, error::NO_FILE).map(Err),
        };
        match found {
            FolderEntry::Outside => self.lacks_file(Trouble::Outside(path.to_string()), error::NO_PATH).map(Err),
            FolderEntry::NoFolder => Ok(Err(error::NO_PATH)),
            found => Ok(Ok(found)),
        }
    }

    /// Nothing of that name is here: noted, and an error for the program; on a strict machine the end.
    fn lacks_file(&mut self, trouble: Trouble, error: u16) -> Result<u16, Trouble> {
        if self.hardware.strict {
            return Err(trouble);
        }
        self.hardware.lacks(trouble);
        Ok(error)
    }

    /// The device a path names, where it names one.
    fn device(&mut self, path: &str) -> Result<Option<Handle>, Trouble> {
        let name = path.rsplit(['\\', '/', ':']).find(|part| !part.is_empty()).unwrap_or("");
        let name = name.split('.').next().unwrap_or("").to_ascii_uppercase();
        match name.as_str() {
            "CON" => Ok(Some(Handle::Console)),
            "NUL" => Ok(Some(Handle::Null)),
            // What is written there is lost, as where nothing is plugged in.
            _ if ABSENT.contains(&name.as_str()) => {
                let trouble = Trouble::File(format!("asked for the device {name}, which is not present"));
                self.lacks_file(trouble, 0).map(|_| Some(Handle::Null))
            }
            _ => Ok(None),
        }
    }

    pub(super) fn is_writable(&self) -> bool {
        self.system.folder.as_ref().is_some_and(Folder::is_writable)
    }

    // ---- handles ---------------------------------------------------------------------

    fn keep(&mut self, handle: Handle) -> Answer {
        let position = self.system.handles.iter().position(Option::is_none).ok_or(error::NO_HANDLE)?;
        self.system.handles[position] = Some(handle);
        Ok(position as u16)
    }

    fn handle(&mut self) -> Option<&mut Handle> {
        let number = usize::from(self.word(Word::Bx));
        self.system.handles.get_mut(number)?.as_mut()
    }

    fn create(&mut self) -> Result<Answer, Trouble> {
        let path = self.path();
        if let Some(device) = self.device(&path)? {
            return Ok(self.keep(device));
        }
        let found = match self.find(&path)? {
            Ok(found) => found,
            Err(error) => return Ok(Err(error)),
        };
        let real = match found {
            FolderEntry::File(real) | FolderEntry::Missing(real) if self.is_writable() => real,
            _ => return Ok(Err(error::DENIED)),
        };
        let file = OpenFile { path: real, content: Arc::default(), position: 0, writable: true, changed: true };
        Ok(self.keep(Handle::File(file)))
    }

    fn open(&mut self) -> Result<Answer, Trouble> {
        let path = self.path();
        // Who looks for expanded memory finds no driver of it.
        if path.eq_ignore_ascii_case(EXPANDED_MEMORY) {
            return Ok(Err(error::NO_FILE));
        }
        if let Some(device) = self.device(&path)? {
            return Ok(self.keep(device));
        }
        let real = match self.find(&path)? {
            Ok(FolderEntry::File(real)) => real,
            Ok(FolderEntry::Missing(_)) => return Ok(Err(error::NO_FILE)),
            Ok(_) => return Ok(Err(error::DENIED)),
            Err(error) => return Ok(Err(error)),
        };
        let writable = self.byte(Byte::Al) & 7 != 0;
        if writable && !self.is_writable() {
            return Ok(Err(error::DENIED));
        }
        let content = Arc::new(self.folder(&path)?.read(&real).map_err(Trouble::File)?);
        let file = OpenFile { path: real, content, position: 0, writable, changed: false };
        Ok(self.keep(Handle::File(file)))
    }

    fn close(&mut self) -> Result<Answer, Trouble> {
        let number = usize::from(self.word(Word::Bx));
        let Some(handle) = self.system.handles.get_mut(number).and_then(Option::take) else {
            return Ok(Err(error::BAD_HANDLE));
        };
        flush(&handle)?;
        Ok(Ok(0))
    }

    /// Writes every changed file that is still open, as the end of a program does.
    pub(crate) fn close_all(&mut self) -> Result<(), Trouble> {
        let handles = std::mem::take(&mut self.system.handles);
        handles.iter().flatten().try_for_each(flush)
    }

    /// `None`: the console has no line yet.
    fn read(&mut self) -> Result<Option<Answer>, Trouble> {
        let (count, at) = (self.word(Word::Cx), self.at(SegmentRegister::Ds, Word::Dx));
        let (content, position) = match self.handle() {
            None => return Ok(Some(Err(error::BAD_HANDLE))),
            Some(Handle::Null) => return Ok(Some(Ok(0))),
            Some(Handle::Console) => return Ok(self.read_console(at, count)?.map(Ok)),
            Some(Handle::File(file)) => {
                let position = (file.position as usize).min(file.content.len());
                let end = (position + usize::from(count)).min(file.content.len());
                file.position += (end - position) as u32;
                (Arc::clone(&file.content), position..end)
            }
        };
        for (index, byte) in content[position.clone()].iter().enumerate() {
            self.store(at.plus(index as u16), *byte);
        }
        Ok(Some(Ok(position.len() as u16)))
    }

    /// `None`: the console has not got all of it yet.
    fn write(&mut self) -> Option<Answer> {
        let (count, at) = (self.word(Word::Cx), self.at(SegmentRegister::Ds, Word::Dx));
        let place = |index: u16| at.plus(index);
        match self.handle() {
            None => return Some(Err(error::BAD_HANDLE)),
            Some(Handle::Null) => {}
            Some(Handle::Console) => return self.write_console(at, count).then_some(Ok(count)),
            Some(Handle::File(_)) => {}
        }
        let bytes: Vec<u8> = (0..count).map(|index| self.load(place(index))).collect();
        Some(match self.handle() {
            Some(Handle::File(file)) => file.write(&bytes),
            _ => Ok(count),
        })
    }

    fn delete(&mut self) -> Result<Answer, Trouble> {
        let path = self.path();
        Ok(match self.find(&path)? {
            Ok(FolderEntry::File(real)) if self.is_writable() => {
                fs::remove_file(real).map(|()| 0).map_err(|_| error::DENIED)
            }
            Ok(FolderEntry::Missing(_)) => Err(error::NO_FILE),
            Ok(_) => Err(error::DENIED),
            Err(error) => Err(error),
        })
    }

    /// Function 56h: the name at DS:DX becomes the one at ES:DI.
    fn rename(&mut self) -> Result<Answer, Trouble> {
        let (from, to) = (self.path(), self.text(self.at(SegmentRegister::Es, Word::Di), 0));
        let to = String::from_utf8_lossy(&to).into_owned();
        Ok(match (self.find(&from)?, self.find(&to)?) {
            (Ok(FolderEntry::File(old)), Ok(FolderEntry::Missing(new))) if self.is_writable() => {
                fs::rename(old, new).map(|()| 0).map_err(|_| error::DENIED)
            }
            (Ok(FolderEntry::Missing(_)), _) => Err(error::NO_FILE),
            (Ok(_), Ok(_)) => Err(error::DENIED),
            (Err(error), _) | (_, Err(error)) => Err(error),
        })
    }

    fn seek(&mut self) -> Answer {
        let distance = i64::from((u32::from(self.word(Word::Cx)) << 16 | u32::from(self.word(Word::Dx))) as i32);
        let from = self.byte(Byte::Al);
        let Some(handle) = self.handle() else { return Err(error::BAD_HANDLE) };
        let Handle::File(file) = handle else { return Ok(0) };
        let base = match from {
            0 => 0,
            1 => i64::from(file.position),
            2 => file.content.len() as i64,
            _ => return Err(1),
        };
        file.position = (base + distance).clamp(0, i64::from(u32::MAX)) as u32;
        let position = file.position;
        self.set(Word::Dx, (position >> 16) as u16);
        Ok(position as u16)
    }

    // ---- what is known of files ---------------------------------------------------------

    fn attributes(&mut self) -> Result<Answer, Trouble> {
        let path = self.path();
        let attributes = match self.find(&path)? {
            Ok(FolderEntry::File(_)) if self.is_writable() => u16::from(ATTRIBUTE_ARCHIVE),
            Ok(FolderEntry::File(_)) => u16::from(ATTRIBUTE_ARCHIVE) | ATTRIBUTE_READ_ONLY,
            Ok(FolderEntry::Folder(_)) => u16::from(ATTRIBUTE_FOLDER),
            Ok(_) => return Ok(Err(error::NO_FILE)),
            Err(error) => return Ok(Err(error)),
        };
        self.set(Word::Cx, attributes);
        Ok(Ok(attributes))
    }

    fn information(&mut self) -> Answer {
        let information = match self.handle().ok_or(error::BAD_HANDLE)? {
            Handle::Console => INFORMATION_CONSOLE,
            Handle::Null => INFORMATION_NULL,
            Handle::File(file) => u16::from(DRIVE) | if file.changed { 0 } else { 0x40 },
        };
        self.set(Word::Dx, information);
        Ok(information)
    }

    /// Function 44h, 06h: whether there is anything to read.
    fn is_ready(&mut self) -> Answer {
        let has_key = self.has_character();
        let ready = match self.handle().ok_or(error::BAD_HANDLE)? {
            Handle::Console => has_key,
            Handle::Null => false,
            Handle::File(file) => (file.position as usize) < file.content.len(),
        };
        let state = if ready { READY } else { 0 };
        Ok(self.word(Word::Ax) & 0xFF00 | u16::from(state))
    }

    /// Functions 45h and 46h: another handle for the same file, the next free one or a given one. Each has a place of its
    /// own in the file (assumed: one file is not read in turn by two handles).
    fn double(&mut self, to: Option<u16>) -> Answer {
        let handle = self.handle().ok_or(error::BAD_HANDLE)?.clone();
        match to.map(usize::from) {
            None => self.keep(handle),
            Some(to) => {
                let place = self.system.handles.get_mut(to).ok_or(error::NO_HANDLE)?;
                *place = Some(handle);
                Ok(self.word(Word::Ax))
            }
        }
    }

    /// Function 3Bh: the folder's root is where a program always is.
    fn change_folder(&mut self) -> Result<Answer, Trouble> {
        let path = self.path();
        Ok(match self.find(&path)? {
            Ok(FolderEntry::Folder(folder)) if self.folder(&path)?.is_root(&folder) => Ok(0),
            Ok(_) => Err(error::NO_PATH),
            Err(error) => Err(error),
        })
    }

    /// Function 43h, 01h: files keep the attributes they have.
    fn set_attributes(&mut self) -> Result<Answer, Trouble> {
        let path = self.path();
        Ok(match self.find(&path)? {
            Ok(FolderEntry::File(_)) if self.is_writable() => Ok(0),
            Ok(FolderEntry::File(_) | FolderEntry::Folder(_)) => Err(error::DENIED),
            Ok(_) => Err(error::NO_FILE),
            Err(error) => Err(error),
        })
    }

    fn file_time(&mut self) -> Answer {
        self.handle().ok_or(error::BAD_HANDLE)?;
        self.set(Word::Cx, FILE_TIME);
        self.set(Word::Dx, FILE_DATE);
        Ok(0)
    }

    fn find_first(&mut self) -> Result<Answer, Trouble> {
        let path = self.path();
        let split = path.rfind(['\\', '/', ':']).map_or(0, |at| at + 1);
        let (parent, pattern) = path.split_at(split);
        let found = match self.find(parent)? {
            Ok(FolderEntry::Folder(folder)) => folder,
            _ => return Ok(Err(error::NO_PATH)),
        };
        let folders = self.word(Word::Cx) & u16::from(ATTRIBUTE_FOLDER) != 0;
        let listed = self.folder(&path)?.list(&found).into_iter().rev();
        let wanted = listed.filter(|(name, size)| (folders || size.is_some()) && matches(pattern, name));
        let rest = wanted.map(|(name, size)| (name, size.unwrap_or(0).min(u64::from(u32::MAX)) as u32, size.is_none()));
        self.system.search = Some(FileSearch { rest: rest.collect() });
        Ok(match self.find_next() {
            Err(_) => Err(error::NO_FILE),
            found => found,
        })
    }

    /// Gives the next name of the search at the transfer address.
    fn find_next(&mut self) -> Answer {
        let next = self.system.search.as_mut().and_then(|search| search.rest.pop());
        let (name, size, is_folder) = next.ok_or(error::NO_MORE)?;
        let base = self.system.transfer;
        let at = |offset: u16| base.plus(offset);
        self.store(at(0x15), if is_folder { ATTRIBUTE_FOLDER } else { ATTRIBUTE_ARCHIVE });
        self.store_word(at(0x16), FILE_TIME);
        self.store_word(at(0x18), FILE_DATE);
        self.store_word(at(0x1A), size as u16);
        self.store_word(at(0x1C), (size >> 16) as u16);
        for (index, byte) in name.bytes().chain([0]).enumerate() {
            self.store(at(0x1E + index as u16), byte);
        }
        Ok(0)
    }
}

impl OpenFile {
    /// Writes at its position; no bytes cut it there.
    pub(super) fn write(&mut self, bytes: &[u8]) -> Answer {
        if !self.writable {
            return Err(error::DENIED);
        }
        let position = self.position as usize;
        let end = position.saturating_add(bytes.len());
        if end > LARGEST {
            // As on a full disk.
            return Ok(0);
        }
        let content = Arc::make_mut(&mut self.content);
        if bytes.is_empty() {
            content.resize(position, 0)
        } else {
            content.resize(content.len().max(end), 0);
            content[position..end].copy_from_slice(bytes);
        }
        self.position = end as u32;
        self.changed = true;
        Ok(bytes.len() as u16)
    }
}

pub(super) fn flush(handle: &Handle) -> Result<(), Trouble> {
    match handle {
        Handle::File(file) => flush_file(file),
        Handle::Console | Handle::Null => Ok(()),
    }
}

/// Writes a file whole, where it was changed.
pub(super) fn flush_file(file: &OpenFile) -> Result<(), Trouble> {
    let written = if file.changed { write_whole(&file.path, &file.content) } else { Ok(()) };
    written.map_err(|error| Trouble::File(format!("could not write a file: {error}")))
}

/// Whether a name fits a pattern with `*` and `?`.
pub(super) fn matches(pattern: &str, name: &str) -> bool {
    let split = |text: &str| {
        let (stem, ending) = text.split_once('.').unwrap_or((text, ""));
        (stem.to_ascii_uppercase(), ending.to_ascii_uppercase())
    };
    let fits = |pattern: &str, part: &str| {
        let star = pattern.find('*');
        let fixed = &pattern[..star.unwrap_or(pattern.len())];
        let (fixed, part): (Vec<char>, Vec<char>) = (fixed.chars().collect(), part.chars().collect());
        let alike = |(at, wanted): (usize, &char)| match (wanted, part.get(at)) {
            ('?', _) => true,
            (wanted, found) => found == Some(wanted),
        };
        (star.is_some() || part.len() <= fixed.len()) && fixed.iter().enumerate().all(alike)
    };
    let ((pattern_stem, pattern_ending), (stem, ending)) = (split(pattern), split(name));
    fits(&pattern_stem, &stem) && fits(&pattern_ending, &ending)
}

/// Paths of files that are open and changed: what a run would write.
impl<T: Tap> Machine<T> {
    /// Files the program has changed and not closed yet.
    #[must_use]
    pub fn unsaved(&self) -> Vec<PathBuf> {
        let changed = |handle: &Handle| match handle {
            Handle::File(file) if file.changed => Some(file.path.clone()),
            _ => None,
        };
        let by_block = self.system.blocks.open().filter(|file| file.changed).map(|file| file.path.clone());
        self.system.handles.iter().flatten().filter_map(changed).chain(by_block).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::matches;

    #[test]
    fn patterns() {
        for (pattern, name, fits) in [
            ("*.*", "PIER.DAT", true),
            ("*.*", "PIER", true),
            ("P*.dat", "PIER.DAT", true),
            ("P??R.D?T", "PIER.DAT", true),
            ("P??.DAT", "PIER.DAT", false),
            ("*", "PIER.DAT", false),
            ("PIER.DAT", "PIER.DA", false),
        ] {
            assert_eq!(matches(pattern, name), fits, "{pattern} {name}");
        }
    }
}
