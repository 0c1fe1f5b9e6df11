//! What a survey needs to know of the board and its modes.

use std::sync::Arc;

use backporch_adapter::{Adapter, Bank, Cell, FirmwareMode, Mode, PortRole, Registers, Role, StatusSignal};
use backporch_evidence::survey::{TurnedBit, turned_bits};

use super::SurveyError;
use super::take_over::TakeOverFacts;
use crate::program::TEXT_MODE;

/// A status bit and whether it is set while it tells what it tells.
pub(super) type StatusMask = (u32, bool);

/// An index port, the index, the data port, and the value at the start.
#[derive(Clone, Copy, Debug)]
pub(super) struct Indexed {
    pub index_port: u16,
    pub index: u8,
    pub data_port: u16,
    pub value: u8,
}

impl Indexed {
    /// How a program gets at a cell that has an index; `None` where it has none.
    pub fn of(adapter: &Adapter, registers: &Registers, cell: Cell) -> Option<Self> {
        match adapter.cell_writes(registers, cell, 0).as_slice() {
            [(index_port, index), (data_port, _)] if index_port != data_port => Some(Self {
                index_port: *index_port,
                index: *index,
                data_port: *data_port,
                value: registers.cell(cell),
            }),
            _ => None,
        }
    }
}

/// A board.
pub(super) struct SurveyFacts<'a> {
    pub adapter: &'a Adapter,
    pub text_mode: u8,
    pub status: u16,
    pub retrace: StatusMask,
    /// Set outside the part of each line that is shown, or in the sync of each line.
    pub line_end: u32,
    /// Index and data port of the controller.
    pub controller: (u16, u16),
    /// How a program sees which start address is shown, where it can.
    pub take_over: Option<TakeOverFacts>,
    pub modes: Vec<ModeFacts>,
}

/// A mode.
pub(super) struct ModeFacts {
    pub name: String,
    pub number: u8,
    /// Segment of its memory.
    pub segment: u16,
    /// Bytes of the window from there on, at most 64 KiB.
    pub reach: u32,
    /// Bits of controller registers that are turned over.
    pub turned: Vec<TurnedBit>,
    /// Registers that choose the planes written, and the plane read.
    pub planes: Option<(Indexed, Indexed)>,
    /// Bytes that are filled to see which start address is shown, 0 for none; `None` where it cannot be seen.
    pub take_over_span: Option<u32>,
}

impl<'a> SurveyFacts<'a> {
    pub fn new(adapter: &'a Arc<Adapter>, modes: &[&Mode]) -> Result<Self, SurveyError> {
        let bit = |signal| adapter.status_mask(signal).map(u32::from);
        let start_up = adapter.start_up(adapter.default_mode());
        // Sync pulses alone do not tell where the picture begins.
        let shows_picture = bit(StatusSignal::DisplayDisabled).is_some();
        let take_over = TakeOverFacts::of(adapter, &start_up).filter(|_| shows_picture);
        let surveyed: Vec<ModeFacts> =
            modes.iter().filter_map(|mode| ModeFacts::of(adapter, mode, take_over.as_ref())).collect();
        if surveyed.is_empty() {
            return Err(SurveyError::NoMode);
        }
        let port = |role, missing| adapter.port_of(&start_up, role).ok_or(SurveyError::Missing(missing));
        let retrace = bit(StatusSignal::VerticalSync).map(|mask| (mask, true));
        let retrace = retrace.or_else(|| bit(StatusSignal::NoVerticalSync).map(|mask| (mask, false)));
        let line_end = bit(StatusSignal::DisplayDisabled).or_else(|| bit(StatusSignal::HorizontalSync));
        Ok(Self {
            adapter,
            text_mode: adapter.firmware_text_mode().map_or(TEXT_MODE, FirmwareMode::number),
            status: port(PortRole::Status, "status port")?,
            retrace: retrace.ok_or(SurveyError::Missing("status bit for vertical retrace"))?,
            line_end: line_end.ok_or(SurveyError::Missing("status bit for lines"))?,
            controller: (
                port(PortRole::Index(Bank::Crtc), "index port of the controller")?,
                port(PortRole::Data(Bank::Crtc), "data port of the controller")?,
            ),
            take_over,
            modes: surveyed,
        })
    }
}

impl ModeFacts {
    fn of(adapter: &Arc<Adapter>, mode: &Mode, take_over: Option<&TakeOverFacts>) -> Option<Self> {
        let firmware = mode.firmware.as_ref()?;
        let registers = adapter.start_up(mode);
        // The program looks for the ports in one place.
        if adapter.moves_ports(&registers) {
            return None;
        }
        let indexed = |role| {
            let field = adapter.field_with(role)?;
            Indexed::of(adapter, &registers, adapter.field_info(field).bits.first()?.cell()?)
        };
        let window = adapter.mapped_window(&registers)?;
        let begin = window - adapter.memory().window;
        let reach = (adapter.memory().window_bytes - begin).min(0x1_0000);
        Some(Self {
            name: mode.name.clone(),
            number: firmware.number(),
            segment: (window >> 4) as u16,
            reach,
            turned: turned_bits(adapter, mode),
            planes: indexed(Role::MapMask).zip(indexed(Role::ReadMap)),
            take_over_span: take_over.and_then(|offered| offered.span(adapter, &registers, (begin, reach))),
        })
    }
}
