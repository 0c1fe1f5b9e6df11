//! Files by control blocks in the program's memory, as the first system had them (common practice): open, close, read,
//! search. What changes files stands in `blocks_written`.

use std::sync::Arc;

use backporch_raster::Tap;

use super::Served;
use super::files::{ATTRIBUTE_ARCHIVE, DRIVE, FILE_DATE, FILE_TIME, flush_file, matches};
use crate::folder::FolderEntry;
use crate::machine::Machine;
use crate::registers::{Byte, Far, SegmentRegister, Word};
use crate::system::OpenFile;
use crate::trouble::Trouble;

/// What a control block before which more stands begins with, and how much more.
const EXTENDED: u8 = 0xFF;
const EXTENSION: u16 = 7;

/// Places in a block.
pub(super) mod field {
    pub const NAME: u16 = 0x01;
    pub const BLOCK: u16 = 0x0C;
    pub const RECORD_SIZE: u16 = 0x0E;
    pub const FILE_SIZE: u16 = 0x10;
    pub const DATE: u16 = 0x14;
    pub const TIME: u16 = 0x16;
    /// Reserved for the system: which open file it is, counted from 1.
    pub const FILE: u16 = 0x18;
    pub const RECORD: u16 = 0x20;
    pub const RANDOM: u16 = 0x21;
    /// The other name, where one is given.
    pub const NEW_NAME: u16 = 0x11;
}

/// Results in AL.
pub(super) mod result {
    pub const DONE: u8 = 0;
    pub const END: u8 = 1;
    /// The disk is full, or the file can only be read.
    pub const FULL: u8 = 1;
    pub const PARTIAL: u8 = 3;
    pub const FAILED: u8 = 0xFF;
}

/// Records of a block, and bytes of a record at first.
const RECORDS: u32 = 128;
const USUAL_RECORD: u16 = 0x80;

impl<T: Tap> Machine<T> {
    pub(super) fn blocks(&mut self) -> Result<Served, Trouble> {
        let block = self.control_block();
        let result = match self.byte(Byte::Ah) {
            0x0F => self.open_block(block)?,
            0x10 => self.close_block(block)?,
            0x11 => self.search_block(block)?,
            0x12 => self.next_of_search(),
            0x14 => {
                let record = self.current_record(block);
                let result = self.read_record(block, record, 0);
                self.set_current_record(block, record.wrapping_add(1));
                result
            }
            0x21 => {
                let record = self.random_record(block);
                self.set_current_record(block, record);
                self.read_record(block, record, 0)
            }
            0x24 => {
                let record = self.current_record(block);
                self.set_random_record(block, record);
                self.byte(Byte::Al)
            }
            0x27 => self.read_records(block),
            0x13 => self.delete_block(block)?,
            0x15 => {
                let record = self.current_record(block);
                let result = self.write_record(block, record, 0);
                self.set_current_record(block, record.wrapping_add(1));
                result
            }
            0x16 => self.create_block(block)?,
            0x17 => self.rename_block(block)?,
            0x22 => {
                let record = self.random_record(block);
                self.set_current_record(block, record);
                self.write_record(block, record, 0)
            }
            0x23 => self.size_block(block)?,
            0x28 => self.write_records(block),
            _ => return Err(self.not_here(0x21)),
        };
        self.set_byte(Byte::Al, result);
        Ok(Served::Back)
    }

    fn control_block(&self) -> Far {
        let at = self.at(SegmentRegister::Ds, Word::Dx);
        if self.load(at) == EXTENDED { at.plus(EXTENSION) } else { at }
    }

    /// The name in a block as a path has it.
    pub(super) fn block_name(&self, block: Far) -> String {
        let bytes: Vec<u8> = (0..11).map(|at| self.load(block.plus(field::NAME + at))).collect();
        joined(&bytes)
    }

    /// Whether a block means the folder's drive.
    pub(super) fn is_here(&self, block: Far) -> bool {
        matches!(self.load(block), 0 | 3)
    }

    fn open_block(&mut self, block: Far) -> Result<u8, Trouble> {
        let name = self.block_name(block);
        if !self.is_here(block) {
            return Ok(result::FAILED);
        }
        let Ok(FolderEntry::File(path)) = self.find(&name)? else { return Ok(result::FAILED) };
        let content = Arc::new(self.folder(&name)?.read(&path).map_err(Trouble::File)?);
        let writable = self.is_writable();
        self.keep_block(block, OpenFile { path, content, position: 0, writable, changed: false })?;
        Ok(result::DONE)
    }

    /// Keeps a file open, and notes it in its block.
    pub(super) fn keep_block(&mut self, block: Far, file: OpenFile) -> Result<(), Trouble> {
        let size = file.content.len() as u32;
        let (number, before) = self.system.blocks.keep(file);
        before.as_ref().map_or(Ok(()), flush_file)?;
        if self.load(block) == 0 {
            self.store(block, DRIVE + 1);
        }
        for (at, value) in [
            (field::BLOCK, 0),
            (field::RECORD_SIZE, USUAL_RECORD),
            (field::FILE_SIZE, size as u16),
            (field::FILE_SIZE + 2, (size >> 16) as u16),
            (field::DATE, FILE_DATE),
            (field::TIME, FILE_TIME),
            (field::FILE, number),
        ] {
            self.store_word(block.plus(at), value);
        }
        Ok(())
    }

