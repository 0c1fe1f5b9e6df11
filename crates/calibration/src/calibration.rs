//! A survey turned into figures and files.

use std::sync::Arc;

use backporch_adapter::{ADAPTERS, Adapter, MemoryBus, Role};
use backporch_evidence::survey::Survey;
use backporch_input::Source;
use backporch_processor_timing::Model;
use backporch_script::{ClockTable, CpuModel, PROCESSORS};
use backporch_signal::Hertz;
use thiserror::Error;

use crate::access::{self, AccessTiming};
use crate::beam::ModeBeam;
use crate::figure::Figure;
use crate::inventory::Inventory;
use crate::processor::SurveyedProcessor;
use crate::take_over::StartTakeOver;
use crate::written::{self, ProfileOverrides};

/// Why a survey cannot be turned into figures. Displays as `found …, allowed …`.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("found {}, allowed {}", self.found(), self.allowed())]
pub enum CalibrationError {
    /// It was made for another class.
    Board {
        /// The survey's class.
        found: String,
        /// The board it is held against.
        board: String,
    },
    /// A mode that the class does not have.
    Mode(String),
    /// Something without which nothing else can be determined.
    Missing(&'static str),
    /// A clock that no processor has.
    Clock {
        /// The clock.
        hertz: f64,
    },
}

impl CalibrationError {
    /// What was found.
    #[must_use]
    pub fn found(&self) -> String {
        match self {
            Self::Board { found, .. } => format!("a survey of {found}"),
            Self::Mode(mode) => mode.clone(),
            Self::Missing(experiment) => format!("no experiment {experiment}"),
            Self::Clock { hertz } => format!("a processor of {hertz:.0} Hz"),
        }
    }

    /// What is allowed.
    #[must_use]
    pub fn allowed(&self) -> String {
        match self {
            Self::Board { board, .. } => format!("one of {board}, the board it is held against"),
            Self::Mode(_) => "a mode of the board".to_string(),
            Self::Missing(_) => "a survey with it".to_string(),
            Self::Clock { .. } => "1 to 100 MHz".to_string(),
        }
    }
}

/// Figures of a surveyed machine, beside those of profiles, and what was found as profiles.
#[derive(Clone, Debug)]
pub struct Calibration {
    /// The processor.
    pub processor: SurveyedProcessor,
    /// Name of the processor model it was held against; `None` where none is near.
    pub against: Option<String>,
    /// How the board serves the processor, mode by mode, where that could be determined.
    pub accesses: Vec<(String, AccessTiming)>,
    /// Every figure, those of the machine first.
    pub figures: Vec<Figure>,
    /// What the adapter profile has otherwise.
    overrides: ProfileOverrides,
    /// Clock of the processor model: crystal and divisor.
    clock: (u64, u64),
    based_on: String,
}

impl Calibration {
    /// Holds a survey against a board's profile and a processor model; without one, against the built-in model of that
    /// processor whose clock is nearest.
    ///
    /// # Errors
    /// Where the survey is of another class, or lacks what all else follows from.
    pub fn new(survey: &Survey, adapter: &Arc<Adapter>, against: Option<&CpuModel>) -> Result<Self, CalibrationError> {
        if !is_of(adapter, &survey.board) {
            let (found, board) = (survey.board.clone(), adapter.name().to_string());
            return Err(CalibrationError::Board { found, board });
        }
        let modes = survey.modes.iter().map(|surveyed| {
            let mode = adapter.mode(&surveyed.name).ok_or_else(|| CalibrationError::Mode(surveyed.name.clone()))?;
            Ok((mode, surveyed))
        });
        let modes = modes.collect::<Result<Vec<_>, _>>()?;
        let usual = modes.first().map_or_else(|| adapter.default_mode(), |(mode, _)| mode);
        let processor = SurveyedProcessor::of(survey, adapter, usual)?;
        let nearest = nearest(&processor);
        let against = against.or(nearest.as_ref());
        let mut figures = processor.figures(survey, adapter, usual, against);
        let mut accesses = Vec::new();
        let mut found = ProfileOverrides::default();
        let mut clocks = Vec::new();
        for (mode, surveyed) in modes {
            let beam = ModeBeam::of(&processor, adapter, mode, surveyed);
            let measured = beam.dot_clock.and_then(|(clock, _)| Hertz::new(clock));
            let at_clock = measured.map_or_else(|| Arc::clone(adapter), |clock| Arc::new(adapter.at_dot_clock(clock)));
            let access = access::ModeAccess::of(&processor, &at_clock, mode, surveyed);
            let inventory = Inventory::of(adapter, mode, surveyed);
            let choice = adapter
                .field_with(Role::ClockSelect)
                .map_or(0, |field| adapter.get(&adapter.start_up(mode), field) as usize);
            let off = beam
                .figures
                .iter()
                .any(|figure| figure.unit == "Hz" && figure.of.starts_with("dot") && figure.differs());
            let same_lines = !beam.figures.iter().any(|figure| figure.of == "lines of a frame" && figure.differs());
            if let Some((clock, _)) = beam.dot_clock.filter(|_| off && same_lines) {
                clocks.push((choice, clock));
            }
            let own = adapter.bus(&adapter.start_up(mode));
            if let Some(bus) = access.bus.filter(|bus| *bus != own) {
                found.bus.get_or_insert(bus);
            }
            if let Some(kind) = &access.access {
                accesses.push((surveyed.name.clone(), kind.clone()));
            }
            if let Some(bytes) = inventory.memory_bytes.filter(|bytes| *bytes != adapter.memory().bytes) {
                found.memory_bytes = Some(bytes);
            }
            let take_over = StartTakeOver::of(&processor, adapter, mode, surveyed);
            found.start_load = found.start_load.or(take_over.as_ref().and_then(|found| found.other));
            figures.extend(beam.figures);
            figures.extend(take_over.map(|found| found.figure));
            figures.extend(access.figures);
            figures.extend(inventory.figures);
        }
        found.take_clocks(adapter, &clocks);
        let same = against.filter(|cpu| (cpu.clock.hertz() - processor.clock_hz.0).abs() <= processor.clock_hz.1);
        let clock = same.map_or((processor.clock_hz.0.round() as u64, 1), |cpu| {
            (cpu.clock.crystal_millihertz() / 1000, cpu.clock.divider())
        });
        Ok(Self {
            against: against.map(|cpu| cpu.name.clone()),
            processor,
            accesses,
            figures,
            overrides: found,
            clock,
            based_on: survey.board.clone(),
        })
    }

