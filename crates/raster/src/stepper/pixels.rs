//! Fetch and serialise for the stepper: one character clock, a byte and a
//! pixel at a time.

use backporch_adapter::{CharacterSet, Pitch, Serialise, Shown, Spread, Vertical};

use super::Stepper;
use crate::frame::SegmentKind;
use crate::line::Line;
use crate::span::Span;
use crate::stages::Stages;
use crate::tap::Intercept;

impl<T: Intercept> Stepper<T> {
    /// Draws the character clock the beam is at.
    pub(super) fn draw(&mut self) -> SegmentKind {
        let line = self.line_now();
        let char = self.line.chars;
        self.note_spans(&line, char);
        let first = self.frame.values.len() as u32;
        let mut values = Vec::new();
        for x in char * line.char_pixels..(char + 1) * line.char_pixels {
            values.push(self.pixel_shown(&line, x, char));
        }
        self.frame.values.append(&mut values);
        let pixel_dots = self.state.decoded.shown.pixel_dots;
        SegmentKind::Active { first, count: line.char_pixels, pixel_dots }
    }

    /// How the line under way is fetched, under the registers as they are now.
    fn line_now(&mut self) -> Line {
        let (timing, shown) = (self.state.decoded.timing, self.state.decoded.shown);
        let (place, address) = (self.controller.place(), shown.addressing);
        let goes_on = if shown.uses_row_address { !place.new_scan } else { !place.new_row };
        let picture_line = match self.line.fetch {
            Some(first) => first.picture_line,
            None if goes_on && self.next_picture_line > 0 => self.next_picture_line - 1,
            None => self.next_picture_line,
        };
        self.next_picture_line = picture_line + 1;
        let char_bytes = address.unit * address.units_per_char;
        let length = u32::from(timing.last_char) + 1;
        let displayed = u32::from(timing.displayed);
        let pitch = match &timing.vertical {
            Vertical::Rows(_) if displayed < length => displayed * char_bytes,
            Vertical::Rows(_) => 0,
            Vertical::Lines(lines) => match lines.pitch {
                Pitch::Units(units) => units * address.unit,
                Pitch::PerCharacter(units) => units * displayed * address.unit,
            },
        };
        let line = Line {
            frame: self.frame.number,
            scan_line: self.frame.lines.len() as u32,
            picture_line,
            row: place.row,
            row_address: place.scan,
            start: self.start,
            linear: place.row_start.wrapping_mul(address.unit) & address.mask,
            pitch,
            displayed,
            bytes: displayed.min(length) * char_bytes,
            unit: address.unit,
            mask: address.mask,
            bank: address.bank(place.scan),
            format: shown.format,
            char_bytes,
            char_pixels: u32::from(shown.char_dots / shown.pixel_dots),
            pixel_bits: shown.serialise.pixel_bits(),
            holes: address.holes,
            spread: address.spread,
            repeat: address.repeat,
            pan: if place.below_split && shown.pan_above_split { 0 } else { shown.pan },
        };
        self.line.fetch.get_or_insert(line);
        line
    }

    /// Notes where the bytes of this character clock come from, and those of
    /// the next one where panning shows the beginning of it.
    fn note_spans(&mut self, line: &Line, char: u32) {
        let chars = if line.pan > 0 { 2 } else { 1 };
        for at in char * line.char_bytes..(char + chars) * line.char_bytes {
            if at < self.line.noted {
                continue;
            }
            self.line.noted = at + 1;
            let span = Span { at, address: self.address(line, at), len: 1 };
            let on_this_line = self.frame.spans.len() as u32 > self.line.spans;
            match self.frame.spans.last_mut() {
                Some(last) if on_this_line && last.at + last.len == at && last.address + last.len == span.address => {
                    last.len += 1;
                }
                _ => self.frame.spans.push(span),
            }
        }
    }

    /// Memory address of a byte of the line.
    fn address(&self, line: &Line, at: u32) -> u32 {
        let (char, byte) = (at / line.char_bytes, at % line.char_bytes);
        let plain = line.linear.wrapping_add((char >> line.repeat) * line.char_bytes + byte);
        let (linear, bank) = if self.state.tap.stages().contains(Stages::ADDRESS) {
            (self.state.tap.address(line, at, plain).linear, self.state.tap.bank(line))
        } else {
            (plain, line.bank)
        };
        let inside = linear & line.mask;
        // Of the address lines, the counter drives those inside its mask that
        // row and page bits leave to it.
        let counted = line.mask & !line.holes;
        let (counter, plane) = (inside / 4, inside % 4);
        let placed = match line.spread {
            Spread::Byte => inside,
            Spread::WordBit13 => (counter * 2 % 0x10000 + counter / 0x2000 % 2) * 4 + plane,
            Spread::WordBit15 => (counter * 2 % 0x10000 + counter / 0x8000 % 2) * 4 + plane,
            Spread::DoubleWord => (counter * 4 % 0x10000 + counter / 0x1000 % 4) * 4 + plane,
        };
        placed & !line.holes | bank & !counted
    }

    /// A byte of the line as it arrives from memory.
    fn byte(&self, line: &Line, at: u32) -> u8 {
        self.state.memory.get(self.address(line, at) as usize).copied().unwrap_or(0)
    }

