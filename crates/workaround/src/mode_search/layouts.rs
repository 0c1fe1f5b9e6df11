//! Lines and frames for a picture, the likeliest first.

use backporch_adapter::{Adapter, Mode, Role, Timing};
use backporch_signal::{Axis, Formula, Hertz, Limit, Monitor, SYNC_AND_BACK_US, Signal};

use super::base::RowLayout;
use super::need::RateWanted;
use super::placing::Layout;
use crate::centring;

/// Finds layouts on one board for one monitor, around the signal of one mode.
pub(super) struct LayoutFinder<'a> {
    adapter: &'a Adapter,
    monitor: &'a Monitor,
    rate: RateWanted,
    /// The mode's own signal.
    own: Signal,
    /// The mode's own timing.
    timing: Timing,
}

/// Whether the beam has the time to go back to the top that the published formulas give it.
fn is_calm(frame: &Axis, line_us: f64) -> bool {
    f64::from(frame.sync() + frame.back_porch()) * line_us >= SYNC_AND_BACK_US
}

/// How one base counts.
struct Counting<'a> {
    base: &'a RowLayout,
    /// Dots of a character clock.
    char_dots: u32,
    /// Character clocks a second.
    clock: f64,
    /// Scan lines of a step of the vertical registers.
    step: u32,
    /// The longest line the class can make, in character clocks.
    longest: u32,
}

impl Counting<'_> {
    fn line_rate(&self, chars: u32) -> f64 {
        self.clock / f64::from(chars)
    }

    /// Character clocks that last so long, to the nearest, at least one.
    fn chars_in(&self, microseconds: f64) -> u32 {
        ((microseconds * self.clock / 1e6).round() as u32).max(1)
    }

    /// Whole character clocks of a line whose rate a monitor locks to.
    fn totals(&self, rates: Limit) -> std::ops::RangeInclusive<u32> {
        let (least, most) = ((self.clock / rates.to).ceil(), (self.clock / rates.from).floor());
        least.max(1.0) as u32..=(most as u32).min(self.longest)
    }
}

impl<'a> LayoutFinder<'a> {
    /// `None` where the mode as it starts up makes no stable signal.
    pub fn new(adapter: &'a Adapter, mode: &Mode, monitor: &'a Monitor, rate: Option<RateWanted>) -> Option<Self> {
        let start_up = adapter.start_up(mode);
        let own = adapter.signal(&start_up).ok()?;
        let Limit { from, to } = monitor.frame_rate_hz;
        let rate = rate.unwrap_or(RateWanted { best: own.frame_rate_hz().max(from).min(to), from, to });
        Some(Self { adapter, monitor, rate, own, timing: adapter.timing(&start_up) })
    }

    /// Whether a frame rate is one that was asked for.
    pub fn takes_rate(&self, signal: &Signal) -> bool {
        self.rate.takes(signal.frame_rate_hz())
    }

    /// Layouts for a base, the likeliest first.
    pub fn layouts(&self, base: &RowLayout) -> Vec<Layout> {
        let registers = &base.registers;
        let char_dots = u32::from(self.adapter.format(self.adapter.format_index(registers)).char_dots);
        let counting = Counting {
            base,
            char_dots,
            clock: self.adapter.dot_clock_of(registers).get() / f64::from(char_dots),
            step: self.adapter.timing(registers).lines_per_vertical_step().max(1),
            longest: self.adapter.most_quantity(Role::HorizontalTotal),
        };
        match self.monitor.porches {
            Some(formula) => self.by_formula(formula, &counting),
            None => self.like_own(&counting),
        }
    }

    /// Totals of scan lines that come nearest to the rate at a line rate: the nearest first.
    fn frame_totals(&self, line_rate: f64) -> [u32; 2] {
        let exact = line_rate / self.rate.best;
        let (below, above) = (exact.floor() as u32, exact.ceil() as u32);
        if exact - f64::from(below) <= f64::from(above) - exact { [below, above] } else { [above, below] }
    }

    // ---- as in the mode's own picture -----------------------------------------------

    /// Lines as long as the mode's own or as near to that as the monitor takes, the picture where the mode's own stands.
    fn like_own(&self, counting: &Counting<'_>) -> Vec<Layout> {
        let own = &self.own.horizontal;
        let total = counting.chars_in(self.own.microseconds(own.total()));
        let mut totals: Vec<u32> = counting.totals(self.monitor.line_rate_hz).collect();
        totals.sort_by_key(|chars| (chars.abs_diff(total), *chars));
        let layouts = totals.iter().filter_map(|total| {
            let line = self.line_like_own(counting, *total)?;
            let line_rate = counting.line_rate(*total);
            // The mode's own frame, where its rate will do.
            let own = Some(self.timing.lines()).filter(|lines| self.rate.takes(line_rate / f64::from(*lines)));
            let frames = own.into_iter().chain(self.frame_totals(line_rate));
            let line_us = 1e6 / line_rate;
            let frame = move |lines| self.frame_like_own(counting, lines).filter(|frame| is_calm(frame, line_us));
            Some(frames.filter_map(move |lines| Some(Layout { line, frame: frame(lines)? })))
        });
        layouts.flatten().collect()
    }

