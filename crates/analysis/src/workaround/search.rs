//! The search: every setting, every start address, every step and origin.

use std::sync::atomic::{AtomicU64, Ordering};

use backporch_bench::Bench;
use backporch_raster::Tap;
use rayon::prelude::*;

use super::candidate::{Candidate, Failing, worth_showing};
use super::confirm::{holds, rendered};
use super::fit::{Fit, Fitter};
use super::impossible::{Impossible, check};
use super::judge::{Ground, Judge};
use super::need::Need;
use super::offer::{Claim, Offering};
use super::price::Pricing;
use super::ring::Ring;
use super::setting::{Levers, Setting};

/// Most partial answers, and most candidates that are proven in vain, before a search gives up.
const MOST_TRIES: usize = 12;

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
    progress: &(dyn Fn(u64, u64) + Sync),
) -> Result<Answer, Impossible> {
    Ok(Search::new(bench, need, suspects)?.run(progress))
}

struct Search<'a, T> {
    bench: &'a Bench,
    need: &'a Need,
    suspects: &'a [Suspect<T>],
    weights: Vec<f64>,
    fitter: Fitter<'a>,
    settings: Vec<Setting>,
    fits: Vec<Fit>,
    refused: u32,
    crowded: u32,
    least_height: u32,
    pricing: Pricing<'a>,
}

impl<'a, T: Tap + Clone + Send + Sync> Search<'a, T> {
    fn new(bench: &'a Bench, need: &'a Need, suspects: &'a [Suspect<T>]) -> Result<Self, Impossible> {
        let adapter = bench.adapter();
        if suspects.is_empty() {
            return Err(Impossible::NoFault);
        }
        let own = Setting::new(adapter, bench.registers().clone()).ok_or(Impossible::NoPicture)?;
        check(bench, need, &own)?;
        let start_up = adapter.start_up(bench.mode());
        let fitter = Fitter::new(adapter, &start_up, bench.registers(), bench.monitor(), need);
        let mut search = Self {
            bench,
            need,
            suspects,
            weights: suspects.iter().map(|suspect| suspect.probability).collect(),
            fitter: fitter.ok_or(Impossible::NoSignal)?,
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
                    self.settings.push(setting);
                    self.fits.push(fit);
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

    fn run(&self, progress: &(dyn Fn(u64, u64) + Sync)) -> Answer {
        let judges: Vec<Judge<'_, T>> =
            self.suspects.iter().map(|suspect| Judge::new(&suspect.tap, &self.settings)).collect();
        let (of, judged) = (self.settings.len() as u64, AtomicU64::new(0));
        let claims = |setting: &Setting| {
            let claims = self.offering(&judges, setting, |offering| offering.claims());
            progress(judged.fetch_add(1, Ordering::Relaxed) + 1, of);
            claims
        };
        let claims: Vec<Vec<Claim>> = self.settings.par_iter().map(claims).collect();

        let to_render: Vec<bool> = judges.iter().map(Judge::needs_rendering).collect();
        let holding = claims.iter().enumerate().flat_map(|(at, claims)| claims.iter().map(move |claim| (at, claim)));
        let candidates = self.proven(holding.filter_map(|(at, claim)| self.candidate(at, claim)).collect(), &to_render);
        let holds = candidates.iter().any(|candidate| candidate.failing.is_none());
        let partial = match holds {
            true => Vec::new(),
            false => {
                let partial = |setting: &Setting| self.offering(&judges, setting, |offering| offering.partial());
                let claims: Vec<Option<Claim>> = self.settings.par_iter().map(partial).collect();
                let claims = claims.iter().enumerate().filter_map(|(at, claim)| self.candidate(at, claim.as_ref()?));
                let best = worth_showing(claims.collect()).into_iter().take(MOST_TRIES);
                best.map(|one| self.counted(one, &to_render)).collect()
            }
        };
        let widths = self.settings.iter().map(Setting::width);
        Answer {
            widths: (widths.clone().min().unwrap_or(0), widths.max().unwrap_or(0)),
            settings: self.settings.len() as u32,
            refused: self.refused,
            remarks: self.remarks(&to_render),
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
        let welcome = fit.accepted() || self.need.out_of_margin;
        self.pricing.candidate(setting, fit, claim).filter(|_| welcome)
    }

    /// The candidates worth showing, those that rest on more than addresses
    /// and timing only after every one of their start addresses was rendered.
    fn proven(&self, mut pool: Vec<Candidate>, to_render: &[bool]) -> Vec<Candidate> {
        let mut in_vain = 0;
        loop {
            pool = worth_showing(pool);
            let Some(at) = pool.iter().position(|one| !one.rendered && one.held_by.iter().any(|at| to_render[*at]))
            else {
                return pool;
            };
            let candidate = &mut pool[at];
            let starts: Vec<u32> = candidate.starts().collect();
            let held_before = candidate.held_by.len();
            let registers = &candidate.registers;
            let holds = |at: &usize| !to_render[*at] || holds(self.bench, registers, &self.suspects[*at].tap, &starts);
            let held_by: Vec<usize> = candidate.held_by.iter().copied().filter(holds).collect();
            candidate.rendered = true;
            if held_by.len() == held_before {
                continue;
            }
            in_vain += 1;
            candidate.probability_clean = held_by.iter().fold(0.0, |sum, at| sum + self.weights[*at]);
            candidate.failing.get_or_insert(Failing { every: 1, repeats: true, runs: vec![(0, 0)] });
            candidate.held_by = held_by;
            if candidate.held_by.is_empty() || in_vain > MOST_TRIES {
                pool.remove(at);
            }
            if in_vain > MOST_TRIES {
                pool.retain(|one| one.rendered || one.held_by.iter().all(|at| !to_render[*at]));
            }
        }
    }

    /// A partial answer whose failing start addresses are counted by rendering where need be.
    fn counted(&self, mut candidate: Candidate, to_render: &[bool]) -> Candidate {
        let failing = (0..self.suspects.len()).filter(|at| !candidate.held_by.contains(at));
        let likeliest = failing.reduce(|one, other| if self.weights[other] > self.weights[one] { other } else { one });
        let Some(at) = likeliest.or(Some(0)).filter(|at| to_render[*at]) else {
            return candidate;
        };
        let starts: Vec<u32> = candidate.starts().collect();
        let clean = rendered(self.bench, &candidate.registers, &self.suspects[at].tap, &starts, &|| ());
        let mut bad = vec![false; candidate.ring as usize];
        for (start, clean) in starts.iter().zip(&clean) {
            bad[*start as usize] = !clean;
        }
        candidate.clean_starts = clean.iter().filter(|clean| **clean).count() as u32;
        candidate.failing = Some(Failing::of(&Ring::from_fn(candidate.ring, |start| bad[start as usize])));
        candidate.rendered = true;
        candidate
    }

    fn remarks(&self, to_render: &[bool]) -> Vec<String> {
        let mut remarks = vec![
            "searched whole: every value of the registers that decide what is fetched, every start address, \
             every step up to the size of the picture and every origin"
                .to_string(),
            "left out with proof: totals and sync do not decide what is fetched, so only the least change of them \
             is fitted around each setting; fewer lines are clean wherever more are, so heights are found by halving; \
             endless steps with the same divisor show the same start addresses"
                .to_string(),
        ];
        if self.crowded > 0 {
            let crowded = self.crowded;
            remarks.push(format!("{crowded} settings are left out because their picture is larger than memory"));
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
