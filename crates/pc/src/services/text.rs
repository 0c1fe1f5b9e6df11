//! Characters on the board, in text and in packed pixels.

use std::sync::Arc;

use backporch_adapter::{CharacterSet, Role, Serialise};
use backporch_raster::Tap;

use crate::machine::Machine;
use crate::registers::Far;
use crate::trouble::Trouble;

/// Firmware data: the cursor, column and row (Technical Reference, firmware data area).
const CURSOR: Far = Far { segment: 0x0040, offset: 0x0050 };

/// Rows of text of every mode served here.
const ROWS: u16 = 25;

/// Lines of a character in graphics, and of a row of text.
const CELL: u32 = 8;

/// Attribute of characters where none is given.
const GREY: u8 = 0x07;

const BELL: u8 = 7;
const BACKSPACE: u8 = 8;
const LINE_FEED: u8 = 10;
const RETURN: u8 = 13;

/// How characters reach memory in the format shown.
#[derive(Clone, Copy, Debug)]
pub(super) enum Layout {
    /// Code and attribute, a cell of two bytes.
    Cells { columns: u32 },
    /// Pixels of so many bits, packed.
    Pixels {
        bits: u32,
        pitch: u32,
        /// Bytes from one bank to the next; lines go to two banks in turn.
        bank: Option<u32>,
    },
}

impl Layout {
    fn columns(self) -> u32 {
        match self {
            Self::Cells { columns } => columns,
            Self::Pixels { bits, pitch, .. } => pitch * 8 / bits / CELL,
        }
    }

    /// Offset of a scan line, or of a row of cells.
    fn line(self, y: u32) -> u32 {
        match self {
            Self::Cells { columns } => y * columns * 2,
            Self::Pixels { pitch, bank: Some(bank), .. } => (y & 1) * bank + (y >> 1) * pitch,
            Self::Pixels { pitch, .. } => y * pitch,
        }
    }

    fn lines_per_row(self) -> u32 {
        match self {
            Self::Cells { .. } => 1,
            Self::Pixels { .. } => CELL,
        }
    }

    /// Bytes of a character's column on a line.
    fn column_bytes(self) -> u32 {
        match self {
            Self::Cells { .. } => 2,
            Self::Pixels { bits, .. } => bits,
        }
    }
}

/// A rectangle of characters, edges included.
#[derive(Clone, Copy, Debug)]
pub(super) struct Area {
    pub top: u16,
    pub left: u16,
    pub bottom: u16,
    pub right: u16,
}

impl<T: Tap> Machine<T> {
    /// How characters are laid in the format shown, where this is known here.
    pub(super) fn layout(&self) -> Option<Layout> {
        let board = self.hardware.board();
        let adapter = Arc::clone(board.adapter());
        let format = adapter.format(adapter.format_index(board.registers()));
        let displayed = adapter.quantity(board.registers(), adapter.field_with(Role::HorizontalDisplayed)?);
        match format.serialise {
            Serialise::Text => Some(Layout::Cells { columns: displayed }),
            Serialise::Packed(bits) => {
                let bank = format.address.row_bits.first().map(|bit| 1 << bit.address);
                Some(Layout::Pixels { bits: u32::from(bits), pitch: displayed * format.address.bytes_per_char(), bank })
            }
            #[allow(unreachable_patterns)]
            _ => None,
        }
    }

    fn known_layout(&self, what: &'static str) -> Result<Layout, Trouble> {
        let board = self.hardware.board();
        let format = board.adapter().format(board.adapter().format_index(board.registers())).name.clone();
        self.layout().ok_or(Trouble::VideoMode { what, format })
    }

    /// Characters in a row.
    pub(super) fn columns(&self) -> u16 {
        self.layout().map_or(80, |layout| layout.columns() as u16)
    }

    /// Column and row of the cursor.
    pub(super) fn cursor(&self) -> (u16, u16) {
        let [column, row] = self.hardware.peek_word(CURSOR.linear()).to_le_bytes();
        (u16::from(column), u16::from(row))
    }

