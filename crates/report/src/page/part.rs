//! Findings that a page may hold besides the bench, the signal and the sweep: plain data in the reader's words.

use std::collections::BTreeMap;

use backporch_picture::mark::Mark;

use super::embed::EmbeddedPicture;
use super::strip::VerdictStrip;

/// A name and what it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedValue {
    /// What it is called.
    pub name: String,
    /// What it is, with its unit.
    pub value: String,
}

impl NamedValue {
    /// A row.
    pub fn new(name: impl Into<String>, value: impl Into<String>) -> Self {
        Self { name: name.into(), value: value.into() }
    }

    /// A row for each value, by name.
    pub(super) fn all<V: ToString>(values: &BTreeMap<String, V>) -> Vec<Self> {
        values.iter().map(|(name, value)| Self::new(name, value.to_string())).collect()
    }
}

/// The same bench on several boards or under several sets of quirks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ComparisonPart {
    /// Who was compared, the bench itself first.
    pub boards: Vec<Compared>,
    /// What follows from it, in a sentence.
    pub conclusion: String,
}

/// One of those compared.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// Board and quirks.
    pub name: String,
    /// The verdict of each step, in order.
    pub verdicts: Vec<Mark>,
    /// Where it first differs from the plain board, in words; empty where it never does.
    pub first: String,
}

impl Compared {
    /// Number of steps with this verdict.
    #[must_use]
    pub fn count(&self, mark: &Mark) -> usize {
        self.verdicts.iter().filter(|verdict| *verdict == mark).count()
    }

    /// The worst verdict of all steps.
    #[must_use]
    pub fn worst(&self) -> Mark {
        let worst = Mark::ALL.into_iter().rev().find(|mark| self.verdicts.contains(mark));
        worst.unwrap_or(Mark::Clean)
    }

    pub(super) fn strip(&self) -> VerdictStrip {
        VerdictStrip::new(self.verdicts.iter().copied())
    }
}

/// Which faults could explain the sightings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DiagnosisPart {
    /// What it comes to, in a sentence.
    pub says: String,
    /// What was seen on the real machine.
    pub seen: Vec<SightingPart>,
    /// The faults, the likeliest first.
    pub suspects: Vec<SuspectPart>,
    /// Groups of suspects that no experiment at hand tells apart.
    pub indistinguishable: Vec<String>,
    /// Experiments worth running next, the best first.
    pub probes: Vec<ProbePart>,
}

/// A sighting.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SightingPart {
    /// What was set.
    pub setting: String,
    /// What was seen.
    pub seen: String,
}

/// A fault that could explain the sightings.
#[derive(Clone, Debug, PartialEq)]
pub struct SuspectPart {
    /// The quirk.
    pub name: String,
    /// What it is, in words.
    pub about: String,
    /// Its parameters.
    pub parameters: Vec<NamedValue>,
    /// How likely it is among the suspects, 0 to 1.
    pub probability: f64,
    /// Sightings that it explains.
    pub explains: u32,
    /// Sightings that speak against it.
    pub contradicts: u32,
}

impl SuspectPart {
    /// Hundredths, for the bar.
    pub(super) fn percent(&self) -> f64 {
        let share = if self.probability.is_nan() { 0.0 } else { self.probability.clamp(0.0, 1.0) };
        (share * 1000.0).round() / 10.0
    }
}

/// An experiment worth running.
#[derive(Clone, Debug, PartialEq)]
pub struct ProbePart {
    /// What to set.
    pub setting: Vec<NamedValue>,
    /// What it is expected to tell, in bits.
    pub bits: f64,
    /// What may be seen, and which suspects that leaves.
    pub outcomes: Vec<NamedValue>,
}

/// Register settings that hold.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WorkaroundsPart {
    /// What they hold against.
    pub against: String,
    /// The settings, the best first.
    pub candidates: Vec<CandidatePart>,
    /// Tables with a start address for every step, the best first.
    pub ways: Vec<Way>,
    /// What else is to be said of the search.
    pub remarks: Vec<String>,
    /// What can hurt where the settings change the signal.
    pub caution: Option<String>,
}

