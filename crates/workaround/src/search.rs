//! The search: every setting, every start address, every step and origin.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicU64, Ordering};

use backporch_adapter::{Registers, Role};
use backporch_bench::Bench;
use backporch_raster::Tap;
use rayon::prelude::*;

use crate::bit_ring::BitRing;
use crate::candidate::{Candidate, Cost, FailingStarts, pareto_front};
use crate::claims::{Claim, ClaimFinder};
use crate::cost::CostModel;
use crate::fault_scan::{FRAMES_LOOKED_AT, FailureMap, FaultScan, changes_timing};
use crate::infeasible::{Infeasible, check};
use crate::render::{holds, rendered};
use crate::requirements::Requirements;
use crate::setting::{Levers, Setting};
use crate::signal_fit::{SIGNAL_LEVERS, SignalFit, SignalFitter, TimingCheck};

/// Candidates that rendering may disprove before a search gives up.
const MOST_TRIES: usize = 64;
/// Most partial answers.
const MOST_PARTIAL: usize = 12;
/// Most partial answers whose failing start addresses have to be rendered.
const MOST_PARTIAL_RENDERED: usize = 3;

/// Called with how much of how much is done, from any thread.
pub type Progress<'a> = dyn Fn(u64, u64) + Sync + 'a;

/// A fault that may be the one, and how likely that is.
#[derive(Clone, Debug)]
pub struct SuspectedFault<T> {
    /// What it is called.
    pub name: String,
    /// The fault.
    pub tap: T,
    /// Probability, 0 to 1.
    pub probability: f64,
}