    /// Moves the cursor, the visible one too where the board has one.
    pub(super) fn set_cursor(&mut self, column: u16, row: u16) {
        self.store_word(CURSOR, u16::from_le_bytes([column as u8, row as u8]));
        let adapter = Arc::clone(self.hardware.board().adapter());
        let shown = matches!(self.layout(), Some(Layout::Cells { .. }));
        if let Some(field) = adapter.field_with(Role::CursorAddress).filter(|_| shown) {
            let address = u32::from(row) * u32::from(self.columns()) + u32::from(column);
            let writes = adapter.programming(self.hardware.board().registers(), field, address);
            writes.into_iter().for_each(|(port, value)| self.hardware.program(port, value));
        }
    }

    fn put(&mut self, offset: u32, value: u8) {
        let window = self.hardware.window();
        if offset < window.end - window.start {
            self.hardware.poke(window.start + offset, value);
        }
    }

    fn look_at(&self, offset: u32) -> u8 {
        self.hardware.peek(self.hardware.window().start + offset)
    }

    /// Draws a character; in pixels, bit 7 of the attribute mixes it in by exclusive or
    /// (Technical Reference, firmware).
    pub(super) fn draw(&mut self, column: u16, row: u16, character: u8, attribute: Option<u8>) -> Result<(), Trouble> {
        let layout = self.known_layout("write a character")?;
        let (column, row) = (u32::from(column), u32::from(row));
        match layout {
            Layout::Cells { .. } => {
                let at = layout.line(row) + column * 2;
                self.put(at, character);
                if let Some(attribute) = attribute {
                    self.put(at + 1, attribute);
                }
            }
            Layout::Pixels { bits, .. } => {
                let attribute = attribute.unwrap_or(GREY);
                for line in 0..CELL {
                    let glyph = CharacterSet::built_in().row(character, line as u8);
                    let at = layout.line(row * CELL + line) + column * bits;
                    let packed = pack(glyph, attribute, bits);
                    for (index, byte) in packed.iter().enumerate().take(bits as usize) {
                        let at = at + index as u32;
                        let mixed = if attribute & 0x80 != 0 && bits < 8 { byte ^ self.look_at(at) } else { *byte };
                        self.put(at, mixed);
                    }
                }
            }
        }
        Ok(())
    }

    /// Code and attribute under the cursor, in text.
    pub(super) fn read_cell(&self) -> Option<[u8; 2]> {
        let (column, row) = self.cursor();
        match self.layout()? {
            layout @ Layout::Cells { .. } => {
                let at = layout.line(u32::from(row)) + u32::from(column) * 2;
                Some([self.look_at(at), self.look_at(at + 1)])
            }
            Layout::Pixels { .. } => None,
        }
    }

    /// A character of console output, where the format shown has characters.
    pub(super) fn show_character(&mut self, character: u8) -> Result<(), Trouble> {
        match self.layout() {
            Some(_) => self.teletype(character, None),
            None => Ok(()),
        }
    }

    /// Writes a character at the cursor and moves it, scrolling at the end.
    pub(super) fn teletype(&mut self, character: u8, attribute: Option<u8>) -> Result<(), Trouble> {
        let (mut column, mut row) = self.cursor();
        match character {
            BELL => {}
            BACKSPACE => column = column.saturating_sub(1),
            LINE_FEED => row += 1,
            RETURN => column = 0,
            _ => {
                self.draw(column, row, character, attribute)?;
                column += 1;
            }
        }
        if column >= self.columns() {
            (column, row) = (0, row + 1);
        }
        if row >= ROWS {
            row = ROWS - 1;
            let whole = Area { top: 0, left: 0, bottom: ROWS - 1, right: self.columns() - 1 };
            self.scroll(whole, 1, true, GREY)?;
        }
        self.set_cursor(column, row);
        Ok(())
    }

