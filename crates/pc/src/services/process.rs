//! Programs that start others and come back, load parts of themselves, or stay (functions 31h, 4Bh and 4Dh of interrupt
//! 21h; common practice).

use backporch_raster::Tap;

use super::Served;
use super::files::{error, flush};
use crate::folder::FolderEntry;
use crate::image::ProgramImage;
use crate::machine::load::Birth;
use crate::machine::{LONGEST_TAIL, Machine};
use crate::registers::{Byte, CpuRegisters, Far, SegmentRegister, Word, flag};
use crate::stack_watch::StackInUse;
use crate::system::Handle;
use crate::trouble::Trouble;

/// Programs that may wait for one another.
const MOST_PARENTS: usize = 16;

/// Most bytes of the variables of an environment (common practice).
const MOST_VARIABLES: u16 = 0x7FF0;

/// Places in what precedes a program: its environment, its two control blocks.
const ENVIRONMENT: u16 = 0x2C;
const BLOCKS: [u16; 2] = [0x5C, 0x6C];
const BLOCK_BYTES: u16 = 16;

/// Paragraphs that stay at least: what precedes a program (common practice: it ends with the sixth).
const LEAST_STAYING: u16 = 6;

/// How a program ended, above its code: by itself, or staying.
const STAYED: u16 = 0x0300;

/// A program that waits for the one it started.
#[derive(Clone, Debug)]
pub struct Parent {
    registers: CpuRegisters,
    program: u16,
    transfer: Far,
    stack: StackInUse,
    handles: Vec<Option<Handle>>,
}

impl<T: Tap> Machine<T> {
    /// Function 4Bh: runs a program or loads a part of one.
    pub(super) fn start_program(&mut self) -> Result<Served, Trouble> {
        let (what, block) = (self.byte(Byte::Al), self.at(SegmentRegister::Es, Word::Bx));
        if !matches!(what, 0 | 3) {
            return Err(self.not_here(0x21));
        }
        let path = self.path();
        let done = match self.program_file(&path)? {
            Ok(image) if what == 0 => self.start_child(&image, &path, block),
            Ok(image) => {
                self.load_part(&image, block);
                Ok(Served::BackWith { carry: false })
            }
            Err(error) => Err(error),
        };
        Ok(done.unwrap_or_else(|error| {
            self.set(Word::Ax, error);
            Served::BackWith { carry: true }
        }))
    }

    fn program_file(&mut self, path: &str) -> Result<Result<ProgramImage, u16>, Trouble> {
        let real = match self.find(path)? {
            Ok(FolderEntry::File(real)) => real,
            Ok(FolderEntry::Missing(_)) => return Ok(Err(error::NO_FILE)),
            Ok(_) => return Ok(Err(error::DENIED)),
            Err(error) => return Ok(Err(error)),
        };
        let bytes = self.folder(path)?.read(&real).map_err(Trouble::File)?;
        Ok(ProgramImage::parse(&bytes).map_err(|_| error::NO_PROGRAM))
    }

    /// The block names environment, command line and two control blocks.
    fn start_child(&mut self, image: &ProgramImage, path: &str, block: Far) -> Result<Served, u16> {
        if self.system.parents.len() >= MOST_PARENTS {
            return Err(error::NO_MEMORY);
        }
        let word = |offset: u16| self.load_word(block.plus(offset));
        let far = |offset: u16| Far::new(word(offset + 2), word(offset));
        let parent = self.system.program;
        let variables = match word(0) {
            0 => self.load_word(Far::new(parent, ENVIRONMENT)),
            segment => segment,
        };
        let tail = far(2);
        let length = u16::from(self.load(tail)).min(LONGEST_TAIL as u16);
        let birth = Birth {
            environment: self.environment_for(variables, path),
            tail: (0..length).map(|at| self.load(tail.plus(1 + at))).collect(),
            parent: Some(parent),
            back: self.returns_to(),
        };
        let named =
            [far(6), far(10)].map(|from| -> Vec<u8> { (0..BLOCK_BYTES).map(|at| self.load(from.plus(at))).collect() });
        let waiting = Parent {
            registers: self.processor.registers,
            program: parent,
            transfer: self.system.transfer,
            stack: self.processor.stack_watch().stack(),
            handles: self.system.handles.clone(),
        };
        self.place(image, &birth).map_err(|_| error::NO_MEMORY)?;
        for (at, bytes) in BLOCKS.into_iter().zip(named) {
            self.store_all(Far::new(self.system.program, at), &bytes);
        }
        self.system.parents.push(waiting);
        Ok(Served::Gone)
    }

    /// Where the service under way goes back to.
    fn returns_to(&self) -> Far {
        let stack = self.at(SegmentRegister::Ss, Word::Sp);
        Far::new(self.load_word(stack.plus(2)), self.load_word(stack))
    }

    /// Variables up to the empty one, a count of one, the program's name.
    fn environment_for(&self, segment: u16, path: &str) -> Vec<u8> {
        let byte = |at: u16| self.load(Far::new(segment, at));
        let end = (0..MOST_VARIABLES).find(|at| byte(*at) == 0 && byte(at + 1) == 0).unwrap_or(0);
        let variables = (0..end).map(byte);
        let name = path.rsplit(['\\', '/', ':']).next().unwrap_or(path);
        let named = format!("C:\\{}\0", name.to_ascii_uppercase());
        variables.chain([0, 0, 1, 0]).chain(named.into_bytes()).collect()
    }

    /// The block names the segment to load to, and what is added where the image is relocated.
    fn load_part(&mut self, image: &ProgramImage, block: Far) {
        let (segment, added) = (self.load_word(block), self.load_word(block.plus(2)));
        let bytes = image.at_segment(added);
        self.lay(&bytes, segment);
    }

    /// Function 4Dh: the code of the last program that ended, once.
    pub(super) fn ask_child(&mut self) -> Served {
        let code = std::mem::take(&mut self.system.child_code);
        self.set(Word::Ax, code);
        Served::BackWith { carry: false }
    }

    /// Functions 27h and 31h: the program ends, and this many paragraphs of it stay.
    pub(super) fn stay(&mut self, paragraphs: u16, code: u8) -> Served {
        // What cannot be made shorter stays as it is.
        let _ = self.system.arena.resize(self.system.program, paragraphs.max(LEAST_STAYING));
        Served::Stays(code)
    }

    /// The end of a program that another waits for; `false` where none does.
    pub(crate) fn back_to_parent(&mut self, code: u8, stays: bool) -> Result<bool, Trouble> {
        let Some(parent) = self.system.parents.pop() else { return Ok(false) };
        let child = self.system.program;
        for (own, handle) in self.system.handles.iter_mut().zip(parent.handles) {
            match (&*own, handle) {
                (Some(opened), None) => {
                    flush(opened)?;
                    *own = None;
                }
                (None, inherited) => *own = inherited,
                _ => {}
            }
        }
        for (number, at) in [(0x23u16, 0x0E), (0x24, 0x12)] {
            let from = Far::new(child, at);
            let (offset, segment) = (self.load_word(from), self.load_word(from.plus(2)));
            self.store_word(Far::new(0, number * 4), offset);
            self.store_word(Far::new(0, number * 4 + 2), segment);
        }
        if !stays {
            self.system.arena.give_all(child);
        }
        self.system.child_code = u16::from(code) | if stays { STAYED } else { 0 };
        self.system.program = parent.program;
        self.system.transfer = parent.transfer;
        self.processor.registers = parent.registers;
        self.give_back(Some((flag::CARRY, false)));
        self.note_owners();
        self.processor.stack_watch().go_back(parent.stack);
        Ok(true)
    }
}
