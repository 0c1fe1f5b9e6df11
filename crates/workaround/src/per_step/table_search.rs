//! The search for tables: every setting, every position, every start address.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};

use backporch_adapter::{Registers, Role};
use backporch_bench::Bench;
use backporch_raster::{LineDependencies, Plain, QuietFrame, Tap};
use rayon::prelude::*;

use super::displacement::{Displacements, most_stretches};
use super::frame_schedule::Slack;
use super::proof::holds_rendered;
use super::start_choice::Voter;
use super::timed_register::TimedRegister;
use super::ways::{Draft, WayFinder};
use super::{StepTable, TableCost};
use crate::fault_scan::{FaultScan, jitters};
use crate::infeasible::Infeasible;
use crate::requirements::Requirements;
use crate::search::{Progress, Search, SuspectedFault};
use crate::setting::Setting;

/// Votes of all suspects together for one byte.
const VOTES: f64 = 1e6;
/// Tables that are proven and listed, at most.
const MOST_TABLES: usize = 8;
/// Scan lines that are asked about for all settings, at most.
const MOST_LINES: u64 = 20_000_000;
/// Scan lines asked about for each place a line can begin at, where that decides all.
const LINES_OF_PLACE: u32 = 4;
/// Stretches of a line, each displaced by another distance, that a start address may mend one of.
const MOST_STRETCHES: usize = 32;
/// How often all lines are asked about where each has to be: for the start addresses, and for what is wrong.
const LINES_AGAIN: u32 = 2;

/// What writes within a frame were looked for, and what they rest on.
const SCHEDULE_REMARK: &str = "writes within a frame: lines are made shorter where that leaves less amiss; start address, line \
    compare, pitch and row height only move where lines begin, which a table does without the beam, and are left out; panning \
    was not tried. What a register written within a line does is assumed to follow at the next character clock";

/// What a search for tables found.
#[derive(Clone, Debug)]
pub struct TableSearch {
    /// Tables none of which is covered by another, each proven by rendering
    /// every distinct step: those with least wrong first, then those without jumps, then the largest.
    pub tables: Vec<StepTable>,
    /// What was left out, and why.
    pub remarks: Vec<String>,
}

/// Searches for tables under which a routine runs, a start address chosen for each step.
///
/// Only suspects that move addresses have a part in it. Progress is called with how many
/// settings of how many are done, from any thread.
///
/// # Errors
/// Where the requirements cannot be met by any board, in words.
pub fn step_tables<T: Tap + Clone + Send + Sync>(
    bench: &Bench,
    requirements: &Requirements,
    suspects: &[SuspectedFault<T>],
    progress: &Progress<'_>,
) -> Result<TableSearch, Infeasible> {
    let sound = |_: &Registers| true;
    let own = Setting::new(bench.adapter(), bench.registers().clone()).ok_or(Infeasible::NoPicture)?;
    let search = Search::new(bench, requirements, suspects, &sound)?;
    // Copies take room: unless the routine says how many lines it needs, half of them will do.
    let lowest = requirements.least_height.unwrap_or(own.height.div_ceil(2));
    let tables = Tables { search, lowest, own };
    Ok(tables.run(progress))
}

struct Tables<'a, T> {
    search: Search<'a, T>,
    /// Fewest picture lines of a copy.
    lowest: u32,
    own: Setting,
}

