//! What the services remember: console, open files, memory handed out.

use std::path::PathBuf;
use std::sync::Arc;

use crate::arena::Arena;
use crate::devices::mouse::Mouse;
use crate::folder::Folder;
use crate::registers::{CpuRegisters, Far};
use crate::services::{Owed, Parent};

/// Handles a program may have.
pub const HANDLES: usize = 20;

/// Most console output that is kept, in bytes.
const MOST_CONSOLE: usize = 1 << 20;

/// What a handle stands for.
#[derive(Clone, Debug)]
pub enum Handle {
    /// The console.
    Console,
    /// Nothing: takes everything, gives nothing.
    Null,
    /// A file.
    File(OpenFile),
}

/// An open file, read whole when it was opened and written whole when it is closed.
#[derive(Clone, Debug)]
pub struct OpenFile {
    /// Where it lies.
    pub path: PathBuf,
    /// Its content.
    pub content: Arc<Vec<u8>>,
    /// Where the next byte is read or written.
    pub position: u32,
    /// Whether it may be written.
    pub writable: bool,
    /// Whether it was.
    pub changed: bool,
}

/// Files open by control blocks, each in a place of its own; at most [`MOST`](Self::MOST).
#[derive(Clone, Debug, Default)]
pub struct BlockFiles {
    places: Vec<Option<OpenFile>>,
    /// The place that is given away next where all are taken.
    oldest: usize,
}

impl BlockFiles {
    /// Files open at once.
    pub const MOST: usize = 64;

    /// Takes a file in; gives its number, counted from 1, and the file that had to give way.
    pub fn keep(&mut self, file: OpenFile) -> (u16, Option<OpenFile>) {
        let free = self.places.iter().position(Option::is_none);
        let place = match free {
            Some(place) => place,
            None if self.places.len() < Self::MOST => {
                self.places.push(None);
                self.places.len() - 1
            }
            None => {
                self.oldest = (self.oldest + 1) % Self::MOST;
                self.oldest
            }
        };
        let before = self.places[place].replace(file);
        (place as u16 + 1, before)
    }

    /// The file of a number.
    pub fn get(&mut self, number: u16) -> Option<&mut OpenFile> {
        self.places.get_mut(usize::from(number).checked_sub(1)?)?.as_mut()
    }

    /// Takes the file of a number out.
    pub fn close(&mut self, number: u16) -> Option<OpenFile> {
        self.places.get_mut(usize::from(number).checked_sub(1)?)?.take()
    }

    /// All that are open.
    pub fn open(&self) -> impl Iterator<Item = &OpenFile> {
        self.places.iter().flatten()
    }
}

/// A search for files under way.
#[derive(Clone, Debug)]
pub struct FileSearch {
    /// Names still to be given, the next at the end: name, size, whether a folder.
    pub rest: Vec<(String, u32, bool)>,
}

/// What the services remember.
#[derive(Clone, Debug)]
pub struct System {
    pub(crate) folder: Option<Folder>,
    pub(crate) handles: Vec<Option<Handle>>,
    pub(crate) arena: Arena,
    pub(crate) console: Vec<u8>,
    pub(crate) program: u16,
    pub(crate) transfer: Far,
    pub(crate) search: Option<FileSearch>,
    /// A line being typed.
    pub(crate) line: Vec<u8>,
    /// Second half of a key that has no character.
    pub(crate) scan_pending: Option<u8>,
    /// Bytes the service under way has drawn.
    pub(crate) drawn: u32,
    /// Services under way: where each goes back to, and how much of it is done.
    pub(crate) progress: Vec<(Far, u32)>,
    /// Services that are done and still take time, by where each goes back to.
    pub(crate) owed: Vec<(Far, Owed)>,
    /// Where the cursor was before a string's service.
    pub(crate) string_cursor: (u32, u32),
    /// Files open by control blocks, and names still to be given of a search by one, the next at the end.
    pub(crate) blocks: BlockFiles,
    pub(crate) block_search: Vec<(String, u64)>,
    /// The mouse, where there is one.
    pub(crate) mouse: Option<Mouse>,
    /// What the registers held when the program's handler of the mouse was called.
    pub(crate) mouse_call: Option<CpuRegisters>,
    /// Programs that wait for the one they started, the first at the beginning.
    pub(crate) parents: Vec<Parent>,
    /// What the last of those that have ended left: its code, and how it ended above.
    pub(crate) child_code: u16,
    /// Processor clocks that the service under way waits.
    pub(crate) pause: u32,
    /// How memory is handed out, as a program last asked for.
    pub(crate) strategy: u16,
}

impl System {
    /// Nothing open but the console's handles.
    #[must_use]
    pub fn new(arena: Arena, folder: Option<Folder>) -> Self {
        let console = || Some(Handle::Console);
        let mut handles = vec![console(), console(), console(), Some(Handle::Null), Some(Handle::Null)];
        handles.resize(HANDLES, None);
        Self {
            folder,
            handles,
            arena,
            console: Vec::new(),
            program: 0,
            transfer: Far::default(),
            search: None,
            line: Vec::new(),
            scan_pending: None,
            drawn: 0,
            progress: Vec::new(),
            owed: Vec::new(),
            string_cursor: (0, 0),
            blocks: BlockFiles::default(),
            block_search: Vec::new(),
            mouse: None,
            mouse_call: None,
            parents: Vec::new(),
            child_code: 0,
            pause: 0,
            strategy: 0,
        }
    }

    /// Keeps a character of console output, up to a mebibyte.
    pub fn print(&mut self, character: u8) {
        if self.console.len() < MOST_CONSOLE {
            self.console.push(character);
        }
    }
}
