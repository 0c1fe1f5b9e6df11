//! What an access to the board's memory costs: a fixed time, or slots of the board's own.

use std::ops::RangeInclusive;
use std::sync::Arc;

use backporch_adapter::{AccessSlots, Adapter, LinePlace, MemoryBus, Mode};
use backporch_evidence::survey::{SeriesPattern, SurveyedMode, TimedPattern};
use backporch_pc::clocks::bus_cycle;
use backporch_pc::hardware::Waits;
use backporch_processor_timing::{BeamClock, Model};

use crate::figure::Figure;
use crate::fit::{Best, apart};
use crate::processor::SurveyedProcessor;
use crate::rig::{PatternMemory, Rig};

/// Waits of a board with a fixed time that are tried, below those that reads take on average.
const NEAR: u32 = 6;
/// Slots that are tried, in dots.
const SLOTS: u16 = 64;
/// Distances of slots that are tried on a rig because a plain chain favours them, and those that always are: multiples of
/// half a character.
const TRIED: usize = 16;
const CHARACTER: u8 = 4;
/// Distances that are tried with more leads than one, and how many of these to either side.
const REFINED: usize = 5;
const AROUND: u8 = 5;
/// Accesses of a chain.
const CHAIN: u64 = 48;
/// Clocks by which the best may miss and still be believed.
const BELIEVED: f64 = 0.7;
/// Clocks by which slots have to fit better than a fixed time.
const BETTER: f64 = 0.15;

/// How a board serves the processor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AccessTiming {
    /// In a fixed time: nanoseconds that its shortest and its longest may be.
    Fixed(RangeInclusive<u32>),
    /// In slots: dots to the first that is early enough, and dots from slot to slot.
    Slots {
        /// Dots from the command to the earliest slot.
        lead: RangeInclusive<u8>,
        /// Dots from slot to slot.
        every: u8,
    },
}

/// What was found of a mode's memory.
#[derive(Clone, Debug)]
pub(crate) struct ModeAccess {
    pub figures: Vec<Figure>,
    pub access: Option<AccessTiming>,
    /// The profile's bus with this access, and the bits that reach memory in a bus cycle where the processor can tell.
    pub bus: Option<MemoryBus>,
}

/// What times of a board are compared in.
#[derive(Clone, Copy)]
struct AccessClocks {
    /// Nanoseconds of a bus cycle without waits.
    cycle_ns: f64,
    /// Nanoseconds of a dot.
    dot_ns: f64,
}

impl AccessClocks {
    /// Nanoseconds the board keeps the bus for a cycle, where that is always the same: slots that come each dot are no
    /// more than a time after the command.
    fn fixed_ns(self, bus: MemoryBus) -> Option<f64> {
        match bus.slots {
            None => Some(f64::from(bus.access_ns)),
            Some(slots) if slots.every == slots.count => Some(self.cycle_ns + f64::from(slots.lead) * self.dot_ns),
            Some(_) => None,
        }
    }
}

/// What fits best of one kind.
struct Fit {
    access: AccessTiming,
    /// Clocks by which it misses.
    cost: f64,
    bus: MemoryBus,
}

/// A mode's memory under the processor that was found.
struct Tried<'a> {
    processor: &'a SurveyedProcessor,
    adapter: &'a Arc<Adapter>,
    mode: &'a Mode,
    /// Clocks of reads of bytes, and of words at even addresses, for each delay.
    bytes: Vec<f64>,
    words: Vec<f64>,
}

