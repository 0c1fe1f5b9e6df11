//! Experiments that could be made next, in a fixed order, and what they cost.

use std::sync::Arc;

use backporch_adapter::{FieldId, Role, Serialise};
use backporch_analysis::{Conditions, ExperimentSetup, Specimen, WhichFrame, WriteMoment};
use backporch_evidence::{Experiment, Sightings};

/// What a candidate changes against the bench; of several the dearest counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Change {
    /// The start address alone.
    StartAddress,
    /// Displayed or pitch, with the picture laid out again.
    Width,
    /// The moment of the writes, while the picture moves.
    WriteMoment,
    /// The mode.
    Mode,
    /// The board: another one of the same class.
    Board,
}

impl Change {
    /// Cost, in steps of the start address: common sense, not measured.
    #[must_use]
    pub fn cost(self) -> f64 {
        match self {
            Self::StartAddress => 1.0,
            Self::Width => 1.1,
            Self::WriteMoment => 2.0,
            Self::Mode => 2.5,
            Self::Board => 12.0,
        }
    }

    /// In words: what it costs.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::StartAddress => "one register",
            Self::Width => "one register, and the picture laid out again",
            Self::WriteMoment => "the moment of the writes, looked at while it moves",
            Self::Mode => "another mode",
            Self::Board => "another board of the same class",
        }
    }
}

/// One experiment that could be made.
#[derive(Clone, Debug)]
pub struct ProbeCandidate {
    /// The setting; its own step is the one to look at.
    pub experiment: Experiment,
    /// The step to look at.
    pub step: u32,
    /// What it changes.
    pub change: Change,
    /// Whether the same setting has been stepped through before.
    pub again: bool,
}

/// Cost of one look more at a setting that has been stepped through, against
/// the first: what has misled the observer there is likely to mislead again.
const AGAIN: f64 = 1.5;

impl ProbeCandidate {
    /// Cost, in steps of the start address.
    #[must_use]
    pub fn cost(&self) -> f64 {
        self.change.cost() * if self.again { AGAIN } else { 1.0 }
    }

    /// The setting to look at.
    #[must_use]
    pub fn setup(&self) -> ExperimentSetup {
        self.experiment.setup(self.step)
    }

    /// Registers that differ from the bench's, by name, in the adapter's order.
    #[must_use]
    pub fn registers(&self) -> Vec<(String, u32)> {
        let (bench, registers) = (&self.experiment.bench, self.experiment.registers(self.step));
        let adapter = bench.adapter();
        let changed = adapter.fields().filter(|(field, _)| {
            adapter.get(&registers, *field) != adapter.get(bench.registers(), *field) || *field == self.experiment.over
        });
        changed.map(|(field, info)| (info.name.clone(), adapter.get(&registers, field))).collect()
    }
}

/// Narrowest line that is tried, as a share of the bench's.
const NARROWEST: f64 = 0.4;
/// Start addresses tried at the bench's own width: one of each size, and those about the usual row lengths.
const STARTS: [u32; 30] = [
    0, 1, 2, 3, 4, 5, 7, 8, 12, 15, 16, 20, 24, 28, 31, 32, 33, 48, 63, 64, 96, 100, 127, 128, 200, 255, 256, 512,
    1024, 4096,
];
/// Start addresses tried at every other width.
const STARTS_BY_WIDTH: [u32; 3] = [0, 1, 17];

