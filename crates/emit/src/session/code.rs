//! The program, instruction by instruction: looks, keys, waits. Drawing, pictures and the end stand in files of their own.

use backporch_adapter::{CharacterSet, FirmwareMode, PortRole, Role, StatusSignal};
use backporch_evidence::Session;
use backporch_signal::SYNC_CAUTION;
use backporch_workaround::transition::{Moment, Stage};
use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::canvas::{Kind, at};
use super::draft::{Data, Draft, FIRST_GUESS, If};
use super::output::Texts;
use super::pictures::{Pictures, port_list};
use super::prepared::Prepared;
use super::screen::{GLYPHS, LABEL};
use super::{SessionError, SessionProgram, output, pictures, screen, words};
use crate::program::{Code, LOADED_AT, MOST_BYTES, Part, TEXT_MODE};

/// Paragraphs from the program's segment to the buffer that pictures are unpacked into, and to that of the data file.
pub(super) const BUFFER_PARAGRAPHS: u32 = 0x1000;
pub(super) const FILE_PARAGRAPHS: u32 = 0x2000;
/// Paragraphs of each.
const BUFFER_LEN: u32 = 0x1000;
/// Bytes that the stack may take at the end of the segment.
const STACK: u32 = 0x400;
/// What a board may lack.
const RETRACE: &str = "status bit for vertical retrace";
/// Lines of the active area that pass before the start address is written there.
const LINES_DOWN: u32 = 32;

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
pub(super) const RECORD: u32 = 64;
pub(super) const NOTE_ROOM: u32 = 50;
pub(super) mod record {
    pub const SAW: u32 = 0;
    pub const FLAGS: u32 = 1;
    pub const MARKS: u32 = 2;
    pub const NOTE_LEN: u32 = 12;
    pub const NOTE: u32 = 13;
}

/// Answers as records have them: positions in the words of the evidence.
mod saw {
    pub const CLEAN: u32 = 1;
    pub const UNSURE: u32 = 8;
    pub const DAMAGED: u32 = 9;
}

/// Keys of function 00h of interrupt 16h: characters, and scan codes of keys without one (*Technical Reference*, keyboard).
mod key {
    pub const ESCAPE: u32 = 27;
    pub const BACKSPACE: u32 = 8;
    pub const ENTER: u32 = 13;
    pub const UP: u32 = 0x48;
    pub const DOWN: u32 = 0x50;
    pub const LEFT: u32 = 0x4B;
    pub const RIGHT: u32 = 0x4D;
    pub const PAGE_UP: u32 = 0x49;
    pub const PAGE_DOWN: u32 = 0x51;
    pub const HOME: u32 = 0x47;
    pub const END: u32 = 0x4F;
}

/// An index port, the index, and the data port.
type Indexed = (u16, u8, u16);

/// What the code needs to know of the board.
pub(super) struct Facts<'a> {
    session: &'a Session,
    prepared: &'a Prepared,
    pictures: &'a Pictures,
    /// Name of the data file, where there is one.
    file: Option<String>,
    text_mode: u8,
    status: u16,
    no_display: u32,
    /// The bit that tells vertical retrace, and whether it is set then.
    retrace: (u32, bool),
    pub bit_mask: Option<Indexed>,
    pub map_mask: Option<Indexed>,
    pub read_map: Option<Indexed>,
}

/// Where data and what changes stand.
#[derive(Debug)]
pub(super) struct Variables {
    entries: u32,
    pub glyphs: u32,
    letters: u32,
    /// From here on nothing is known at the start.
    room: u32,
    pub look: u32,
    entry: u32,
    pub record: u32,
    records: u32,
    group: u32,
    quiet: u32,
    pub canvas: u32,
    pub origin: u32,
    marker_on: u32,
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
    pub told: u32,
    typed: u32,
    end: u32,
}

/// Labels of the routines.
pub(super) struct Routines {
    retrace: CodeLabel,
    active: CodeLabel,
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
    page: CodeLabel,
    tell: CodeLabel,
    leave: CodeLabel,
    three: CodeLabel,
}

/// Texts of the flow.
struct Pages {
    opening: Vec<u32>,
    help: u32,
    end: u32,
    words: u32,
    no_memory: u32,
    no_data: u32,
    bad_data: u32,
    file: u32,
}

/// Ports and bytes, in order.
type PortWrites = Vec<(u16, u8)>;

/// Code with its notes, data, and the address behind everything.
struct Drafted {
    bytes: Vec<u8>,
    notes: Vec<(usize, String)>,
    parts: Vec<Part>,
    end: u32,
}

/// Makes the program.
pub(super) fn program(session: &Session, name: &str) -> Result<SessionProgram, SessionError> {
    if session.looks().is_empty() {
        return Err(SessionError::Empty);
    }
    let fits = (1..=8).contains(&name.len()) && name.bytes().all(|byte| byte.is_ascii_alphanumeric());
    if !fits {
        return Err(SessionError::Name(name.to_string()));
    }
    let prepared = Prepared::new(session)?;
    let pictures = Pictures::of(&prepared.images);
    let within = Facts::new(session, &prepared, &pictures, None)?.code();
    let (code, data) = match within {
        Err(SessionError::TooLong { .. }) => {
            let file = Some(format!("{}.DAT", name.to_ascii_uppercase()));
            (Facts::new(session, &prepared, &pictures, file)?.code()?, Some(pictures.file()))
        }
        within => (within?, None),
    };
    let caution = prepared.changes_signal.then_some(SYNC_CAUTION);
    Ok(SessionProgram { code, data, sheet: session.sheet(&prepared.cells()), caution })
}