impl ModeAccess {
    pub fn of(processor: &SurveyedProcessor, adapter: &Arc<Adapter>, mode: &Mode, surveyed: &SurveyedMode) -> Self {
        let experiments = &surveyed.experiments;
        let bytes = processor.series(experiments, SeriesPattern::ReadByteEven);
        let words = processor.series(experiments, SeriesPattern::ReadWordEven);
        let tried = Tried { processor, adapter, mode, bytes, words };
        let mut figures = Vec::new();
        let nothing = Figure::nothing("access to memory", "neither a fixed time nor slots fit what was counted");
        let (access, bits) = match tried.best() {
            Some((access, bits)) => (Some(access), bits),
            None => (None, None),
        };
        let bus = adapter.bus(&adapter.start_up(mode));
        let clocks = AccessClocks { cycle_ns: tried.cycle_ns(), dot_ns: tried.dot_ns() };
        match &access {
            None => figures.push(nothing),
            Some(access) => figures.extend(access.figures(bus, clocks)),
        }
        figures.push(match bits {
            Some(bits) => Figure::number(
                "bits that reach memory at once",
                "bits",
                (f64::from(bits), 0.0),
                Some(f64::from(bus.bits)),
            ),
            None => Figure::nothing(
                "bits that reach memory at once",
                "this processor moves words byte by byte, or both fit alike",
            ),
        });
        let timed = |pattern| experiments.timed.get(&pattern);
        if let (Some(shown), Some(blanked)) = (timed(TimedPattern::Shown), timed(TimedPattern::Blanked)) {
            let clocks =
                |timed: &backporch_evidence::survey::Timed| processor.clocks_of(timed.copies, timed.beats.mean());
            let off =
                processor.spread_of(shown.copies, &shown.beats) + processor.spread_of(blanked.copies, &blanked.beats);
            let more = (clocks(shown) - clocks(blanked), off);
            // The model serves the processor alike wherever the beam is.
            figures.push(Figure::number("an access more, while the picture is shown", "clocks", more, Some(0.0)));
        }
        let figures = figures.into_iter().map(|figure| figure.in_mode(&surveyed.name)).collect();
        let bus = access.as_ref().map(|access| access.bus(bits.unwrap_or(bus.bits), bus, clocks));
        Self { figures, access, bus }
    }
}