impl<'a, T: Tap + Clone + Send + Sync> Tables<'a, T> {
    fn run(&self, progress: &Progress<'_>) -> TableSearch {
        let suspects = self.search.suspects;
        let moving = |suspect: &SuspectedFault<T>| {
            let scan = FaultScan::new(&suspect.tap, &self.search.settings);
            !scan.needs_rendering()
                && !jitters(&suspect.tap)
                && !suspect.tap.depends_on().contains(LineDependencies::FRAME)
        };
        let in_pieces = |at: &usize| most_stretches(&suspects[*at].tap, &self.own) > MOST_STRETCHES;
        let mut voting: Vec<usize> = (0..suspects.len()).filter(|at| moving(&suspects[*at])).collect();
        voting.sort_by(|one, other| suspects[*other].probability.total_cmp(&suspects[*one].probability));
        let mut remarks = Vec::new();
        if voting.len() < suspects.len() {
            remarks.push(
                "tables are made for faults that move addresses alone; the others have no part in them".to_string(),
            );
        }
        let moved = voting.len();
        voting.retain(|at| !in_pieces(at));
        if voting.len() < moved {
            remarks.push(format!(
                "faults that cut a line into more than {MOST_STRETCHES} pieces are left out of tables: a start address mends one"
            ));
        }
        if voting.is_empty() {
            return TableSearch { tables: Vec::new(), remarks };
        }
        let settings = self.affordable(&voting, &mut remarks);
        let (of, done) = (settings.len() as u64, AtomicU64::new(0));
        let of_setting = |at: &usize| {
            if self.search.requirements.time_is_over() {
                return Vec::new();
            }
            let tables = self.of_setting(*at, &voting);
            progress(done.fetch_add(1, Ordering::Relaxed) + 1, of);
            tables
        };
        let mut tables: Vec<StepTable> = settings.par_iter().flat_map_iter(of_setting).collect();
        tables = StepTable::front(tables);
        let found = tables.len();
        let (mut scheduled, plain): (Vec<StepTable>, Vec<StepTable>) =
            tables.into_iter().partition(|table| table.schedule.is_some());
        tables = plain;
        if tables.len() > MOST_TABLES {
            self.shorten(&mut tables);
        }
        tables.extend(Self::best_scheduled(&mut scheduled));
        StepTable::sort(&mut tables);
        if tables.len() < found {
            remarks.push(format!("{} more tables give up more and are left out", found - tables.len()));
        }
        if tables.iter().any(|table| table.schedule.is_some()) {
            remarks.push(SCHEDULE_REMARK.to_string());
        }
        tables.par_iter_mut().for_each(|table| self.measure(table));
        let before = tables.len();
        tables.retain(|table| !self.search.requirements.time_is_over() && self.proven(table));
        if self.search.requirements.time_is_over() {
            let done = done.into_inner();
            remarks.push(format!(
                "the time limit ended the search for tables: {done} of {of} settings were looked at, and tables not proven by \
                 then are left out"
            ));
        } else if tables.len() < before {
            remarks.push(format!("{} tables were disproved by rendering", before - tables.len()));
        }
        TableSearch { tables, remarks }
    }

    /// Of those with writes beside the beam, the one that leaves least amiss in all: of those that show every step, and of those
    /// that leave some out.
    fn best_scheduled(tables: &mut [StepTable]) -> Vec<StepTable> {
        let amiss =
            |table: &StepTable| table.cost.mean_wrong + table.mean_blanked() + f64::from(table.cost.pixels_lost);
        tables.sort_by(|one, other| amiss(one).total_cmp(&amiss(other)));
        let first = |jumps: bool| tables.iter().find(|table| (table.cost.jump > 1) == jumps).cloned();
        [first(false), first(true)].into_iter().flatten().collect()
    }

    /// Measures how much room the writes beside the beam have, under the likeliest suspect, each place and value once.
    fn measure(&self, table: &mut StepTable) {
        let (Some(schedule), Some(suspect)) = (&table.schedule, table.holds_under.first()) else { return };
        let adapter = self.search.bench.adapter();
        let tap = &self.search.suspects[*suspect].tap;
        let Some(register) = TimedRegister::new(adapter, &table.registers, schedule.field) else { return };
        let mut known: BTreeMap<(u32, u32, u32), Option<Slack>> = BTreeMap::new();
        let quiet = QuietFrame::new(adapter, &table.registers, &Plain);
        let mut measured = schedule.clone();
        for (step, writes) in table.steps.iter().zip(&mut measured.steps).filter(|(step, _)| !step.skipped) {
            let mut slack: Option<Slack> = None;
            for value in &writes.lines {
                let line = quiet.line(0, table.start(step), value.line);
                let place = line.linear / line.unit.max(1);
                let key = (place & (table.every - 1), value.value, register.kind_of(value));
                let of_line = known.entry(key).or_insert_with(|| register.slack(tap, place, *value));
                slack = match (slack, *of_line) {
                    (Some(all), Some(one)) => Some(all.and(one)),
                    (all, one) => all.or(one),
                };
            }
            writes.slack = slack;
        }
        table.schedule = Some(measured);
    }

