//! File names as control blocks hold them, read out of text (function 29h of interrupt 21h; common practice).

use backporch_raster::Tap;

use super::Served;
use super::files::DRIVE;
use crate::machine::Machine;
use crate::registers::{Byte, Far, SegmentRegister, Word};

/// Longest text that is looked at.
const LONGEST: u16 = 128;

/// Bits of AL: leading separators are passed over; drive, name and ending stay where the text has none.
const SKIP: u8 = 1;
const KEEP_DRIVE: u8 = 2;
const KEEP_NAME: u8 = 4;
const KEEP_ENDING: u8 = 8;

/// Bytes of the two parts of a name in a block.
const NAME: usize = 8;
const ENDING: usize = 3;

/// Results in AL.
const PLAIN: u8 = 0;
const WITH_WILDCARDS: u8 = 1;
const NO_DRIVE: u8 = 0xFF;

/// A name read from text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct Named {
    /// Drive, counted from A as 1.
    drive: Option<u8>,
    name: Option<[u8; NAME]>,
    ending: Option<[u8; ENDING]>,
    /// Bytes of the text up to its end.
    read: usize,
}

impl Named {
    fn of(text: &[u8], skips: bool) -> Self {
        let separates = |byte: &u8| b" \t:.;,=+".contains(byte);
        let blank = |byte: &u8| b" \t".contains(byte);
        let mut read = text.iter().take_while(|byte| blank(byte)).count();
        if skips && text.get(read).is_some_and(separates) {
            read += 1 + text[read + 1..].iter().take_while(|byte| blank(byte)).count();
        }
        let mut named = Self::default();
        if let Some([letter, b':']) = text.get(read..read + 2) {
            named.drive = Some(letter.to_ascii_uppercase().wrapping_sub(b'A').wrapping_add(1));
            read += 2;
        }
        named.name = part(text, &mut read);
        if text.get(read) == Some(&b'.') {
            read += 1;
            named.ending = Some(part(text, &mut read).unwrap_or([b' '; ENDING]));
        }
        Self { read, ..named }
    }

    fn has_wildcards(&self) -> bool {
        self.name.iter().flatten().chain(self.ending.iter().flatten()).any(|byte| *byte == b'?')
    }
}

/// A part of a name in capitals, filled up with blanks; after a star with question marks. What is too long is left out.
fn part<const LENGTH: usize>(text: &[u8], read: &mut usize) -> Option<[u8; LENGTH]> {
    let ends = |byte: &u8| *byte < b'!' || b":.;,=+/\"[]<>|\\".contains(byte);
    let rest = text.get(*read..).unwrap_or_default();
    let length = rest.iter().position(ends).unwrap_or(rest.len());
    *read += length;
    let mut found = [b' '; LENGTH];
    for at in 0..length.min(LENGTH) {
        if rest[at] == b'*' {
            found[at..].fill(b'?');
            break;
        }
        found[at] = rest[at].to_ascii_uppercase();
    }
    (length > 0).then_some(found)
}

impl<T: Tap> Machine<T> {
    /// Function 29h: a name from text into a control block.
    pub(super) fn parse_name(&mut self) -> Served {
        let (text, block) = (self.at(SegmentRegister::Ds, Word::Si), self.at(SegmentRegister::Es, Word::Di));
        let bytes: Vec<u8> = (0..LONGEST).map(|at| self.load(text.plus(at))).collect();
        let wishes = self.byte(Byte::Al);
        let named = Named::of(&bytes, wishes & SKIP != 0);
        let wants = |keeps: u8| wishes & keeps == 0;
        self.write_name(block, &named, [wants(KEEP_DRIVE), wants(KEEP_NAME), wants(KEEP_ENDING)]);
        self.set(Word::Si, self.word(Word::Si).wrapping_add(named.read as u16));
        self.set_byte(
            Byte::Al,
            match named.drive {
                Some(drive) if drive != DRIVE + 1 => NO_DRIVE,
                _ if named.has_wildcards() => WITH_WILDCARDS,
                _ => PLAIN,
            },
        );
        Served::Back
    }

    /// Writes drive, name and ending; where the text has none, blanks if that is wanted.
    fn write_name(&mut self, block: Far, named: &Named, [drive, name, ending]: [bool; 3]) {
        if drive || named.drive.is_some() {
            self.store(block, named.drive.unwrap_or(0));
        }
        if name || named.name.is_some() {
            self.store_all(block.plus(1), &named.name.unwrap_or([b' '; NAME]));
        }
        if ending || named.ending.is_some() {
            self.store_all(block.plus(1 + NAME as u16), &named.ending.unwrap_or([b' '; ENDING]));
        }
    }

    /// The first two words of a command line in the control blocks before a program.
    pub(crate) fn name_blocks(&mut self, segment: u16, tail: &[u8]) {
        let mut rest = tail;
        for at in [0x5C, 0x6C] {
            let named = Named::of(rest, true);
            self.write_name(Far::new(segment, at), &named, [true; 3]);
            rest = rest.get(named.read..).unwrap_or_default();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_as_control_blocks_hold_them() {
        let read = |text: &str, skips| {
            let named = Named::of(text.as_bytes(), skips);
            let text = |bytes: Option<&[u8]>| bytes.map(|bytes| String::from_utf8_lossy(bytes).into_owned());
            let (name, ending) = (named.name, named.ending);
            let parts = [text(name.as_ref().map(<[u8; 8]>::as_slice)), text(ending.as_ref().map(<[u8; 3]>::as_slice))];
            (named.drive, parts.map(|part| part.unwrap_or_default()), named.read)
        };
        let parts = |name: &str, ending: &str| [name.to_owned(), ending.to_owned()];
        assert_eq!(read(" quay.dat rest", true), (None, parts("QUAY    ", "DAT"), 9));
        assert_eq!(read("c:PI*.*", false), (Some(3), parts("PI??????", "???"), 7));
        assert_eq!(read(";pier", false), (None, parts("", ""), 0));
        assert_eq!(read("; pier\r", true), (None, parts("PIER    ", ""), 6));
        assert_eq!(read("longerthaneight.text", true), (None, parts("LONGERTH", "TEX"), 20));
        assert_eq!(read("", true), (None, parts("", ""), 0));
    }
}