impl<'a> Facts<'a> {
    fn new(
        session: &'a Session,
        prepared: &'a Prepared,
        pictures: &'a Pictures,
        file: Option<String>,
    ) -> Result<Self, SessionError> {
        let adapter = session.bench().adapter();
        let bit = |signal: StatusSignal, missing| {
            let mut bits = adapter.profile().status.iter();
            let bit = bits.find(|bit| bit.shows == signal).ok_or(SessionError::Missing(missing))?;
            Ok(1u32 << bit.bit)
        };
        let indexed = |role| {
            let field = adapter.field_with(role)?;
            let cell = adapter.field_info(field).bits.first()?.cell()?;
            match adapter.cell_writes(cell, 0).as_slice() {
                [(select, index), (data, _)] if select != data => Some((*select, *index, *data)),
                _ => None,
            }
        };
        Ok(Self {
            session,
            prepared,
            pictures,
            file,
            text_mode: adapter.firmware_text_mode().map_or(TEXT_MODE, FirmwareMode::number),
            status: adapter.port_of(PortRole::Status).ok_or(SessionError::Missing("status port"))?,
            no_display: bit(StatusSignal::DisplayDisabled, "status bit for the active area")
                .or_else(|_| bit(StatusSignal::HorizontalSync, "status bit for lines"))?,
            retrace: match bit(StatusSignal::VerticalSync, RETRACE) {
                Ok(mask) => (mask, true),
                Err(_) => (bit(StatusSignal::NoVerticalSync, RETRACE)?, false),
            },
            bit_mask: indexed(Role::BitMask),
            map_mask: indexed(Role::MapMask),
            read_map: indexed(Role::ReadMap),
        })
    }

    fn code(&self) -> Result<Code, SessionError> {
        let length = self.draft(FIRST_GUESS)?.bytes.len();
        let Drafted { bytes, notes, parts, end } = self.draft(u32::from(LOADED_AT) + length as u32)?;
        if bytes.len() != length {
            return Err(SessionError::Assembler("the code's length depends on its data's addresses".to_string()));
        }
        let mut head = vec![
            format!(
                "Test session for the {} class: {} looks.",
                self.session.bench().adapter().name(),
                self.session.looks().len()
            ),
            "It asks what is seen at one setting after another and writes the answers to ANSWERS.TXT.".to_string(),
        ];
        if self.prepared.changes_signal {
            head.extend(crate::table::wrapped(SYNC_CAUTION, 92));
        }
        let found = (end + STACK).saturating_sub(u32::from(LOADED_AT)) as usize;
        if found > MOST_BYTES {
            return Err(SessionError::TooLong { found, allowed: MOST_BYTES });
        }
        Ok(Code::new(bytes, notes, parts, &head))
    }

    /// All of it, the data from an address on.
    fn draft(&self, begin: u32) -> Result<Drafted, SessionError> {
        let refused = |error: IcedError| SessionError::Assembler(error.to_string());
        let mut data = Data::from(begin);
        let pages = self.pages(&mut data);
        let texts = Texts::put(&mut data, &self.session.head(), self.session.mark(&self.prepared.cells()));
        let variables = self.variables(&mut data);
        if variables.end > u32::from(u16::MAX) {
            return Err(SessionError::TooLong { found: variables.end as usize, allowed: MOST_BYTES });
        }
        let asm = CodeAssembler::new(16).map_err(refused)?;
        let mut draft = Draft { asm, notes: Vec::new() };
        self.write(&mut draft, &variables, &pages, &texts).map_err(refused)?;
        let bytes = draft.asm.assemble(u64::from(LOADED_AT)).map_err(refused)?;
        Ok(Drafted { bytes, notes: draft.notes, parts: data.parts, end: variables.end })
    }

    fn pages(&self, data: &mut Data) -> Pages {
        let opening = words::opening(self.session, self.prepared.changes_signal);
        Pages {
            opening: opening.iter().map(|page| data.text("page", page)).collect(),
            help: data.text("keys", &words::help()),
            end: data.text("before the end", words::END),
            words: data.text("before words", words::WORDS),
            no_memory: data.text("too little memory", words::NO_MEMORY),
            no_data: data.text("no data file", words::NO_DATA),
            bad_data: data.text("a data file that is cut short", words::BAD_DATA),
            file: self.file.as_ref().map_or(0, |name| data.line("name of the data file", name)),
        }
    }