    /// Keeps the first, and the largest wherever it stands.
    fn shorten(&self, tables: &mut Vec<StepTable>) {
        let largest = (0..tables.len()).min_by_key(|at| tables[*at].cost.pixels_lost);
        let widest = largest.filter(|at| *at >= MOST_TABLES).map(|at| tables.swap_remove(at));
        tables.truncate(MOST_TABLES - usize::from(widest.is_some()));
        tables.extend(widest);
    }

    /// The settings to look at: as many as can be afforded, every width at the pitch nearest the bench's first.
    fn affordable(&self, voting: &[usize], remarks: &mut Vec<String>) -> Vec<usize> {
        let settings = &self.search.settings;
        let place = LineDependencies::LINEAR | LineDependencies::LENGTH;
        let slow = voting.iter().any(|at| !place.contains(self.search.suspects[*at].tap.depends_on()));
        let off = |at: &usize| settings[*at].pitch_units.abs_diff(self.own.pitch_units);
        let mut order: Vec<usize> = (0..settings.len()).collect();
        order.sort_by_key(|at| (settings[*at].width(), off(at), *at));
        // Each setting with how many of its width stand before it.
        let mut before = 0;
        let ranked: Vec<(u32, usize)> = (0..order.len())
            .map(|place| {
                let same = place > 0 && settings[order[place]].width() == settings[order[place - 1]].width();
                before = if same { before + 1 } else { 0 };
                (before, order[place])
            })
            .collect();
        let mut order = ranked;
        order.sort_by_key(|(before, at)| (*before, std::cmp::Reverse(settings[*at].width()), *at));
        let lines_of_place = if slow { self.own.height * LINES_AGAIN } else { LINES_OF_PLACE };
        let lines = u64::from(self.own.places) * u64::from(lines_of_place) * voting.len() as u64;
        let most = (MOST_LINES / lines.max(1)).max(1) as usize;
        if most < order.len() {
            remarks.push(format!(
                "tables were made for {most} of {} settings: every width at the pitch nearest the bench's first",
                order.len()
            ));
        }
        order.into_iter().take(most).map(|(_, at)| at).collect()
    }

