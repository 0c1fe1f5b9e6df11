//! The ways one setting offers: a table as it is, with a border, with jumps, with copies, with lines made shorter.

use std::sync::Arc;

use backporch_adapter::Adapter;
use backporch_raster::Tap;
use num_integer::gcd;

use super::frame_schedule::{FrameSchedule, LineValue};
use super::scheduled::LineAim;
use super::start_choice::{Choice, Voter, Wrong, WrongStretch, choices, wrong_stretches};
use super::{Border, TableStep};
use crate::claims::{step_lines, stride};
use crate::requirements::{Direction, Origin, Requirements};
use crate::setting::Setting;

/// A table that shows less than all but so small a part of its pixels right is none.
const MOST_LOST: u64 = 4;
/// Most copies of a picture that are tried.
const MOST_COPIES: u32 = 4;
/// Start addresses after which a table that comes again is called long.
const LONG_PERIOD: u32 = 4096;
/// Positions looked at when origins or copies are compared, at most.
const MOST_LOOKED_AT: u64 = 1 << 26;

/// A table before its registers and price are settled.
#[derive(Clone, Debug)]
pub(crate) struct Draft {
    pub height: u32,
    pub stride: u32,
    pub every: u32,
    pub steps: Vec<TableStep>,
    pub of_steps: u32,
    pub copies: Vec<u32>,
    pub border: Border,
    pub jump: u32,
    /// What is written beside the beam.
    pub schedule: Option<FrameSchedule>,
    /// Suspects under which no step is worse than stated.
    pub holds_under: Vec<usize>,
}

impl Draft {
    /// The lines of a step that are of other lengths.
    fn shorter(&self, step: usize) -> &[LineValue] {
        self.schedule.as_ref().and_then(|schedule| schedule.steps.get(step)).map_or(&[], |step| &step.lines)
    }
}

/// One setting before the suspects that have a vote.
pub(crate) struct WayFinder<'a, T> {
    pub adapter: &'a Arc<Adapter>,
    pub requirements: &'a Requirements,
    pub setting: &'a Setting,
    /// The likeliest first, each with its position among all suspects.
    pub voters: &'a [(usize, Voter<'a, T>)],
    pub least_width: u32,
    pub least_height: u32,
    /// Whether no setting shows more pixels across: then lines may be made shorter one by one.
    pub is_widest: bool,
}

/// The positions of a scroll that differ.
struct Walk {
    stride: u32,
    positions: Vec<u32>,
    of_steps: u32,
    /// Whether they go around, the first after the last.
    goes_around: bool,
}

