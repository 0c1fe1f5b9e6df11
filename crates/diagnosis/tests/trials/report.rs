//! What blind trials came to.

use std::fmt;

use backporch_diagnosis::Conclusion;

use super::observer::Manner;
use super::{Stated, Trial};

/// Trials and their rates.
#[derive(Clone, Debug, PartialEq)]
pub struct TrialReport {
    /// Every trial, in order.
    pub trials: Vec<Trial>,
}

/// Stated probabilities against what came true.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calibration {
    /// Stated probabilities from …
    pub from: f64,
    /// … to below.
    pub to: f64,
    /// Statements in these bounds.
    pub count: usize,
    /// Mean of what was stated.
    pub stated: f64,
    /// Share of hits.
    pub came_true: f64,
}

/// Bounds of the bins of the calibration.
const BINS: [f64; 9] = [0.0, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95, 0.99, 1.01];

impl TrialReport {
    pub(super) fn of(trials: Vec<Trial>) -> Self {
        Self { trials }
    }

    fn inside(&self) -> impl Iterator<Item = &Trial> + Clone {
        self.trials.iter().filter(|trial| trial.family.is_some())
    }

    fn outside(&self) -> impl Iterator<Item = &Trial> + Clone {
        self.trials.iter().filter(|trial| trial.family.is_none())
    }

    /// Share of faults from the families that the first suspect is, or cannot be distinguished from.
    #[must_use]
    pub fn hits(&self) -> f64 {
        share(self.inside(), Trial::hit)
    }

    /// Share of faults from the families whose family is the first suspect's.
    #[must_use]
    pub fn right_families(&self) -> f64 {
        share(self.inside(), |trial| trial.right_family)
    }

    /// Share of made-up faults that are said to be none of these.
    #[must_use]
    pub fn outside_known(&self) -> f64 {
        share(self.outside(), Trial::hit)
    }

    /// Share of made-up faults for which a family is named more likely than all else together.
    #[must_use]
    pub fn outside_misnamed(&self) -> f64 {
        let named = |trial: &Trial| matches!(trial.conclusion, Conclusion::Fault | Conclusion::OneOfGroup);
        share(self.outside(), named)
    }

    /// Median of the probes after which the first suspect was right, over the hits inside the families.
    #[must_use]
    pub fn median_needed(&self) -> usize {
        median(self.inside().filter(|trial| trial.hit()).map(Trial::needed))
    }

    /// Median of the probes followed, over the faults from the families.
    #[must_use]
    pub fn median_followed(&self) -> usize {
        median(self.inside().map(Trial::probes))
    }

    /// Stated probabilities against what came true, over all trials, in the end.
    #[must_use]
    pub fn calibration(&self) -> Vec<Calibration> {
        calibration(self.trials.iter().map(Trial::last))
    }

    /// The same of everything that was stated, before the probes and between them as well.
    #[must_use]
    pub fn calibration_on_the_way(&self) -> Vec<Calibration> {
        calibration(self.trials.iter().flat_map(|trial| trial.statements.iter().copied()))
    }
}

/// Statements by the bins of what was stated, those without any left out.
fn calibration(statements: impl Iterator<Item = Stated> + Clone) -> Vec<Calibration> {
    let bin = |bounds: &[f64]| {
        let (from, to) = (bounds[0], bounds[1]);
        let within = statements.clone().filter(|one| (from..to).contains(&one.probability));
        let count = within.clone().count();
        let mean = |value: &dyn Fn(Stated) -> f64| within.clone().map(value).sum::<f64>() / count as f64;
        let stated = mean(&|one| one.probability);
        (count > 0).then(|| Calibration {
            from,
            to,
            count,
            stated,
            came_true: mean(&|one| f64::from(u8::from(one.hit))),
        })
    };
    BINS.windows(2).filter_map(bin).collect()
}

impl fmt::Display for Calibration {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { from, to, count, stated, came_true } = self;
        let percent = |share: &f64| share * 100.0;
        write!(
            f,
            "stated {:.0} to {:.0} %: {count}, mean {:.1} %, came true {:.1} %",
            percent(from),
            to.min(1.0) * 100.0,
            percent(stated),
            percent(came_true)
        )
    }
}

impl TrialReport {
    /// Mean distance of what was stated from what came true, over the bins, by their trials.
    #[must_use]
    pub fn calibration_error(&self) -> f64 {
        let off = |bin: &Calibration| (bin.stated - bin.came_true).abs() * bin.count as f64;
        self.calibration().iter().map(off).sum::<f64>() / self.trials.len().max(1) as f64
    }
}

fn share<'a>(trials: impl Iterator<Item = &'a Trial> + Clone, holds: impl Fn(&Trial) -> bool) -> f64 {
    let all = trials.clone().count().max(1);
    trials.filter(|trial| holds(trial)).count() as f64 / all as f64
}

fn median(values: impl Iterator<Item = usize>) -> usize {
    let mut values: Vec<usize> = values.collect();
    values.sort_unstable();
    values.get(values.len() / 2).copied().unwrap_or(0)
}

impl fmt::Display for TrialReport {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (inside, outside) = (self.inside().count(), self.outside().count());
        writeln!(f, "{inside} faults of the families, {outside} made up outside of them")?;
        writeln!(f, "first suspect is the fault or cannot be distinguished from it: {:.1} %", self.hits() * 100.0)?;
        for manner in Manner::ALL {
            let of_it = self.inside().filter(|trial| trial.manner == manner);
            let words = match manner {
                Manner::Vague => "who glances",
                Manner::Exact => "who counts",
                Manner::Marker => "who moves a marker",
            };
            writeln!(
                f,
                "  by an observer {words}: {:.1} % of {}",
                share(of_it.clone(), Trial::hit) * 100.0,
                of_it.count()
            )?;
        }
        writeln!(f, "first suspect is of the fault's family: {:.1} %", self.right_families() * 100.0)?;
        writeln!(f, "probes needed: median {}; followed: median {}", self.median_needed(), self.median_followed())?;
        writeln!(f, "outside faults called none of these: {:.1} %", self.outside_known() * 100.0)?;
        writeln!(f, "outside faults put down to a family: {:.1} %", self.outside_misnamed() * 100.0)?;
        writeln!(f, "expected calibration error: {:.1} %", self.calibration_error() * 100.0)?;
        self.calibration().iter().try_for_each(|bin| writeln!(f, "{bin}"))?;
        writeln!(f, "before and between the probes as well:")?;
        self.calibration_on_the_way().iter().try_for_each(|bin| writeln!(f, "{bin}"))?;
        Ok(())
    }
}