    fn of_setting(&self, at: usize, voting: &[usize]) -> Vec<StepTable> {
        let setting = &self.search.settings[at];
        // A period of positions is one of start addresses only where each place can be started at.
        if setting.starts != setting.places {
            return Vec::new();
        }
        let sum: f64 = voting.iter().map(|at| self.search.suspects[*at].probability).sum();
        let voter = |at: &usize| {
            let suspect = &self.search.suspects[*at];
            let weight = (suspect.probability / sum * VOTES).round().max(1.0) as u64;
            (*at, Voter { lines: Displacements::new(&suspect.tap, setting), weight })
        };
        let timing_changes = |at: &usize| {
            let timing = setting.quiet.timing();
            crate::fault_scan::changes_timing(&self.search.suspects[*at].tap, timing)
        };
        let voters: Vec<(usize, Voter<'_, T>)> = voting.iter().filter(|at| !timing_changes(at)).map(voter).collect();
        if voters.is_empty() {
            return Vec::new();
        }
        let finder = WayFinder {
            adapter: self.search.bench.adapter(),
            requirements: self.search.requirements,
            setting,
            voters: &voters,
            least_width: self.search.least_width,
            least_height: self.lowest,
            is_widest: setting.width() == self.widest(),
        };
        let tables = finder.drafts().into_iter().filter_map(|draft| {
            let step = finder.step(draft.stride);
            self.priced(at, draft, step)
        });
        tables.collect()
    }

    fn priced(&self, at: usize, draft: Draft, step: (u32, u32)) -> Option<StepTable> {
        let (setting, search) = (&self.search.settings[at], &self.search);
        let adapter = search.bench.adapter();
        let (fit, shown) = if draft.height == setting.height {
            (search.fits[at].clone(), setting.height)
        } else {
            let (registers, shown) = self.lowered(setting, draft.height)?;
            (search.fitter.fit(&registers)?, shown)
        };
        if !fit.accepted() && !search.requirements.out_of_margin {
            return None;
        }
        let shown_steps = || draft.steps.iter().filter(|step| !step.skipped);
        let first = shown_steps().next()?;
        let mut registers = fit.registers.clone();
        if let Some(schedule) = &draft.schedule {
            // The register is written in every frame, so it is left open.
            registers = TimedRegister::new(adapter, &registers, schedule.field)?.registers().clone();
        }
        let start = first.position.wrapping_add(first.ahead) & (setting.starts - 1);
        adapter.set(&mut registers, adapter.start_address(), u64::from(start)).ok()?;

        let copies = draft.copies.len() as u32;
        let clear_width = setting.width() - draft.border.left - draft.border.right;
        let (across, down) = self.search.costs.picture;
        let kept = clear_width.min(across) * draft.height.min(down);
        let column_bytes = step.0 * setting.line.bytes / setting.width().max(1);
        let sides = if draft.border.left + draft.border.right > 0 { 2 } else { 1 };
        let rows = draft.height + draft.border.rows_above + draft.border.rows_below;
        let redraw_bytes = (column_bytes * rows * sides + step.1 * setting.line.bytes) * copies * draft.jump;
        let picture = setting.rows(draft.height) * setting.pitch_units;
        let last = draft.copies.last().copied().unwrap_or(0);
        let units = match search.requirements.starts {
            None => setting.places,
            Some(_) => {
                let walked = u64::from(draft.of_steps - 1) * u64::from(draft.stride) + u64::from(last + picture);
                walked.min(u64::from(setting.places)) as u32
            }
        };
        let memory_bytes = units * setting.line.unit * setting.banks();
        if adapter.memory().bytes.saturating_sub(memory_bytes) < search.requirements.keep_free {
            return None;
        }
        let wrong = || shown_steps().map(|step| step.wrong.pixels);
        let writes = draft.schedule.iter().flat_map(|schedule| schedule.steps.iter().zip(&draft.steps));
        let shown_writes = || writes.clone().filter(|(_, step)| !step.skipped);
        let cost = TableCost {
            worst_wrong: wrong().max().unwrap_or(0),
            mean_wrong: wrong().map(f64::from).sum::<f64>() / shown_steps().count().max(1) as f64,
            jump: draft.jump,
            lines_below: shown.saturating_sub(draft.height),
            pixels_lost: (across * down).saturating_sub(kept),
            memory_bytes,
            redraw_bytes,
            blanked: shown_writes().map(|(writes, _)| writes.blanked).max().unwrap_or(0),
            line_writes: shown_writes().map(|(writes, _)| 2 * writes.lines.len() as u32).max().unwrap_or(0),
        };
        let probability = draft.holds_under.iter().map(|at| search.suspects[*at].probability).sum();
        Some(StepTable {
            registers,
            fit,
            width: setting.width(),
            height: draft.height,
            clear_width,
            pitch_bytes: setting.line.pitch,
            stride: draft.stride,
            step,
            ring: setting.starts,
            every: draft.every,
            steps: draft.steps,
            of_steps: draft.of_steps,
            copies: draft.copies,
            border: draft.border,
            schedule: draft.schedule,
            cost,
            holds_under: draft.holds_under,
            probability,
        })
    }

    /// Pixels across of the widest setting.
    fn widest(&self) -> u32 {
        self.search.settings.iter().map(Setting::width).max().unwrap_or(0)
    }

    /// The setting's registers with as few lines as they can show, but no fewer than `height`; and how many.
    fn lowered(&self, setting: &Setting, height: u32) -> Option<(Registers, u32)> {
        let adapter = self.search.bench.adapter();
        let Some(field) = self.search.requirements.lever(adapter, Role::VerticalDisplayed) else {
            return Some((setting.registers.clone(), setting.height));
        };
        let lowered = |stored: u32| {
            let mut registers = setting.registers.clone();
            adapter.set(&mut registers, field, u64::from(stored)).ok()?;
            let shown = Setting::new(adapter, registers.clone())?.height;
            (shown >= height).then_some((registers, shown))
        };
        (0..=adapter.field_info(field).max()).filter_map(lowered).min_by_key(|(_, shown)| *shown)
    }

    fn proven(&self, table: &StepTable) -> bool {
        table.holds_under.iter().all(|at| holds_rendered(self.search.bench, table, &self.search.suspects[*at].tap))
    }
}