impl Tried<'_> {
    fn best(&self) -> Option<(AccessTiming, Option<u8>)> {
        let alone = self.alone();
        let fixed = self.fixed(&alone)?;
        // What a fixed time fits is not taken for slots that come one a dot.
        let better = if fixed.cost <= BETTER { None } else { self.slots(&alone) };
        let best = better.filter(|slots| slots.cost + BETTER < fixed.cost).unwrap_or(fixed);
        (best.cost <= BELIEVED).then(|| (best.access, self.bits(best.bus)))
    }

    /// Clocks of reads of bytes for each delay, were the board as quick as the processor and memory not refreshed.
    fn alone(&self) -> Vec<f64> {
        let adapter = Arc::new(self.adapter.on_bus(MemoryBus { bits: 16, access_ns: 0, slots: None }));
        let waits = Waits { refresh_beats: 0, ..self.processor.waits };
        let rig = Rig { waits, ..self.processor.rig(&adapter, self.mode) };
        rig.series(SeriesPattern::ReadByteEven, PatternMemory::Board, 128, self.bytes.len())
    }

    /// Clocks that an access waits, on average over all delays.
    fn waited(&self, alone: &[f64]) -> f64 {
        beyond(&self.bytes, alone)
    }

    fn made(&self, bus: MemoryBus) -> Vec<f64> {
        let adapter = Arc::new(self.adapter.on_bus(bus));
        let rig = self.processor.rig(&adapter, self.mode);
        rig.series(SeriesPattern::ReadByteEven, PatternMemory::Board, 128, self.bytes.len())
    }

    fn cost(&self, bus: MemoryBus) -> f64 {
        apart(&self.bytes, &self.made(bus))
    }

    fn dots_a_clock(&self) -> f64 {
        1e9 / self.processor.clock_hz.0 / self.dot_ns()
    }

    fn dot_ns(&self) -> f64 {
        1e9 / self.adapter.dot_clock_of(&self.adapter.start_up(self.mode)).get()
    }

    fn cycle_ns(&self) -> f64 {
        f64::from(bus_cycle(self.processor.model)) * 1e9 / self.processor.clock_hz.0
    }

    /// The width that fits reads of words, under a bus that fits those of bytes.
    fn bits(&self, bus: MemoryBus) -> Option<u8> {
        if self.processor.model == Model::P8088 {
            return None;
        }
        let best = Best::of([8, 16], |bits| {
            let adapter = Arc::new(self.adapter.on_bus(MemoryBus { bits: *bits, ..bus }));
            let rig = self.processor.rig(&adapter, self.mode);
            apart(&self.words, &rig.series(SeriesPattern::ReadWordEven, PatternMemory::Board, 128, self.words.len()))
        })?;
        let [bits] = best.alike.as_slice() else { return None };
        (best.cost <= BELIEVED).then_some(*bits)
    }

    /// The fixed time that fits best.
    fn fixed(&self, alone: &[f64]) -> Option<Fit> {
        let hertz = self.processor.clock_hz.0;
        let cycle = f64::from(bus_cycle(self.processor.model));
        let nanoseconds = |clocks: f64| clocks * 1e9 / hertz;
        let bus = |waits: u32| {
            let busy = if waits == 0 { 0.0 } else { nanoseconds(cycle + f64::from(waits) - 0.5) };
            MemoryBus { access_ns: busy as u32, slots: None, ..self.adapter.memory().bus }
        };
        // Refresh adds some clocks at most.
        let waited = self.waited(alone).max(0.0) as u32;
        let best = Best::of(waited.saturating_sub(NEAR)..=waited + 1, |waits| self.cost(bus(*waits)))?;
        let (least, most) = (*best.alike.iter().min()?, *best.alike.iter().max()?);
        // This many clocks are needed for more than one clock less.
        let from = if least == 0 { 0.0 } else { nanoseconds(cycle + f64::from(least) - 1.0) };
        let range = from.floor() as u32..=nanoseconds(cycle + f64::from(most)).ceil() as u32;
        Some(Fit { access: AccessTiming::Fixed(range), cost: best.cost, bus: bus(*best.alike.first()?) })
    }

    /// The slots that fit best.
    fn slots(&self, alone: &[f64]) -> Option<Fit> {
        let bus = |slots: AccessSlots| MemoryBus { access_ns: 0, slots: Some(slots), ..self.adapter.memory().bus };
        // The best lead for each distance of slots; refresh blurs a plain chain, so that its order is a hint only.
        let mut tried: Vec<(f64, AccessSlots)> = Vec::new();
        for slots in self.favoured(alone) {
            let known = tried.iter().any(|(_, other)| other.every == slots.every);
            if known || (tried.len() >= TRIED && slots.every % CHARACTER != 0) {
                continue;
            }
            // What refresh adds to the waits is not the board's: the lead gives way by as much.
            let more = beyond(&self.bytes, &self.made(bus(slots))) * self.dots_a_clock();
            let lead = (f64::from(slots.lead) + more).round().clamp(0.0, 255.0) as u8;
            let slots = AccessSlots { lead, ..slots };
            tried.push((self.cost(bus(slots)), slots));
        }
        tried.sort_by(|one, other| one.0.total_cmp(&other.0));
        tried.truncate(REFINED);
        let near = tried.iter().flat_map(|(_, slots)| {
            let leads = slots.lead.saturating_sub(AROUND)..=slots.lead.saturating_add(AROUND);
            leads.map(|lead| AccessSlots { lead, ..*slots })
        });
        let best = Best::of(near, |slots| self.cost(bus(*slots)))?;
        let first = *best.alike.first()?;
        if best.alike.iter().any(|slots| slots.every != first.every) {
            return None;
        }
        let leads = || best.alike.iter().map(|slots| slots.lead);
        let lead = leads().min()?..=leads().max()?;
        Some(Fit { access: AccessTiming::Slots { lead, every: first.every }, cost: best.cost, bus: bus(first) })
    }

    /// Slots by how well a plain chain of accesses fits, the best first.
    fn favoured(&self, alone: &[f64]) -> Vec<AccessSlots> {
        let dot_clock = self.adapter.dot_clock_of(&self.adapter.start_up(self.mode));
        let beam = BeamClock::new(self.processor.clock, dot_clock.millihertz(), 0);
        let dots = dot_clock.get() / self.processor.clock_hz.0;
        let waited = self.waited(alone) * dots;
        let mut all = Vec::new();
        for every in 1..=SLOTS {
            for lead in 0..=SLOTS {
                // On average a slot is half a round off, and the processor goes on half a clock later.
                let expected = f64::from(lead) + f64::from(every) / 2.0 + dots / 2.0;
                if (expected - waited).abs() > 6.0 + 3.0 * dots {
                    continue;
                }
                let slots = AccessSlots::new(lead as u8, every as u8);
                let made: Vec<f64> = alone.iter().map(|clocks| chained(&beam, slots, clocks.round() as u64)).collect();
                all.push((apart(&self.bytes, &made), slots));
            }
        }
        all.sort_by(|one, other| one.0.total_cmp(&other.0));
        all.into_iter().map(|(_, slots)| slots).collect()
    }
}

