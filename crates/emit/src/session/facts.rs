//! What the code of a session needs to know of the board.

use backporch_adapter::{FirmwareMode, PortRole, Role, StatusSignal};
use backporch_evidence::TestSession;

use super::SessionError;
use super::pictures::Pictures;
use super::prepared::Prepared;
use crate::program::TEXT_MODE;

/// What a board may lack.
const RETRACE: &str = "status bit for vertical retrace";

/// An index port, the index, and the data port.
pub(super) type Indexed = (u16, u8, u16);

/// What the code needs to know of the board.
pub(super) struct SessionFacts<'a> {
    pub session: &'a TestSession,
    pub prepared: &'a Prepared,
    pub pictures: &'a Pictures,
    /// Name of the data file, where there is one.
    pub file: Option<String>,
    pub text_mode: u8,
    pub status: u16,
    pub no_display: u32,
    /// The bit that tells vertical retrace, and whether it is set then.
    pub retrace: (u32, bool),
    pub bit_mask: Option<Indexed>,
    pub map_mask: Option<Indexed>,
    pub read_map: Option<Indexed>,
}

impl<'a> SessionFacts<'a> {
    pub(super) fn new(
        session: &'a TestSession,
        prepared: &'a Prepared,
        pictures: &'a Pictures,
        file: Option<String>,
    ) -> Result<Self, SessionError> {
        let adapter = session.bench().adapter();
        let bit = |signal, missing| adapter.status_mask(signal).map(u32::from).ok_or(SessionError::Missing(missing));
        let registers = session.bench().registers();
        let indexed = |role| {
            let field = adapter.field_with(role)?;
            let cell = adapter.field_info(field).bits.first()?.cell()?;
            match adapter.cell_writes(registers, cell, 0).as_slice() {
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
            status: adapter.port_of(registers, PortRole::Status).ok_or(SessionError::Missing("status port"))?,
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
}
