//! Provenance: where a pixel of a frame comes from, and what changed it.

use backporch_adapter::{PLANES, Role};

use crate::board::Board;
use crate::changes::{AddressChange, ValueChange};
use crate::frame::Frame;
use crate::serialise::Serialiser;
use crate::span::Span;
use crate::tap::Tap;

/// Where one pixel of the active area comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Provenance {
    /// Pixel from the left of the active area.
    pub x: u32,
    /// Line of the picture.
    pub picture_line: u32,
    /// Scan line of the frame.
    pub scan_line: u32,
    /// Character clock of the line.
    pub char: u32,
    /// Character row and scan line inside it.
    pub row: (u32, u8),
    /// Offset of the byte on its line.
    pub offset: u32,
    /// Memory address of the byte.
    pub address: u32,
    /// Plane of the byte, where memory has planes: its address is 4 times the
    /// one inside the plane, and the plane.
    pub plane: Option<u8>,
    /// Memory address the plain board would fetch it from.
    pub plain_address: u32,
    /// Value of the pixel.
    pub value: u8,
    /// Start address of the frame, in address units.
    pub start: u32,
    /// Bytes from one row to the next.
    pub pitch: u32,
    /// Memory rows of 256 bytes entered since the line's first byte.
    pub crossings: u32,
    /// Changes to the address, in stacking order.
    pub address_changes: Vec<AddressChange>,
    /// Other changes, in stacking order.
    pub value_changes: Vec<ValueChange>,
    /// Registers that decided, and their stored values.
    pub decided_by: Vec<(String, u32)>,
}

/// Roles of the registers that decide where any pixel comes from.
const DECIDING: [Role; 6] = [
    Role::StartAddress,
    Role::HorizontalDisplayed,
    Role::RowHeight,
    Role::Pitch,
    Role::LineCompare,
    Role::PixelPanning,
];

impl<T: Tap> Board<T> {
    /// Where a pixel of `frame`, drawn by this board, comes from.
    ///
    /// `None` outside its active area.
    #[must_use]
    pub fn provenance(&self, frame: &Frame, x: u32, picture_line: u32) -> Option<Provenance> {
        let value = frame.value_at(x, picture_line)?;
        let scan = frame.picture_lines().nth(picture_line as usize)?;
        let line = scan.fetch.as_ref()?;
        let format = self.state.adapter.format(line.format as usize);
        let offset = Serialiser::byte_of_line(format.serialise, line.char_pixels, x + u32::from(line.pan));
        let holds = |span: &&Span| (span.at..span.end()).contains(&offset);
        let span = frame.spans_of(scan).iter().find(holds)?;
        let plain = line.plain_address(offset);
        let adapter = &self.state.adapter;
        let decided = DECIDING.iter().filter_map(|role| adapter.field_with(*role));
        let decided = decided.chain(format.when.iter().filter_map(|(name, _)| adapter.field(name)));
        let read = |field| (adapter.field_info(field).name.clone(), adapter.get(&self.state.registers, field));
        Some(Provenance {
            x,
            picture_line,
            scan_line: line.scan_line,
            char: offset / line.char_bytes.max(1),
            row: (line.row, line.row_address),
            offset,
            address: span.address + (offset - span.at),
            plane: format.serialise.takes_planes().then_some((offset % PLANES) as u8),
            plain_address: line.memory(plain),
            value,
            start: line.start,
            pitch: line.pitch,
            crossings: (plain >> 8).wrapping_sub(line.linear >> 8),
            address_changes: self.state.tap.address_changes(line, offset, plain),
            value_changes: self.state.tap.value_changes(line, offset, x),
            decided_by: decided.map(read).collect(),
        })
    }
}
