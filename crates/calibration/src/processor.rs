//! The processor: clock, model, waits, refresh.

use std::sync::Arc;

use backporch_adapter::{Adapter, Mode};
use backporch_evidence::survey::{Experiments, SeriesPattern, Survey, Taken, TimedPattern};
use backporch_pc::clocks::bus_cycle;
use backporch_pc::hardware::Waits;
use backporch_processor_timing::{CRYSTAL_HZ, Model, ProcessorClock, TIMER_DIVIDER};
use backporch_script::CpuModel;

use crate::CalibrationError;
use crate::figure::Figure;
use crate::fit::{Best, apart};
use crate::rig::{PatternMemory, Rig};

/// Clocks of a multiplication of bytes by zero: the least that is published (The 8086 Family User's Manual, table 2-21;
/// iAPX 186 data sheet; iAPX 286 Programmer's Reference; 80386 Programmer's Reference Manual).
fn multiplication(model: Model) -> u32 {
    match model {
        Model::P8088 | Model::P8086 => 70,
        Model::P80186 => 26,
        Model::P80286 => 13,
        Model::P80386 => 9,
    }
}

/// Beats by which a measurement may be off: both counts are cut to whole ones, as are those of what is taken off.
const CUT: f64 = 1.5;

/// Most waits that are tried, of memory and of ports.
const MEMORY_WAITS: u32 = 8;
const PORT_WAITS: u32 = 20;

/// Clocks by which the best may miss and still be believed.
const BELIEVED: f64 = 0.5;

/// Clocks that what is timed may take longer or shorter at its ends, where the queue is not as in the midst of it.
const ENDS: f64 = 16.0;

/// Beats of the timer in a second.
pub(crate) fn beats_a_second() -> f64 {
    CRYSTAL_HZ as f64 / TIMER_DIVIDER as f64
}

/// The processor of a surveyed machine.
#[derive(Clone, Debug)]
pub struct SurveyedProcessor {
    /// Its model, where it is one of those known here.
    pub model: Model,
    /// Its clock in hertz, and how far it may be off.
    pub clock_hz: (f64, f64),
    /// The same for models.
    pub clock: ProcessorClock,
    /// Waits.
    pub waits: Waits,
    /// Whether waits of memory and ports, and whether there is refresh, could be determined.
    pub(crate) sure: [bool; 3],
    /// Beats that are counted with nothing timed.
    pub(crate) nothing: f64,
}

impl SurveyedProcessor {
    pub(crate) fn of(survey: &Survey, adapter: &Arc<Adapter>, mode: &Mode) -> Result<Self, CalibrationError> {
        let timed =
            |pattern| survey.machine.timed.get(&pattern).ok_or(CalibrationError::Missing(pattern_name(pattern)));
        let nothing = timed(TimedPattern::Nothing)?.beats.mean();
        let multiply = timed(TimedPattern::Multiply)?;
        let beats = multiply.beats.mean() - nothing;
        // Of those that mask shifts, older surveys do not say which it is.
        let usual = if survey.masks_shifts { Model::P80286 } else { Model::P8088 };
        let clocks = f64::from(multiply.copies) * f64::from(multiplication(survey.processor.unwrap_or(usual)));
        let hertz = clocks / beats * beats_a_second();
        let clock = ProcessorClock::new(hertz.round().clamp(0.0, 1e9) as u64, 1)
            .filter(|_| beats > 100.0 && (1e6..=1e8).contains(&hertz))
            .ok_or(CalibrationError::Clock { hertz })?;
        let spread = hertz * ((CUT + f64::from(multiply.beats.spread())) / beats + ENDS / clocks);
        let usual = Waits::common(Model::P8088, clock);
        let found =
            Self { model: Model::P8088, clock_hz: (hertz, spread), clock, waits: usual, sure: [false; 3], nothing };
        Ok(found.with_memory(survey, adapter, mode).with_ports(survey, adapter, mode))
    }

    /// Clocks to a beat of the timer.
    pub(crate) fn clocks_a_beat(&self) -> f64 {
        self.clock_hz.0 / beats_a_second()
    }

    /// Clocks of one of the copies of a pattern that took this many beats.
    pub(crate) fn clocks_of(&self, copies: u32, beats: f64) -> f64 {
        (beats - self.nothing) * self.clocks_a_beat() / f64::from(copies.max(1))
    }

