//! Fitting a signal around a setting: totals, sync, and what the monitor says.
//!
//! Totals and sync do not decide what is fetched, so they need not be searched
//! together with it. For each setting the least intrusive signal is chosen:
//! the bench's totals and sync width where the monitor takes them, with sync
//! moved so that the picture stands in the middle; else the nearest that fit.
//! Where a fault changes the timing itself, every place of sync, width and total
//! is tried until one is left alone.

use backporch_adapter::{Adapter, FieldId, Registers, Role};
use backporch_signal::{Judgement, Monitor, Signal};

use crate::centring::AxisLayout;
use crate::requirements::Requirements;

/// Registers with a signal around them.
#[derive(Clone, Debug)]
pub struct SignalFit {
    /// The setting's registers, totals and sync chosen.
    pub registers: Registers,
    /// The signal they make.
    pub signal: Signal,
    /// What the monitor says, where there is one.
    pub judgement: Option<Judgement>,
    /// Dots by which the picture stands right of the middle.
    pub off_dots: i32,
    /// Lines by which it stands below the middle.
    pub off_lines: i32,
    /// Border left and right of the picture, in dots, beside the start-up picture's edges.
    pub border_dots: (i32, i32),
}

impl SignalFit {
    /// Whether the monitor takes it; without a monitor every signal is.
    #[must_use]
    pub fn accepted(&self) -> bool {
        self.judgement.as_ref().is_none_or(Judgement::accepts)
    }

    /// Whether another place or width of horizontal sync may be accepted, too.
    fn may_be_accepted_elsewhere(&self) -> bool {
        let may = |judgement: &Judgement| judgement.accepts() || judgement.refuses_sync_width_alone();
        self.judgement.as_ref().is_none_or(may)
    }
}

/// Whether a fault leaves the timing of these registers alone.
pub type TimingCheck<'a> = dyn Fn(&Registers) -> bool + Sync + 'a;

/// The registers a fit may choose.
pub(crate) const SIGNAL_LEVERS: [Role; 4] =
    [Role::HorizontalTotal, Role::HorizontalSyncWidth, Role::HorizontalSyncStart, Role::VerticalSyncStart];

/// Fits signals around settings of one bench.
pub struct SignalFitter<'a> {
    adapter: &'a Adapter,
    monitor: Option<&'a Monitor>,
    /// The signal whose picture stands in the middle.
    reference: Signal,
    total: Option<FieldId>,
    width: Option<FieldId>,
    position: Option<FieldId>,
    row_position: Option<FieldId>,
    keeps_timing: &'a TimingCheck<'a>,
}

impl<'a> SignalFitter<'a> {
    /// `None` where neither the start-up values nor the bench's registers make
    /// a stable signal to centre by.
    #[must_use]
    pub fn new(
        adapter: &'a Adapter,
        start_up: &Registers,
        bench: &Registers,
        monitor: Option<&'a Monitor>,
        requirements: &Requirements,
        keeps_timing: &'a TimingCheck<'a>,
    ) -> Option<Self> {
        let reference = adapter.signal(start_up).or_else(|_| adapter.signal(bench)).ok()?;
        let [total, width, position, row_position] = SIGNAL_LEVERS.map(|role| requirements.lever(adapter, role));
        Some(Self { adapter, monitor, reference, total, width, position, row_position, keeps_timing })
    }

    /// Whether the faults leave the timing of these registers alone.
    #[must_use]
    pub fn keeps_timing(&self, registers: &Registers) -> bool {
        (self.keeps_timing)(registers)
    }

    /// The least intrusive signal around a setting: the first that the monitor
    /// takes and no fault changes, else the first the monitor takes, else the
    /// first at all.
    #[must_use]
    pub fn fit(&self, registers: &Registers) -> Option<SignalFit> {
        let (registers, off_lines) = self.vertical(registers)?;
        let (mut changed, mut refused) = (None, None);
        for total in self.nearest_first(self.total, &registers) {
            for width in self.nearest_first(self.width, &total) {
                let Some(fit) = self.horizontal(&width, off_lines) else {
                    continue;
                };
                if fit.accepted() && self.keeps_timing(&fit.registers) {
                    return Some(fit);
                }
                let width_decides = fit.may_be_accepted_elsewhere();
                let kept = if fit.accepted() { &mut changed } else { &mut refused };
                kept.get_or_insert(fit);
                if !width_decides {
                    // The width of sync changes nothing else of the signal.
                    break;
                }
            }
        }
        changed.or(refused)
    }

