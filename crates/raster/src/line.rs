//! A scan line as the fetch stage sees it, and where its bytes lie.

use backporch_adapter::{Addressing, PLANES, Shown, Spread, Timing, Vertical};

/// One scan line of the active area, as the fetch stage sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Line {
    /// Frame number since the board was made.
    pub frame: u64,
    /// Scan line of the frame, counted from the first one displayed.
    pub scan_line: u32,
    /// Line of the picture: scan lines that repeat their row count once.
    pub picture_line: u32,
    /// Character row.
    pub row: u32,
    /// Scan line inside the row.
    pub row_address: u8,
    /// Start address of this frame, in address units.
    pub start: u32,
    /// Linear address of the line's first byte, below `mask + 1`.
    pub linear: u32,
    /// Bytes from one row to the next.
    pub pitch: u32,
    /// Character clocks displayed.
    pub displayed: u32,
    /// Bytes a line shows.
    pub bytes: u32,
    /// Bytes an address unit stands for.
    pub unit: u32,
    /// Bits of the linear address that reach memory.
    pub mask: u32,
    /// Address bits put in by the row address.
    pub bank: u32,
    /// Position of the display format in the adapter's table.
    pub format: u32,
    /// Bytes of a character clock.
    pub char_bytes: u32,
    /// Pixels of a character clock.
    pub char_pixels: u32,
    /// Bits of a pixel value, 0 in text.
    pub pixel_bits: u8,
    /// Address bits that row and page bits replace.
    pub holes: u32,
    /// How a counter of planes is spread over addresses.
    pub spread: Spread,
    /// The address moves once in `1 << repeat` character clocks.
    pub repeat: u8,
    /// Pixels the line is panned to the left by.
    pub pan: u8,
}

/// Where a line stands in its frame and in memory.
#[derive(Clone, Copy, Debug)]
pub(crate) struct LinePosition {
    pub frame: u64,
    pub scan_line: u32,
    pub picture_line: u32,
    pub row: u32,
    pub row_address: u8,
    pub start: u32,
    /// Linear address of its first byte, which may run beyond the mask.
    pub linear: u32,
    /// Whether it lies below a split screen's edge.
    pub below_split: bool,
}

/// Bytes from one row to the next.
pub(crate) fn pitch(timing: &Timing, address: &Addressing) -> u32 {
    let shown = u32::from(timing.displayed);
    match &timing.vertical {
        // Where the counter never meets `displayed`, no row start is ever taken over.
        Vertical::Rows(_) if shown < timing.chars() => shown * address.bytes_per_char(),
        Vertical::Rows(_) => 0,
        Vertical::Lines(_) => timing.pitch_units().unwrap_or(0) * address.unit,
    }
}

impl Line {
    /// The line at a place, as timing and format have it fetched.
    pub(crate) fn at(place: LinePosition, timing: &Timing, shown: &Shown) -> Self {
        let address = &shown.addressing;
        let displayed = u32::from(timing.displayed);
        let anywhere = Self {
            frame: 0,
            scan_line: 0,
            picture_line: 0,
            row: 0,
            row_address: 0,
            start: 0,
            linear: 0,
            bank: 0,
            pan: 0,
            pitch: pitch(timing, address),
            displayed,
            bytes: displayed.min(timing.chars()) * address.bytes_per_char(),
            unit: address.unit,
            mask: address.mask,
            format: shown.format,
            char_bytes: address.bytes_per_char(),
            char_pixels: u32::from(shown.char_dots / shown.pixel_dots.max(1)),
            pixel_bits: shown.serialise.pixel_bits(),
            holes: address.holes,
            spread: address.spread,
            repeat: address.repeat,
        };
        anywhere.moved_to(place, shown)
    }

    /// The line at another place, under the same timing and format.
    pub(crate) fn moved_to(&self, place: LinePosition, shown: &Shown) -> Self {
        let LinePosition { frame, scan_line, picture_line, row, row_address, start, linear, below_split } = place;
        Self {
            frame,
            scan_line,
            picture_line,
            row,
            row_address,
            start,
            linear: linear & self.mask,
            bank: shown.addressing.bank(row_address),
            pan: if below_split && shown.pan_above_split { 0 } else { shown.pan },
            ..*self
        }
    }

    /// The linear address a plain board has at a byte of this line.
    #[must_use]
    pub fn plain_address(&self, offset: u32) -> u32 {
        if self.repeat == 0 {
            return self.linear.wrapping_add(offset);
        }
        let char_bytes = self.char_bytes.max(1);
        let steps = (offset / char_bytes) >> self.repeat;
        self.linear.wrapping_add(steps * char_bytes + offset % char_bytes)
    }

    /// Bytes the line fetches: panned, it needs one character more than it shows.
    #[must_use]
    pub fn fetched(&self) -> u32 {
        self.bytes + if self.pan > 0 && self.bytes > 0 { self.char_bytes } else { 0 }
    }

    /// Pixels the line shows.
    #[must_use]
    pub fn pixels(&self) -> u32 {
        self.bytes / self.char_bytes.max(1) * self.char_pixels
    }

    /// The memory address of a linear address.
    #[must_use]
    pub fn memory(&self, linear: u32) -> u32 {
        self.place(linear) | self.bank
    }

    /// The memory address of a linear address, its bank bits left out.
    pub(crate) fn place(&self, linear: u32) -> u32 {
        let inside = linear & self.mask;
        let spread = match self.spread {
            Spread::Byte => inside,
            spread => (spread.place(inside / PLANES) * PLANES) | (inside % PLANES),
        };
        spread & !self.holes
    }

    /// For how many bytes from a linear address on memory addresses are consecutive.
    pub(crate) fn consecutive(&self, linear: u32) -> u32 {
        let inside = linear & self.mask;
        let to_wrap = self.mask - inside + 1;
        match (self.spread, self.holes) {
            (Spread::Byte, 0) => to_wrap,
            (Spread::Byte, holes) => {
                let block = holes & holes.wrapping_neg();
                to_wrap.min(block - (inside & (block - 1)))
            }
            _ => PLANES - inside % PLANES,
        }
    }

    /// Where the bytes of planes from a linear address on lie apart by the same step: the step in bytes, and for how
    /// many units of planes that holds.
    pub(crate) fn strided(&self, linear: u32) -> Option<(u32, u32)> {
        let (step, counters) = match self.spread {
            Spread::Byte => return None,
            Spread::WordBit13 => (2, 1 << 13),
            Spread::WordBit15 => (2, 1 << 15),
            Spread::DoubleWord => (4, 1 << 12),
        };
        let inside = linear & self.mask;
        let counter = inside / PLANES;
        let units = (counters - counter % counters).min((self.mask - inside + 1) / PLANES);
        (self.holes == 0 && inside.is_multiple_of(PLANES) && units > 0).then_some((step * PLANES, units))
    }

    /// The bank bits among `bits`: those that do not count along the line.
    #[must_use]
    pub fn bank_bits(&self, bits: u32) -> u32 {
        bits & !(self.mask & !self.holes)
    }
}

/// Where a byte is fetched from, and for how many bytes on that stays true.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// Linear address of the first byte; the following ones are consecutive.
    pub linear: u32,
    /// Number of bytes for which that holds, at least 1.
    pub len: u32,
}
