//! The console: characters in and out.

use backporch_raster::Tap;

use super::Served;
use crate::machine::Machine;
use crate::registers::{Byte, Far, SegmentRegister, Word};
use crate::trouble::Trouble;

const BACKSPACE: u8 = 8;
const LINE_FEED: u8 = 10;
const RETURN: u8 = 13;

/// Characters that a service prints before it lets the machine go on.
const AT_ONCE: u32 = 4;

/// Longest text: a segment; one without an end is cut there.
const LONGEST: u32 = 0x1_0000;

impl<T: Tap> Machine<T> {
    /// A character to the console: kept, and shown where the board shows text or pixels.
    pub(crate) fn print(&mut self, character: u8) {
        self.system.print(character);
        self.teletype(character, None);
    }

    fn print_all(&mut self, text: &[u8]) {
        text.iter().for_each(|character| self.print(*character));
    }

    /// Prints some characters of a text up to its end, or to `most` of them; `false` where there are more.
    fn print_some(&mut self, from: Far, most: u32, end: Option<u8>) -> bool {
        let done = self.take_progress();
        for index in done..done.saturating_add(AT_ONCE) {
            let character = self.load(from.plus(index as u16));
            if index >= most || Some(character) == end {
                return true;
            }
            self.print(character);
        }
        self.keep_progress(done + AT_ONCE);
        false
    }

    /// A character from the keyboard; keys without one come as 0 and their scan code.
    fn character(&mut self) -> Option<u8> {
        if let Some(scan) = self.system.scan_pending.take() {
            return Some(scan);
        }
        let [scan, character] = self.take_key()?.to_be_bytes();
        if character == 0 {
            self.system.scan_pending = Some(scan);
        }
        Some(character)
    }

    pub(super) fn has_character(&self) -> bool {
        self.system.scan_pending.is_some() || self.next_key().is_some()
    }

    pub(super) fn console(&mut self) -> Result<Served, Trouble> {
        let service = self.byte(Byte::Ah);
        match service {
            0x02 => {
                self.print(self.byte(Byte::Dl));
                self.set_byte(Byte::Al, self.byte(Byte::Dl));
            }
            0x06 if self.byte(Byte::Dl) != 0xFF => self.print(self.byte(Byte::Dl)),
            0x06 => {
                let character = self.character();
                self.set_byte(Byte::Al, character.unwrap_or(0));
                return Ok(Served::BackZero(character.is_none()));
            }
            0x01 | 0x07 | 0x08 => {
                let Some(character) = self.character() else { return Ok(Served::WaitForKey) };
                self.set_byte(Byte::Al, character);
                if service == 0x01 {
                    self.print(character);
                }
            }
            0x09 => {
                if !self.print_some(self.at(SegmentRegister::Ds, Word::Dx), LONGEST, Some(b'$')) {
                    return Ok(Served::GoOn);
                }
                self.set_byte(Byte::Al, b'$');
            }
            0x0A => return self.read_line(),
            0x0B => {
                let state = if self.has_character() { 0xFF } else { 0 };
                self.set_byte(Byte::Al, state);
            }
            0x0C => return self.flush_and_read(),
            _ => return Err(self.not_here(0x21)),
        }
        Ok(Served::Back)
    }

    /// Empties the keyboard, then reads by the service in AL.
    fn flush_and_read(&mut self) -> Result<Served, Trouble> {
        while self.take_key().is_some() {}
        self.system.scan_pending = None;
        match self.byte(Byte::Al) {
            read @ (0x01 | 0x06 | 0x07 | 0x08 | 0x0A) => {
                self.set_byte(Byte::Ah, read);
                self.console()
            }
            _ => Ok(Served::Back),
        }
    }

    /// Reads a line into a buffer that begins with its size and gets the length.
    fn read_line(&mut self) -> Result<Served, Trouble> {
        let buffer = self.at(SegmentRegister::Ds, Word::Dx);
        let byte = |index: u16| buffer.plus(index);
        let room = usize::from(self.load(byte(0)));
        if !self.type_line(room)? {
            return Ok(Served::WaitForKey);
        }
        let line = std::mem::take(&mut self.system.line);
        self.store(byte(1), line.len() as u8);
        for (index, character) in line.iter().chain([&RETURN]).enumerate() {
            self.store(byte(2 + index as u16), *character);
        }
        Ok(Served::Back)
    }

    /// Takes keys into the line being typed, up to `room` with its end; `true` at that end.
    pub(super) fn type_line(&mut self, room: usize) -> Result<bool, Trouble> {
        while let Some(character) = self.character() {
            match character {
                RETURN => {
                    self.print(RETURN);
                    return Ok(true);
                }
                BACKSPACE if self.system.line.pop().is_some() => self.print_all(&[BACKSPACE, b' ', BACKSPACE]),
                BACKSPACE => {}
                0 => self.system.scan_pending = None,
                _ if self.system.line.len() + 1 < room => {
                    self.system.line.push(character);
                    self.print(character);
                }
                _ => {}
            }
        }
        Ok(room == 0)
    }

    /// Reads from the console's handle: a line with its end.
    pub(super) fn read_console(&mut self, at: Far, most: u16) -> Result<Option<u16>, Trouble> {
        if !self.type_line(usize::from(most))? {
            return Ok(None);
        }
        self.print(LINE_FEED);
        let mut line = std::mem::take(&mut self.system.line);
        line.extend([RETURN, LINE_FEED]);
        line.truncate(usize::from(most));
        for (index, character) in line.iter().enumerate() {
            self.store(at.plus(index as u16), *character);
        }
        Ok(Some(line.len() as u16))
    }

    /// Writes to the console's handle; `false` where there is more to write.
    pub(super) fn write_console(&mut self, at: Far, count: u16) -> bool {
        self.print_some(at, u32::from(count), None)
    }
}
