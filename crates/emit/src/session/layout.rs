//! What stands where in a session program: buffers, the entries of looks, the records of answers, variables, routines.

use iced_x86::code_asm::CodeLabel;

/// Paragraphs from the program's segment to the buffer that pictures are unpacked into, and to that of the data file.
pub(super) const BUFFER_PARAGRAPHS: u32 = 0x1000;
pub(super) const FILE_PARAGRAPHS: u32 = 0x2000;
/// Paragraphs of each.
pub(super) const BUFFER_LEN: u32 = 0x1000;

/// Characters of the label.
pub(super) const LABEL: u32 = backporch_picture::card::LABEL_CHARACTERS;
/// First and last character there are glyphs for.
pub(super) const GLYPHS: std::ops::RangeInclusive<u8> = b' '..=b'_';

/// Bytes of a look's entry, and what stands where in it.
pub(super) const ENTRY: u32 = 18;
pub(super) mod entry {
    pub const MODE: u32 = 0;
    pub const GROUP: u32 = 1;
    pub const ALL: u32 = 2;
    pub const START: u32 = 4;
    pub const IMAGE: u32 = 6;
    pub const CANVAS: u32 = 8;
    pub const PAGE: u32 = 10;
    pub const HEAD: u32 = 12;
    pub const HEAD_LEN: u32 = 14;
    pub const ORIGIN: u32 = 16;
}

/// Bytes of an answer's record, and what stands where in it.
pub(super) const RECORD: u32 = 76;
pub(super) const NOTE_ROOM: u32 = 50;
pub(super) mod record {
    pub const SAW: u32 = 0;
    pub const FLAGS: u32 = 1;
    pub const TINGE: u32 = 2;
    pub const MARKS: u32 = 4;
    pub const NOTE_LEN: u32 = 22;
    pub const NOTE: u32 = 23;
}
/// Flags of a record.
pub(super) mod flag {
    pub const FLICKERS: u32 = 1;
    pub const REGULAR: u32 = 2;
    pub const NARROWER: u32 = 4;
}
/// Marks of a record.
pub(super) const MARKS: u32 = backporch_evidence::MARKS.len() as u32;

/// No record or entry overlaps the next.
const _: () = assert!(record::MARKS + 2 * MARKS <= record::NOTE_LEN);
const _: () = assert!(record::NOTE + NOTE_ROOM <= RECORD && entry::ORIGIN + 2 <= ENTRY);

/// Where data and what changes stand.
#[derive(Debug)]
pub(super) struct SessionVariables {
    pub entries: u32,
    pub glyphs: u32,
    pub letters: u32,
    /// Two letters of the label for each tinge.
    pub tinges: u32,
    /// From here on nothing is known at the start.
    pub room: u32,
    pub look: u32,
    pub entry: u32,
    pub record: u32,
    pub records: u32,
    pub group: u32,
    pub quiet: u32,
    pub canvas: u32,
    pub origin: u32,
    pub marker_on: u32,
    pub marker_x: u32,
    pub marker_y: u32,
    pub label_shown: u32,
    pub label_wanted: u32,
    pub label_at: u32,
    pub glyph: u32,
    pub bits: u32,
    pub count: u32,
    pub passes: u32,
    pub handle: u32,
    pub length: u32,
    pub text_address: u32,
    pub typed: u32,
    pub end: u32,
}

/// Labels of the routines.
pub(super) struct SessionRoutines {
    pub retrace: CodeLabel,
    pub active: CodeLabel,
    pub ports: CodeLabel,
    pub picture: CodeLabel,
    pub begin_drawing: CodeLabel,
    pub end_drawing: CodeLabel,
    pub pixel: CodeLabel,
    pub marker: CodeLabel,
    pub label: CodeLabel,
    pub entry: CodeLabel,
    pub text_mode: CodeLabel,
    pub print: CodeLabel,
    pub finish: CodeLabel,
    pub bad_data: CodeLabel,
    pub try_again: CodeLabel,
    pub page: CodeLabel,
    pub tell: CodeLabel,
    pub leave: CodeLabel,
    pub three: CodeLabel,
}

impl SessionRoutines {
    /// Labels that stand nowhere yet.
    pub fn new(mut label: impl FnMut() -> CodeLabel) -> Self {
        Self {
            retrace: label(),
            active: label(),
            ports: label(),
            picture: label(),
            begin_drawing: label(),
            end_drawing: label(),
            pixel: label(),
            marker: label(),
            label: label(),
            entry: label(),
            text_mode: label(),
            print: label(),
            finish: label(),
            bad_data: label(),
            try_again: label(),
            page: label(),
            tell: label(),
            leave: label(),
            three: label(),
        }
    }
}

/// Texts of the flow.
pub(super) struct SessionPages {
    pub opening: Vec<u32>,
    pub help: u32,
    pub end: u32,
    pub words: u32,
    pub no_memory: u32,
    pub no_data: u32,
    pub bad_data: u32,
    pub file: u32,
}
