//! Settings: registers as far as they decide what a frame fetches.
//!
//! What is displayed, the pitch and the layout of rows decide which bytes a
//! frame shows. Totals and sync only decide when: they are chosen afterwards,
//! for the few settings that are worth it ([`fit`](crate::signal_fit)).

use std::collections::BTreeSet;

use backporch_adapter::{Adapter, FieldId, Registers, Role};
use backporch_raster::{Line, Plain, QuietFrame};

use crate::requirements::Requirements;

/// Pixels of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pixels {
    /// How many.
    pub count: u32,
    /// Greatest value of one.
    pub most: u8,
}

/// One setting of the registers that decide what is fetched.
#[derive(Clone, Debug)]
pub struct Setting {
    /// All registers, totals and sync as on the bench.
    pub registers: Registers,
    /// The quiet frame they make on a healthy board.
    pub quiet: QuietFrame,
    /// The first line at start address 0.
    pub line: Line,
    /// Its pixels.
    pub pixels: Pixels,
    /// Picture lines.
    pub height: u32,
    /// Picture lines of a row of memory.
    pub lines_of_row: u32,
    /// Places a line can begin at, in address units.
    pub places: u32,
    /// Start addresses that differ in what they show.
    pub starts: u32,
    /// Address units from one row to the next.
    pub pitch_units: u32,
    /// Dots from a frame's start to the take-over of the start address, roughly.
    pub latch_dot: u64,
}

impl Setting {
    /// Decodes registers; `None` where they show no pixel or lines of no length.
    #[must_use]
    pub fn new(adapter: &Adapter, registers: Registers) -> Option<Self> {
        let quiet = QuietFrame::new(adapter, &registers, &Plain);
        let height = quiet.picture_lines();
        let line = quiet.line(0, 0, 0);
        if height == 0 || line.bytes == 0 {
            return None;
        }
        let format = quiet.format();
        let timing = quiet.timing();
        let lines_of_row = if format.uses_row_address() { timing.lines_per_row() } else { 1 };
        let places = (line.mask / line.unit + 1).next_power_of_two();
        let start_bits = adapter.field_info(adapter.start_address()).width();
        let starts = places.min(1 << start_bits.min(24));
        let pixels = Pixels {
            count: line.bytes / format.address.bytes_per_char().max(1) * format.pixels_per_char(),
            most: match format.serialise {
                rule if rule.is_text() => 15,
                rule => u8::MAX >> (8 - rule.pixel_bits().clamp(1, 8)),
            },
        };
        let latch_dot = u64::from(timing.lines()) * u64::from(timing.chars()) * u64::from(format.char_dots);
        Some(Self {
            pitch_units: line.pitch / line.unit,
            registers,
            line,
            pixels,
            height,
            lines_of_row,
            places,
            starts,
            latch_dot,
            quiet,
        })
    }

    /// Whether line starts are `start × unit + row × pitch`, looked at for
    /// every line and start addresses in all corners.
    #[must_use]
    pub fn is_evenly_spaced(&self) -> bool {
        let Line { unit, mask, pitch, .. } = self.line;
        let corners = [0, 1, 2, self.starts / 2 - self.starts / 7, self.starts - 1];
        pitch % unit == 0
            && mask == self.places.wrapping_mul(unit).wrapping_sub(1)
            && corners.iter().all(|start| {
                (0..self.height).all(|index| {
                    let row = index / self.lines_of_row;
                    let even = start.wrapping_mul(unit).wrapping_add(row.wrapping_mul(pitch)) & mask;
                    self.quiet.line(0, *start, index).linear == even
                })
            })
    }

    /// A line that begins at a place, in address units.
    #[must_use]
    pub fn line_from(&self, place: u32) -> Line {
        Line { linear: place * self.line.unit, ..self.line }
    }

    /// Pixels across.
    #[must_use]
    pub fn width(&self) -> u32 {
        self.pixels.count
    }

    /// Colours at once: values of a pixel, of up to four planes as many as the enabled ones tell apart.
    #[must_use]
    pub fn colours(&self, adapter: &Adapter) -> u32 {
        let values = u32::from(self.pixels.most) + 1;
        let enabled =
            adapter.field_with(Role::PlaneEnable).map(|field| adapter.get(&self.registers, field).count_ones());
        enabled.filter(|_| values <= 16).map_or(values, |planes| values.min(1 << planes))
    }

    /// Pixels that an address unit stands for, at least 1.
    #[must_use]
    pub fn pixels_of_unit(&self) -> u32 {
        (self.pixels.count * self.line.unit / self.line.bytes).max(1)
    }