    /// Data of the looks, and room for what changes.
    fn variables(&self, data: &mut Data) -> Variables {
        let images = self.pictures.put(data, self.file.is_some());
        let mut canvases = Vec::new();
        for canvas in &self.prepared.canvases {
            let (begin, end) = self.around_drawing(canvas.kind);
            let begin = data.put("port writes before drawing", port_list(&begin));
            let end = data.put("port writes after drawing", port_list(&end));
            canvases.push(data.put("a canvas", canvas.bytes(begin, end)));
        }
        let of = self.session.looks().len();
        let cells = self.prepared.cells();
        let mut entries = Vec::new();
        let mut lists: Vec<(Vec<u8>, u32)> = Vec::new();
        let mut list = |data: &mut Data, stages: &[Stage]| {
            let bytes = stage_list(stages);
            if let Some((_, known)) = lists.iter().find(|(known, _)| *known == bytes) {
                return *known;
            }
            let address = data.put("port writes, stage by stage: moment, number, ports and values", bytes.clone());
            lists.push((bytes, address));
            address
        };
        let mut page_of: Vec<(u8, u32)> = Vec::new();
        for (at, (look, asked)) in self.prepared.looks.iter().zip(self.session.looks()).enumerate() {
            let head = self.session.head_of(at, cells[at]);
            let known = page_of.iter().find(|(group, _)| *group == look.group).map(|(_, page)| *page);
            let page = known.unwrap_or_else(|| data.text("page before a look", &words::before(asked, at + 1, of)));
            page_of.push((look.group, page));
            let words = [
                list(data, &look.all),
                list(data, &look.start),
                images[look.image],
                canvases[look.canvas],
                page,
                data.put("what a look asks", head.clone().into_bytes()),
                head.len() as u32,
                u32::from(look.origin),
            ];
            entries.extend([look.mode, look.group]);
            entries.extend(words.iter().flat_map(|word| (*word as u16).to_le_bytes()));
        }
        let font = CharacterSet::built_in();
        let glyphs = GLYPHS.flat_map(|code| (0..8).map(move |line| font.row(code, line)));
        let entries = data.put("looks", entries);
        let glyphs = data.put("glyphs, eight lines each", glyphs.collect());
        let letters = data.put("answers as letters of the label", b"-CEBWPS0?D".to_vec());
        let room = data.end();
        let mut word = || data.room(2);
        let mut variables = Variables {
            entries,
            glyphs,
            letters,
            room,
            look: word(),
            entry: word(),
            record: word(),
            group: word(),
            quiet: word(),
            origin: word(),
            marker_on: word(),
            marker_x: word(),
            marker_y: word(),
            label_at: word(),
            glyph: word(),
            bits: word(),
            count: word(),
            passes: word(),
            handle: word(),
            length: word(),
            told: word(),
            records: 0,
            canvas: 0,
            label_shown: 0,
            label_wanted: 0,
            typed: 0,
            end: 0,
        };
        variables.canvas = data.room(at::LEN + 1);
        variables.label_shown = data.room(LABEL);
        variables.label_wanted = data.room(LABEL);
        variables.typed = data.room(NOTE_ROOM + 4);
        variables.records = data.room(RECORD * of as u32);
        variables.end = data.end();
        variables
    }

    /// Port writes before and after drawing: by the logic function into all planes, or plane by plane.
    fn around_drawing(&self, kind: Kind) -> (PortWrites, PortWrites) {
        let (adapter, registers) = (self.session.bench().adapter(), self.session.bench().registers());
        let all = |values: &[(Role, u32)]| {
            let programming = |(role, value): &(Role, u32)| {
                let field = adapter.field_with(*role);
                field.map_or_else(Vec::new, |field| adapter.programming(registers, field, *value))
            };
            values.iter().flat_map(programming).collect()
        };
        match kind {
            Kind::Packed | Kind::Text => (Vec::new(), Vec::new()),
            Kind::Planar => (
                all(&[(Role::MapMask, 0x0F), (Role::LogicFunction, 3)]),
                all(&[(Role::LogicFunction, 0), (Role::BitMask, 0xFF)]),
            ),
            Kind::PlaneBytes => (Vec::new(), all(&[(Role::MapMask, 0x0F), (Role::ReadMap, 0)])),
        }
    }

    fn write(&self, d: &mut Draft, v: &Variables, pages: &Pages, texts: &Texts) -> Result<(), IcedError> {
        let mut label = || d.asm.create_label();
        let mut r = Routines {
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
        };
        self.begin(d, &r, v, pages)?;
        self.looks(d, &r, v, pages)?;
        output::write(d, &mut r, v, texts, self.session.looks().len() as u32)?;
        self.routines(d, &mut r, v)?;
        self.waits(d, &mut r)?;
        pictures::write(d, &mut r, v, self.file.is_some())?;
        screen::write_begin_and_end(d, &mut r, v)?;
        screen::write_pixel(d, &mut r, v, self)?;
        screen::write_marker(d, &mut r, v)?;
        screen::write_label(d, &mut r, v)?;
        d.asm.set_label(&mut r.bad_data)?;
        d.note("the data file cannot be read: back to text, and out");
        d.asm.call(r.text_mode)?;
        d.asm.mov(dx, pages.bad_data)?;
        d.asm.call(r.print)?;
        d.asm.mov(ax, 0x4C01)?;
        d.asm.int(0x21)
    }