/// Every candidate, in a fixed order; what has been looked at is left out.
pub(super) fn candidates(sightings: &Sightings) -> Vec<ProbeCandidate> {
    let base = base(sightings);
    let adapter = base.bench.adapter();
    let own = base.own_step();
    let at_start = |experiment: &Experiment, change, offset: u32| {
        let step = own.wrapping_add(offset);
        let fits = step <= adapter.field_info(experiment.over).max();
        fits.then(|| ProbeCandidate { experiment: experiment.clone(), step, change, again: false })
    };
    let mut all = Vec::new();
    for (field, narrower) in widths(&base) {
        for value in narrower {
            let experiment = base.clone().with(field, value);
            all.extend(STARTS_BY_WIDTH.iter().filter_map(|offset| at_start(&experiment, Change::Width, *offset)));
        }
    }
    all.extend(STARTS.iter().filter_map(|offset| at_start(&base, Change::StartAddress, *offset)));
    for moment in [WriteMoment::ActiveArea, WriteMoment::Retrace, WriteMoment::Routine] {
        let conditions = Conditions { moment, look: WhichFrame::Moving, ..Conditions::default() };
        let experiment = Experiment { conditions, ..base.clone() };
        // One step, and one that carries into the upper byte.
        all.extend([1, 256].iter().filter_map(|offset| at_start(&experiment, Change::WriteMoment, *offset)));
    }
    for experiment in modes(&base) {
        all.extend(STARTS_BY_WIDTH.iter().filter_map(|offset| at_start(&experiment, Change::Mode, *offset)));
    }
    let conditions = Conditions {
        specimen: Specimen::Another,
        look: WhichFrame::Moving,
        moment: WriteMoment::Routine,
        ..Conditions::default()
    };
    let elsewhere = Experiment { conditions, ..base.clone() };
    all.extend(at_start(&elsewhere, Change::Board, 1));
    all.retain(|candidate| !looked_at(sightings, candidate));
    all.iter_mut().for_each(|candidate| candidate.again = stepped_through(sightings, candidate));
    all
}

/// The bench as it is, or with the test card where that was looked at last: a session's next one shows it again.
fn base(sightings: &Sightings) -> Experiment {
    let own = sightings.bench();
    let last = sightings.sightings().last().map(|one| &sightings.experiments()[one.experiment].bench);
    let shown = last.filter(|bench| {
        let is_own = bench.adapter().name() == own.adapter().name() && bench.mode().name == own.mode().name;
        bench.is_test_card() && is_own
    });
    Experiment::on(Arc::clone(shown.unwrap_or(own)))
}

/// Registers that change the width or the pitch, and the narrower values to try, widest first.
fn widths(base: &Experiment) -> Vec<(FieldId, Vec<u32>)> {
    let adapter = base.bench.adapter();
    let fields = [Role::HorizontalDisplayed, Role::Pitch].into_iter().filter_map(|role| adapter.field_with(role));
    let narrower = |field: FieldId| {
        let now = adapter.get(base.bench.registers(), field);
        let plus = u32::from(adapter.field_info(field).plus);
        let least = (f64::from(now + plus) * NARROWEST).ceil() as u32;
        (field, (least.saturating_sub(plus)..now).rev().collect())
    };
    fields.map(narrower).collect()
}

/// The adapter's other graphics modes, as registers that differ.
fn modes(base: &Experiment) -> Vec<Experiment> {
    let adapter = base.bench.adapter();
    let other = |mode: &&backporch_adapter::Mode| mode.name != base.bench.mode().name;
    let modes = adapter.profile().modes.iter().filter(other);
    modes
        .filter_map(|mode| {
            let registers = adapter.start_up(mode);
            let format = adapter.format(adapter.format_index(&registers));
            let differs = |field: &FieldId| {
                adapter.get(&registers, *field) != adapter.get(base.bench.registers(), *field) && *field != base.over
            };
            let changed = adapter.fields().map(|(field, _)| field).filter(differs);
            let set = |experiment: Experiment, field| {
                let value = adapter.get(&registers, field);
                experiment.with(field, value)
            };
            (format.serialise != Serialise::Text).then(|| changed.fold(base.clone(), set))
        })
        .collect()
}

/// Whether someone has looked there, or over a range of steps around it.
fn looked_at(sightings: &Sightings, candidate: &ProbeCandidate) -> bool {
    let experiments = sightings.experiments();
    sightings.sightings().iter().any(|sighting| {
        let (from, last) = sighting.steps;
        sighting.seen.is_informative()
            && (from..=last).contains(&candidate.step)
            && experiments[sighting.experiment].same_as(&candidate.experiment)
    })
}

/// Whether the candidate's setting has been looked at in at least two steps.
fn stepped_through(sightings: &Sightings, candidate: &ProbeCandidate) -> bool {
    let experiments = sightings.experiments();
    let same = |at: usize| experiments[at].same_as(&candidate.experiment);
    let there =
        sightings.sightings().iter().filter(|sighting| sighting.seen.is_informative() && same(sighting.experiment));
    there.map(|sighting| sighting.count).sum::<u64>() > 1
}
