//! The search: every setting, every start address, every step and origin.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicU64, Ordering};

use backporch_adapter::Registers;
use backporch_bench::Bench;
use backporch_raster::Tap;
use rayon::prelude::*;

use super::candidate::{Candidate, Cost, Failing, worth_showing};
use super::confirm::{holds, rendered};
use super::fit::{Fit, Fitter, SIGNAL_LEVERS, Sound};
use super::impossible::{Impossible, check};
use super::judge::{FRAMES_LOOKED_AT, Ground, Judge, bends_timing};
use super::need::Need;
use super::offer::{Claim, Offering};
use super::price::Pricing;
use super::ring::Ring;
use super::setting::{Levers, Setting};

/// Candidates that rendering may disprove before a search gives up.
const MOST_TRIES: usize = 64;
/// Most partial answers.
const MOST_PARTIAL: usize = 12;
/// Most partial answers whose failing start addresses have to be rendered.
const MOST_PARTIAL_RENDERED: usize = 3;

/// Told how much of how much is done, from any thread.
type Progress<'a> = dyn Fn(u64, u64) + Sync + 'a;

/// A fault that may be the one, and how likely that is.
#[derive(Clone, Debug)]
pub struct Suspect<T> {
    /// What it is called.
    pub name: String,
    /// The fault.
    pub tap: T,
    /// Probability, 0 to 1.
    pub probability: f64,
}

/// What a search found.
#[derive(Clone, Debug)]
pub struct Answer {
    /// Settings that hold against some suspect, none covered by another, the
    /// ones most likely to hold first, then those that give up least.
    pub candidates: Vec<Candidate>,
    /// Where nothing holds against every suspect: the best that can be had at
    /// the need's own step, and where it fails.
    pub partial: Vec<Candidate>,
    /// Settings of sufficient size that the monitor refuses.
    pub refused: u32,
    /// Settings judged.
    pub settings: u32,
    /// Widths judged, in pixels, least and most.
    pub widths: (u32, u32),
    /// What was searched whole, what was left out and why.
    pub remarks: Vec<String>,
}

impl Answer {
    /// The widest picture that holds against every suspect at the smallest step that was asked for.
    #[must_use]
    pub fn widest(&self, need: &Need) -> Option<u32> {
        let holding = self.candidates.iter().filter(|one| one.failing.is_none());
        let own_step = |one: &&Candidate| {
            one.cost.step_pixels <= need.step_pixels.unwrap_or(one.smallest_step.0)
                && one.cost.step_lines <= need.step_lines.unwrap_or(one.smallest_step.1)
        };
        holding.filter(own_step).map(|one| one.width).max()
    }

    /// Whether some candidate holds against every suspect.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.candidates.iter().any(|candidate| candidate.failing.is_none())
    }
}

/// Searches for settings that hold against all `suspects`, weighted by their
/// probabilities. `progress` is told how many settings of how many are judged,
/// from any thread.
///
/// # Errors
/// Where the need cannot be met by any board, in words.
pub fn search<T: Tap + Clone + Send + Sync>(
    bench: &Bench,
    need: &Need,
    suspects: &[Suspect<T>],
    progress: &Progress<'_>,
) -> Result<Answer, Impossible> {
    let adapter = bench.adapter();
    let sound = |registers: &Registers| {
        let timing = adapter.timing(registers);
        !suspects.iter().any(|suspect| bends_timing(&suspect.tap, &timing))
    };
    Ok(Search::new(bench, need, suspects, &sound)?.run(progress))
}

struct Search<'a, T> {
    bench: &'a Bench,
    need: &'a Need,
    suspects: &'a [Suspect<T>],
    weights: Vec<f64>,
    fitter: Fitter<'a>,
    /// Leaves totals and sync as they are on the bench.
    untouched: Fitter<'a>,
    settings: Vec<Setting>,
    fits: Vec<Fit>,
    refused: u32,
    crowded: u32,
    least_height: u32,
    pricing: Pricing<'a>,
}