/// By how much one series is longer than another, on average.
fn beyond(one: &[f64], other: &[f64]) -> f64 {
    let pairs = one.len().min(other.len()).max(1) as f64;
    one.iter().zip(other).map(|(one, other)| one - other).sum::<f64>() / pairs
}

/// Clocks from one access to the next in a chain of them, each of which takes this many without waiting.
fn chained(beam: &BeamClock, slots: AccessSlots, clocks: u64) -> f64 {
    let mut start = 1000;
    for _ in 0..CHAIN {
        start += clocks + u64::from(beam.wait_for(start, |command| slots.served_at(command, LinePlace::default)));
    }
    (start - 1000) as f64 / CHAIN as f64
}

impl AccessTiming {
    fn figures(&self, profile: MemoryBus, clocks: AccessClocks) -> Vec<Figure> {
        let middle = |low: f64, high: f64| ((low + high) / 2.0, (high - low) / 2.0);
        let (fixed, slots) = (clocks.fixed_ns(profile), profile.slots);
        let kind = Some(if fixed.is_some() { "a fixed time" } else { "slots" }.to_string());
        match self {
            Self::Fixed(range) => {
                let found = middle(f64::from(*range.start()), f64::from(*range.end()));
                let figure = Figure::number("time of an access to memory", "ns", found, fixed);
                vec![Figure::words("how memory is reached", "a fixed time", kind), figure]
            }
            Self::Slots { lead, every } => {
                let known = slots.filter(|_| fixed.is_none());
                let distance = known.map(|slots| f64::from(slots.every) / f64::from(slots.count));
                // Slots are looked for at whole distances.
                let off = if known.is_some_and(|slots| slots.count > 1) { 0.5 } else { 0.0 };
                vec![
                    Figure::words("how memory is reached", "slots", kind),
                    Figure::number("slots of memory, every", "dots", (f64::from(*every), off), distance),
                    Figure::number(
                        "slots of memory, earliest after",
                        "dots",
                        middle(f64::from(*lead.start()), f64::from(*lead.end())),
                        known.map(|slots| f64::from(slots.lead)),
                    ),
                ]
            }
        }
    }

    /// The bus of a profile with this access; the middle of what it may be.
    fn bus(&self, bits: u8, before: MemoryBus, clocks: AccessClocks) -> MemoryBus {
        match self {
            Self::Fixed(range) => {
                let known = clocks.fixed_ns(before);
                if known.is_some_and(|ns| (f64::from(*range.start())..=f64::from(*range.end())).contains(&ns)) {
                    return MemoryBus { bits, ..before };
                }
                MemoryBus { bits, access_ns: range.start().midpoint(*range.end()), slots: None }
            }
            Self::Slots { lead, every } => {
                let near = |slots: &AccessSlots| {
                    let distance = f64::from(slots.every) / f64::from(slots.count);
                    (distance - f64::from(*every)).abs() < 0.5 && lead.contains(&slots.lead)
                };
                let middle = AccessSlots::new(lead.start().midpoint(*lead.end()), *every);
                MemoryBus { bits, access_ns: 0, slots: Some(before.slots.filter(near).unwrap_or(middle)) }
            }
        }
    }
}
