//! Whose fault is it: suspects ranked by what was seen.
//!
//! Every member of every family is a suspect, beside a healthy board, a
//! routine with hazards, and *none of these*. Its prior is the family's share
//! of its members; what it predicts is held against every sighting:
//!
//! ```text
//! Faults ──► members ──► outcomes of the scenes ──► likelihood of the sightings
//! prior ──────────────────────────────────────────► × ──► posterior ──► suspects by family
//! ```
//!
//! Members are judged in blocks of a fixed size, in parallel inside a block and
//! put together in order, so the answer is the same on any number of threads.
//! Families that only bend addresses come first: they need no frame drawn.
//! A member that can no longer come within [`HOPELESS`] of the best one found in
//! the blocks before is given up; what it could have weighed is below a
//! billionth of the answer.

mod judge;
mod nobody;
mod prior;
mod tally;

use std::collections::BTreeMap;

use backporch_raster::{Stages, Tap};
use rayon::prelude::*;

pub use judge::Judged;
pub use prior::Prior;

use crate::faults::Faults;
use crate::memo::Memo;
use crate::sightings::{Note, Sightings};
use judge::Judge;
use tally::Tally;

/// Members judged before the best one is looked up again.
const BLOCK: usize = 32;
/// Natural logarithm of the odds at which a member is given up.
pub const HOPELESS: f64 = 35.0;
/// Suspects kept with their predictions, for groups and probes.
const MOST_KEPT: usize = 1 << 14;
/// Least probability of a suspect that is told of in a group.
const TOLD_FROM: f64 = 1e-3;

/// What may be the cause of what was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    /// Nothing is wrong with the board or the routine.
    Healthy,
    /// The board is healthy, the routine writes at the wrong moment.
    Routine,
    /// A fault that none of the families describes.
    NoneOfThese,
    /// A member of a family.
    Fault {
        /// Position of the family.
        family: usize,
        /// Position of the member.
        member: u64,
    },
}

/// One cause and how well it fits.
#[derive(Clone, Debug, PartialEq)]
pub struct Weighed {
    /// The cause.
    pub cause: Cause,
    /// Its probability, 0 to 1.
    pub probability: f64,
    /// Sightings it explains.
    pub explains: usize,
    /// Sightings it contradicts.
    pub contradicts: usize,
    /// Equal for causes that leave the same impression in every frame looked at.
    pub by_eye: Option<u64>,
    /// Equal for causes that, besides, fit every sighting alike: no sighting tells them apart.
    pub signature: Option<u64>,
}

/// A family, or one of the causes without a family, and how likely it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspect {
    /// Its name.
    pub name: String,
    /// What is wrong, in a few words.
    pub title: String,
    /// The most likely member's parameters.
    pub parameters: BTreeMap<String, i64>,
    /// Probability of the whole family, 0 to 1.
    pub probability: f64,
    /// Its most likely member.
    pub best: Weighed,
}

/// What follows from the sightings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Conclusion {
    /// Nothing was seen that tells anything.
    NothingSeen,
    /// No suspect is as likely as all others together.
    CannotTell,
    /// The board is healthy, as far as was looked.
    Healthy,
    /// The routine is to blame.
    Routine,
    /// None of the families fits.
    NoneOfThese,
    /// One family is more likely than all else together.
    Fault,
    /// A few that predict the same under every setting looked at are, together.
    OneOfGroup,
}

/// The answer.
#[derive(Clone, Debug)]
pub struct Diagnosis {
    /// Families and other causes, the most likely first.
    pub suspects: Vec<Suspect>,
    /// Members, the most likely first; of many only the likeliest are kept.
    pub members: Vec<Weighed>,
    /// Names of members that no sighting so far can tell apart, the likeliest group first.
    pub indistinguishable: Vec<Vec<String>>,
    /// What follows.
    pub conclusion: Conclusion,
    /// What is odd about the sightings.
    pub notes: Vec<Note>,
    /// Frames predicted.
    pub predictions: u64,
}

impl Diagnosis {
    /// What follows, in a sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let first = self.suspects.first();
        let name = first.map_or("", |first| first.name.as_str());
        let percent = first.map_or(0.0, |first| first.probability * 100.0);
        match self.conclusion {
            Conclusion::NothingSeen => "cannot tell: nothing was seen that counts".to_string(),
            Conclusion::CannotTell => {
                format!("cannot tell: the likeliest, {name}, has {percent:.0} %; a probe below will help")
            }
            Conclusion::Healthy => format!("the board is healthy, as far as was looked ({percent:.1} %)"),
            Conclusion::Routine => format!("the routine, not the board ({percent:.1} %)"),
            Conclusion::NoneOfThese => format!("a fault that none of the families describes ({percent:.1} %)"),
            Conclusion::Fault => format!("{name} ({percent:.1} %)"),
            Conclusion::OneOfGroup => "one of a group that no sighting so far can tell apart".to_string(),
        }
    }
}