    /// Memory, variables, the data file, the opening pages.
    fn begin(&self, d: &mut Draft, r: &Routines, v: &Variables, pages: &Pages) -> Result<(), IcedError> {
        let (mut enough, mut unset, mut out) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        d.note("strings go upwards; is there memory for the buffers?");
        d.asm.cld()?;
        let buffers = if self.file.is_some() { FILE_PARAGRAPHS } else { BUFFER_PARAGRAPHS } + BUFFER_LEN;
        d.asm.mov(bx, cs)?;
        d.asm.add(bx, buffers)?;
        d.asm.cmp(word_ptr(2), bx)?;
        d.asm.jae(enough)?;
        d.asm.mov(dx, pages.no_memory)?;
        d.asm.set_label(&mut out)?;
        d.asm.mov(ah, 9)?;
        d.asm.int(0x21)?;
        d.asm.mov(ax, 0x4C01)?;
        d.asm.int(0x21)?;
        d.asm.set_label(&mut enough)?;
        d.note("nothing is answered, no mark is set");
        d.asm.push(cs)?;
        d.asm.pop(es)?;
        d.asm.mov(di, v.room)?;
        d.asm.mov(cx, v.end - v.room)?;
        d.asm.xor(al, al)?;
        d.asm.rep().stosb()?;
        d.asm.mov(di, v.records)?;
        d.asm.mov(bx, self.session.looks().len() as u32)?;
        d.asm.set_label(&mut unset)?;
        d.asm.add(di, record::MARKS)?;
        d.asm.mov(ax, 0xFFFF)?;
        d.asm.mov(cx, 5)?;
        d.asm.rep().stosw()?;
        d.asm.add(di, RECORD - record::MARKS - 10)?;
        d.asm.dec(bx)?;
        d.asm.jne(unset)?;
        d.asm.mov(byte_ptr(v.group), 0xFF)?;
        if self.file.is_some() {
            let mut open = d.asm.create_label();
            d.note("open the data file");
            d.asm.mov(dx, pages.file)?;
            d.asm.mov(ax, 0x3D00)?;
            d.asm.int(0x21)?;
            d.asm.jae(open)?;
            d.asm.mov(dx, pages.no_data)?;
            d.asm.jmp(out)?;
            d.asm.set_label(&mut open)?;
            d.asm.mov(word_ptr(v.handle), ax)?;
        }
        for page in &pages.opening {
            let mut on = d.asm.create_label();
            d.asm.mov(dx, *page)?;
            d.asm.call(r.page)?;
            d.asm.cmp(al, key::ESCAPE)?;
            d.asm.jne(on)?;
            d.note("escape: nothing has been done yet");
            d.asm.mov(ax, 0x4C00)?;
            d.asm.int(0x21)?;
            d.asm.set_label(&mut on)?;
            d.asm.nop()?;
        }
        Ok(())
    }