    fn close_block(&mut self, block: Far) -> Result<u8, Trouble> {
        let number = self.file_number(block);
        let Some(file) = self.system.blocks.close(number) else { return Ok(result::FAILED) };
        flush_file(&file)?;
        self.store_word(block.plus(field::FILE), 0);
        Ok(result::DONE)
    }

    pub(super) fn file_number(&self, block: Far) -> u16 {
        self.load_word(block.plus(field::FILE))
    }

    pub(super) fn current_record(&self, block: Far) -> u32 {
        u32::from(self.load_word(block.plus(field::BLOCK))) * RECORDS
            + u32::from(self.load(block.plus(field::RECORD)) & 0x7F)
    }

    pub(super) fn set_current_record(&mut self, block: Far, record: u32) {
        self.store_word(block.plus(field::BLOCK), (record / RECORDS) as u16);
        self.store(block.plus(field::RECORD), (record % RECORDS) as u8);
    }

    pub(super) fn random_record(&self, block: Far) -> u32 {
        let word = |more: u16| u32::from(self.load_word(block.plus(field::RANDOM + more)));
        // The fourth byte counts with small records alone.
        let most = if self.record_size(block) < 64 { u32::MAX } else { 0xFF_FFFF };
        (word(0) | word(2) << 16) & most
    }

    pub(super) fn set_random_record(&mut self, block: Far, record: u32) {
        let len = if self.record_size(block) < 64 { 4 } else { 3 };
        for (at, byte) in (0..len).zip(record.to_le_bytes()) {
            self.store(block.plus(field::RANDOM + at), byte);
        }
    }

    pub(super) fn record_size(&self, block: Far) -> u32 {
        match self.load_word(block.plus(field::RECORD_SIZE)) {
            0 => u32::from(USUAL_RECORD),
            size => u32::from(size),
        }
    }

    /// Reads a record to the transfer address and this many bytes on; a part of one is filled up with zeros.
    fn read_record(&mut self, block: Far, record: u32, on: u16) -> u8 {
        let number = self.file_number(block);
        let Some(file) = self.system.blocks.get(number) else { return result::END };
        let content = Arc::clone(&file.content);
        let size = self.record_size(block) as usize;
        let from = (record as usize).saturating_mul(size);
        let Some(rest) = content.get(from..).filter(|rest| !rest.is_empty()) else { return result::END };
        let to = self.system.transfer.plus(on);
        let bytes = rest.iter().copied().chain(std::iter::repeat(0)).take(size);
        for (at, byte) in bytes.enumerate() {
            self.store(to.plus(at as u16), byte);
        }
        if rest.len() < size { result::PARTIAL } else { result::DONE }
    }

    fn read_records(&mut self, block: Far) -> u8 {
        let (wanted, size) = (self.word(Word::Cx), self.record_size(block));
        let first = self.random_record(block);
        let (mut read, mut came) = (0, result::DONE);
        while read < wanted && came == result::DONE {
            came = self.read_record(block, first.wrapping_add(u32::from(read)), (u32::from(read) * size) as u16);
            read += u16::from(came != result::END);
        }
        let next = first.wrapping_add(u32::from(read));
        self.set_random_record(block, next);
        self.set_current_record(block, next);
        self.set(Word::Cx, read);
        came
    }

    /// Names and sizes of the folder's files that fit a block's name, sorted.
    pub(super) fn named_by(&mut self, block: Far) -> Result<Vec<(String, u64)>, Trouble> {
        let pattern = self.block_name(block);
        let Ok(FolderEntry::Folder(root)) = self.find("")? else { return Ok(Vec::new()) };
        let listed = self.folder(&pattern)?.list(&root).into_iter();
        let files = listed.filter_map(|(name, size)| Some((name, size?)));
        Ok(files.filter(|(name, _)| matches(&pattern, name)).collect())
    }

    fn search_block(&mut self, block: Far) -> Result<u8, Trouble> {
        self.system.block_search = self.named_by(block)?.into_iter().rev().collect();
        Ok(self.next_of_search())
    }

    /// The next file of the search, as a folder's entry after the drive at the transfer address.
    fn next_of_search(&mut self) -> u8 {
        let Some((name, size)) = self.system.block_search.pop() else { return result::FAILED };
        let to = self.system.transfer;
        self.store(to, DRIVE + 1);
        let entry = padded(&name).into_iter().chain([ATTRIBUTE_ARCHIVE]).chain([0; 10]);
        let times = [FILE_TIME, FILE_DATE, 0].into_iter().flat_map(u16::to_le_bytes);
        let size = (size.min(u64::from(u32::MAX)) as u32).to_le_bytes();
        let bytes: Vec<u8> = entry.chain(times).chain(size).collect();
        for (at, byte) in (1..).zip(bytes) {
            self.store(to.plus(at), byte);
        }
        result::DONE
    }
}

/// A name of eight and three characters as a path has it.
pub(super) fn joined(name: &[u8]) -> String {
    let part = |bytes: &[u8]| bytes.iter().copied().map(char::from).collect::<String>().trim_end().to_string();
    let (stem, ending) = name.split_at(name.len().min(8));
    let (stem, ending) = (part(stem), part(ending));
    if ending.is_empty() { stem } else { format!("{stem}.{ending}") }
}

/// The same the other way: filled up with blanks.
pub(super) fn padded(name: &str) -> Vec<u8> {
    let (stem, ending) = name.split_once('.').unwrap_or((name, ""));
    format!("{stem:<8.8}{ending:<3.3}").into_bytes()
}
