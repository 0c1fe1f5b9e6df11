//! CostModel: what a claim costs the user, and the registers that make it true.

use backporch_adapter::{Adapter, Registers, Role};

use crate::candidate::{Candidate, Cost, MemoryMap, Redraw};
use crate::claims::{Claim, step_lines, step_pixels};
use crate::requirements::{Direction, Requirements};
use crate::scroll_path::ScrollPath;
use crate::setting::Setting;
use crate::signal_fit::SignalFit;

/// What prices are counted from.
#[derive(Clone, Copy, Debug)]
pub struct CostModel<'a> {
    /// The board.
    pub adapter: &'a Adapter,
    /// What the routine needs.
    pub requirements: &'a Requirements,
    /// Width and height of the bench's picture.
    pub picture: (u32, u32),
}

impl CostModel<'_> {
    /// The setting's registers with fewer picture lines.
    ///
    /// `None` where the number of lines shown may not change.
    #[must_use]
    pub fn lower(&self, setting: &Setting, height: u32) -> Option<Registers> {
        let field = self.requirements.lever(self.adapter, Role::VerticalDisplayed)?;
        let plus = u32::from(self.adapter.field_info(field).plus);
        let mut registers = setting.registers.clone();
        let stored = setting.rows(height).checked_sub(plus)?;
        self.adapter.set(&mut registers, field, u64::from(stored)).ok()?;
        Some(registers)
    }

    /// The candidate of a claim; `None` where it leaves too little memory free.
    #[must_use]
    pub fn candidate(&self, setting: &Setting, fit: SignalFit, claim: &Claim) -> Option<Candidate> {
        let memory = self.memory(setting, claim)?;
        let redraw = self.redraw(setting, claim);
        let mut registers = fit.registers.clone();
        self.adapter.set(&mut registers, self.adapter.start_address(), u64::from(claim.origin)).ok()?;
        let (width, height) = (setting.width(), claim.height);
        let (lost_of, shown) =
            (self.picture.0 * self.picture.1, width.min(self.picture.0) * height.min(self.picture.1));
        let cost = Cost {
            pixels_lost: lost_of - shown,
            step_pixels: redraw.columns,
            step_lines: redraw.lines,
            memory_bytes: memory.bank_bytes * memory.banks,
            redraw_bytes: redraw.bytes,
            off_centre: fit.off_dots.unsigned_abs() + fit.off_lines.unsigned_abs(),
        };
        Some(Candidate {
            registers,
            width,
            height,
            pitch_bytes: setting.line.pitch,
            origin: claim.origin,
            stride: claim.stride,
            of_starts: claim.path.count(setting.starts),
            clean_starts: claim.clean,
            probability_clean: claim.probability,
            clean_under: claim.clean_under.clone(),
            path: claim.path.clone(),
            ring: setting.starts,
            failing: claim.failing.clone(),
            fit,
            cost,
            memory,
            redraw,
            smallest_step: (setting.pixels_of_unit(), setting.lines_of_row),
            rendered: false,
            setting: 0,
            multiplier: claim.multiplier,
        })
    }

    fn memory(&self, setting: &Setting, claim: &Claim) -> Option<MemoryMap> {
        let unit = setting.line.unit;
        let picture = setting.rows(claim.height) * setting.pitch_units;
        let units = match claim.path {
            ScrollPath::Around { .. } => setting.places,
            ScrollPath::Along { stride, count, .. } => {
                let walked = u64::from(count - 1) * u64::from(stride) + u64::from(picture);
                walked.min(u64::from(setting.places)) as u32
            }
        };
        let banks = setting.banks();
        let used = units * unit * banks;
        let bytes = self.adapter.memory().bytes;
        let free_bytes = bytes.saturating_sub(used);
        (free_bytes >= self.requirements.keep_free).then_some(MemoryMap {
            from: claim.origin.wrapping_mul(unit) & setting.line.mask,
            bank_bytes: units * unit,
            banks,
            free_bytes,
        })
    }

    fn redraw(&self, setting: &Setting, claim: &Claim) -> Redraw {
        let across = self.requirements.direction != Direction::Vertical;
        let down = self.requirements.direction != Direction::Horizontal;
        let columns = if across { step_pixels(self.requirements, setting) * claim.multiplier } else { 0 };
        let lines = if down { step_lines(self.requirements, setting) * claim.multiplier } else { 0 };
        let column_bytes = columns * setting.line.bytes / setting.width().max(1);
        let bytes = column_bytes * claim.height + lines * setting.line.bytes;
        Redraw { columns, column_bytes, lines, bytes }
    }
}