    /// Scrolls an area by rows, up or down; no rows clear it.
    pub(super) fn scroll(&mut self, area: Area, rows: u16, up: bool, attribute: u8) -> Result<(), Trouble> {
        let layout = self.known_layout("scroll")?;
        let (right, bottom) = (area.right.min(self.columns() - 1), area.bottom.min(ROWS - 1));
        if area.left > right || area.top > bottom {
            return Ok(());
        }
        let per_row = layout.lines_per_row();
        let (first, end) = (u32::from(area.top) * per_row, (u32::from(bottom) + 1) * per_row);
        let by = match u32::from(rows) * per_row {
            0 => end - first,
            by => by.min(end - first),
        };
        let (from, bytes) =
            (u32::from(area.left) * layout.column_bytes(), u32::from(right - area.left + 1) * layout.column_bytes());
        let blank = match layout {
            Layout::Cells { .. } => [b' ', attribute],
            Layout::Pixels { .. } => [0, 0],
        };
        let lines = first..end;
        let order: Vec<u32> = if up { lines.clone().collect() } else { lines.clone().rev().collect() };
        for y in order {
            let source = if up { y.checked_add(by) } else { y.checked_sub(by) }.filter(|y| lines.contains(y));
            for index in 0..bytes {
                let byte = match source {
                    Some(source) => self.look_at(layout.line(source) + from + index),
                    None => blank[index as usize % 2],
                };
                self.put(layout.line(y) + from + index, byte);
            }
        }
        Ok(())
    }

    /// Offset, shift and mask of a pixel.
    fn pixel(&self, x: u16, y: u16) -> Option<(u32, u32, u8)> {
        match self.layout()? {
            Layout::Cells { .. } => None,
            layout @ Layout::Pixels { bits, .. } => {
                let at = layout.line(u32::from(y)) + u32::from(x) * bits / 8;
                let shift = 8 - bits - u32::from(x) * bits % 8;
                Some((at, shift, (((1u16 << bits) - 1) << shift) as u8))
            }
        }
    }

    /// Writes a pixel; bit 7 mixes it in where pixels have fewer than 8 bits. `None`: no pixels here.
    pub(super) fn write_pixel(&mut self, x: u16, y: u16, value: u8) -> Option<()> {
        let (at, shift, mask) = self.pixel(x, y)?;
        let (old, new) = (self.look_at(at), value << shift & mask);
        let mixes = mask != 0xFF && value & 0x80 != 0;
        self.put(at, if mixes { old ^ new } else { old & !mask | new });
        Some(())
    }

    pub(super) fn read_pixel(&self, x: u16, y: u16) -> Option<u8> {
        let (at, shift, mask) = self.pixel(x, y)?;
        Some((self.look_at(at) & mask) >> shift)
    }
}

/// A line of a character in pixels of 1, 2, 4 or 8 bits: as many bytes.
fn pack(glyph: u8, attribute: u8, bits: u32) -> [u8; 8] {
    let colour =
        u64::from(attribute) & ((1 << bits.min(7)) - 1) | if bits == 8 { u64::from(attribute & 0x80) } else { 0 };
    let pixels = (0..8).rev().map(|bit| if glyph >> bit & 1 != 0 { colour } else { 0 });
    let line = pixels.fold(0u64, |line, pixel| line << bits | pixel);
    let mut bytes = [0; 8];
    let all = line.to_be_bytes();
    bytes[..bits as usize].copy_from_slice(&all[8 - bits as usize..]);
    bytes
}

#[cfg(test)]
mod tests {
    use super::pack;

    #[test]
    fn glyphs_are_packed_most_significant_first() {
        assert_eq!(pack(0b1010_0001, 1, 1)[..1], [0b1010_0001]);
        assert_eq!(pack(0b1010_0001, 3, 2)[..2], [0b1100_1100, 0b0000_0011]);
        assert_eq!(pack(0b1000_0001, 0xE5, 8), [0xE5, 0, 0, 0, 0, 0, 0, 0xE5]);
    }
}