impl<T: Tap> WayFinder<'_, T> {
    /// Every way worth a price; none where the obvious start addresses are all clean.
    pub fn drafts(&self) -> Vec<Draft> {
        let height = self.setting.height;
        let (best, votes) = (self.choices(height), self.votes(height));
        let walk = self.walk(|position| Self::lost(&best, votes, position));
        if Self::is_hopeless(&best, votes, &walk) {
            return self.with_copies().into_iter().collect();
        }
        let table = self.table(&walk, height, &best);
        let clean = table.steps.iter().all(|step| step.wrong.is_none());
        if clean && table.steps.iter().all(|step| step.ahead == 0) {
            return Vec::new();
        }
        let mut drafts = Vec::new();
        if !clean {
            drafts.extend(self.bordered(&table));
            drafts.extend(self.with_jumps(&table, walk.goes_around));
            drafts.extend(self.with_copies());
            let hiding = self.scheduled(&table, LineAim::NothingWrong);
            drafts.extend(hiding.and_then(|scheduled| self.with_jumps(&scheduled, walk.goes_around)));
            drafts.extend(self.scheduled(&table, LineAim::LeastAmiss));
        }
        drafts.push(table);
        drafts
    }

    pub(super) fn period(&self) -> u32 {
        self.voters.iter().map(|(_, voter)| voter.lines.period()).max().unwrap_or(1)
    }

    fn choices(&self, height: u32) -> Vec<Choice> {
        choices(self.setting, height, self.voters.iter().map(|(_, voter)| voter), self.period())
    }

    /// All votes at a position, for a picture of `height` lines.
    fn votes(&self, height: u32) -> u64 {
        let weight: u64 = self.voters.iter().map(|(_, voter)| voter.weight).sum();
        weight * u64::from(height) * u64::from(self.setting.line.bytes)
    }

    /// Votes for what is shown wrong at a position, `best` having one choice for each up to the period.
    fn lost(best: &[Choice], votes: u64, position: u32) -> u64 {
        votes - best[position as usize & (best.len() - 1)].right
    }

    /// Whether more is wrong than anybody would look at.
    fn is_hopeless(best: &[Choice], votes: u64, walk: &Walk) -> bool {
        let lost: u64 = walk.positions.iter().map(|position| Self::lost(best, votes, *position)).sum();
        lost * MOST_LOST > votes * walk.positions.len() as u64
    }

    /// The positions from the origin at which least is lost, the lowest of several.
    fn walk(&self, lost: impl Fn(u32) -> u64) -> Walk {
        let (ring, period) = (self.setting.starts, self.period());
        let stride = stride(self.requirements, self.setting);
        let cycle = period / gcd(stride, period);
        let (of_steps, origins, first) = match &self.requirements.starts {
            None => {
                let class = gcd(stride, ring);
                (ring / class, class.min(period), 0)
            }
            Some(range) => {
                let count = ((range.end() - range.start()) / stride).saturating_add(1).min(ring);
                match self.requirements.origin {
                    Origin::Fixed => (count, 1, range.start() & (ring - 1)),
                    Origin::Free => (count, period, 0),
                }
            }
        };
        let count = of_steps.min(cycle);
        let positions = |origin: u32| (0..count).map(move |k| origin.wrapping_add(k.wrapping_mul(stride)) & (ring - 1));
        let most = (MOST_LOOKED_AT / u64::from(count)).clamp(1, u64::from(origins)) as u32;
        let all_lost = |origin: &u32| positions(first + *origin).map(&lost).sum::<u64>();
        let origin = (0..most).min_by_key(all_lost).unwrap_or(0);
        Walk { stride, positions: positions(first + origin).collect(), of_steps, goes_around: of_steps >= cycle }
    }

    fn table(&self, walk: &Walk, height: u32, best: &[Choice]) -> Draft {
        let step = |position: &u32| {
            let ahead = best[(position & (self.period() - 1)) as usize].ahead;
            TableStep {
                position: *position,
                ahead,
                copy: 0,
                wrong: self.wrong(height, (*position, ahead)),
                skipped: false,
            }
        };
        let steps = walk.positions.iter().map(step).collect();
        self.draft(walk, height, steps)
    }

    fn draft(&self, walk: &Walk, height: u32, steps: Vec<TableStep>) -> Draft {
        let mut draft = Draft {
            height,
            stride: walk.stride,
            every: self.period(),
            steps,
            of_steps: walk.of_steps,
            copies: vec![0],
            border: Border::default(),
            jump: 1,
            schedule: None,
            holds_under: Vec::new(),
        };
        draft.holds_under = self.holding(&draft);
        draft
    }

    /// What is wrong under the likeliest suspect.
    fn wrong(&self, height: u32, at: (u32, u32)) -> Wrong {
        let stretches =
            self.voters.first().map(|(_, voter)| wrong_stretches(self.setting, height, &voter.lines, at, &[]));
        Wrong::of(self.setting, &stretches.unwrap_or_default())
    }

    /// Suspects under which no step is worse than stated.
    pub(super) fn holding(&self, draft: &Draft) -> Vec<usize> {
        let holds = |voter: &Voter<'_, T>| {
            draft.steps.iter().enumerate().filter(|(_, step)| !step.skipped).all(|(number, step)| {
                let base = step.position.wrapping_add(draft.copies[step.copy as usize]);
                let at = (base, step.ahead.wrapping_sub(draft.copies[step.copy as usize]) & (self.setting.places - 1));
                let stretches = wrong_stretches(self.setting, draft.height, &voter.lines, at, draft.shorter(number));
                let found = Wrong::of(self.setting, &stretches);
                let hidden = || draft.border != Border::default() && border_of(self.setting, &draft.border, &stretches);
                found.pixels <= step.wrong.pixels && found.left <= step.wrong.left && found.right <= step.wrong.right
                    || hidden()
            })
        };
        let mut holding: Vec<usize> = Vec::new();
        for (at, (position, voter)) in self.voters.iter().enumerate() {
            if at == 0 || holds(voter) {
                holding.push(*position);
            }
        }
        holding
    }

    /// The same with everything wrong inside a border, where what is shown there is border as well.
    fn bordered(&self, table: &Draft) -> Option<Draft> {
        let (_, voter) = self.voters.first()?;
        // At least a step wide, so that what leaves the picture goes into one border and what enters comes out of the other.
        let step = self.step(table.stride).0;
        let left = table.steps.iter().map(|step| step.wrong.left).max()?.max(step);
        let right = table.steps.iter().map(|step| step.wrong.right).max()?.max(step);
        let width = self.setting.width();
        if self.requirements.direction != Direction::Horizontal || left + right + self.least_width > width {
            return None;
        }
        let rows = self.setting.rows(table.height);
        let spare = self.setting.places / self.setting.pitch_units - rows;
        let most = spare / 2;
        let border = Border { left, right, rows_above: most.min(1), rows_below: most.min(1) };
        let hidden = table.steps.iter().all(|step| {
            let at = (step.position, step.ahead);
            border_of(self.setting, &border, &wrong_stretches(self.setting, table.height, &voter.lines, at, &[]))
        });
        let steps = table.steps.iter().map(|step| TableStep { wrong: Wrong::default(), ..*step }).collect();
        let mut draft = Draft { border, steps, ..table.clone() };
        draft.holds_under = self.holding(&draft);
        hidden.then_some(draft)
    }

    /// The same without the positions at which something is wrong, where most are left.
    fn with_jumps(&self, table: &Draft, goes_around: bool) -> Option<Draft> {
        let skip = |step: &TableStep| TableStep { skipped: !step.wrong.is_none(), ..*step };
        let steps: Vec<TableStep> = table.steps.iter().map(skip).collect();
        let left = steps.iter().filter(|step| !step.skipped).count();
        let turns = if goes_around { 2 } else { 1 };
        let (mut run, mut longest) = (0, 0);
        for step in steps.iter().cycle().take(steps.len() * turns) {
            run = if step.skipped { run + 1 } else { 0 };
            longest = longest.max(run);
        }
        let mut draft = Draft { steps, jump: longest + 1, ..table.clone() };
        draft.holds_under = self.holding(&draft);
        (left * 2 >= table.steps.len()).then_some(draft)
    }

    /// The fewest copies of the highest picture of which one is clean at every position; not looked for where
    /// every line has to be asked about anew.
    fn with_copies(&self) -> Option<Draft> {
        if self.voters.iter().any(|(_, voter)| voter.lines.is_slow()) {
            return None;
        }
        // More than two take longer than they are worth where nothing repeats.
        let most = if self.period() > LONG_PERIOD { 2 } else { MOST_COPIES };
        (2..=most).find_map(|copies| {
            let row = self.setting.lines_of_row;
            let most =
                (self.setting.places / copies / self.setting.pitch_units).min(self.setting.rows(self.setting.height));
            let least = self.least_height.div_ceil(row);
            // Fewer rows are clean wherever more are, and leave more room between the copies.
            let (mut holds, mut fails) = (None, most + 1);
            let mut low = least;
            while low < fails {
                let middle = low + (fails - low) / 2;
                match self.copies(copies, middle * row) {
                    Some(found) => {
                        holds = Some(found);
                        low = middle + 1;
                    }
                    None => fails = middle,
                }
            }
            holds
        })
    }

    /// This many copies of a picture so high, evenly spaced.
    fn copies(&self, copies: u32, height: u32) -> Option<Draft> {
        let (places, period) = (self.setting.places, self.period());
        let picture = self.setting.rows(height) * self.setting.pitch_units;
        let room = places.checked_sub(picture)? / (copies - 1);
        let (best, votes) = (self.choices(height), self.votes(height));
        let clean: Vec<bool> = (0..period).map(|position| Self::lost(&best, votes, position) == 0).collect();
        let at = |position: u32| (position & (period - 1)) as usize;
        let walk = self.walk(|_| 0);
        let copy_of = |position: u32, apart: u32| {
            (0..copies).find(|copy| clean[at(position.wrapping_add(copy.wrapping_mul(apart)))])
        };
        // Distances that differ by the period come to the same.
        let mut looked_at = 0;
        let apart = (picture..=room).take(period as usize).find(|apart| {
            looked_at < MOST_LOOKED_AT
                && walk.positions.iter().all(|position| {
                    looked_at += 1;
                    copy_of(*position, *apart).is_some()
                })
        })?;
        let step = |position: &u32| {
            let copy = copy_of(*position, apart).unwrap_or(0);
            let on = copy.wrapping_mul(apart);
            let ahead = best[at(position.wrapping_add(on))].ahead.wrapping_add(on) & (places - 1);
            TableStep { position: *position, ahead, copy, wrong: Wrong::default(), skipped: false }
        };
        let steps: Vec<TableStep> = walk.positions.iter().map(step).collect();
        let mut draft = self.draft(&walk, height, Vec::new());
        draft.steps = steps;
        draft.copies = (0..copies).map(|copy| copy * apart).collect();
        draft.holds_under = self.holding(&draft);
        Some(draft)
    }

    /// Pixels and picture lines of a step.
    pub fn step(&self, stride: u32) -> (u32, u32) {
        let (setting, lines) = (self.setting, step_lines(self.requirements, self.setting));
        match self.requirements.direction {
            Direction::Horizontal => (stride * setting.pixels_of_unit(), 0),
            Direction::Vertical => (0, lines),
            Direction::Both => (stride * setting.pixels_of_unit(), lines),
        }
    }
}

/// Whether all that is wrong lies in the border and shows border.
fn border_of(setting: &Setting, border: &Border, stretches: &[WrongStretch]) -> bool {
    let bytes =
        |pixels: u32| (u64::from(pixels) * u64::from(setting.line.bytes) / u64::from(setting.width().max(1))) as u32;
    let (left, right) = (bytes(border.left), setting.line.bytes - bytes(border.right));
    let pitch = i64::from(setting.line.pitch);
    let rows = -i64::from(border.rows_above)..i64::from(setting.rows(setting.height) + border.rows_below);
    let is_border = |column: i64| column < i64::from(left) || column >= i64::from(right);
    stretches.iter().all(|stretch| {
        (stretch.from..stretch.from + stretch.len).zip(0..).all(|(at, further): (u32, i64)| {
            let shown = stretch.shows.is_some_and(|shows| {
                let shows = shows + further;
                rows.contains(&shows.div_euclid(pitch)) && is_border(shows.rem_euclid(pitch))
            });
            is_border(i64::from(at)) && shown
        })
    })
}
