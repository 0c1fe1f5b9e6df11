//! The experiments: what is laid one after the other, and with which registers.

use backporch_evidence::survey::{SeriesPattern, SurveyPattern, TimedPattern};

use super::facts::SurveyFacts;
use super::layout::{SurveyVariables, segment, wait};
use crate::draft::Data;

/// Delays of a series: enough to meet memory refresh in every way; and enough to go once through the slots of a board.
const DELAYS: u16 = 16;
const ALL_DELAYS: u16 = 32;

/// Copies of a pattern whose delay matters.
const SOME: u16 = 128;
/// Copies that fit the blanked part of a frame.
const FEW: u16 = 20;
/// Beats of the timer that suffice to tell a clock, and those that tell the processor's.
const BEATS: u16 = 6_000;
const MANY_BEATS: u16 = 24_000;

/// First and last address of two tables.
#[derive(Clone, Copy, Debug)]
pub(super) struct SurveyTables {
    pub machine: (u32, u32),
    pub video: (u32, u32),
}

/// One experiment.
struct Experiment {
    name: &'static str,
    pattern: Vec<u8>,
    /// Copies, or the beats that they shall take.
    copies: u16,
    beats: u16,
    wait: u16,
    segment: u16,
    di: u16,
    dx: u16,
    delays: u16,
}

impl Experiment {
    fn of(pattern: impl SurveyPattern) -> Self {
        let (wait, segment) = (wait::NONE, segment::OWN);
        let (name, pattern) = (pattern.name(), pattern.bytes());
        Self { name, pattern, copies: 0, beats: BEATS, wait, segment, di: 0, dx: 0, delays: 0 }
    }

    /// An access to the board's port, or to memory of a segment from an address on.
    fn access(pattern: SeriesPattern, segment: u16, at: u16, port: u16) -> Self {
        let delays = if pattern == SeriesPattern::ReadByteEven { ALL_DELAYS } else { DELAYS };
        let di = at + u16::from(pattern.is_odd());
        Self { copies: SOME, segment, di, dx: port, delays, ..Self::of(pattern) }
    }

    fn bytes(&self, name: u32, pattern: u32) -> Vec<u8> {
        let words = [
            name as u16,
            pattern as u16,
            self.pattern.len() as u16,
            self.copies,
            self.beats,
            self.wait,
            self.segment,
            self.di,
            self.dx,
            self.delays,
        ];
        words.into_iter().flat_map(u16::to_le_bytes).collect()
    }
}

impl SurveyTables {
    pub fn put(data: &mut Data, facts: &SurveyFacts<'_>, v: &SurveyVariables) -> Self {
        let (own, port) = (v.scratch as u16, facts.controller.0);
        let mut machine: Vec<Experiment> = Vec::new();
        let mut video = Vec::new();
        for pattern in TimedPattern::ALL {
            let made = Experiment::of(*pattern);
            let few = |wait| Experiment { copies: FEW, wait, segment: segment::VIDEO, ..Experiment::of(*pattern) };
            match pattern {
                TimedPattern::Nothing => machine.push(Experiment { copies: 1, ..made }),
                TimedPattern::Multiply => machine.push(Experiment { beats: MANY_BEATS, ..made }),
                TimedPattern::Firmware => machine.push(Experiment { copies: SOME, ..made }),
                TimedPattern::Fetch | TimedPattern::Interrupt => machine.push(made),
                TimedPattern::Shown => video.push(few(wait::SHOWN)),
                TimedPattern::Blanked => video.push(few(wait::BLANKED)),
            }
        }
        machine.extend(SeriesPattern::ALL.iter().map(|one| Experiment::access(*one, segment::OWN, own, port)));
        let memory = SeriesPattern::ALL.iter().filter(|one| !one.is_port());
        video.extend(memory.map(|one| Experiment::access(*one, segment::VIDEO, 0, 0)));
        Self { machine: table(data, "of the machine", &machine), video: table(data, "of video memory", &video) }
    }
}

fn table(data: &mut Data, of: &str, experiments: &[Experiment]) -> (u32, u32) {
    let mut patterns: Vec<(&[u8], u32)> = Vec::new();
    let mut names = Vec::new();
    for experiment in experiments {
        let kind = if experiment.delays == 0 { "time" } else { "delays" };
        let name = data.line("an experiment's name", &format!("{kind} {} copies ", experiment.name));
        let known = patterns.iter().find(|(known, _)| *known == experiment.pattern).map(|(_, at)| *at);
        let pattern = known.unwrap_or_else(|| data.put("its pattern", experiment.pattern.clone()));
        patterns.push((&experiment.pattern, pattern));
        names.push((name, pattern));
    }
    let entries = experiments.iter().zip(names).flat_map(|(one, (name, pattern))| one.bytes(name, pattern)).collect();
    let begin =
        data.put(format!("experiments {of}: name, pattern, bytes, copies, beats, wait, registers, delays"), entries);
    (begin, data.end())
}