    /// A byte of the line as the serialiser gets it. `snowing` is the character
    /// clock whose fetch the processor has taken, if any.
    fn byte_fetched(&self, line: &Line, at: u32, snowing: Option<u32>) -> u8 {
        let snow = self.state.snow.filter(|_| snowing == Some(at / line.char_bytes));
        let mut byte = [snow.unwrap_or_else(|| self.byte(line, at))];
        if self.state.tap.stages().contains(Stages::FETCH) {
            self.state.tap.fetch(line, at, &mut byte, &|other| self.byte(line, other));
        }
        byte[0]
    }

    /// The pixel at `x` of the screen's line.
    fn pixel_shown(&self, line: &Line, x: u32, char: u32) -> u8 {
        let pan = u32::from(line.pan);
        let mut value = [self.pixel(line, x + pan, Some(char))];
        if self.state.tap.stages().contains(Stages::PIXEL) {
            self.state.tap.pixels(line, x, &mut value, &|other| self.pixel(line, other + pan, None));
        }
        value[0]
    }

    /// The pixel at `x` of the line in memory.
    fn pixel(&self, line: &Line, x: u32, snowing: Option<u32>) -> u8 {
        let shown = &self.state.decoded.shown;
        let (char, dot) = (x / line.char_pixels, x % line.char_pixels);
        let byte = |at: u32| self.byte_fetched(line, at, snowing);
        let of_char = |plane: u32| byte(char * line.char_bytes + plane);
        let bit = |byte: u8| byte >> (7 - dot) & 1;
        match shown.serialise {
            Serialise::Packed(bits) => {
                let bits = u32::from(bits);
                let first_bit = x * bits;
                (0..bits).fold(0, |value, next| {
                    let at = first_bit + next;
                    value << 1 | byte(at / 8) >> (7 - at % 8) & 1
                })
            }
            Serialise::PlaneBytes => of_char(dot),
            Serialise::Planar if dot > 7 => 0,
            Serialise::Planar => (0..4).fold(0, |value, plane| value | bit(of_char(plane)) << plane),
            Serialise::Interleaved if dot > 7 => 0,
            Serialise::Interleaved => {
                let (plane, shift) = (dot / 4, 6 - dot % 4 * 2);
                of_char(plane) >> shift & 3 | (of_char(plane + 2) >> shift & 3) << 2
            }
            Serialise::Text | Serialise::MonoText | Serialise::PlaneText => {
                let at = char * line.char_bytes;
                self.text(line, shown, char, dot, (byte(at), byte(at + 1)))
            }
        }
    }

    fn text(&self, line: &Line, shown: &Shown, char: u32, dot: u32, (code, attribute): (u8, u8)) -> u8 {
        let scan = line.row_address;
        let glyph = match shown.serialise {
            Serialise::PlaneText => {
                let set = if attribute & 8 != 0 { shown.glyphs.bright } else { shown.glyphs.plain };
                let at = (set + u32::from(code) * 32 + u32::from(scan)) % 0x10000;
                self.state.memory.get(at as usize * 4 + 2).copied().unwrap_or(0)
            }
            Serialise::MonoText => CharacterSet::monochrome().row(code, scan),
            _ => CharacterSet::built_in().row(code, scan),
        };
        let line_drawing = (0xC0..=0xDF).contains(&code);
        let ninth = line_drawing && (shown.serialise != Serialise::PlaneText || shown.glyphs.line_graphics);
        let lit = if dot < 8 { glyph >> (7 - dot) & 1 != 0 } else { ninth && glyph & 1 != 0 };
        let dark = self.frame.number / 16 % 2 == 1;
        let hidden = shown.blink && dark && attribute >= 0x80;
        let mono = shown.serialise == Serialise::MonoText;
        let paper = match (mono, shown.blink) {
            (false, true) => attribute / 16 % 8,
            (false, false) => attribute / 16,
            (true, blink) if attribute & 0x77 == 0x70 => {
                if attribute >= 0x80 && !blink {
                    2
                } else {
                    1
                }
            }
            (true, _) => 0,
        };
        let ink = if !mono {
            attribute % 16
        } else if matches!(attribute & 0x77, 0x00 | 0x70) {
            0
        } else {
            1 + attribute / 8 % 2
        };
        let underline = mono && attribute & 7 == 1 && scan == 12;
        let ink = if hidden { paper } else { ink };
        if lit || underline || self.under_cursor(shown, line, char) { ink } else { paper }
    }

    /// Whether the address counter at a character meets the cursor address.
    fn under_cursor(&self, shown: &Shown, line: &Line, char: u32) -> bool {
        let Some(cursor) = shown.cursor else {
            return false;
        };
        let counter = self.controller.place().row_start.wrapping_add(char >> line.repeat);
        let lit = cursor.blink.is_none_or(|frames| {
            let frames = u64::from(frames);
            self.frame.number % frames < frames / 2
        });
        lit && (counter ^ cursor.address) & cursor.counter_mask == 0
            && line.row_address >= cursor.first
            && line.row_address <= cursor.last
    }
}