    /// The registers with a lever at each value, its own first, then those ever further off.
    fn nearest_first<'b>(
        &'b self,
        lever: Option<FieldId>,
        registers: &'b Registers,
    ) -> impl Iterator<Item = Registers> + 'b {
        let values = lever.map(|field| {
            let own = self.adapter.get(registers, field);
            let mut values: Vec<u32> = (0..=self.adapter.field_info(field).max()).collect();
            values.sort_by_key(|value| (value.abs_diff(own), *value));
            values.into_iter().map(move |value| (field, value))
        });
        let with = |(field, value)| {
            let mut registers = registers.clone();
            self.adapter.set(&mut registers, field, u64::from(value)).ok().map(|()| registers)
        };
        let untouched = lever.is_none().then(|| registers.clone());
        values.into_iter().flatten().filter_map(with).chain(untouched)
    }

    /// Sync centred down the frame.
    fn vertical(&self, registers: &Registers) -> Option<(Registers, i32)> {
        let timing = self.adapter.timing(registers);
        let step = timing.lines_per_vertical_step();
        let before = timing.sync_line().saturating_sub(timing.blank_line());
        let layout = AxisLayout {
            active: timing.lines_displayed(),
            sync: timing.sync_lines(),
            total: timing.lines(),
            step,
            before,
            after: timing.blank_lines().saturating_sub(before + timing.sync_lines()),
        };
        let reference = &self.reference.vertical;
        let own = timing.sync_line() / step;
        self.centre(registers, self.row_position, &layout, reference, own)
    }

    /// Sync centred along the line; where a fault changes that, at the place nearest to the middle that it leaves alone and
    /// the monitor takes, if there is one. What a monitor takes depends on that place in one way: where a register says at
    /// which character sync ends, moving its start changes its width.
    fn horizontal(&self, registers: &Registers, off_lines: i32) -> Option<SignalFit> {
        let timing = self.adapter.timing(registers);
        let format = self.adapter.format(self.adapter.format_index(registers));
        let char = u32::from(format.char_dots);
        let before = u32::from(timing.sync_start.saturating_sub(timing.blank_start));
        let after = u32::from(timing.blank_width).saturating_sub(before + u32::from(timing.sync_width));
        let layout = AxisLayout {
            active: u32::from(timing.displayed) * char,
            sync: u32::from(timing.sync_width) * char,
            total: timing.chars() * char,
            step: char,
            before: before * char,
            after: after * char,
        };
        let reference = &self.reference.horizontal;
        let own = u32::from(timing.sync_start);
        let (registers, off) = self.centre(registers, self.position, &layout, reference, own)?;
        let centred = self.around(registers, (off, off_lines), &layout)?;
        let moves = centred.may_be_accepted_elsewhere() && !self.keeps_timing(&centred.registers);
        let Some(field) = self.position.filter(|_| moves) else {
            return Some(centred);
        };
        let own = self.adapter.get(&centred.registers, field);
        let info = self.adapter.field_info(field);
        let off = |value: u32| layout.off(reference, value + u32::from(info.plus));
        let mut places: Vec<(u32, i32)> = (0..=info.max()).filter_map(|value| Some((value, off(value)?))).collect();
        places.sort_by_key(|(value, off)| (off.unsigned_abs(), value.abs_diff(own), *value));
        let mut best = centred;
        for (value, off) in places {
            let mut registers = best.registers.clone();
            self.adapter.set(&mut registers, field, u64::from(value)).ok()?;
            let kept = self.keeps_timing(&registers);
            if !kept && best.accepted() {
                continue;
            }
            match self.around(registers, (off, off_lines), &layout) {
                Some(fit) if fit.accepted() && kept => return Some(fit),
                Some(fit) if fit.accepted() => best = fit,
                _ => {}
            }
        }
        Some(best)
    }

    /// The signal of registers whose sync is placed.
    fn around(
        &self,
        registers: Registers,
        (off_dots, off_lines): (i32, i32),
        layout: &AxisLayout,
    ) -> Option<SignalFit> {
        let signal = self.adapter.signal(&registers).ok()?;
        let judgement = self.monitor.map(|monitor| monitor.judge(&signal));
        let left_over = self.reference.horizontal.active() as i32 - layout.active as i32;
        let left = left_over.div_euclid(2) + off_dots;
        Some(SignalFit { registers, signal, judgement, off_dots, off_lines, border_dots: (left, left_over - left) })
    }

    /// The registers with sync at the place that centres the picture, or at
    /// its own where it may not move.
    fn centre(
        &self,
        registers: &Registers,
        lever: Option<FieldId>,
        layout: &AxisLayout,
        reference: &backporch_signal::Axis,
        own: u32,
    ) -> Option<(Registers, i32)> {
        let mut registers = registers.clone();
        let Some(field) = lever else {
            let off = layout.off(reference, own)?;
            return Some((registers, off));
        };
        let best = layout.centred(reference)?;
        let stored = best.sync_start.checked_sub(u32::from(self.adapter.field_info(field).plus))?;
        self.adapter.set(&mut registers, field, u64::from(stored)).ok()?;
        Some((registers, best.off))
    }
}
