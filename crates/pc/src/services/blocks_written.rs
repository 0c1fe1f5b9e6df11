//! What changes files by control blocks (common practice): create, write, rename, delete, size. As by handles, only the one
//! folder, and only where it may be written.

use std::fs;
use std::sync::Arc;

use backporch_raster::Tap;

use super::blocks::{field, joined, padded, result};
use super::files::flush_file;
use crate::folder::FolderEntry;
use crate::machine::Machine;
use crate::registers::{Far, Word};
use crate::system::OpenFile;
use crate::trouble::Trouble;

/// Any character of a name.
const ANY: u8 = b'?';

impl<T: Tap> Machine<T> {
    /// Function 16h: a file of no bytes, which is there at once.
    pub(super) fn create_block(&mut self, block: Far) -> Result<u8, Trouble> {
        let name = self.block_name(block);
        if !self.is_here(block) || !self.is_writable() || name.bytes().any(|byte| byte == ANY) {
            return Ok(result::FAILED);
        }
        let Ok(FolderEntry::File(path) | FolderEntry::Missing(path)) = self.find(&name)? else {
            return Ok(result::FAILED);
        };
        let mut file = OpenFile { path, content: Arc::default(), position: 0, writable: true, changed: true };
        flush_file(&file)?;
        file.changed = false;
        self.keep_block(block, file)?;
        Ok(result::DONE)
    }

    /// Writes a record from the transfer address and this many bytes on.
    pub(super) fn write_record(&mut self, block: Far, record: u32, on: u16) -> u8 {
        let size = self.record_size(block) as usize;
        let from = self.system.transfer.plus(on);
        let bytes: Vec<u8> = (0..size).map(|at| self.load(from.plus(at as u16))).collect();
        self.write_bytes(block, (record as usize).saturating_mul(size), &bytes)
    }

    /// No bytes cut the file there.
    fn write_bytes(&mut self, block: Far, at: usize, bytes: &[u8]) -> u8 {
        let number = self.file_number(block);
        let Some(file) = self.system.blocks.get(number) else { return result::FULL };
        let Ok(position) = u32::try_from(at) else { return result::FULL };
        file.position = position;
        match file.write(bytes) {
            Ok(written) if usize::from(written) == bytes.len() && file.position as usize == at + bytes.len() => {
                let size = file.content.len() as u32;
                self.store_word(block.plus(field::FILE_SIZE), size as u16);
                self.store_word(block.plus(field::FILE_SIZE + 2), (size >> 16) as u16);
                result::DONE
            }
            _ => result::FULL,
        }
    }

    /// Function 28h: as many records as CX says from the random one on; 0 makes the file end there.
    pub(super) fn write_records(&mut self, block: Far) -> u8 {
        let (wanted, size) = (self.word(Word::Cx), self.record_size(block));
        let first = self.random_record(block);
        if wanted == 0 {
            return self.write_bytes(block, (first as usize).saturating_mul(size as usize), &[]);
        }
        let (mut written, mut came) = (0, result::DONE);
        while written < wanted && came == result::DONE {
            came = self.write_record(block, first.wrapping_add(u32::from(written)), (u32::from(written) * size) as u16);
            written += u16::from(came == result::DONE);
        }
        let next = first.wrapping_add(u32::from(written));
        self.set_random_record(block, next);
        self.set_current_record(block, next);
        self.set(Word::Cx, written);
        came
    }

    /// Function 23h: records of the file, a part of one counted whole, as the random record.
    pub(super) fn size_block(&mut self, block: Far) -> Result<u8, Trouble> {
        let Some((_, bytes)) = self.named_by(block)?.into_iter().next() else { return Ok(result::FAILED) };
        let records = bytes.div_ceil(u64::from(self.record_size(block)));
        self.set_random_record(block, records.min(u64::from(u32::MAX)) as u32);
        Ok(result::DONE)
    }

    /// Function 13h: every file that fits the name.
    pub(super) fn delete_block(&mut self, block: Far) -> Result<u8, Trouble> {
        self.change_each(block, |_| None)
    }

    /// Function 17h: every file that fits the name gets the other one; a question mark there keeps the character.
    pub(super) fn rename_block(&mut self, block: Far) -> Result<u8, Trouble> {
        let wanted: Vec<u8> = (0..11).map(|at| self.load(block.plus(field::NEW_NAME + at))).collect();
        let renamed = |name: &str| {
            let kept = padded(name);
            let bytes: Vec<u8> =
                wanted.iter().zip(kept).map(|(new, old)| if *new == ANY { old } else { *new }).collect();
            Some(joined(&bytes))
        };
        self.change_each(block, renamed)
    }

    /// Gives every file that fits a block's name another one, or none.
    fn change_each(&mut self, block: Far, new_name: impl Fn(&str) -> Option<String>) -> Result<u8, Trouble> {
        if !self.is_here(block) || !self.is_writable() {
            return Ok(result::FAILED);
        }
        let names = self.named_by(block)?;
        let mut done = if names.is_empty() { result::FAILED } else { result::DONE };
        for (name, _) in names {
            let Ok(FolderEntry::File(old)) = self.find(&name)? else { continue };
            let changed = match new_name(&name) {
                None => fs::remove_file(old).is_ok(),
                Some(new) => match self.find(&new)? {
                    Ok(FolderEntry::Missing(new)) => fs::rename(old, new).is_ok(),
                    _ => false,
                },
            };
            if !changed {
                done = result::FAILED;
            }
        }
        Ok(done)
    }
}
