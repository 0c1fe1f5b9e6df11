//! Sweeps: step one or two registers through ranges, a verdict a step.
//!
//! Each step is what a person sees who sets the register while the beam is in
//! the active area and looks once the picture has settled: a board that has
//! shown the step before gets the new values through its ports, runs on for
//! some frames, and the last of them is held against the plain board's. The board is the bench's: as its class is
//! built, with the bench's quirks.

//!
//! Where nothing but addresses, bytes, pixels and colours of a frame at rest are changed, no frame is drawn: the
//! lines of both boards are held against each other one by one, addresses before values, values before colours. The
//! tests hold that equal to what boards show.

mod boards;
mod judge;
mod still;

use std::ops::RangeInclusive;

use backporch_adapter::{Adapter, FieldId, SetError};
use backporch_bench::Bench;
use rayon::prelude::*;
use thiserror::Error;

pub use boards::{StepBoards, step_boards};
use judge::Judge;

use crate::pattern::{LinePattern, period};
use crate::verdict::{Damage, Verdict};

/// A register and the stored values it takes, in order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SweepAxis {
    field: FieldId,
    name: String,
    values: Vec<u32>,
}

/// Why a sweep cannot be made.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum SweepError {
    /// A value does not fit its register.
    #[error(transparent)]
    Value(#[from] SetError),
    /// No step, or more than a sweep may have.
    #[error("found {found} steps, allowed 1..={}", Sweep::MOST_STEPS)]
    Steps {
        /// Steps asked for.
        found: u64,
    },
    /// No register, or more than two.
    #[error("found {found} registers to step, allowed 1 or 2")]
    Registers {
        /// Registers asked for.
        found: usize,
    },
}

impl SweepAxis {
    /// Checks that the register can hold every value.
    ///
    /// # Errors
    /// Where there is none, there are too many, or one does not fit.
    pub fn new(adapter: &Adapter, field: FieldId, values: impl IntoIterator<Item = u64>) -> Result<Self, SweepError> {
        let info = adapter.field_info(field);
        let mut checked = Vec::new();
        for value in values {
            if value > u64::from(info.max()) {
                return Err(SetError { field: info.name.clone(), found: value, max: info.max() }.into());
            }
            checked.push(value as u32);
            steps_allowed(checked.len() as u64)?;
        }
        steps_allowed(checked.len() as u64)?;
        Ok(Self { field, name: info.name.clone(), values: checked })
    }

    /// Name of the register.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The stored values, in order.
    #[must_use]
    pub fn values(&self) -> &[u32] {
        &self.values
    }
}

fn steps_allowed(found: u64) -> Result<(), SweepError> {
    if (1..=Sweep::MOST_STEPS).contains(&found) { Ok(()) } else { Err(SweepError::Steps { found }) }
}

/// One step of a sweep.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SweepStep {
    /// Stored value of each register stepped, in the order asked for.
    pub values: Vec<u32>,
    /// What differs from the plain board.
    pub damage: Damage,
    /// How bad that is.
    pub verdict: Verdict,
    /// The pattern of the bad lines.
    pub pattern: Option<LinePattern>,
}

/// All steps, in order, and how they repeat.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sweep {
    /// The registers stepped.
    pub names: Vec<String>,
    /// The steps; of two registers the second runs faster.
    pub steps: Vec<SweepStep>,
    /// Steps after which the kind of damage repeats, where it does.
    pub repeats_every: Option<usize>,
}

/// What is the same in steps that look alike but for which lines it strikes.
type Kind = (Verdict, u32, Option<u32>, Option<RangeInclusive<u32>>);

impl Sweep {
    /// Most steps a sweep may have: every start address of 64 KiB.
    pub const MOST_STEPS: u64 = 1 << 16;

    /// Steps after which the kind of damage repeats, of consecutive steps of one register.
    #[must_use]
    pub fn period_of(steps: &[SweepStep]) -> Option<usize> {
        let kinds: Vec<Kind> = steps.iter().map(SweepStep::kind).collect();
        period(&kinds)
    }

    /// The steps that are not clean.
    pub fn bad(&self) -> impl Iterator<Item = &SweepStep> {
        self.steps.iter().filter(|step| step.verdict != Verdict::Clean)
    }
}

impl SweepStep {
    /// The step at which `damage` was seen.
    #[must_use]
    pub fn new(values: Vec<u32>, damage: Damage) -> Self {
        Self { values, verdict: damage.verdict(), pattern: damage.pattern(), damage }
    }

    /// Verdict, number of lines, their distance and their pixels; not which lines.
    fn kind(&self) -> Kind {
        let lines = self.damage.damaged_lines().max(self.damage.visible_lines());
        let period = self.pattern.map(|pattern| pattern.period);
        // Where only some lines are bad without a pattern their number may vary
        // by one with the phase; where they follow one, it is the period that counts.
        (self.verdict, if period.is_some() { 0 } else { lines }, period, self.damage.x.clone())
    }
}

/// Steps `over` one or two registers of a bench; `hold` frames are shown a
/// step, at least one. `done` is called after every step, from any thread.
///
/// # Errors
/// Where there is nothing to step through, or too much.
pub fn sweep(bench: &Bench, over: &[SweepAxis], hold: u32, done: &(dyn Fn() + Sync)) -> Result<Sweep, SweepError> {
    let values = steps(over)?;
    let swept: Vec<SweepStep> = (0..values.len())
        .into_par_iter()
        .map_init(
            || Judge::new(bench, over, hold),
            |judge, at| {
                let step = judge.step(&values[at.saturating_sub(1)], &values[at]);
                done();
                step
            },
        )
        .collect();
    let repeats_every = if over.len() == 1 { Sweep::period_of(&swept) } else { None };
    Ok(Sweep { names: over.iter().map(|over| over.name.clone()).collect(), steps: swept, repeats_every })
}

/// Every combination of values a sweep over one or two registers goes through, in order.
///
/// # Errors
/// Where there is nothing to step through, or too much.
pub fn steps(over: &[SweepAxis]) -> Result<Vec<Vec<u32>>, SweepError> {
    match over {
        [one] => Ok(one.values.iter().map(|value| vec![*value]).collect()),
        [slow, fast] => {
            steps_allowed(slow.values.len() as u64 * fast.values.len() as u64)?;
            let pair = |slow: &u32| fast.values.iter().map(|fast| vec![*slow, *fast]).collect::<Vec<_>>();
            Ok(slow.values.iter().flat_map(pair).collect())
        }
        other => Err(SweepError::Registers { found: other.len() }),
    }
}