    /// Whether a profile lies beyond the spread of any figure.
    #[must_use]
    pub fn differs(&self) -> bool {
        self.figures.iter().any(Figure::differs)
    }

    /// The processor as a model of that name, for `--cpu` and the field `cpu` of a bench (RON).
    #[must_use]
    pub fn processor_model(&self, name: &str) -> String {
        written::processor(name, &self.processor, self.clock)
    }

    /// The board as a profile of that name, for `--board` and the field `adapter` of a bench (RON).
    #[must_use]
    pub fn adapter_profile(&self, name: &str) -> String {
        written::adapter(name, &self.based_on, &self.overrides)
    }

    /// What the adapter profile says otherwise of how memory meets the bus.
    #[must_use]
    pub fn bus(&self) -> Option<MemoryBus> {
        self.overrides.bus
    }
}

impl ProfileOverrides {
    /// Dot clocks that differ, by which of the class's they are.
    fn take_clocks(&mut self, adapter: &Adapter, clocks: &[(usize, f64)]) {
        let profile = adapter.profile();
        if profile.dot_clocks_hz.is_empty() {
            self.dot_clock = clocks.first().map(|(_, clock)| *clock);
            return;
        }
        let mut all = profile.dot_clocks_hz.clone();
        let last = all.len() - 1;
        for (choice, clock) in clocks {
            all[(*choice).min(last)] = *clock;
        }
        self.dot_clocks = (all != profile.dot_clocks_hz).then_some(all);
    }
}

/// Whether an adapter is of a class, or a card of it that a profile of its own describes.
fn is_of(adapter: &Adapter, class: &str) -> bool {
    let known = ADAPTERS.source(class).and_then(|source| Adapter::from_source(&source).ok());
    let alike = |class: &Adapter| {
        let (one, other) = (adapter.profile(), class.profile());
        one.modes == other.modes && one.registers == other.registers && one.ports == other.ports
    };
    adapter.name() == class || known.is_some_and(|class| alike(&class))
}

/// The built-in model of a processor whose clock is nearest.
fn nearest(processor: &SurveyedProcessor) -> Option<CpuModel> {
    let models = PROCESSORS
        .entries()
        .iter()
        .filter_map(|(name, text)| CpuModel::from_source(&Source::built_in(*name, *text)).ok());
    let is_of = |cpu: &CpuModel, model: Model| cpu.clocks == ClockTable::Published(model);
    let apart = |cpu: &CpuModel| (cpu.clock.hertz() - processor.clock_hz.0).abs();
    let of_model = models.filter(|cpu| is_of(cpu, processor.model));
    of_model.min_by(|one, other| apart(one).total_cmp(&apart(other)))
}