/// A setting that holds.
#[derive(Clone, Debug, PartialEq)]
pub struct CandidatePart {
    /// A short name for it, such as `256 × 200, centred`.
    pub title: String,
    /// Registers to set.
    pub registers: Vec<NamedValue>,
    /// Size, pitch, clean start addresses, cost and the like.
    pub facts: Vec<NamedValue>,
    /// Margins of the monitor.
    pub gauges: Vec<super::gauge::Gauge>,
    /// What it looks like.
    pub picture: Option<EmbeddedPicture>,
    /// Width over height of the picture on a screen.
    pub shape: f64,
}

/// A table with a start address for every step.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// A short name for it, such as `256 × 200, by 2 pixels`.
    pub title: String,
    /// What it gives up, what it needs, what the monitor gets.
    pub facts: Vec<NamedValue>,
    /// Its worst steps, the worst first.
    pub film: Vec<FilmStep>,
    /// Width over height of the picture on a screen.
    pub shape: f64,
}

/// A step of a table as it looks.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmStep {
    /// The frame, what is wrong in it marked.
    pub picture: EmbeddedPicture,
    /// Which step it is, and what is wrong.
    pub says: String,
}

/// Mistakes of timing and order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HazardsPart {
    /// Frames that were run.
    pub frames: u32,
    /// The mistakes, in the order in which they happened.
    pub hazards: Vec<HazardPart>,
    /// The same on the beam's way through a frame.
    pub chart: Option<super::plot::BeamChart>,
    /// One frame with every write and wait, drawn by the program itself as SVG; its number.
    pub drawn: Option<(u64, String)>,
}

impl HazardsPart {
    /// How many mistakes there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.hazards.iter().map(|hazard| 1 + hazard.again as usize).sum()
    }
}

/// A mistake.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HazardPart {
    /// What sort of mistake.
    pub kind: String,
    /// Frame, from 0.
    pub frame: u32,
    /// Scan line of the frame.
    pub line: u32,
    /// Dot of the line.
    pub dot: u32,
    /// What happened.
    pub what: String,
    /// What to do about it.
    pub cure: String,
    /// How many more of the kind there are, where they are listed as one.
    pub again: u32,
}

/// What captures and photographs of the real screen show, held against what was meant.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CapturesPart {
    /// What is to be said of all of them, a sentence each.
    pub remarks: Vec<String>,
    /// The settings that were looked at.
    pub looks: Vec<CapturedLook>,
}

/// One setting that was looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct CapturedLook {
    /// What was set.
    pub setting: String,
    /// How many lines show what was meant.
    pub says: String,
    /// What the plain board shows.
    pub meant: EmbeddedPicture,
    /// Width over height of the picture on a screen.
    pub shape: f64,
    /// The captures.
    pub captures: Vec<CapturedPicture>,
    /// The lines that are not as meant, or could not be judged, from the top.
    pub lines: Vec<CapturedLine>,
}

/// A capture with what was found drawn on it.
#[derive(Clone, Debug, PartialEq)]
pub struct CapturedPicture {
    /// The name of its file.
    pub name: String,
    /// How the picture lies on it, a sentence each.
    pub says: Vec<String>,
    /// The capture with the frame of the active area and the lines drawn on it.
    pub picture: EmbeddedPicture,
}

/// A picture line, or several below each other that show the same.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CapturedLine {
    /// The first line.
    pub from: usize,
    /// The last line.
    pub to: usize,
    /// The colour of its mark on the captures: red, green, blue.
    pub colour: [u8; 3],
    /// What it shows.
    pub what: String,
    /// Where along it.
    pub pixels: String,
    /// How sure it is; empty for several lines.
    pub sureness: String,
}

impl CapturedLine {
    pub(super) fn number(&self) -> String {
        if self.from == self.to { self.from.to_string() } else { format!("{} to {}", self.from, self.to) }
    }
}

/// Register values to copy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RegisterValues {
    /// What it is for.
    pub title: String,
    /// The text to copy.
    pub text: String,
}
