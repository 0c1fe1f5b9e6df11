//! Margins: a routine run from many start phases and at several speeds.
//!
//! A hazard that strikes "every now and again" strikes at some phases of the
//! polling loop against the beam and not at others. A sweep starts the routine
//! at dots spread over a frame and counts: how many runs and how many frames
//! each kind of hazard strikes, with the sampling error of that share.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use backporch_adapter::{Adapter, Registers};
use backporch_raster::{Board, Tap};
use backporch_script::{
    Cpu, CpuModel, Event, FrameRecord, Moment, NORMAL_SPEED, Program, RunError, Runner, SourcePicture, chance,
};
use backporch_signal::Monitor;
use rayon::prelude::*;

use crate::hazard::{Hazard, HazardKind, Inspector, MeantLayout, Surroundings};

/// Frames at a run's beginning that are not counted: the routine finds its place in them.
pub const SETTLING_FRAMES: u64 = 2;

/// Everything a run needs.
#[derive(Clone, Debug)]
pub struct Trial<T: Tap> {
    /// Board at the start of frame 0.
    pub board: Board<T>,
    /// Routine.
    pub program: Arc<Program>,
    /// CPU model.
    pub model: Arc<CpuModel>,
    /// Picture to draw from.
    pub picture: Option<Arc<SourcePicture>>,
    /// Monitor.
    pub monitor: Option<Monitor>,
    /// How the picture lies in memory.
    pub layout: Option<MeantLayout>,
    /// Seed of all chance.
    pub seed: u64,
}

/// Which phases and speeds to try.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MarginSweep {
    /// Number of start phases, spread over a frame.
    pub phases: u32,
    /// Speeds of the processor, in thousandths of the model's.
    pub speeds: Vec<u32>,
    /// Frames of each run, those it settles in included.
    pub frames: u64,
    /// Frames at a run's beginning that are not counted.
    pub settling: u64,
    /// How the phases are spread.
    pub spread: PhaseSpread,
}

/// How start phases are spread over a frame.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PhaseSpread {
    /// One by chance in each of as many equal parts.
    #[default]
    ByChance,
    /// At equal steps from 0 on: the room around the beginning is found, too.
    Even,
}

impl Default for MarginSweep {
    /// 70 phases at 95, 100 and 105 hundredths of the speed, 8 frames each.
    fn default() -> Self {
        Self {
            phases: 70,
            speeds: vec![950, NORMAL_SPEED, 1050],
            frames: 8,
            settling: SETTLING_FRAMES,
            spread: PhaseSpread::ByChance,
        }
    }
}

impl MarginSweep {
    /// Every run's start dot and speed.
    #[must_use]
    pub fn runs(&self, frame_dots: u64, seed: u64) -> Vec<(u64, u32)> {
        let mut state = seed;
        let phases = u64::from(self.phases.max(1));
        let starts: Vec<u64> = (0..phases)
            .map(|phase| {
                let (from, to) = (phase * frame_dots / phases, (phase + 1) * frame_dots / phases);
                match self.spread {
                    PhaseSpread::ByChance => from + chance(&mut state) % (to - from).max(1),
                    PhaseSpread::Even => from,
                }
            })
            .collect();
        self.speeds.iter().flat_map(|speed| starts.iter().map(|start| (*start, *speed))).collect()
    }

    /// Makes every run and counts what struck. `judge` runs the driver from a dot at a speed and shows a
    /// [`FrameJudge`] its frames; `done` is called after each run.
    ///
    /// # Errors
    /// The first of `judge`'s.
    pub fn margins<E: Send>(
        &self,
        (frame_dots, seed): (u64, u64),
        judge: &(dyn Fn(u64, u32) -> Result<Judged, E> + Sync),
        done: &(dyn Fn() + Sync),
    ) -> Result<Margins, E> {
        let run = |&(start_dot, speed): &(u64, u32)| {
            let judged = judge(start_dot, speed)?;
            done();
            Ok(Outcome { start_dot, speed, judged: judged.within(self.settling..self.frames) })
        };
        let outcomes: Vec<Outcome> = self.runs(frame_dots, seed).par_iter().map(run).collect::<Result<_, E>>()?;
        let margins = gathered(&outcomes, self.frames.saturating_sub(self.settling));
        let room = (self.spread == PhaseSpread::Even).then(|| Room::of(&outcomes, frame_dots));
        Ok(Margins { room: room.flatten(), ..margins })
    }
}

/// Dots of a frame under these registers.
#[must_use]
pub fn frame_dots(adapter: &Adapter, registers: &Registers) -> u64 {
    let timing = adapter.timing(registers);
    let format = adapter.format(adapter.format_index(registers));
    u64::from(timing.chars()) * u64::from(timing.lines()) * u64::from(format.char_dots)
}