    /// Clocks of a copy for each delay; empty where the series was not measured.
    pub(crate) fn series(&self, experiments: &Experiments, pattern: SeriesPattern) -> Vec<f64> {
        let series = experiments.series.get(&pattern);
        series.map_or_else(Vec::new, |series| {
            series.least.iter().map(|beats| self.clocks_of(series.copies, f64::from(*beats))).collect()
        })
    }

    pub(crate) fn rig<'a>(&self, adapter: &'a Arc<Adapter>, mode: &'a Mode) -> Rig<'a> {
        Rig { adapter, mode, model: self.model, clock: self.clock, waits: self.waits }
    }

    /// Model, waits of memory, refresh: what fits reads of bytes and words, and fetching.
    fn with_memory(self, survey: &Survey, adapter: &Arc<Adapter>, mode: &Mode) -> Self {
        let patterns = [SeriesPattern::ReadByteOdd, SeriesPattern::ReadWordEven, SeriesPattern::ReadWordOdd];
        let found = patterns.map(|pattern| self.series(&survey.machine, pattern));
        // One bus moves words at even addresses at once, the other no word.
        let [_, even, odd] = found.each_ref().map(|series| series.iter().sum::<f64>() / series.len().max(1) as f64);
        let model = if survey.masks_shifts {
            survey.processor.unwrap_or(Model::P80286)
        } else if odd - even > f64::from(bus_cycle(Model::P8086)) / 2.0 {
            Model::P8086
        } else {
            Model::P8088
        };
        let intervals = [survey.refresh_beats as u8, 0];
        let candidates = intervals.into_iter().flat_map(|refresh_beats| {
            (0..MEMORY_WAITS).map(move |memory| Waits { memory, refresh_beats, ..self.waits })
        });
        let fetch = survey.machine.timed.get(&TimedPattern::Fetch);
        let fetched = fetch.map(|fetch| self.clocks_of(fetch.copies, fetch.beats.mean()));
        let best = Best::of(candidates, |waits| {
            let rig = Rig { model, waits: *waits, ..self.rig(adapter, mode) };
            let series: f64 = patterns
                .iter()
                .zip(&found)
                .map(|(pattern, found)| apart(found, &rig.series(*pattern, PatternMemory::Own, 128, found.len())))
                .sum();
            let fetching =
                fetched.zip(rig.timed(TimedPattern::Fetch, 1024)).map_or(0.0, |(one, two)| (one - two).abs());
            series / patterns.len() as f64 + fetching
        });
        let Some(Best { alike, cost }) = best else { return self };
        let Some(waits) = alike.first().copied() else { return self };
        let same = |of_waits: fn(&Waits) -> u32| alike.iter().all(|other| of_waits(other) == of_waits(&waits));
        let believed = cost <= BELIEVED;
        let sure =
            [believed && same(|waits| waits.memory), false, believed && same(|waits| u32::from(waits.refresh_beats))];
        Self { model, waits, sure, ..self }
    }

    fn with_ports(self, survey: &Survey, adapter: &Arc<Adapter>, mode: &Mode) -> Self {
        let patterns = [SeriesPattern::PortByte, SeriesPattern::PortWord];
        let found = patterns.map(|pattern| self.series(&survey.machine, pattern));
        let best = Best::of(0..PORT_WAITS, |port| {
            let rig = Rig { waits: Waits { port: *port, ..self.waits }, ..self.rig(adapter, mode) };
            let each = patterns
                .iter()
                .zip(&found)
                .map(|(pattern, found)| apart(found, &rig.series(*pattern, PatternMemory::Own, 128, found.len())));
            each.sum::<f64>() / patterns.len() as f64
        });
        let Some(Best { alike, cost }) = best else { return self };
        let Some(port) = alike.first().copied() else { return self };
        let sure = [self.sure[0], alike.len() == 1 && cost <= BELIEVED, self.sure[2]];
        Self { waits: Waits { port, ..self.waits }, sure, ..self }
    }