/// Ranks the faults, and what else may be the cause, by the sightings.
///
/// `memo` keeps the predictions for the next time, when more has been seen.
/// `done` is called with the number of members judged since the last call, from any thread.
#[must_use]
pub fn diagnose<F: Faults>(
    sightings: &Sightings,
    faults: &F,
    prior: &Prior,
    memo: &Memo,
    done: &(dyn Fn(u64) + Sync),
) -> Diagnosis {
    let (notes, counting) = sightings.weighed();
    let judge = Judge::new(sightings, counting);
    let mut tally = Tally::new(faults.kinds().len(), MOST_KEPT);
    tally.add(Cause::Healthy, prior.healthy.ln(), &judge.healthy());
    tally.add(Cause::Routine, prior.routine.ln(), &judge.routine());
    tally.add(Cause::NoneOfThese, prior.none_of_these.ln(), &judge.nobody());
    let kinds = faults.kinds();
    let families = cheapest_first(faults).into_iter();
    let all = families.flat_map(|family| (0..kinds[family].count).map(move |member| (family, member)));
    let mut all = all.peekable();
    while all.peek().is_some() {
        let block: Vec<(usize, u64)> = all.by_ref().take(BLOCK).collect();
        let floor = tally.best() - HOPELESS;
        let judged: Vec<_> = block
            .par_iter()
            .map(|&(family, member)| {
                let weight = prior.of_member(kinds, family).ln();
                let found = faults.member(family, member);
                let judged = found.map(|found| {
                    judge.by(floor - weight, |scene| {
                        memo.outcome((family, member, scene.key()), || scene.outcome(&found.tap))
                    })
                });
                done(1);
                (weight, judged)
            })
            .collect();
        for ((family, member), (weight, judged)) in block.into_iter().zip(judged) {
            if let Some(judged) = judged {
                tally.add(Cause::Fault { family, member }, weight, &judged);
            }
        }
    }
    tally.close(faults, judge.counting() > 0, notes)
}

/// Positions of the families, those first whose members need no frame drawn; else in their own order.
fn cheapest_first<F: Faults>(faults: &F) -> Vec<usize> {
    let is_drawn = |family: &usize| {
        let first = faults.member(*family, 0);
        first.is_none_or(|first| !Stages::ADDRESS.contains(first.tap.stages()))
    };
    let mut families: Vec<usize> = (0..faults.kinds().len()).collect();
    families.sort_by_key(is_drawn);
    families
}

/// Every member held against every sighting, none given up, in the order of the families.
#[must_use]
pub fn likelihoods<F: Faults>(sightings: &Sightings, faults: &F) -> Vec<(Cause, Judged)> {
    let (_, counting) = sightings.weighed();
    let judge = Judge::new(sightings, counting);
    let kinds = faults.kinds();
    let all: Vec<(usize, u64)> =
        (0..kinds.len()).flat_map(|family| (0..kinds[family].count).map(move |member| (family, member))).collect();
    let judged = all.into_par_iter().filter_map(|(family, member)| {
        let found = faults.member(family, member)?;
        Some((Cause::Fault { family, member }, judge.tap(&found.tap)))
    });
    judged.collect()
}

/// A fault that may be no member of any family, held against every sighting.
#[must_use]
pub fn judged<T: Tap + Clone>(sightings: &Sightings, tap: &T) -> Judged {
    let (_, counting) = sightings.weighed();
    Judge::new(sightings, counting).tap(tap)
}

/// Number of members that [`diagnose`] goes through.
#[must_use]
pub fn members<F: Faults>(faults: &F) -> u64 {
    faults.kinds().iter().map(|kind| kind.count).sum()
}

/// A member's name with its parameters: `row-reload row_bytes=256 reloads=1`.
#[must_use]
pub fn member_name<F: Faults>(faults: &F, cause: Cause) -> String {
    match cause {
        Cause::Healthy => HEALTHY.0.to_string(),
        Cause::Routine => ROUTINE.0.to_string(),
        Cause::NoneOfThese => NONE_OF_THESE.0.to_string(),
        Cause::Fault { family, member } => {
            let parameters = faults.member(family, member).map(|member| member.parameters).unwrap_or_default();
            let values = parameters.iter().map(|(name, value)| format!(" {name}={value}"));
            faults.kinds().get(family).map_or("", |kind| kind.name.as_str()).to_string() + &values.collect::<String>()
        }
    }
}

/// Name and title of a healthy board.
pub const HEALTHY: (&str, &str) = ("healthy-board", "Nothing is wrong with the board");
/// Name and title of a routine with hazards.
pub const ROUTINE: (&str, &str) = ("routine", "The board is healthy; the routine writes at the wrong moment");
/// Name and title of a fault that no family describes.
pub const NONE_OF_THESE: (&str, &str) = ("none-of-these", "A fault that is not in the library");