/// How often something struck out of how many.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Count {
    /// Times it struck.
    pub struck: u64,
    /// Out of.
    pub of: u64,
}

impl Count {
    /// The share, 0 to 1.
    #[must_use]
    pub fn share(self) -> f64 {
        if self.of == 0 { 0.0 } else { self.struck as f64 / self.of as f64 }
    }

    /// The interval that holds the true share with 95 % confidence (Wilson's
    /// score interval).
    #[must_use]
    pub fn interval(self) -> (f64, f64) {
        const Z: f64 = 1.959_963_984_540_054;
        if self.of == 0 {
            return (0.0, 1.0);
        }
        let (n, p) = (self.of as f64, self.share());
        let middle = (p + Z * Z / (2.0 * n)) / (1.0 + Z * Z / n);
        let half = Z / (1.0 + Z * Z / n) * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
        ((middle - half).max(0.0), (middle + half).min(1.0))
    }
}

/// One kind of hazard over all runs.
#[derive(Clone, Debug, PartialEq)]
pub struct KindMargin {
    /// Its kind.
    pub kind: HazardKind,
    /// Runs (a phase at a speed) in which it struck.
    pub runs: Count,
    /// Frames in which it struck.
    pub frames: Count,
    /// The first of them, as an example.
    pub example: Hazard,
    /// Start dot and speed of that run.
    pub found_at: (u64, u32),
}

/// The outcome of a sweep.
#[derive(Clone, Debug, PartialEq)]
pub struct Margins {
    /// Number of runs.
    pub runs: u64,
    /// Frames counted in all of them.
    pub frames: u64,
    /// Every kind that struck at all.
    pub kinds: Vec<KindMargin>,
    /// Least distance of a change of the start address to a take-over, in dots.
    pub nearest_latch: Option<u64>,
    /// By how much the start may move, where that was looked for.
    pub room: Option<Room>,
}

/// By how much a run may come earlier or later before a kind strikes that does not strike where it is, in dots.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Room {
    /// Earlier by this.
    pub earlier: u64,
    /// Later by this.
    pub later: u64,
    /// It was tried at steps of this many.
    pub step: u64,
    /// Whether nothing else strikes wherever in a frame it begins.
    pub anywhere: bool,
}

impl Room {
    /// From runs at equal steps of which the first is where it is.
    fn of(outcomes: &[Outcome], frame_dots: u64) -> Option<Self> {
        let first = outcomes.first().filter(|first| first.start_dot == 0)?;
        let own: Vec<&Outcome> = outcomes.iter().filter(|outcome| outcome.speed == first.speed).collect();
        let known = first.kinds();
        let holds = |outcome: &&&Outcome| outcome.kinds().is_subset(&known);
        let anywhere = own.iter().all(|outcome| holds(&outcome));
        let later = own.iter().take_while(holds).last()?.start_dot;
        let earlier = own.iter().rev().take_while(holds).last().map_or(0, |outcome| frame_dots - outcome.start_dot);
        Some(Self { earlier: earlier.min(frame_dots), later, step: frame_dots.div_ceil(own.len() as u64), anywhere })
    }
}

impl Margins {
    /// Whether nothing struck in any run.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.kinds.is_empty()
    }

    /// The margin of a kind, where it struck.
    #[must_use]
    pub fn kind(&self, kind: HazardKind) -> Option<&KindMargin> {
        self.kinds.iter().find(|margin| margin.kind == kind)
    }
}

/// What was found in one run.
#[derive(Clone, Debug)]
pub struct Judged {
    hazards: Vec<Hazard>,
    nearest_latch: Option<u64>,
}

impl Judged {
    fn within(mut self, frames: std::ops::Range<u64>) -> Self {
        self.hazards.retain(|hazard| frames.contains(&hazard.frame));
        self
    }
}

/// Looks at the frames of one run.
#[derive(Clone, Debug)]
pub struct FrameJudge {
    inspector: Inspector,
    nearest: Nearest,
}

impl FrameJudge {
    /// For boards of this class.
    #[must_use]
    pub fn new(adapter: Arc<Adapter>, around: Surroundings) -> Self {
        Self { inspector: Inspector::new(adapter, around), nearest: Nearest::default() }
    }

    /// Looks at the next frame.
    pub fn see(&mut self, record: FrameRecord) {
        self.nearest.see(&record);
        self.inspector.see(record);
    }

    /// What was found. `waiting` is a wait that has not ended, and its first dot.
    #[must_use]
    pub fn finish(self, waiting: Option<(Moment, u64)>) -> Judged {
        Judged { hazards: self.inspector.finish(waiting), nearest_latch: self.nearest.distance }
    }
}