    /// Every figure of the processor, beside those of a processor model.
    pub(crate) fn figures(
        &self,
        survey: &Survey,
        adapter: &Arc<Adapter>,
        mode: &Mode,
        against: Option<&CpuModel>,
    ) -> Vec<Figure> {
        let model = against.and_then(|cpu| match cpu.clocks {
            backporch_script::ClockTable::Published(model) => Some(model.name().to_string()),
            backporch_script::ClockTable::Listed(_) => None,
        });
        let of = |of_waits: fn(&CpuModel) -> u32| against.map(|cpu| f64::from(of_waits(cpu)));
        let waits = |of, sure: bool, found: u32, profile| {
            if sure {
                Figure::number(of, "clocks", (f64::from(found), 0.0), profile)
            } else {
                Figure::nothing(of, "no whole number of clocks fits better than all others")
            }
        };
        let mut figures = vec![
            Figure::words("processor", self.model.name(), model),
            Figure::number("processor clock", "Hz", self.clock_hz, against.map(|cpu| cpu.clock.hertz())),
            waits("waits of system memory", self.sure[0], self.waits.memory, of(|cpu| cpu.bus.memory_wait)),
            waits("waits of ports", self.sure[1], self.waits.port, of(|cpu| cpu.bus.port_wait)),
        ];
        figures.push(if self.sure[2] {
            let beats = f64::from(self.waits.refresh_beats);
            Figure::number("memory refresh, every", "beats", (beats, 0.0), of(|cpu| u32::from(cpu.refresh_beats)))
        } else {
            Figure::nothing("memory refresh, every", "with and without it fit alike")
        });
        let rig = self.rig(adapter, mode);
        let quiet = Rig { waits: Waits { refresh_beats: 0, ..self.waits }, ..rig.clone() };
        let timed = |pattern| survey.machine.timed.get(&pattern);
        if let Some(fetch) = timed(TimedPattern::Fetch) {
            let clocks = self.clocks_of(fetch.copies, fetch.beats.mean());
            let spread = self.spread_of(fetch.copies, &fetch.beats);
            let bytes = 3.0 * self.clock_hz.0 / clocks;
            figures.push(Figure::number("fetching", "bytes/s", (bytes, bytes * spread / clocks), None));
            if let Some(alone) = quiet.timed(TimedPattern::Fetch, fetch.copies) {
                let lost = |clocks: f64| 100.0 * (clocks - alone) / clocks;
                let profile = rig.timed(TimedPattern::Fetch, fetch.copies).map(lost);
                // How requests and bus cycles fall together moves the share by about as much.
                let share = (lost(clocks), 100.0 * spread / clocks + 1.0);
                figures.push(Figure::number("bus lost to refresh", "%", share, profile));
            }
        }
        if let Some(interrupt) = timed(TimedPattern::Interrupt) {
            let clocks = self.clocks_of(interrupt.copies, interrupt.beats.mean());
            let spread = self.spread_of(interrupt.copies, &interrupt.beats);
            figures.push(Figure::number("software interrupt and return", "clocks", (clocks, spread), None));
        }
        if let Some(service) = timed(TimedPattern::Firmware) {
            let beats = (service.beats.mean() - self.nothing) / f64::from(service.copies);
            let spread = (CUT + f64::from(service.beats.spread())) / f64::from(service.copies);
            let microseconds = |beats: f64| beats * 1e6 / beats_a_second();
            let found = (microseconds(beats), microseconds(spread));
            figures.push(Figure::number("firmware, asked for the mode", "us", found, None));
        }
        figures
    }

    /// Clocks of a round of polling, at most: `IN`, `TEST` with a byte and `LOOPE`, five bytes, the queue empty at their
    /// beginning (The 8086 Family User's Manual, table 2-21; iAPX 286 Programmer's Reference).
    fn polling(&self) -> f64 {
        let (execution, cycles) = if self.model.is_from(Model::P80286) { (19, 4) } else { (30, 6) };
        let fetching = cycles * (u32::from(bus_cycle(self.model)) + self.waits.memory);
        f64::from(execution + fetching + self.waits.port)
    }

    /// The same in beats of the timer.
    pub(crate) fn polling_beats(&self) -> f64 {
        self.polling() / self.clocks_a_beat()
    }

    /// Clocks by which a copy may be off.
    pub(crate) fn spread_of(&self, copies: u32, beats: &Taken) -> f64 {
        ((CUT + f64::from(beats.spread())) * self.clocks_a_beat() + ENDS) / f64::from(copies.max(1))
    }
}

fn pattern_name(pattern: TimedPattern) -> &'static str {
    backporch_evidence::survey::SurveyPattern::name(pattern)
}