    fn line_like_own(&self, counting: &Counting<'_>, total: u32) -> Option<Axis> {
        let Limit { from, to } = self.monitor.horizontal_sync_us;
        let own_us = self.own.microseconds(self.own.horizontal.sync());
        let in_chars = |microseconds: f64| microseconds * counting.clock / 1e6;
        let (least, most) = (in_chars(from).ceil() as u32, in_chars(to).floor() as u32);
        let sync = counting.chars_in(own_us).min(most).max(least);
        let (before, after) = self.line_clearance();
        let layout = centring::AxisLayout { active: counting.base.chars, sync, total, step: 1, before, after };
        let place = layout.centred(&self.own.horizontal)?;
        Axis::new(layout.active, place.sync_start, sync, total).ok()
    }

    fn frame_like_own(&self, counting: &Counting<'_>, total: u32) -> Option<Axis> {
        let (before, after) = self.frame_clearance();
        let (active, sync, step) = (counting.base.lines, self.timing.sync_lines(), counting.step);
        let layout = centring::AxisLayout { active, sync, total, step, before, after };
        let place = layout.centred(&self.own.vertical)?;
        Axis::new(active, place.sync_start * step, sync, total).ok()
    }

    /// Character clocks that have to lie before and after sync: those the class blanks by itself, one at least.
    fn line_clearance(&self) -> (u32, u32) {
        let Timing { sync_start, sync_width, blank_start, blank_width, .. } = self.timing;
        let before = u32::from(sync_start.saturating_sub(blank_start));
        let after = u32::from(blank_width).saturating_sub(before + u32::from(sync_width));
        self.clearance(Role::HorizontalBlankStart, (before, after))
    }

    /// Scan lines that have to lie before and after vertical sync.
    fn frame_clearance(&self) -> (u32, u32) {
        let timing = &self.timing;
        let before = timing.sync_line().saturating_sub(timing.blank_line());
        let after = timing.blank_lines().saturating_sub(before + timing.sync_lines());
        self.clearance(Role::VerticalBlankStart, (before, after))
    }

    /// Where a register says what is blanked, blanking goes where sync does.
    fn clearance(&self, chosen_by: Role, (before, after): (u32, u32)) -> (u32, u32) {
        if self.adapter.field_with(chosen_by).is_some() { (1, 1) } else { (before.max(1), after.max(1)) }
    }

    // ---- by a published formula ---------------------------------------------------------

    /// Blanking at least as long as the formula says; what the rate leaves over lies evenly around the picture, so that it
    /// keeps its shape as nearly as may be.
    fn by_formula(&self, formula: Formula, counting: &Counting<'_>) -> Vec<Layout> {
        let dots = counting.base.chars.saturating_mul(counting.char_dots);
        let clock = self.adapter.dot_clock_of(&counting.base.registers);
        let Some(least) = formula.least_line(dots, counting.char_dots, clock) else {
            return Vec::new();
        };
        let least = least / counting.char_dots;
        let mut found: Vec<(f64, Layout)> = Vec::new();
        for total in counting.totals(self.monitor.line_rate_hz).filter(|total| *total >= least) {
            let Ok(line) = formula.horizontal(counting.base.chars, total, 1) else { continue };
            let Some(line_rate) = Hertz::new(counting.line_rate(total)) else { continue };
            let Ok(shortest) = formula.least_frame(dots, counting.base.lines, line_rate) else { continue };
            for lines in self.frame_totals(line_rate.get()) {
                if let Some(frame) = self.frame_by_formula(&shortest, counting, lines) {
                    let wider = f64::from(total) / f64::from(least);
                    let higher = f64::from(lines) / f64::from(shortest.total());
                    found.push(((wider / higher).ln().abs(), Layout { line, frame }));
                }
            }
        }
        found.sort_by(|(one, _), (other, _)| one.total_cmp(other));
        found.into_iter().map(|(_, layout)| layout).collect()
    }

    /// The shortest frame of the formula with the lines that are left over above and below; `None` where there are fewer.
    fn frame_by_formula(&self, shortest: &Axis, counting: &Counting<'_>, total: u32) -> Option<Axis> {
        let left_over = total.checked_sub(shortest.total())?;
        let chosen = [Role::VerticalSyncWidth, Role::VerticalSyncEnd];
        let is_chosen = chosen.iter().any(|role| self.adapter.field_with(*role).is_some());
        let sync = if is_chosen { shortest.sync() } else { self.timing.sync_lines() };
        let start = shortest.active() + shortest.front_porch() + left_over / 2;
        Axis::new(shortest.active(), start.next_multiple_of(counting.step), sync, total).ok()
    }
}