impl<'a, T: Tap + Clone + Send + Sync> Search<'a, T> {
    fn new(
        bench: &'a Bench,
        need: &'a Need,
        suspects: &'a [Suspect<T>],
        sound: &'a Sound<'a>,
    ) -> Result<Self, Impossible> {
        let adapter = bench.adapter();
        if suspects.is_empty() {
            return Err(Impossible::NoFault);
        }
        let own = Setting::new(adapter, bench.registers().clone()).ok_or(Impossible::NoPicture)?;
        check(bench, need, &own)?;
        let start_up = adapter.start_up(bench.mode());
        let fitter = |need: &Need| Fitter::new(adapter, &start_up, bench.registers(), bench.monitor(), need, sound);
        let mut search = Self {
            bench,
            need,
            suspects,
            weights: suspects.iter().map(|suspect| suspect.probability).collect(),
            fitter: fitter(need).ok_or(Impossible::NoSignal)?,
            untouched: fitter(&Need { may_change: BTreeSet::new(), ..need.clone() }).ok_or(Impossible::NoSignal)?,
            settings: Vec::new(),
            fits: Vec::new(),
            refused: 0,
            crowded: 0,
            least_height: need.least_height.unwrap_or(own.height).max(1),
            pricing: Pricing { adapter, need, picture: (own.width(), own.height) },
        };
        search.collect(need.least_width.unwrap_or(own.width().div_ceil(2)))?;
        Ok(search)
    }

    /// All settings large enough that have room in memory and a signal.
    fn collect(&mut self, least_width: u32) -> Result<(), Impossible> {
        let adapter = self.bench.adapter();
        let least = (least_width, self.least_height);
        let mut first_refusal = None;
        for setting in Levers::new(adapter, self.need).settings(adapter, self.bench.registers(), least) {
            if !setting.has_room_for(self.least_height) {
                self.crowded += 1;
                continue;
            }
            match self.fitter.fit(&setting.registers) {
                Some(fit) if fit.accepted() || self.need.out_of_margin => {
                    // Judged with the timing it will have: a fault may bend that.
                    if let Some(fitted) = Setting::new(adapter, fit.registers.clone()) {
                        self.settings.push(fitted);
                        self.fits.push(fit);
                    }
                }
                Some(fit) => {
                    self.refused += 1;
                    first_refusal = first_refusal.or(fit.judgement);
                }
                None => {}
            }
        }
        if !self.settings.is_empty() {
            return Ok(());
        }
        Err(match (first_refusal, self.bench.monitor()) {
            (Some(judgement), Some(monitor)) => Impossible::monitor(monitor, &judgement),
            _ => Impossible::size(least, self.crowded),
        })
    }

    fn run(&self, progress: &Progress<'_>) -> Answer {
        let judge = |suspect: &'a Suspect<T>| {
            Judge::new(&suspect.tap, &self.settings).of_starts(self.need.fixed_starts().cloned())
        };
        let judges: Vec<Judge<'_, T>> = self.suspects.iter().map(judge).collect();
        let (of, judged) = (self.settings.len() as u64, AtomicU64::new(0));
        let claims = |setting: &Setting| {
            let claims = self.offering(&judges, setting, |offering| offering.claims_from(1));
            progress(judged.fetch_add(1, Ordering::Relaxed) + 1, of);
            claims
        };
        let claims: Vec<Vec<Claim>> = self.settings.par_iter().map(claims).collect();