    /// Every scan line of a frame from the top, also where a line is shown again.
    pub fn scan_lines(&self, start: u32) -> impl Iterator<Item = Line> + '_ {
        let format = self.quiet.format();
        let repeats = if format.uses_row_address() { 1 } else { self.quiet.timing().lines_per_row() };
        (0..self.height).flat_map(move |index| {
            let first = self.quiet.line(0, start, index);
            (0..repeats).map(move |scan| Line {
                scan_line: first.scan_line + scan,
                row_address: first.row_address + scan as u8,
                bank: format.address.bank(first.row_address + scan as u8),
                ..first
            })
        })
    }

    /// Rows of memory that `height` picture lines take.
    #[must_use]
    pub fn rows(&self, height: u32) -> u32 {
        height.div_ceil(self.lines_of_row)
    }

    /// Whether `height` picture lines fit into memory without the last
    /// running into the first.
    #[must_use]
    pub fn fits_memory(&self, height: u32) -> bool {
        u64::from(self.rows(height)) * u64::from(self.pitch_units) <= u64::from(self.places)
    }

    /// Memory banks that the lines of a row are spread over.
    #[must_use]
    pub fn banks(&self) -> u32 {
        let address = &self.quiet.format().address;
        let banks: BTreeSet<u32> = (0..self.lines_of_row).map(|scan| address.bank(scan as u8)).collect();
        banks.len() as u32
    }
}

/// The registers a search steps through, and the values each takes.
#[derive(Clone, Debug)]
pub struct Levers {
    displayed: Option<FieldId>,
    offset: Option<FieldId>,
    rows: Option<RowLevers>,
}

/// The fields a change of the row layout needs.
#[derive(Clone, Copy, Debug)]
struct RowLevers {
    scan: FieldId,
    shown: FieldId,
    total: FieldId,
    adjust: FieldId,
}

impl Levers {
    /// The levers the requirements allow, where the board has them.
    #[must_use]
    pub fn new(adapter: &Adapter, requirements: &Requirements) -> Self {
        let lever = |role| requirements.lever(adapter, role);
        let rows = || {
            Some(RowLevers {
                scan: lever(Role::RowHeight)?,
                shown: lever(Role::VerticalDisplayed)?,
                total: lever(Role::VerticalTotal)?,
                adjust: lever(Role::VerticalTotalAdjust)?,
            })
        };
        Self { displayed: lever(Role::HorizontalDisplayed), offset: lever(Role::Pitch), rows: rows() }
    }

    /// All settings of the levers around `base` that show at least `width`
    /// pixels and `height` lines, and whose lines do not run into one another.
    #[must_use]
    pub fn settings(&self, adapter: &Adapter, base: &Registers, (width, height): (u32, u32)) -> Vec<Setting> {
        let mut settings = Vec::new();
        for rows in self.row_layouts(adapter, base) {
            for shown in values(adapter, self.displayed, &rows) {
                for registers in values(adapter, self.offset, &shown) {
                    let wide = Setting::new(adapter, registers);
                    settings.extend(wide.filter(|setting| {
                        let Line { bytes, pitch, .. } = setting.line;
                        setting.width() >= width && setting.height >= height && pitch >= bytes
                    }));
                }
            }
        }
        settings
    }

    /// Row layouts that keep the number of scan lines of the frame, the bench's first.
    fn row_layouts(&self, adapter: &Adapter, base: &Registers) -> Vec<Registers> {
        let mut layouts = vec![base.clone()];
        let Some(levers) = self.rows else {
            return layouts;
        };
        let timing = adapter.timing(base);
        let shown = timing.lines_displayed();
        for stored in 0..=adapter.field_info(levers.scan).max() {
            let mut registers = base.clone();
            let per_row = stored + u32::from(adapter.field_info(levers.scan).plus);
            if per_row == 0 || per_row == timing.lines_per_row() {
                continue;
            }
            let (rows, rest) = (timing.lines() / per_row, timing.lines() % per_row);
            let mut set = |field: FieldId, quantity: u32| {
                let stored = quantity.checked_sub(u32::from(adapter.field_info(field).plus));
                stored.is_some_and(|stored| adapter.set(&mut registers, field, u64::from(stored)).is_ok())
            };
            let fits = set(levers.scan, per_row)
                && set(levers.total, rows)
                && set(levers.adjust, rest)
                && set(levers.shown, shown / per_row);
            if fits && adapter.timing(&registers).lines() == timing.lines() {
                layouts.push(registers);
            }
        }
        layouts
    }
}

/// The registers with every value of a lever; as they are where there is none.
fn values(adapter: &Adapter, lever: Option<FieldId>, base: &Registers) -> Vec<Registers> {
    let Some(field) = lever else {
        return vec![base.clone()];
    };
    let value = |value| {
        let mut registers = base.clone();
        adapter.set(&mut registers, field, value).ok().map(|()| registers)
    };
    (0..=u64::from(adapter.field_info(field).max())).filter_map(value).collect()
}
