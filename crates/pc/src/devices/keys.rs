//! Keys: their names, scan codes and characters.

use thiserror::Error;

/// A key of the keyboard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Key(usize);

/// A key as the table has it: name, scan code, character, character with shift.
type Row = (&'static str, u8, u8, u8);

/// Scan codes of the 83-key keyboard and the characters of its keys, plain and
/// shifted (Technical Reference, keyboard). 0: the key has no character.
const KEYS: &[Row] = &[
    ("esc", 0x01, 27, 27),
    ("1", 0x02, b'1', b'!'),
    ("2", 0x03, b'2', b'@'),
    ("3", 0x04, b'3', b'#'),
    ("4", 0x05, b'4', b'$'),
    ("5", 0x06, b'5', b'%'),
    ("6", 0x07, b'6', b'^'),
    ("7", 0x08, b'7', b'&'),
    ("8", 0x09, b'8', b'*'),
    ("9", 0x0A, b'9', b'('),
    ("0", 0x0B, b'0', b')'),
    ("-", 0x0C, b'-', b'_'),
    ("=", 0x0D, b'=', b'+'),
    ("backspace", 0x0E, 8, 8),
    ("tab", 0x0F, 9, 0),
    ("q", 0x10, b'q', b'Q'),
    ("w", 0x11, b'w', b'W'),
    ("e", 0x12, b'e', b'E'),
    ("r", 0x13, b'r', b'R'),
    ("t", 0x14, b't', b'T'),
    ("y", 0x15, b'y', b'Y'),
    ("u", 0x16, b'u', b'U'),
    ("i", 0x17, b'i', b'I'),
    ("o", 0x18, b'o', b'O'),
    ("p", 0x19, b'p', b'P'),
    ("[", 0x1A, b'[', b'{'),
    ("]", 0x1B, b']', b'}'),
    ("enter", 0x1C, 13, 13),
    ("ctrl", 0x1D, 0, 0),
    ("a", 0x1E, b'a', b'A'),
    ("s", 0x1F, b's', b'S'),
    ("d", 0x20, b'd', b'D'),
    ("f", 0x21, b'f', b'F'),
    ("g", 0x22, b'g', b'G'),
    ("h", 0x23, b'h', b'H'),
    ("j", 0x24, b'j', b'J'),
    ("k", 0x25, b'k', b'K'),
    ("l", 0x26, b'l', b'L'),
    (";", 0x27, b';', b':'),
    ("'", 0x28, b'\'', b'"'),
    ("`", 0x29, b'`', b'~'),
    ("shift", 0x2A, 0, 0),
    ("\\", 0x2B, b'\\', b'|'),
    ("z", 0x2C, b'z', b'Z'),
    ("x", 0x2D, b'x', b'X'),
    ("c", 0x2E, b'c', b'C'),
    ("v", 0x2F, b'v', b'V'),
    ("b", 0x30, b'b', b'B'),
    ("n", 0x31, b'n', b'N'),
    ("m", 0x32, b'm', b'M'),
    (",", 0x33, b',', b'<'),
    (".", 0x34, b'.', b'>'),
    ("/", 0x35, b'/', b'?'),
    ("right-shift", 0x36, 0, 0),
    ("alt", 0x38, 0, 0),
    ("space", 0x39, b' ', b' '),
    ("f1", 0x3B, 0, 0),
    ("f2", 0x3C, 0, 0),
    ("f3", 0x3D, 0, 0),
    ("f4", 0x3E, 0, 0),
    ("f5", 0x3F, 0, 0),
    ("f6", 0x40, 0, 0),
    ("f7", 0x41, 0, 0),
    ("f8", 0x42, 0, 0),
    ("f9", 0x43, 0, 0),
    ("f10", 0x44, 0, 0),
    ("home", 0x47, 0, b'7'),
    ("up", 0x48, 0, b'8'),
    ("page-up", 0x49, 0, b'9'),
    ("minus", 0x4A, b'-', b'-'),
    ("left", 0x4B, 0, b'4'),
    ("centre", 0x4C, 0, b'5'),
    ("right", 0x4D, 0, b'6'),
    ("plus", 0x4E, b'+', b'+'),
    ("end", 0x4F, 0, b'1'),
    ("down", 0x50, 0, b'2'),
    ("page-down", 0x51, 0, b'3'),
    ("insert", 0x52, 0, b'0'),
    ("delete", 0x53, 0, b'.'),
];

/// A key no keyboard has.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("found {0}, allowed the name of a key: {names}", names = names())]
pub struct UnknownKey(pub String);

fn names() -> String {
    KEYS.iter().map(|(name, ..)| *name).collect::<Vec<_>>().join(" ")
}

impl Key {
    /// The key of that name.
    ///
    /// # Errors
    /// Lists the names there are.
    pub fn named(name: &str) -> Result<Self, UnknownKey> {
        let known = KEYS.iter().position(|(known, ..)| known.eq_ignore_ascii_case(name));
        known.map(Self).ok_or_else(|| UnknownKey(name.to_string()))
    }

    /// Every key.
    pub fn all() -> impl Iterator<Item = Self> {
        (0..KEYS.len()).map(Self)
    }

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        KEYS[self.0].0
    }

    /// The key of that scan code (bit 7 tells press from release).
    #[must_use]
    pub fn of_scan_code(code: u8) -> Option<Self> {
        KEYS.iter().position(|(_, known, ..)| *known == code & 0x7F).map(Self)
    }

    /// Its scan code.
    #[must_use]
    pub fn scan_code(self) -> u8 {
        KEYS[self.0].1
    }

    /// Its character: 0 where it has none.
    #[must_use]
    pub fn character(self, shifted: bool, control: bool) -> u8 {
        let (_, _, plain, with_shift) = KEYS[self.0];
        match (control, shifted) {
            (true, _) if plain.is_ascii_lowercase() => plain & 0x1F,
            (_, true) => with_shift,
            _ => plain,
        }
    }
}
