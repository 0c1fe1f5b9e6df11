//! The data of a session program: texts, looks, canvases, pictures, and room for what changes.

use backporch_adapter::{CharacterSet, Role};
use backporch_workaround::transition::Stage;

use super::canvas::{PixelAccess, at};
use super::facts::SessionFacts;
use super::layout::{GLYPHS, LABEL, NOTE_ROOM, RECORD, SessionPages, SessionVariables};
use super::words;
use super::writes::{PortWrites, port_list, stage_list};
use crate::draft::Data;

impl SessionFacts<'_> {
    /// Texts of the flow.
    pub(super) fn pages(&self, data: &mut Data) -> SessionPages {
        let opening = words::opening(self.session, self.prepared.changes_signal);
        SessionPages {
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
    pub(super) fn variables(&self, data: &mut Data) -> SessionVariables {
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
        // Red, green, blue: gone, too little, too much; dark, bright.
        let tinges = data.put("colours as letters of the label", b"  R0G0B0R-G-B-R+G+B+DKBR".to_vec());
        let room = data.end();
        let mut word = || data.room(2);
        let mut variables = SessionVariables {
            entries,
            glyphs,
            letters,
            tinges,
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
            text_address: word(),
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
    fn around_drawing(&self, kind: PixelAccess) -> (PortWrites, PortWrites) {
        let (adapter, registers) = (self.session.bench().adapter(), self.session.bench().registers());
        let all = |values: &[(Role, u32)]| {
            let programming = |(role, value): &(Role, u32)| {
                let field = adapter.field_with(*role);
                field.map_or_else(Vec::new, |field| adapter.programming(registers, field, *value))
            };
            values.iter().flat_map(programming).collect()
        };
        match kind {
            PixelAccess::Packed | PixelAccess::Text => (Vec::new(), Vec::new()),
            PixelAccess::Planar => (
                all(&[(Role::MapMask, 0x0F), (Role::LogicFunction, 3)]),
                all(&[(Role::LogicFunction, 0), (Role::BitMask, 0xFF)]),
            ),
            PixelAccess::PlaneBytes => (Vec::new(), all(&[(Role::MapMask, 0x0F), (Role::ReadMap, 0)])),
        }
    }
}
