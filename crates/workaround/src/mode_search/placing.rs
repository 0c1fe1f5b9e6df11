//! A line and a frame put into registers, by roles, so that the controller of any class makes them.

use backporch_adapter::{Adapter, Registers, Role, Timing};
use backporch_signal::Axis;

/// A line in character clocks and a frame in scan lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Layout {
    pub line: Axis,
    pub frame: Axis,
}

impl Layout {
    /// The registers that make it, the rest of them as in `registers`; `None` where a field is too small for its part, or
    /// the class makes something else of them.
    pub fn placed(&self, adapter: &Adapter, registers: &Registers) -> Option<Registers> {
        let timing = adapter.timing(registers);
        let mut placer = Placer { adapter, registers: registers.clone() };
        placer.line(&self.line, &timing)?;
        placer.frame(&self.frame, &timing)?;
        let placed = placer.registers;
        self.is_made_by(adapter, &placed).then_some(placed)
    }

    /// Whether the registers make this signal.
    fn is_made_by(&self, adapter: &Adapter, registers: &Registers) -> bool {
        let dots = u32::from(adapter.format(adapter.format_index(registers)).char_dots);
        let parts = |axis: &Axis, unit: u32| {
            [axis.active(), axis.front_porch(), axis.sync(), axis.back_porch()].map(|part| part * unit)
        };
        adapter.signal(registers).is_ok_and(|signal| {
            parts(&signal.horizontal, 1) == parts(&self.line, dots)
                && parts(&signal.vertical, 1) == parts(&self.frame, 1)
        })
    }
}

/// Start and end of sync.
fn sync(axis: &Axis) -> (u32, u32) {
    let start = axis.active() + axis.front_porch();
    (start, start + axis.sync())
}

/// Blanking as a pulse that a controller compares low bits for.
struct Blanking {
    /// How far from the end of display it begins, and how far before the end of the axis it ends.
    beside: (u32, u32),
    /// The most it can last: one less than a turn of the bits compared.
    most: u32,
}

impl Blanking {
    /// First unit of it, and the first after it: around sync, no longer than it can last, as near to `beside` as that lets it.
    /// What is left at its sides has the colour of the border.
    fn around(&self, axis: &Axis) -> (u32, u32) {
        let (sync_start, sync_end) = sync(axis);
        let end = axis.total().saturating_sub(self.beside.1).max(sync_end);
        let start = (axis.active() + self.beside.0).max(end.saturating_sub(self.most)).min(sync_start);
        (start, end.min(start.saturating_add(self.most)))
    }
}

struct Placer<'a> {
    adapter: &'a Adapter,
    registers: Registers,
}

impl Placer<'_> {
    fn line(&mut self, line: &Axis, own: &Timing) -> Option<()> {
        let (start, end) = sync(line);
        self.put(Role::HorizontalTotal, line.total())?;
        self.put(Role::HorizontalDisplayed, line.active())?;
        self.put(Role::HorizontalSyncStart, start)?;
        self.put(Role::HorizontalSyncWidth, line.sync())?;
        self.put_low_bits(Role::HorizontalSyncEnd, end);
        let (own_start, own_end) = (u32::from(own.blank_start), u32::from(own.blank_start + own.blank_width));
        let before = own_start.saturating_sub(own.displayed.into());
        let blanking = Blanking {
            beside: (before, own.chars().saturating_sub(own_end)),
            most: self.most(Role::HorizontalBlankEnd),
        };
        let (start, end) = blanking.around(line);
        self.put(Role::HorizontalBlankStart, start)?;
        self.put_low_bits(Role::HorizontalBlankEnd, end);
        Some(())
    }

    fn frame(&mut self, frame: &Axis, own: &Timing) -> Option<()> {
        let (start, end) = sync(frame);
        let step = own.lines_per_vertical_step().max(1);
        let in_steps = |lines: u32| lines.is_multiple_of(step).then_some(lines / step);
        self.frame_total(frame.total(), step)?;
        self.put(Role::VerticalDisplayed, in_steps(frame.active())?)?;
        self.put(Role::VerticalSyncStart, in_steps(start)?)?;
        self.put(Role::VerticalSyncWidth, frame.sync())?;
        self.put_low_bits(Role::VerticalSyncEnd, end);
        let (own_start, own_end) = (own.blank_line(), own.blank_line() + own.blank_lines());
        let before = own_start.saturating_sub(own.lines_displayed());
        let blanking =
            Blanking { beside: (before, own.lines().saturating_sub(own_end)), most: self.most(Role::VerticalBlankEnd) };
        let (start, end) = blanking.around(frame);
        self.put(Role::VerticalBlankStart, start)?;
        self.put_low_bits(Role::VerticalBlankEnd, end);
        Some(())
    }

    /// The length of a frame: as many whole steps as leave the lines that are added after them as they are, or nearly.
    fn frame_total(&mut self, total: u32, step: u32) -> Option<()> {
        let added = self.quantity(Role::VerticalTotalAdjust).unwrap_or(0);
        let steps = (total.checked_sub(added)? / step).min(self.adapter.most_quantity(Role::VerticalTotal));
        self.put(Role::VerticalTotal, steps)?;
        self.put(Role::VerticalTotalAdjust, total - steps * step)
    }

    /// What a field stands for; `None` where the class has none with that role.
    fn quantity(&self, role: Role) -> Option<u32> {
        self.adapter.field_with(role).map(|field| self.adapter.quantity(&self.registers, field))
    }

    /// Lets a field stand for a quantity; done where the class has none with that role, `None` where it is too small.
    fn put(&mut self, role: Role, quantity: u32) -> Option<()> {
        let Some(field) = self.adapter.field_with(role) else { return Some(()) };
        let stored = quantity.checked_sub(self.adapter.field_info(field).plus.into())?;
        self.adapter.set(&mut self.registers, field, stored.into()).ok()
    }

    /// Lets a field that is compared with low bits of a counter stand for a quantity.
    fn put_low_bits(&mut self, role: Role, quantity: u32) {
        if let Some(field) = self.adapter.field_with(role) {
            let info = self.adapter.field_info(field);
            let stored = quantity.wrapping_sub(info.plus.into()) & info.max();
            // Masked to what the field holds.
            let _ = self.adapter.set(&mut self.registers, field, stored.into());
        }
    }

    /// The most a pulse can last whose end a field compares.
    fn most(&self, role: Role) -> u32 {
        self.adapter.field_with(role).map_or(u32::MAX, |field| self.adapter.field_info(field).max())
    }
}
