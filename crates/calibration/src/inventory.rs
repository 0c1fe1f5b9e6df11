//! What there is: registers of the controller, memory, planes; beside what a modelled board reads as.

use std::sync::Arc;

use backporch_adapter::{Adapter, Bank, Cell, Mode, PortRole, Role};
use backporch_evidence::survey::SurveyedMode;
use backporch_raster::Board;

use crate::figure::Figure;

/// The two bytes that a survey writes.
const BYTES: [u8; 2] = [165, 90];
/// What each plane gets, plus its number.
const PLANE: u8 = 16;

/// What was found of a mode.
#[derive(Clone, Debug)]
pub(crate) struct Inventory {
    pub figures: Vec<Figure>,
    /// Bytes after which memory comes again.
    pub memory_bytes: Option<u32>,
}

/// A modelled board asked as the survey asks.
struct Modelled<'a> {
    adapter: &'a Arc<Adapter>,
    mode: &'a Mode,
    board: Board,
    base: u32,
}

impl Modelled<'_> {
    /// The data port of the controller, a register being selected.
    fn select(&mut self, index: u8) -> Option<u16> {
        let port = |role| self.adapter.port_of(self.board.registers(), role);
        let (select, data) = (port(PortRole::Index(Bank::Crtc))?, port(PortRole::Data(Bank::Crtc))?);
        self.board.write_port(select, index);
        Some(data)
    }

    fn read(&mut self, index: u8) -> Option<u8> {
        let data = self.select(index)?;
        Some(self.board.read_port(data))
    }

    fn write(&mut self, index: u8, value: u8) -> Option<()> {
        let data = self.select(index)?;
        self.board.write_port(data, value);
        Some(())
    }

    /// A register before, while and after every bit of it is turned over.
    fn turned(&mut self, index: u8) -> Option<[u8; 3]> {
        let value = self.adapter.start_up(self.mode).cell(Cell::new(Bank::Crtc, index)?);
        let before = self.read(index)?;
        self.write(index, !value)?;
        let between = self.read(index)?;
        self.write(index, value)?;
        Some([before, between, self.read(index)?])
    }

    fn memory(&mut self, offset: u32) -> [u8; 2] {
        self.board.write_memory(self.base, BYTES[0]);
        self.board.write_memory(self.base + offset, BYTES[1]);
        [self.board.read_memory(self.base), self.board.read_memory(self.base + offset)]
    }

    fn planes(&mut self) -> Option<[u8; 4]> {
        let cell = |role| self.adapter.field_info(self.adapter.field_with(role)?).bits.first()?.cell();
        let (map, read) = (cell(Role::MapMask)?, cell(Role::ReadMap)?);
        for plane in 0..4 {
            let writes = self.adapter.cell_writes(self.board.registers(), map, 1 << plane);
            writes.into_iter().for_each(|(port, byte)| self.board.write_port(port, byte));
            self.board.write_memory(self.base, PLANE + plane);
        }
        Some([0, 1, 2, 3].map(|plane| {
            let writes = self.adapter.cell_writes(self.board.registers(), read, plane);
            writes.into_iter().for_each(|(port, byte)| self.board.write_port(port, byte));
            self.board.read_memory(self.base)
        }))
    }
}

/// Numbers in words, `none` where there are none.
fn listed(numbers: impl Iterator<Item = u8>) -> String {
    let all: Vec<String> = numbers.map(|number| format!("{number:02X}h")).collect();
    if all.is_empty() { "none".to_string() } else { all.join(" ") }
}

impl Inventory {
    pub fn of(adapter: &Arc<Adapter>, mode: &Mode, surveyed: &SurveyedMode) -> Self {
        let registers = adapter.start_up(mode);
        let base = adapter.mapped_window(&registers).unwrap_or_default() - adapter.memory().window;
        let board = Board::plain(Arc::clone(adapter), registers);
        let mut modelled = Modelled { adapter, mode, board, base };
        let mut figures = Vec::new();
        let back = |reads: [u8; 3]| reads[0] != reads[1];
        if !surveyed.turned.is_empty() {
            let found = surveyed.turned.iter().filter(|one| back(one.reads)).map(|one| one.index);
            let expected = surveyed.turned.iter().filter(|one| modelled.turned(one.index).is_some_and(back));
            let expected = listed(expected.map(|one| one.index));
            figures.push(Figure::words(
                "registers that read back, of those turned over",
                listed(found),
                Some(expected),
            ));
        }
        let as_modelled =
            surveyed.memory.iter().all(|place| modelled.memory(place.offset) == [place.first, place.second]);
        let again = surveyed.memory.iter().filter(|place| place.first == BYTES[1]).map(|place| place.offset).min();
        let linear = adapter.memory().access == backporch_adapter::MemoryAccess::Linear;
        if let Some(bytes) = again.filter(|_| linear) {
            let profile = f64::from(adapter.memory().bytes);
            figures.push(Figure::number("memory comes again after", "bytes", (f64::from(bytes), 0.0), Some(profile)));
        } else if !surveyed.memory.is_empty() {
            let words = |as_modelled| if as_modelled { "as modelled" } else { "otherwise" };
            figures.push(Figure::words("bytes far apart in memory", words(as_modelled), Some(words(true).to_string())));
        }
        if let Some(planes) = surveyed.planes {
            let words = |planes: [u8; 4]| planes.map(|plane| plane.to_string()).join(" ");
            figures.push(Figure::words("planes read as", words(planes), modelled.planes().map(words)));
        }
        let figures = figures.into_iter().map(|figure| figure.in_mode(&surveyed.name)).collect();
        Self { figures, memory_bytes: again.filter(|_| linear) }
    }
}