        let to_render: Vec<bool> = judges.iter().map(Judge::needs_rendering).collect();
        let holding = claims.iter().enumerate().flat_map(|(at, claims)| claims.iter().map(move |claim| (at, claim)));
        let pool = holding.filter_map(|(at, claim)| self.candidate(at, claim)).collect();
        let (mut candidates, given_up) = self.proven(pool, &judges, &to_render, progress);
        let holds = candidates.iter().any(|candidate| candidate.failing.is_none());
        let mut partial = if holds { Vec::new() } else { self.partial(&judges, &to_render, progress) };
        if self.suspects.len() == 1 {
            // What might touch the picture at hand and, rendered, does not.
            let spared = partial.extract_if(.., |one| one.failing.as_ref().is_some_and(|one| one.runs.is_empty()));
            candidates.extend(spared.map(|one| self.spared(one)));
            candidates = worth_showing(candidates);
        }
        let mut remarks = self.remarks(&to_render, judges.iter().any(Judge::changes_with_frames));
        if given_up {
            remarks.push(format!(
                "{MOST_TRIES} candidates were disproved by rendering; the rest was left alone, so something may hold \
                 that is not listed"
            ));
        }
        let widths = self.settings.iter().map(Setting::width);
        Answer {
            widths: (widths.clone().min().unwrap_or(0), widths.max().unwrap_or(0)),
            settings: self.settings.len() as u32,
            refused: self.refused,
            remarks,
            candidates,
            partial,
        }
    }

    /// Asks something of one setting before every suspect.
    fn offering<A>(&self, judges: &[Judge<'_, T>], setting: &Setting, ask: impl FnOnce(&Offering<'_>) -> A) -> A {
        let adapter = self.bench.adapter();
        let grounds: Vec<Ground> = judges.iter().map(|judge| judge.ground(adapter, setting)).collect();
        let least_height = self.least_height.div_ceil(setting.lines_of_row) * setting.lines_of_row;
        ask(&Offering {
            need: self.need,
            setting,
            grounds: &grounds,
            weights: &self.weights,
            least_height: least_height.min(setting.height),
        })
    }

    fn candidate(&self, at: usize, claim: &Claim) -> Option<Candidate> {
        let setting = &self.settings[at];
        let fit = match claim.height == setting.height {
            true => self.fits[at].clone(),
            false => self.fitter.fit(&self.pricing.lower(setting, claim.height)?)?,
        };
        let timing = self.bench.adapter().timing(&fit.registers);
        let bent = |at: &usize| bends_timing(&self.suspects[*at].tap, &timing);
        let welcome = (fit.accepted() || self.need.out_of_margin) && !claim.held_by.iter().any(bent);
        let candidate = self.pricing.candidate(setting, fit, claim).filter(|_| welcome)?;
        Some(Candidate { setting: at, ..candidate })
    }

    /// The candidates worth showing, those that rest on more than addresses
    /// and timing only after every one of their start addresses was rendered;
    /// and whether that was given up before all of them were. For one that is
    /// disproved the same off the middle is tried, and larger steps.
    fn proven(
        &self,
        mut pool: Vec<Candidate>,
        judges: &[Judge<'_, T>],
        to_render: &[bool],
        progress: &Progress<'_>,
    ) -> (Vec<Candidate>, bool) {
        let unproven = |one: &Candidate| !one.rendered && one.held_by.iter().any(|at| to_render[*at]);
        let mut in_vain = 0;
        loop {
            pool = worth_showing(pool);
            let Some(at) = pool.iter().position(unproven) else {
                return (pool, false);
            };
            if in_vain == MOST_TRIES {
                pool.retain(|one| !unproven(one));
                return (pool, true);
            }
            let candidate = pool.remove(at);
            let proven = self.prove(candidate.clone(), to_render, progress);
            if proven.held_by.len() < candidate.held_by.len() {
                in_vain += 1;
                pool.extend(self.larger_steps(judges, &candidate));
                pool.extend(self.off_centre(candidate));
            }
            if !proven.held_by.is_empty() {
                pool.push(proven);
            }
        }
    }

    /// What the candidate's setting offers at larger steps than its own.
    fn larger_steps(&self, judges: &[Judge<'_, T>], candidate: &Candidate) -> Vec<Candidate> {
        let (at, from) = (candidate.setting, candidate.multiplier + 1);
        let claims = self.offering(judges, &self.settings[at], |offering| offering.claims_from(from));
        claims.iter().filter_map(|claim| self.candidate(at, claim)).collect()
    }

    /// The same candidate with totals and sync as on the bench, where they are
    /// not already: a fault may keep just the values that centre it from arriving.
    fn off_centre(&self, candidate: Candidate) -> Option<Candidate> {
        let adapter = self.bench.adapter();
        let mut registers = candidate.registers.clone();
        for field in SIGNAL_LEVERS.iter().filter_map(|role| adapter.field_with(*role)) {
            adapter.set(&mut registers, field, u64::from(adapter.get(self.bench.registers(), field))).ok()?;
        }
        let fit = self.untouched.fit(&registers).filter(|fit| fit.accepted() || self.need.out_of_margin)?;
        let off_centre = fit.off_dots.unsigned_abs() + fit.off_lines.unsigned_abs();
        let cost = Cost { off_centre, ..candidate.cost };
        (registers != candidate.registers).then_some(Candidate { registers, fit, cost, ..candidate })
    }

    /// Renders a candidate under every suspect it is claimed to hold against.
    fn prove(&self, mut candidate: Candidate, to_render: &[bool], progress: &Progress<'_>) -> Candidate {
        let starts: Vec<u32> = candidate.starts().collect();
        let holding = |at: &usize| {
            let done = counting(progress, starts.len());
            !to_render[*at] || holds(self.bench, &candidate.registers, &self.suspects[*at].tap, &starts, &done)
        };
        let (held_by, lost): (Vec<usize>, Vec<usize>) = candidate.held_by.iter().partition(|at| holding(at));
        candidate.probability_clean = held_by.iter().fold(0.0, |sum, at| sum + self.weights[*at]);
        candidate.held_by = held_by;
        candidate.rendered = true;
        match self.likeliest(lost) {
            Some(at) if !candidate.held_by.is_empty() => self.counted(candidate, at, progress),
            _ => candidate,
        }
    }

    fn likeliest(&self, suspects: Vec<usize>) -> Option<usize> {
        let likelier = |one: usize, other: usize| if self.weights[other] > self.weights[one] { other } else { one };
        suspects.into_iter().reduce(likelier)
    }

    /// The best that can be had at the need's own step; where a fault needs
    /// rendering the first few only, their failing start addresses counted so.
    fn partial(&self, judges: &[Judge<'_, T>], to_render: &[bool], progress: &Progress<'_>) -> Vec<Candidate> {
        let partial = |setting: &Setting| self.offering(judges, setting, |offering| offering.partial());
        let claims: Vec<Option<Claim>> = self.settings.par_iter().map(partial).collect();
        let claims = claims.iter().enumerate().filter_map(|(at, claim)| self.candidate(at, claim.as_ref()?));
        let best = worth_showing(claims.collect());
        let failing = |one: &Candidate| {
            let not_held = (0..self.suspects.len()).filter(|at| !one.held_by.contains(at)).collect();
            self.likeliest(not_held).unwrap_or(0)
        };
        match to_render.contains(&true) {
            false => best.into_iter().take(MOST_PARTIAL).collect(),
            true => {
                let first = best.into_iter().take(MOST_PARTIAL_RENDERED);
                let counted = first.map(|one| match failing(&one) {
                    at if to_render[at] => self.counted(one, at, progress),
                    _ => one,
                });
                counted.collect()
            }
        }
    }

    /// A partial answer that turned out to hold against the only suspect there is.
    fn spared(&self, candidate: Candidate) -> Candidate {
        let probability_clean = self.weights.iter().sum();
        Candidate { held_by: vec![0], probability_clean, failing: None, ..candidate }
    }

    /// A candidate whose failing start addresses under one suspect are counted by rendering.
    fn counted(&self, mut candidate: Candidate, at: usize, progress: &Progress<'_>) -> Candidate {
        let starts: Vec<u32> = candidate.starts().collect();
        let done = counting(progress, starts.len());
        let clean = rendered(self.bench, &candidate.registers, &self.suspects[at].tap, &starts, &done);
        let mut bad = vec![false; candidate.ring as usize];
        for (start, clean) in starts.iter().zip(&clean) {
            bad[*start as usize] = !clean;
        }
        candidate.clean_starts = clean.iter().filter(|clean| **clean).count() as u32;
        candidate.failing = Some(Failing::of(&Ring::from_fn(candidate.ring, |start| bad[start as usize])));
        candidate.rendered = true;
        candidate
    }

    fn remarks(&self, to_render: &[bool], by_frames: bool) -> Vec<String> {
        let mut remarks = vec![
            "searched whole: every value of the registers that decide what is fetched, every start address, \
             every step up to the size of the picture and every origin"
                .to_string(),
            "left out with proof: totals and sync do not decide what is fetched, so only the least change of them \
             that no fault bends is fitted around each setting; fewer lines are clean wherever more are, so heights are found by halving; \
             endless steps with the same divisor show the same start addresses"
                .to_string(),
        ];
        if self.crowded > 0 {
            let crowded = self.crowded;
            remarks.push(format!("{crowded} settings are left out because their picture is larger than memory"));
        }
        if by_frames {
            remarks.push(format!("the fault may change from frame to frame: {FRAMES_LOOKED_AT} frames were looked at"));
        }
        if to_render.contains(&true) {
            remarks.push(
                "the fault does more than bend addresses and timing, so every start address of the candidates was \
                 rendered with the bench's picture; they are proven for that picture"
                    .to_string(),
            );
        }
        remarks
    }
}

/// Counts calls and tells of them as progress towards `of`.
fn counting<'a>(progress: &'a Progress<'_>, of: usize) -> impl Fn() + Sync + 'a {
    let done = AtomicU64::new(0);
    move || progress(done.fetch_add(1, Ordering::Relaxed) + 1, of as u64)
}