    /// Look after look, key after key.
    fn looks(&self, d: &mut Draft, r: &Routines, v: &Variables, pages: &Pages) -> Result<(), IcedError> {
        let last = self.session.looks().len() as u32 - 1;
        let (mut enter, mut same, mut shown, mut set) =
            (d.asm.create_label(), d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        let (mut keys, mut told, mut leave_text, mut ending) =
            (d.asm.create_label(), d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        d.asm.set_label(&mut enter)?;
        d.note("a look: is its setting that of the look before, but for the start address?");
        d.asm.call(r.entry)?;
        d.asm.mov(al, byte_ptr(bx + entry::GROUP))?;
        d.asm.cmp(al, byte_ptr(v.group))?;
        d.jump(If::Equal, same)?;
        d.asm.cmp(byte_ptr(v.quiet), 0)?;
        d.jump(If::NotEqual, set)?;
        d.note("tell what comes");
        d.asm.mov(dx, word_ptr(bx + entry::PAGE))?;
        d.asm.call(r.page)?;
        d.asm.cmp(al, key::ESCAPE)?;
        d.jump(If::Equal, ending)?;
        d.asm.set_label(&mut set)?;
        d.note("set the mode, make the writes, fill memory");
        d.asm.mov(byte_ptr(v.quiet), 0)?;
        d.asm.mov(bx, word_ptr(v.entry))?;
        d.asm.mov(al, byte_ptr(bx + entry::MODE))?;
        d.asm.xor(ah, ah)?;
        d.asm.int(0x10)?;
        d.asm.mov(bx, word_ptr(v.entry))?;
        d.asm.mov(si, word_ptr(bx + entry::ALL))?;
        d.asm.call(r.ports)?;
        self.take_canvas(d, v)?;
        d.asm.mov(bx, word_ptr(v.entry))?;
        d.asm.mov(si, word_ptr(bx + entry::IMAGE))?;
        d.asm.call(r.picture)?;
        d.asm.mov(bx, word_ptr(v.entry))?;
        d.asm.mov(al, byte_ptr(bx + entry::GROUP))?;
        d.asm.mov(byte_ptr(v.group), al)?;
        d.asm.jmp(shown)?;
        d.asm.set_label(&mut same)?;
        d.note("the start address alone");
        d.asm.mov(byte_ptr(v.quiet), 0)?;
        d.asm.mov(si, word_ptr(bx + entry::START))?;
        d.asm.call(r.ports)?;
        self.take_canvas(d, v)?;
        d.asm.set_label(&mut shown)?;
        d.note("nothing is drawn on it yet; the marker waits in the middle");
        d.asm.mov(di, v.label_shown)?;
        d.asm.mov(cx, LABEL)?;
        d.asm.mov(al, u32::from(b' '))?;
        d.asm.rep().stosb()?;
        d.asm.mov(byte_ptr(v.marker_on), 0)?;
        for (size, marker) in [(at::WIDTH, v.marker_x), (at::HEIGHT, v.marker_y)] {
            d.asm.mov(ax, word_ptr(v.canvas + size))?;
            d.asm.shr(ax, 1)?;
            d.asm.mov(word_ptr(marker), ax)?;
        }
        d.asm.set_label(&mut told)?;
        d.asm.call(r.tell)?;

        d.asm.set_label(&mut keys)?;
        d.note("the next key");
        d.asm.xor(ah, ah)?;
        d.asm.int(0x16)?;
        d.asm.mov(bx, word_ptr(v.record))?;
        self.moves(d, r, v, keys, told)?;
        self.answers(d, told)?;
        self.marks(d, v, keys, told)?;
        self.others(d, r, v, pages, (told, leave_text))?;
        d.note("on, back, or to the end");
        let (mut not_on, mut not_back, mut further) =
            (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        d.asm.cmp(al, key::ESCAPE)?;
        d.jump(If::Equal, ending)?;
        d.asm.cmp(al, key::BACKSPACE)?;
        d.jump(If::NotEqual, not_back)?;
        d.asm.cmp(word_ptr(v.look), 0)?;
        d.jump(If::Equal, keys)?;
        d.asm.call(r.leave)?;
        d.asm.dec(word_ptr(v.look))?;
        d.asm.jmp(enter)?;
        d.asm.set_label(&mut not_back)?;
        d.asm.cmp(al, key::ENTER)?;
        d.asm.je(further)?;
        d.asm.cmp(al, u32::from(b' '))?;
        d.jump(If::NotEqual, not_on)?;
        d.asm.set_label(&mut further)?;
        d.asm.cmp(word_ptr(v.look), last)?;
        d.jump(If::Equal, ending)?;
        d.asm.call(r.leave)?;
        d.asm.inc(word_ptr(v.look))?;
        d.asm.jmp(enter)?;
        d.asm.set_label(&mut not_on)?;
        d.asm.jmp(keys)?;

        d.asm.set_label(&mut ending)?;
        d.note("enter ends the session, any other key goes back to the look");
        d.asm.mov(dx, pages.end)?;
        d.asm.call(r.page)?;
        d.asm.cmp(al, key::ENTER)?;
        d.jump(If::Equal, r.finish)?;
        d.asm.set_label(&mut leave_text)?;
        d.note("from text back to the look");
        d.asm.mov(byte_ptr(v.quiet), 1)?;
        d.asm.jmp(enter)
    }

    /// The look's canvas and where its first pixel stands.
    fn take_canvas(&self, d: &mut Draft, v: &Variables) -> Result<(), IcedError> {
        d.asm.mov(bx, word_ptr(v.entry))?;
        d.asm.mov(ax, word_ptr(bx + entry::ORIGIN))?;
        d.asm.mov(word_ptr(v.origin), ax)?;
        d.asm.mov(si, word_ptr(bx + entry::CANVAS))?;
        d.asm.mov(di, v.canvas)?;
        d.asm.mov(cx, at::LEN)?;
        d.asm.rep().movsb()
    }

    /// Arrows and their like: a key without a character.
    fn moves(
        &self,
        d: &mut Draft,
        r: &Routines,
        v: &Variables,
        keys: CodeLabel,
        told: CodeLabel,
    ) -> Result<(), IcedError> {
        let (mut other, mut moved) = (d.asm.create_label(), d.asm.create_label());
        d.note("keys without a character move the marker");
        d.asm.test(al, al)?;
        d.jump(If::NotEqual, other)?;
        let steps: [(u32, i32, i32); 8] = [
            (key::UP, 0, -1),
            (key::DOWN, 0, 1),
            (key::LEFT, -1, 0),
            (key::RIGHT, 1, 0),
            (key::PAGE_UP, 0, -10),
            (key::PAGE_DOWN, 0, 10),
            (key::HOME, -20, 0),
            (key::END, 20, 0),
        ];
        for (code, right, down) in steps {
            let mut next = d.asm.create_label();
            d.asm.cmp(ah, code)?;
            d.asm.jne(next)?;
            d.asm.mov(cx, right & 0xFFFF)?;
            d.asm.mov(dx, down & 0xFFFF)?;
            d.asm.jmp(moved)?;
            d.asm.set_label(&mut next)?;
            d.asm.nop()?;
        }
        d.asm.jmp(keys)?;
        d.asm.set_label(&mut moved)?;
        d.note("the first such key only shows it");
        let (mut first, mut show) = (d.asm.create_label(), d.asm.create_label());
        d.asm.cmp(byte_ptr(v.marker_on), 0)?;
        d.jump(If::Equal, first)?;
        d.asm.push(cx)?;
        d.asm.push(dx)?;
        d.asm.call(r.marker)?;
        d.asm.pop(dx)?;
        d.asm.pop(cx)?;
        for (place, size, by) in [(v.marker_x, at::WIDTH, cx), (v.marker_y, at::HEIGHT, dx)] {
            let (mut inside, mut below) = (d.asm.create_label(), d.asm.create_label());
            d.asm.mov(ax, word_ptr(place))?;
            d.asm.add(ax, by)?;
            d.asm.jns(inside)?;
            d.asm.xor(ax, ax)?;
            d.asm.set_label(&mut inside)?;
            d.asm.cmp(ax, word_ptr(v.canvas + size))?;
            d.asm.jb(below)?;
            d.asm.mov(ax, word_ptr(v.canvas + size))?;
            d.asm.dec(ax)?;
            d.asm.set_label(&mut below)?;
            d.asm.mov(word_ptr(place), ax)?;
        }
        d.asm.jmp(show)?;
        d.asm.set_label(&mut first)?;
        d.asm.mov(byte_ptr(v.marker_on), 1)?;
        d.asm.set_label(&mut show)?;
        d.asm.call(r.marker)?;
        d.asm.jmp(told)?;
        d.asm.set_label(&mut other)?;
        d.note("letters count alike, large or small");
        let mut large = d.asm.create_label();
        d.asm.cmp(al, u32::from(b'a'))?;
        d.asm.jb(large)?;
        d.asm.and(al, 0xDF)?;
        d.asm.set_label(&mut large)?;
        d.asm.nop()
    }

    /// Digits.
    fn answers(&self, d: &mut Draft, told: CodeLabel) -> Result<(), IcedError> {
        let (mut none, mut flickers, mut zero, mut store, mut not_clean) = (
            d.asm.create_label(),
            d.asm.create_label(),
            d.asm.create_label(),
            d.asm.create_label(),
            d.asm.create_label(),
        );
        d.note("digits are answers");
        d.asm.cmp(al, u32::from(b'0'))?;
        d.jump(If::Below, none)?;
        d.asm.cmp(al, u32::from(b'9') + 1)?;
        d.jump(If::NotBelow, none)?;
        d.asm.sub(al, u32::from(b'0'))?;
        d.asm.je(zero)?;
        d.asm.cmp(al, 8)?;
        d.jump(If::Equal, flickers)?;
        d.asm.jmp(store)?;
        d.asm.set_label(&mut zero)?;
        d.asm.mov(al, saw::UNSURE)?;
        d.asm.set_label(&mut store)?;
        d.asm.mov(byte_ptr(bx + record::SAW), al)?;
        d.asm.cmp(al, saw::CLEAN)?;
        d.jump(If::NotEqual, not_clean)?;
        d.note("a clean picture has no marks, and does not flicker");
        d.asm.mov(byte_ptr(bx + record::FLAGS), 0)?;
        self.clear_marks(d)?;
        d.asm.set_label(&mut not_clean)?;
        d.asm.jmp(told)?;
        d.asm.set_label(&mut flickers)?;
        d.asm.xor(byte_ptr(bx + record::FLAGS), 1)?;
        self.is_damaged(d)?;
        d.asm.jmp(told)?;
        d.asm.set_label(&mut none)?;
        d.asm.nop()
    }

    /// No mark of the record at BX.
    fn clear_marks(&self, d: &mut Draft) -> Result<(), IcedError> {
        d.asm.mov(di, bx)?;
        d.asm.add(di, record::MARKS)?;
        d.asm.mov(ax, 0xFFFF)?;
        d.asm.mov(cx, 5)?;
        d.asm.rep().stosw()
    }

    /// Who marks damage, or sees it flicker, has not seen a clean picture.
    fn is_damaged(&self, d: &mut Draft) -> Result<(), IcedError> {
        let mut said = d.asm.create_label();
        d.asm.cmp(byte_ptr(bx + record::SAW), saw::CLEAN + 1)?;
        d.asm.jae(said)?;
        d.asm.mov(byte_ptr(bx + record::SAW), saw::DAMAGED)?;
        d.asm.set_label(&mut said)?;
        d.asm.nop()
    }

    /// Letters that keep the marker's place.
    fn marks(&self, d: &mut Draft, v: &Variables, keys: CodeLabel, told: CodeLabel) -> Result<(), IcedError> {
        let letters =
            [(b'T', v.marker_y), (b'S', v.marker_y), (b'B', v.marker_y), (b'L', v.marker_x), (b'R', v.marker_x)];
        for (number, (letter, place)) in (0..).zip(letters) {
            let mut next = d.asm.create_label();
            d.asm.cmp(al, u32::from(letter))?;
            d.jump(If::NotEqual, next)?;
            d.asm.cmp(byte_ptr(v.marker_on), 0)?;
            d.jump(If::Equal, keys)?;
            d.asm.mov(ax, word_ptr(place))?;
            d.asm.mov(word_ptr(bx + (record::MARKS + 2 * number)), ax)?;
            self.is_damaged(d)?;
            d.asm.jmp(told)?;
            d.asm.set_label(&mut next)?;
            d.asm.nop()?;
        }
        let mut next = d.asm.create_label();
        d.asm.cmp(al, u32::from(b'X'))?;
        d.jump(If::NotEqual, next)?;
        self.clear_marks(d)?;
        d.asm.jmp(told)?;
        d.asm.set_label(&mut next)?;
        d.asm.nop()
    }

    /// The marker on and off, words, help.
    fn others(
        &self,
        d: &mut Draft,
        r: &Routines,
        v: &Variables,
        pages: &Pages,
        (told, leave_text): (CodeLabel, CodeLabel),
    ) -> Result<(), IcedError> {
        let (mut not_marker, mut not_help, mut not_words) =
            (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        d.asm.cmp(al, u32::from(b'M'))?;
        d.jump(If::NotEqual, not_marker)?;
        d.asm.xor(byte_ptr(v.marker_on), 1)?;
        d.asm.call(r.marker)?;
        d.asm.jmp(told)?;
        d.asm.set_label(&mut not_marker)?;
        d.asm.cmp(al, u32::from(b'H'))?;
        d.jump(If::NotEqual, not_help)?;
        d.asm.mov(dx, pages.help)?;
        d.asm.call(r.page)?;
        d.asm.jmp(leave_text)?;
        d.asm.set_label(&mut not_help)?;
        d.asm.cmp(al, u32::from(b'W'))?;
        d.jump(If::NotEqual, not_words)?;
        d.note("words are typed in text, and kept");
        d.asm.call(r.text_mode)?;
        d.asm.mov(dx, pages.words)?;
        d.asm.call(r.print)?;
        d.asm.mov(byte_ptr(v.typed), NOTE_ROOM + 1)?;
        d.asm.mov(dx, v.typed)?;
        d.asm.mov(ah, 0x0A)?;
        d.asm.int(0x21)?;
        d.asm.mov(bx, word_ptr(v.record))?;
        d.asm.mov(al, byte_ptr(v.typed + 1))?;
        d.asm.mov(byte_ptr(bx + record::NOTE_LEN), al)?;
        d.asm.mov(si, v.typed + 2)?;
        d.asm.mov(di, bx)?;
        d.asm.add(di, record::NOTE)?;
        d.asm.mov(cx, NOTE_ROOM)?;
        d.asm.rep().movsb()?;
        d.asm.jmp(leave_text)?;
        d.asm.set_label(&mut not_words)?;
        d.asm.nop()
    }

    /// Small routines of the flow.
    fn routines(&self, d: &mut Draft, r: &mut Routines, v: &Variables) -> Result<(), IcedError> {
        d.asm.set_label(&mut r.entry)?;
        d.note("routine: BX, the entry of the look; its record is noted");
        d.asm.mov(ax, word_ptr(v.look))?;
        d.asm.mov(cx, RECORD)?;
        d.asm.mul(cx)?;
        d.asm.add(ax, v.records)?;
        d.asm.mov(word_ptr(v.record), ax)?;
        d.asm.mov(ax, word_ptr(v.look))?;
        d.asm.mov(cx, ENTRY)?;
        d.asm.mul(cx)?;
        d.asm.add(ax, v.entries)?;
        d.asm.mov(word_ptr(v.entry), ax)?;
        d.asm.mov(bx, ax)?;
        d.asm.ret()?;

        d.asm.set_label(&mut r.text_mode)?;
        d.note("routine: text, after which every look is set anew");
        d.asm.mov(byte_ptr(v.group), 0xFF)?;
        d.asm.mov(ax, u32::from(self.text_mode))?;
        d.asm.int(0x10)?;
        d.asm.ret()?;

        d.asm.set_label(&mut r.print)?;
        d.note("routine: print the text at DX");
        d.asm.mov(ah, 9)?;
        d.asm.int(0x21)?;
        d.asm.ret()?;

        d.asm.set_label(&mut r.page)?;
        d.note("routine: show the page at DX, wait for a key");
        d.asm.push(dx)?;
        d.asm.call(r.text_mode)?;
        d.asm.pop(dx)?;
        d.asm.call(r.print)?;
        d.asm.xor(ah, ah)?;
        d.asm.int(0x16)?;
        d.asm.ret()?;

        let mut without = d.asm.create_label();
        d.asm.set_label(&mut r.leave)?;
        d.note("routine: take marker and label off the picture");
        d.asm.cmp(byte_ptr(v.marker_on), 0)?;
        d.asm.je(without)?;
        d.asm.call(r.marker)?;
        d.asm.mov(byte_ptr(v.marker_on), 0)?;
        d.asm.set_label(&mut without)?;
        d.asm.mov(di, v.label_wanted)?;
        d.asm.mov(cx, LABEL)?;
        d.asm.mov(al, u32::from(b' '))?;
        d.asm.rep().stosb()?;
        d.asm.call(r.label)?;
        d.asm.ret()?;
        self.tell(d, r, v)
    }

    /// The label: look, answer, flickers, the marker's line and column, the marks.
    fn tell(&self, d: &mut Draft, r: &mut Routines, v: &Variables) -> Result<(), IcedError> {
        let (mut steady, mut hidden) = (d.asm.create_label(), d.asm.create_label());
        d.asm.set_label(&mut r.tell)?;
        d.note("routine: tell look, answer and marks at the top left");
        d.asm.mov(di, v.label_wanted)?;
        d.asm.mov(cx, LABEL)?;
        d.asm.mov(al, u32::from(b' '))?;
        d.asm.rep().stosb()?;
        d.asm.mov(di, v.label_wanted)?;
        d.asm.mov(ax, word_ptr(v.look))?;
        d.asm.inc(ax)?;
        d.asm.call(r.three)?;
        d.asm.mov(bx, word_ptr(v.record))?;
        d.asm.mov(al, byte_ptr(bx + record::SAW))?;
        d.asm.xor(ah, ah)?;
        d.asm.mov(si, ax)?;
        d.asm.mov(al, byte_ptr(si + v.letters))?;
        d.asm.mov(byte_ptr(v.label_wanted + 3), al)?;
        d.asm.test(byte_ptr(bx + record::FLAGS), 1)?;
        d.asm.je(steady)?;
        d.asm.mov(byte_ptr(v.label_wanted + 4), u32::from(b'*'))?;
        d.asm.set_label(&mut steady)?;
        d.asm.cmp(byte_ptr(v.marker_on), 0)?;
        d.asm.je(hidden)?;
        d.asm.mov(di, v.label_wanted + 5)?;
        d.asm.mov(ax, word_ptr(v.marker_y))?;
        d.asm.call(r.three)?;
        d.asm.mov(di, v.label_wanted + 9)?;
        d.asm.mov(ax, word_ptr(v.marker_x))?;
        d.asm.call(r.three)?;
        d.asm.set_label(&mut hidden)?;
        d.asm.mov(bx, word_ptr(v.record))?;
        for (number, letter) in (0..).zip(*b"TSBLR") {
            let mut unset = d.asm.create_label();
            d.asm.cmp(word_ptr(bx + (record::MARKS + 2 * number)), 0xFFFF_u32)?;
            d.asm.je(unset)?;
            d.asm.mov(byte_ptr(v.label_wanted + 13 + number), u32::from(letter))?;
            d.asm.set_label(&mut unset)?;
            d.asm.nop()?;
        }
        d.asm.call(r.label)?;
        d.asm.ret()?;

        d.asm.set_label(&mut r.three)?;
        d.note("routine: AX in three digits at DI");
        d.asm.mov(cx, 100)?;
        for divisor in [Some(10), Some(1), None] {
            d.asm.xor(dx, dx)?;
            d.asm.div(cx)?;
            d.asm.add(al, u32::from(b'0'))?;
            d.asm.stosb()?;
            d.asm.mov(ax, dx)?;
            if let Some(divisor) = divisor {
                d.asm.mov(cx, divisor)?;
            }
        }
        d.asm.ret()
    }

    /// Port writes stage by stage, and waits for the beam that end however the board behaves.
    fn waits(&self, d: &mut Draft, r: &mut Routines) -> Result<(), IcedError> {
        let (mut stage, mut anytime, mut in_retrace, mut write, mut done) = (
            d.asm.create_label(),
            d.asm.create_label(),
            d.asm.create_label(),
            d.asm.create_label(),
            d.asm.create_label(),
        );
        d.asm.set_label(&mut r.ports)?;
        d.note("routine: make the port writes listed at SI, each stage at its moment");
        d.asm.nop()?;
        d.asm.set_label(&mut stage)?;
        d.asm.lodsb()?;
        d.asm.cmp(al, 0xFF)?;
        d.asm.je(done)?;
        d.asm.cmp(al, 1)?;
        d.asm.jb(anytime)?;
        d.asm.je(in_retrace)?;
        d.asm.call(r.active)?;
        d.asm.jmp(anytime)?;
        d.asm.set_label(&mut in_retrace)?;
        d.asm.call(r.retrace)?;
        d.asm.set_label(&mut anytime)?;
        d.note("interrupts off; a read of the status lets index come before data where both have one port");
        d.asm.cli()?;
        d.asm.mov(dx, u32::from(self.status))?;
        d.asm.in_(al, dx)?;
        d.asm.lodsb()?;
        d.asm.xor(cx, cx)?;
        d.asm.mov(cl, al)?;
        let mut empty = d.asm.create_label();
        d.asm.test(cx, cx)?;
        d.asm.je(empty)?;
        d.asm.set_label(&mut write)?;
        d.asm.lodsw()?;
        d.asm.mov(dx, ax)?;
        d.asm.lodsb()?;
        d.asm.out(dx, al)?;
        d.asm.dec(cx)?;
        d.asm.jne(write)?;
        d.asm.set_label(&mut empty)?;
        d.asm.sti()?;
        d.asm.jmp(stage)?;
        d.asm.set_label(&mut done)?;
        d.asm.ret()?;

        d.asm.set_label(&mut r.retrace)?;
        d.note("routine: wait for vertical retrace to begin, interrupts off");
        d.asm.cli()?;
        d.asm.mov(dx, u32::from(self.status))?;
        let (mask, set) = self.retrace;
        self.until(d, mask, !set)?;
        self.until(d, mask, set)?;
        d.asm.ret()?;

        let (mut line, mut counted) = (d.asm.create_label(), d.asm.create_label());
        d.asm.set_label(&mut r.active)?;
        d.note("routine: wait for the active area, some lines down, interrupts off");
        d.asm.call(r.retrace)?;
        let (mask, set) = self.retrace;
        self.until(d, mask, !set)?;
        d.asm.mov(cx, LINES_DOWN)?;
        d.asm.set_label(&mut line)?;
        self.until(d, self.no_display, false)?;
        self.until(d, self.no_display, true)?;
        d.asm.dec(cx)?;
        d.asm.je(counted)?;
        d.asm.jmp(line)?;
        d.asm.set_label(&mut counted)?;
        d.asm.ret()
    }

    /// Until a bit of the status is as wanted, or for some thousand reads: a faulty board may never show it.
    fn until(&self, d: &mut Draft, bit: u32, wanted: bool) -> Result<(), IcedError> {
        let (mut read, mut there) = (d.asm.create_label(), d.asm.create_label());
        d.asm.mov(bx, 0xFFFF)?;
        d.asm.set_label(&mut read)?;
        d.asm.in_(al, dx)?;
        d.asm.test(al, bit)?;
        if wanted {
            d.asm.jne(there)?;
        } else {
            d.asm.je(there)?;
        }
        d.asm.dec(bx)?;
        d.asm.jne(read)?;
        d.asm.set_label(&mut there)?;
        d.asm.nop()
    }
}

/// Stages as the program keeps them.
fn stage_list(stages: &[Stage]) -> Vec<u8> {
    let mut list = Vec::new();
    for stage in stages {
        let moment = match stage.moment {
            Moment::Anytime => 0,
            Moment::Retrace => 1,
            Moment::ActiveArea => 2,
        };
        let writes: Vec<(u16, u8)> = stage.cells.iter().flat_map(|cell| &cell.ports).copied().collect();
        for piece in writes.chunks(254) {
            list.extend([moment, piece.len() as u8]);
            for (port, value) in piece {
                list.extend(port.to_le_bytes());
                list.push(*value);
            }
        }
    }
    list.push(0xFF);
    list
}
