//! Fewer character clocks on chosen lines: what a register written beside the beam can do for a table.
//!
//! Lines are judged one by one: a pixel that is not shown counts as much as one that is shown wrong, so a line is made shorter
//! only where that hides or mends more than it takes; or else so short that nothing shown of it is wrong. Where the class computes what it fetches from the line's length, it may
//! mend all of the line; the search does not know which.

use std::collections::BTreeMap;

use backporch_adapter::Role;
use backporch_raster::Tap;

use super::TableStep;
use super::displacement::DisplacedBytes;
use super::frame_schedule::{FrameSchedule, LineValue, StepWrites};
use super::start_choice::{Voter, Wrong, wrong_stretches};
use super::timed_register::TimedRegister;
use super::ways::{Draft, WayFinder};

/// Steps of a table whose frames are written in, at most: each has a list of lines of its own.
pub(super) const MOST_TIMED_STEPS: usize = 512;

/// How long a line is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LineAim {
    /// So long that least of it is wrong or not shown.
    LeastAmiss,
    /// So short that nothing shown of it is wrong, or else as it was.
    NothingWrong,
}

/// Lengths of lines that were judged, by the place a line begins at and the address units that are shown ahead.
type JudgedLengths = BTreeMap<(u32, u32), u32>;

impl<T: Tap> WayFinder<'_, T> {
    /// The same table with lines made shorter where that leaves less amiss; `None` where it helps nowhere or the class does not
    /// obey. Not looked for where a table would be too long, nor at lesser widths: those shorten all lines.
    pub(super) fn scheduled(&self, table: &Draft, aim: LineAim) -> Option<Draft> {
        if !self.is_widest
            || table.steps.len() > MOST_TIMED_STEPS
            || self.voters.iter().any(|(_, voter)| voter.lines.is_slow())
        {
            return None;
        }
        let field = self.requirements.lever(self.adapter, Role::HorizontalDisplayed)?;
        let register = TimedRegister::new(self.adapter, &self.setting.registers, field)?;
        let obeyed = register.obeyed();
        let (info, rest) = (self.adapter.field_info(field), self.adapter.get(&self.setting.registers, field));
        let mut judged = JudgedLengths::new();
        let mut steps = Vec::new();
        for step in &table.steps {
            let mut writes = StepWrites::default();
            for line in (0..table.height).filter(|line| obeyed[(line % self.setting.lines_of_row) as usize]) {
                let displayed = self.best_length(&mut judged, aim, step, line);
                let blanked = self.setting.line.displayed - displayed;
                if let Some(value) = displayed.checked_sub(u32::from(info.plus)).filter(|_| blanked > 0) {
                    writes.lines.push(LineValue { line, value, displayed });
                    writes.blanked += blanked * self.setting.line.char_pixels;
                }
            }
            steps.push(writes);
        }
        let (_, voter) = self.voters.first()?;
        let wrong = |(step, writes): (&TableStep, &StepWrites)| {
            let at = (step.position, step.ahead);
            let stretches = wrong_stretches(self.setting, table.height, &voter.lines, at, &writes.lines);
            TableStep { wrong: Wrong::of(self.setting, &stretches), ..*step }
        };
        let found: Vec<TableStep> = table.steps.iter().zip(&steps).map(wrong).collect();
        let amiss = |steps: &[TableStep]| steps.iter().map(|step| u64::from(step.wrong.pixels)).sum::<u64>();
        let blanked: u64 = steps.iter().map(|step| u64::from(step.blanked)).sum();
        let helps = amiss(&found) + blanked < amiss(&table.steps);
        let schedule = Some(FrameSchedule { field, rest, steps });
        let mut draft = Draft { steps: found, schedule, ..table.clone() };
        draft.holds_under = self.holding(&draft);
        helps.then_some(draft)
    }

    /// Character clocks of a line as `aim` wants it, the most of several.
    fn best_length(&self, judged: &mut JudgedLengths, aim: LineAim, step: &TableStep, line: u32) -> u32 {
        let row = line / self.setting.lines_of_row;
        let start = step.position.wrapping_add(step.ahead);
        let place = start.wrapping_add(row.wrapping_mul(self.setting.pitch_units)) & (self.period() - 1);
        *judged.entry((place, step.ahead)).or_insert_with(|| {
            let own = self.setting.line.displayed;
            let least = self.least_width.div_ceil(self.setting.line.char_pixels.max(1)).max(1);
            let wrong = |displayed: u32| -> u64 {
                let of_voter =
                    |voter: &Voter<'_, T>| voter.weight * self.wrong_of(voter, (place, displayed), step.ahead);
                self.voters.iter().map(|(_, voter)| of_voter(voter)).sum()
            };
            let weight: u64 = self.voters.iter().map(|(_, voter)| voter.weight).sum();
            let amiss = |displayed: &u32| {
                wrong(*displayed) + weight * u64::from(own - displayed) * u64::from(self.setting.line.char_bytes)
            };
            let mut lengths = (least..=own).rev();
            let best = match aim {
                LineAim::LeastAmiss => lengths.min_by_key(amiss),
                LineAim::NothingWrong => lengths.find(|displayed| wrong(*displayed) == 0),
            };
            best.unwrap_or(own)
        })
    }

    /// Bytes that are wrong of a line of another length.
    fn wrong_of(&self, voter: &Voter<'_, T>, (place, displayed): (u32, u32), ahead: u32) -> u64 {
        let wanted = ahead.wrapping_mul(self.setting.line.unit).wrapping_neg() & self.setting.line.mask;
        let mut stretches: Vec<DisplacedBytes> = Vec::new();
        voter.lines.line_of(place, displayed, &mut stretches);
        stretches.iter().filter(|stretch| stretch.by != Some(wanted)).map(|stretch| u64::from(stretch.len)).sum()
    }
}