/// One run of a sweep.
struct Outcome {
    start_dot: u64,
    speed: u32,
    judged: Judged,
}

impl Outcome {
    /// The kinds that struck.
    fn kinds(&self) -> BTreeSet<HazardKind> {
        self.judged.hazards.iter().map(|hazard| hazard.kind).collect()
    }
}

impl<T: Tap + Clone + Send + Sync> Trial<T> {
    /// The routine at its first instruction, at a dot and a speed.
    ///
    /// # Errors
    /// Where the routine draws from a picture and there is none.
    pub fn runner(&self, start_dot: u64, speed: u32) -> Result<Runner<T>, RunError> {
        let cpu = Cpu::new(Arc::clone(&self.model), self.board.adapter(), self.board.registers(), speed);
        let (program, picture) = (Arc::clone(&self.program), self.picture.clone());
        Ok(Runner::new(self.board.clone(), program, cpu, picture, self.seed)?.starting_at(start_dot))
    }

    /// Runs every phase at every speed. `done` is called after each run.
    ///
    /// # Errors
    /// Where the routine draws from a picture and there is none.
    pub fn margins(&self, sweep: &MarginSweep, done: &(dyn Fn() + Sync)) -> Result<Margins, RunError> {
        let dots = frame_dots(self.board.adapter(), self.board.registers());
        sweep.margins((dots, self.seed), &|start, speed| self.run(start, speed, sweep.frames), done)
    }

    fn run(&self, start_dot: u64, speed: u32, frames: u64) -> Result<Judged, RunError> {
        let mut runner = self.runner(start_dot, speed)?;
        let around = Surroundings {
            dot_clock: Some(self.board.dot_clock()),
            cpu: Some(runner.cpu().clone()),
            poll_extra_clocks: self.program.file().poll_extra_clocks,
            monitor: self.monitor.clone(),
            layout: self.layout,
        };
        let mut judge = FrameJudge::new(Arc::clone(self.board.adapter()), around);
        for _ in 0..frames {
            judge.see(runner.next_record());
        }
        Ok(judge.finish(runner.waiting()))
    }
}

/// The least distance between a change of the start address and a take-over.
#[derive(Clone, Debug, Default)]
struct Nearest {
    last_latch: Option<u64>,
    distance: Option<u64>,
}

impl Nearest {
    fn see(&mut self, record: &FrameRecord) {
        let latch = record.latch_dot();
        for event in &record.events {
            let Event::Port(access) = event else { continue };
            if access.start.is_none_or(|(before, after)| before == after) {
                continue;
            }
            let latches = self.last_latch.into_iter().chain([latch]);
            let near = latches.map(|latch| latch.abs_diff(access.at.dot)).min();
            self.distance = [self.distance, near].into_iter().flatten().min();
        }
        self.last_latch = Some(latch);
    }
}

fn gathered(outcomes: &[Outcome], frames: u64) -> Margins {
    let runs = outcomes.len() as u64;
    let mut kinds: BTreeMap<HazardKind, KindMargin> = BTreeMap::new();
    for outcome in outcomes {
        let mut struck: BTreeMap<HazardKind, BTreeSet<u64>> = BTreeMap::new();
        for hazard in &outcome.judged.hazards {
            struck.entry(hazard.kind).or_default().insert(hazard.frame);
            kinds.entry(hazard.kind).or_insert_with(|| KindMargin {
                kind: hazard.kind,
                runs: Count { struck: 0, of: runs },
                frames: Count { struck: 0, of: runs * frames },
                example: hazard.clone(),
                found_at: (outcome.start_dot, outcome.speed),
            });
        }
        for (kind, frames) in struck {
            if let Some(margin) = kinds.get_mut(&kind) {
                margin.runs.struck += 1;
                margin.frames.struck += frames.len() as u64;
            }
        }
    }
    Margins {
        runs,
        frames: runs * frames,
        kinds: kinds.into_values().collect(),
        nearest_latch: outcomes.iter().filter_map(|outcome| outcome.judged.nearest_latch).min(),
        room: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Wilson's score interval for 1 of 10 and 0 of 20 at 95 %: values of
    /// published tables of the interval.
    #[test]
    fn intervals_are_those_of_the_tables() {
        let near = |(a, b): (f64, f64), (c, d): (f64, f64)| (a - c).abs() < 5e-4 && (b - d).abs() < 5e-4;
        assert!(near(Count { struck: 1, of: 10 }.interval(), (0.0179, 0.4042)));
        assert!(near(Count { struck: 0, of: 20 }.interval(), (0.0, 0.1611)));
        assert_eq!(Count::default().interval(), (0.0, 1.0));
    }
}
