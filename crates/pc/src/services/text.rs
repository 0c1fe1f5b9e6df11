//! Characters on the screen: written, read, scrolled.

use std::sync::Arc;

use backporch_adapter::Role;
use backporch_raster::Tap;

use super::screen::ScreenPage;
use crate::machine::Machine;

/// Attribute of characters where none is given.
const GREY: u8 = 0x07;

const BELL: u8 = 7;
const BACKSPACE: u8 = 8;
const LINE_FEED: u8 = 10;
const RETURN: u8 = 13;

/// A rectangle of characters, edges included.
#[derive(Clone, Copy, Debug)]
pub(super) struct ScrollArea {
    pub top: u32,
    pub left: u32,
    pub bottom: u32,
    pub right: u32,
}

/// Which way an area scrolls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ScrollDirection {
    Up,
    Down,
}

impl<T: Tap> Machine<T> {
    /// Moves a page's cursor, the visible one too where the page is shown as text.
    pub(super) fn set_cursor(&mut self, page: u8, column: u32, row: u32) {
        self.note_cursor(page, column, row);
        if page == self.active_page() {
            self.show_cursor();
        }
    }

    /// Puts the visible cursor where the page shown has it.
    pub(super) fn show_cursor(&mut self) {
        let page = self.active_page();
        let (screen, (column, row)) = (self.screen(page), self.cursor(page));
        if !screen.is_text() {
            return;
        }
        let first = screen.base & 0x7FFF;
        self.program_field(Role::CursorAddress, first / 2 + row * screen.columns + column);
    }

    /// Draws a character; no attribute keeps the cell's in text and is grey in graphics.
    pub(super) fn draw(&mut self, screen: &ScreenPage, column: u32, row: u32, code: u8, attribute: Option<u8>) {
        if !screen.is_text() {
            return self.draw_glyph(screen, column, row, code, attribute.unwrap_or(GREY));
        }
        let at = screen.cell(column, row);
        self.put(at, code);
        if let Some(attribute) = attribute {
            self.put(at + 1, attribute);
        }
    }

    /// Code and attribute under a page's cursor; in graphics the code whose glyph stands there.
    pub(super) fn read_cell(&self, page: u8) -> [u8; 2] {
        let (screen, (column, row)) = (self.screen(page), self.cursor(page));
        if !screen.is_text() {
            return [self.find_glyph(&screen, column, row), 0];
        }
        let at = screen.cell(column, row);
        [self.look_at(at), self.look_at(at + 1)]
    }

    /// Writes a character at the cursor of the page shown and moves it, scrolling at the end.
    pub(super) fn teletype(&mut self, code: u8, attribute: Option<u8>) {
        let page = self.active_page();
        self.type_on(page, code, attribute);
    }

    /// The same on any page.
    pub(super) fn type_on(&mut self, page: u8, code: u8, attribute: Option<u8>) {
        let screen = self.screen(page);
        let (mut column, mut row) = self.cursor(page);
        match code {
            BELL => {}
            BACKSPACE => column = column.saturating_sub(1),
            LINE_FEED => row += 1,
            RETURN => column = 0,
            _ => {
                self.draw(&screen, column, row, code, attribute);
                column += 1;
            }
        }
        if column >= screen.columns {
            (column, row) = (0, row + 1);
        }
        if row >= screen.rows {
            row = screen.rows - 1;
            let blank = if screen.is_text() { self.attribute_at(&screen, column, row) } else { 0 };
            let whole = ScrollArea { top: 0, left: 0, bottom: row, right: screen.columns - 1 };
            self.scroll(&screen, whole, 1, ScrollDirection::Up, blank);
        }
        self.set_cursor(page, column, row);
    }

    fn attribute_at(&self, screen: &ScreenPage, column: u32, row: u32) -> u8 {
        self.look_at(screen.cell(column, row) + 1)
    }

    /// Scrolls an area by rows; no rows clear it.
    pub(super) fn scroll(
        &mut self,
        screen: &ScreenPage,
        area: ScrollArea,
        rows: u32,
        direction: ScrollDirection,
        blank: u8,
    ) {
        let (right, bottom) = (area.right.min(screen.columns - 1), area.bottom.min(screen.rows - 1));
        if area.left > right || area.top > bottom {
            return;
        }
        let per_row = screen.lines_per_row();
        let lines = area.top * per_row..(bottom + 1) * per_row;
        let by = match rows * per_row {
            0 => lines.len() as u32,
            by => by.min(lines.len() as u32),
        };
        let (from, bytes) = (area.left * screen.column_bytes(), (right - area.left + 1) * screen.column_bytes());
        let mut order: Vec<u32> = lines.clone().collect();
        if direction == ScrollDirection::Down {
            order.reverse();
        }
        for y in order {
            let source = match direction {
                ScrollDirection::Up => y.checked_add(by),
                ScrollDirection::Down => y.checked_sub(by),
            };
            match source.filter(|source| lines.contains(source)) {
                Some(source) => self.copy_line(screen, screen.line(source) + from, screen.line(y) + from, bytes),
                None => self.fill_line(screen, screen.line(y) + from, bytes, blank),
            }
        }
        if screen.cells == super::screen::Cells::Planes {
            self.leave_planes();
        }
    }

    /// Programs the field with a role; `false` where the board has none.
    pub(super) fn program_field(&mut self, role: Role, value: u32) -> bool {
        let adapter = Arc::clone(self.hardware.board().adapter());
        let Some(field) = adapter.field_with(role) else { return false };
        let writes = adapter.programming(self.hardware.board().registers(), field, value);
        writes.into_iter().for_each(|(port, value)| self.hardware.program(port, value));
        true
    }
}