/// What a search found.
#[derive(Clone, Debug)]
pub struct SearchResult {
    /// Settings that hold against some suspect, none covered by another, the
    /// ones most likely to hold first, then those that give up least.
    pub candidates: Vec<Candidate>,
    /// Where nothing holds against every suspect: the best that can be had at
    /// the required step, and where it fails.
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

impl SearchResult {
    /// The widest picture that holds against every suspect at the smallest step that was asked for.
    #[must_use]
    pub fn widest(&self, requirements: &Requirements) -> Option<u32> {
        let holding = self.candidates.iter().filter(|one| one.failing.is_none());
        let own_step = |one: &&Candidate| {
            one.cost.step_pixels <= requirements.step_pixels.unwrap_or(one.smallest_step.0)
                && one.cost.step_lines <= requirements.step_lines.unwrap_or(one.smallest_step.1)
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
/// probabilities. `progress` is called with how many settings of how many are judged,
/// from any thread.
///
/// # Errors
/// Where the requirements cannot be met by any board, in words.
pub fn search<T: Tap + Clone + Send + Sync>(
    bench: &Bench,
    requirements: &Requirements,
    suspects: &[SuspectedFault<T>],
    progress: &Progress<'_>,
) -> Result<SearchResult, Infeasible> {
    let adapter = bench.adapter();
    let sound = |registers: &Registers| {
        let timing = adapter.timing(registers);
        !suspects.iter().any(|suspect| changes_timing(&suspect.tap, &timing))
    };
    Ok(Search::new(bench, requirements, suspects, &sound)?.run(progress))
}

pub(crate) struct Search<'a, T> {
    pub(crate) bench: &'a Bench,
    pub(crate) requirements: &'a Requirements,
    pub(crate) suspects: &'a [SuspectedFault<T>],
    weights: Vec<f64>,
    pub(crate) fitter: SignalFitter<'a>,
    /// Leaves totals and sync as they are on the bench.
    untouched: SignalFitter<'a>,
    pub(crate) settings: Vec<Setting>,
    pub(crate) fits: Vec<SignalFit>,
    refused: u32,
    crowded: u32,
    least_height: u32,
    pub(crate) costs: CostModel<'a>,
    pub(crate) least_width: u32,
}

impl<'a, T: Tap + Clone + Send + Sync> Search<'a, T> {
    pub(crate) fn new(
        bench: &'a Bench,
        requirements: &'a Requirements,
        suspects: &'a [SuspectedFault<T>],
        sound: &'a TimingCheck<'a>,
    ) -> Result<Self, Infeasible> {
        let adapter = bench.adapter();
        if suspects.is_empty() {
            return Err(Infeasible::NoFault);
        }
        let own = Setting::new(adapter, bench.registers().clone()).ok_or(Infeasible::NoPicture)?;
        check(bench, requirements, &own)?;
        let start_up = adapter.start_up(bench.mode());
        let fitter = |requirements: &Requirements| {
            SignalFitter::new(adapter, &start_up, bench.registers(), bench.monitor(), requirements, sound)
        };
        let mut search = Self {
            bench,
            requirements,
            suspects,
            weights: suspects.iter().map(|suspect| suspect.probability).collect(),
            fitter: fitter(requirements).ok_or(Infeasible::NoSignal)?,
            untouched: fitter(&Requirements { may_change: BTreeSet::new(), ..requirements.clone() })
                .ok_or(Infeasible::NoSignal)?,
            settings: Vec::new(),
            fits: Vec::new(),
            refused: 0,
            crowded: 0,
            least_height: requirements.least_height.unwrap_or(own.height).max(1),
            costs: CostModel { adapter, requirements, picture: (own.width(), own.height) },
            least_width: requirements.least_width.unwrap_or(own.width().div_ceil(2)),
        };
        search.collect()?;
        Ok(search)
    }

    /// All settings large enough that fit into memory and make a signal.
    fn collect(&mut self) -> Result<(), Infeasible> {
        let adapter = self.bench.adapter();
        let least = (self.least_width, self.least_height);
        let settings = Levers::new(adapter, self.requirements).settings(adapter, self.bench.registers(), least);
        let (settings, crowded): (Vec<Setting>, Vec<Setting>) =
            settings.into_iter().partition(|setting| setting.fits_memory(self.least_height));
        self.crowded = crowded.len() as u32;
        let alike: Vec<&[Setting]> = settings.chunk_by(|one, other| self.differ_in_pitch(one, other)).collect();
        let fitted: Vec<Option<SignalFit>> = alike.par_iter().flat_map_iter(|settings| self.fitted(settings)).collect();
        let mut first_refusal = None;
        for fit in fitted.into_iter().flatten() {
            if !self.requirements.takes_rate(fit.signal.frame_rate_hz()) {
                self.refused += 1;
            } else if fit.accepted() || self.requirements.out_of_margin {
                // Judged with the timing it will have: a fault may change that.
                if let Some(fitted) = Setting::new(adapter, fit.registers.clone()) {
                    self.settings.push(fitted);
                    self.fits.push(fit);
                }
            } else {
                self.refused += 1;
                first_refusal = first_refusal.or(fit.judgement);
            }
        }
        if !self.settings.is_empty() {
            return Ok(());
        }
        Err(match (first_refusal, self.bench.monitor()) {
            (Some(judgement), Some(monitor)) => Infeasible::monitor(monitor, &judgement),
            _ => Infeasible::size(least, self.crowded),
        })
    }

    /// Whether two settings differ in the pitch at most, which no signal depends on.
    fn differ_in_pitch(&self, one: &Setting, other: &Setting) -> bool {
        let pitched = self.with_pitch_of(one.registers.clone(), other);
        pitched.is_some_and(|registers| registers == other.registers)
    }

    /// Registers with the pitch of a setting.
    fn with_pitch_of(&self, mut registers: Registers, setting: &Setting) -> Option<Registers> {
        let adapter = self.bench.adapter();
        if let Some(pitch) = adapter.field_with(Role::Pitch) {
            let value = adapter.get(&setting.registers, pitch);
            adapter.set(&mut registers, pitch, u64::from(value)).ok()?;
        }
        Some(registers)
    }

    /// Signals around settings that differ in the pitch at most: fitted around the first, and kept where the faults do not
    /// tell the others from it.
    fn fitted(&self, settings: &[Setting]) -> Vec<Option<SignalFit>> {
        let first = settings.first().and_then(|setting| self.fitter.fit(&setting.registers));
        let kept = |setting: &Setting| {
            let first = first.as_ref()?;
            let registers = self.with_pitch_of(first.registers.clone(), setting)?;
            let alike = self.fitter.keeps_timing(&registers) == self.fitter.keeps_timing(&first.registers);
            if alike { Some(SignalFit { registers, ..first.clone() }) } else { self.fitter.fit(&setting.registers) }
        };
        settings.iter().map(kept).collect()
    }

    fn run(&self, progress: &Progress<'_>) -> SearchResult {
        let scan = |suspect: &'a SuspectedFault<T>| {
            FaultScan::new(&suspect.tap, &self.settings).of_starts(self.requirements.fixed_starts().cloned())
        };
        let scans: Vec<FaultScan<'_, T>> = self.suspects.iter().map(scan).collect();
        let (of, judged) = (self.settings.len() as u64, AtomicU64::new(0));
        let claims = |setting: &Setting| {
            if self.requirements.time_is_over() {
                return Vec::new();
            }
            let claims = self.with_claims(&scans, setting, |with_claims| with_claims.claims_from(1));
            progress(judged.fetch_add(1, Ordering::Relaxed) + 1, of);
            claims
        };
        let claims: Vec<Vec<Claim>> = self.settings.par_iter().map(claims).collect();

        let to_render: Vec<bool> = scans.iter().map(FaultScan::needs_rendering).collect();
        let holding = claims.iter().enumerate().flat_map(|(at, claims)| claims.iter().map(move |claim| (at, claim)));
        let pool = holding.filter_map(|(at, claim)| self.candidate(at, claim)).collect();
        let (mut candidates, given_up) = self.proven(pool, &scans, &to_render, progress);
        let holds = candidates.iter().any(|candidate| candidate.failing.is_none());
        let mut partial = if holds { Vec::new() } else { self.partial(&scans, &to_render, progress) };
        if self.suspects.len() == 1 {
            // What might touch the picture at hand and, rendered, does not.
            let spared = partial.extract_if(.., |one| one.failing.as_ref().is_some_and(|one| one.runs.is_empty()));
            candidates.extend(spared.map(|one| self.spared(one)));
            candidates = pareto_front(candidates);
        }
        let judged = judged.into_inner();
        let mut remarks = self.remarks(&to_render, scans.iter().any(FaultScan::changes_with_frames));
        if self.requirements.time_is_over() {
            remarks.push(format!(
                "the time limit ended the search: {judged} of {of} settings were judged, and what was not proven by then is \
                 left out, so something may hold that is not listed"
            ));
        } else if given_up {
            remarks.push(format!(
                "{MOST_TRIES} candidates were disproved by rendering; the rest was left alone, so something may hold \
                 that is not listed"
            ));
        }
        let widths = self.settings.iter().map(Setting::width);
        SearchResult {
            widths: (widths.clone().min().unwrap_or(0), widths.max().unwrap_or(0)),
            settings: self.settings.len() as u32,
            refused: self.refused,
            remarks,
            candidates,
            partial,
        }
    }

    /// Asks something of one setting before every suspect.
    fn with_claims<A>(
        &self,
        scans: &[FaultScan<'_, T>],
        setting: &Setting,
        ask: impl FnOnce(&ClaimFinder<'_>) -> A,
    ) -> A {
        let adapter = self.bench.adapter();
        let failures: Vec<FailureMap> = scans.iter().map(|scan| scan.failures(adapter, setting)).collect();
        let least_height = self.least_height.div_ceil(setting.lines_of_row) * setting.lines_of_row;
        ask(&ClaimFinder {
            requirements: self.requirements,
            setting,
            failures: &failures,
            weights: &self.weights,
            least_height: least_height.min(setting.height),
        })
    }

    fn candidate(&self, at: usize, claim: &Claim) -> Option<Candidate> {
        let setting = &self.settings[at];
        let fit = if claim.height == setting.height {
            self.fits[at].clone()
        } else {
            self.fitter.fit(&self.costs.lower(setting, claim.height)?)?
        };
        let timing = self.bench.adapter().timing(&fit.registers);
        let changed = |at: &usize| changes_timing(&self.suspects[*at].tap, &timing);
        let welcome = (fit.accepted() || self.requirements.out_of_margin) && !claim.clean_under.iter().any(changed);
        let candidate = self.costs.candidate(setting, fit, claim).filter(|_| welcome)?;
        Some(Candidate { setting: at, ..candidate })
    }

    /// The candidates worth showing, those that rest on more than addresses
    /// and timing only after every one of their start addresses was rendered;
    /// and whether that was given up before all of them were. For one that is
    /// disproved the same off the middle is tried, and larger steps.
    fn proven(
        &self,
        mut pool: Vec<Candidate>,
        scans: &[FaultScan<'_, T>],
        to_render: &[bool],
        progress: &Progress<'_>,
    ) -> (Vec<Candidate>, bool) {
        let unproven = |one: &Candidate| !one.rendered && one.clean_under.iter().any(|at| to_render[*at]);
        let mut in_vain = 0;
        loop {
            pool = pareto_front(pool);
            let Some(at) = pool.iter().position(unproven) else {
                return (pool, false);
            };
            if in_vain == MOST_TRIES || self.requirements.time_is_over() {
                pool.retain(|one| !unproven(one));
                return (pool, true);
            }
            let candidate = pool.remove(at);
            let proven = self.prove(candidate.clone(), to_render, progress);
            if proven.clean_under.len() < candidate.clean_under.len() {
                in_vain += 1;
                pool.extend(self.larger_steps(scans, &candidate));
                pool.extend(self.off_centre(candidate));
            }
            if !proven.clean_under.is_empty() {
                pool.push(proven);
            }
        }
    }

    /// What the candidate's setting offers at larger steps than its own.
    fn larger_steps(&self, scans: &[FaultScan<'_, T>], candidate: &Candidate) -> Vec<Candidate> {
        let (at, from) = (candidate.setting, candidate.multiplier + 1);
        let claims = self.with_claims(scans, &self.settings[at], |with_claims| with_claims.claims_from(from));
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
        let fit = self.untouched.fit(&registers).filter(|fit| fit.accepted() || self.requirements.out_of_margin)?;
        let off_centre = fit.off_dots.unsigned_abs() + fit.off_lines.unsigned_abs();
        let cost = Cost { off_centre, ..candidate.cost };
        (registers != candidate.registers).then_some(Candidate { registers, fit, cost, ..candidate })
    }

    /// Renders a candidate under every suspect it is claimed to hold against.
    fn prove(&self, mut candidate: Candidate, to_render: &[bool], progress: &Progress<'_>) -> Candidate {
        let starts: Vec<u32> = candidate.starts().collect();
        let holding = |at: &usize| {
            let goes_on = self.counting(progress, starts.len());
            !to_render[*at] || holds(self.bench, &candidate.registers, &self.suspects[*at].tap, &starts, &goes_on)
        };
        let (clean_under, lost): (Vec<usize>, Vec<usize>) = candidate.clean_under.iter().partition(|at| holding(at));
        candidate.probability_clean = clean_under.iter().fold(0.0, |sum, at| sum + self.weights[*at]);
        candidate.clean_under = clean_under;
        candidate.rendered = true;
        match self.likeliest(lost) {
            Some(at) if !candidate.clean_under.is_empty() => match self.counted(&candidate, at, progress) {
                Some(counted) => counted,
                None => Candidate { clean_under: Vec::new(), ..candidate },
            },
            _ => candidate,
        }
    }

    fn likeliest(&self, suspects: Vec<usize>) -> Option<usize> {
        let likelier = |one: usize, other: usize| if self.weights[other] > self.weights[one] { other } else { one };
        suspects.into_iter().reduce(likelier)
    }

    /// The best that can be had at the required step; where a fault needs
    /// rendering the first few only, their failing start addresses counted so.
    fn partial(&self, scans: &[FaultScan<'_, T>], to_render: &[bool], progress: &Progress<'_>) -> Vec<Candidate> {
        let partial = |setting: &Setting| {
            let goes_on = !self.requirements.time_is_over();
            goes_on.then(|| self.with_claims(scans, setting, |with_claims| with_claims.partial())).flatten()
        };
        let claims: Vec<Option<Claim>> = self.settings.par_iter().map(partial).collect();
        let claims = claims.iter().enumerate().filter_map(|(at, claim)| self.candidate(at, claim.as_ref()?));
        let best = pareto_front(claims.collect());
        let failing = |one: &Candidate| {
            let not_held = (0..self.suspects.len()).filter(|at| !one.clean_under.contains(at)).collect();
            self.likeliest(not_held).unwrap_or(0)
        };
        let most = if to_render.contains(&true) { MOST_PARTIAL_RENDERED } else { MOST_PARTIAL };
        let counted = best.into_iter().take(most).filter_map(|one| match failing(&one) {
            at if to_render[at] => self.counted(&one, at, progress),
            _ => Some(one),
        });
        counted.collect()
    }

    /// A partial answer that turned out to hold against the only suspect there is.
    fn spared(&self, candidate: Candidate) -> Candidate {
        let probability_clean = self.weights.iter().sum();
        Candidate { clean_under: vec![0], probability_clean, failing: None, ..candidate }
    }

    /// A candidate whose failing start addresses under one suspect are counted by rendering; `None` where time is over before.
    fn counted(&self, candidate: &Candidate, at: usize, progress: &Progress<'_>) -> Option<Candidate> {
        let mut candidate = candidate.clone();
        let starts: Vec<u32> = candidate.starts().collect();
        let goes_on = self.counting(progress, starts.len());
        let clean = rendered(self.bench, &candidate.registers, &self.suspects[at].tap, &starts, &goes_on)?;
        let mut bad = vec![false; candidate.ring as usize];
        for (start, clean) in starts.iter().zip(&clean) {
            bad[*start as usize] = !clean;
        }
        candidate.clean_starts = clean.iter().filter(|clean| **clean).count() as u32;
        candidate.failing = Some(FailingStarts::of(&BitRing::from_fn(candidate.ring, |start| bad[start as usize])));
        candidate.rendered = true;
        Some(candidate)
    }

    /// Counts calls and passes them on as progress towards `of`; answers whether there is time left.
    fn counting<'b>(&'b self, progress: &'b Progress<'_>, of: usize) -> impl Fn() -> bool + Sync + 'b {
        let done = AtomicU64::new(0);
        move || {
            progress(done.fetch_add(1, Ordering::Relaxed) + 1, of as u64);
            !self.requirements.time_is_over()
        }
    }

    fn remarks(&self, to_render: &[bool], by_frames: bool) -> Vec<String> {
        let mut remarks = vec![
            "searched whole: every value of the registers that decide what is fetched, every start address, \
             every step up to the size of the picture and every origin"
                .to_string(),
            "left out with proof: totals and sync do not decide what is fetched, so only the least change of them \
             that no fault moves is fitted around each setting; fewer lines are clean wherever more are, so heights are found by halving; \
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
                "the fault does more than change addresses and timing, so every start address of the candidates was \
                 rendered with the bench's picture; they are proven for that picture"
                    .to_string(),
            );
        }
        remarks
    }
}
