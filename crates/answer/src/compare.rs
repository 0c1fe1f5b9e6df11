//! `compare`: which boards differ, where, since which frame, and where the fault lies.

use backporch_analysis::Nature;
use backporch_analysis::compare::{Blame, ClassBehaviour, Comparison, Entry};
use backporch_evidence::Impression;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::words;

/// One bench on several boards.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CompareAnswer {
    /// Where the fault lies, all boards taken together.
    pub verdict: BlameAnswer,
    /// Why, in a sentence.
    pub because: String,
    /// Frames shown on each board.
    pub frames: u32,
    /// The boards, the bench's own first.
    pub boards: Vec<ComparedBoardAnswer>,
    /// Where the first difference was drawn.
    pub file: Option<String>,
}

/// Where a fault lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BlameAnswer {
    /// The board shows what was meant.
    None,
    /// Every board of the class does so by design, or the class cannot do it.
    Class,
    /// The board is faulty: one as its class is built does something else.
    Adapter,
    /// The writes come at the wrong moment.
    Timing,
    /// Whatever the moment, even a plain board shows something else.
    Code,
}

/// One of the boards.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ComparedBoardAnswer {
    /// Board and quirks.
    pub label: String,
    /// The adapter profile.
    pub board: String,
    /// The quirks, in the order in which they act.
    pub quirks: Vec<String>,
    /// Where the fault lies on this board.
    pub blame: BlameAnswer,
    /// Frames shown; 0 where the routine cannot run on this board.
    #[serde(default)]
    pub frames: usize,
    /// Frames that do not show what was meant.
    pub bad_frames: usize,
    /// What the routine does wrong on the plain board, where one drives it.
    #[serde(default)]
    pub mistake: Option<String>,
    /// What the class lacks for the bench.
    pub lacks: Vec<String>,
    /// What the class does by design that the frames show.
    #[serde(default)]
    pub class: Vec<ClassBehaviourAnswer>,
    /// The first frame that is not as meant.
    pub first: Option<FirstDifferenceAnswer>,
    /// Other moments at which the registers were written.
    pub moments: Vec<MomentAnswer>,
}

/// Something that every board of a class does by design.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ClassBehaviourAnswer {
    /// Its name in the adapter profile.
    pub name: String,
    /// What it does, in a sentence.
    pub says: String,
    /// Where that is known from.
    pub source: String,
}

/// The first frame that is not as meant.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FirstDifferenceAnswer {
    /// Number of the frame, from 0.
    pub frame: u32,
    /// Picture lines that differ.
    pub lines: u32,
    /// Lines from one bad line to the next; null where they follow no such pattern.
    pub line_period: Option<u32>,
    /// The first bad line, modulo the period; null where they follow no such pattern.
    pub line_phase: Option<u32>,
    /// First bad pixel from the left of the active area.
    pub x_from: Option<u32>,
    /// Last bad pixel from the left of the active area.
    pub x_to: Option<u32>,
    /// Whether fetched addresses differ, rather than only what is shown.
    pub addresses_differ: bool,
    /// What an observer would see, in words.
    pub sees: String,
}

/// The registers written at another moment of the frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MomentAnswer {
    /// The moment, in hundredths of the frame.
    pub percent_of_frame: u32,
    /// Whether the frame then shows what was meant.
    pub as_meant: bool,
}

impl From<Blame> for BlameAnswer {
    fn from(blame: Blame) -> Self {
        match blame {
            Blame::None => Self::None,
            Blame::Class => Self::Class,
            Blame::Adapter => Self::Adapter,
            Blame::Timing => Self::Timing,
            Blame::Code => Self::Code,
        }
    }
}

impl From<&ClassBehaviour> for ClassBehaviourAnswer {
    fn from(behaviour: &ClassBehaviour) -> Self {
        let ClassBehaviour { name, says, source } = behaviour.clone();
        Self { name, says, source }
    }
}

impl ClassBehaviourAnswer {
    pub(crate) fn text(&self) -> String {
        format!("by design, {}: {} ({})", self.name, self.says, self.source)
    }
}

impl BlameAnswer {
    fn word(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Class => "class",
            Self::Adapter => "adapter",
            Self::Timing => "timing",
            Self::Code => "code",
        }
    }
}

impl CompareAnswer {
    /// The answer to a comparison over that many frames; `file` is where the first difference was drawn.
    #[must_use]
    pub fn new(compared: &Comparison, frames: u32, file: Option<String>) -> Self {
        Self {
            verdict: compared.blame.into(),
            because: compared.because.clone(),
            frames,
            boards: compared.entries.iter().map(ComparedBoardAnswer::new).collect(),
            file,
        }
    }

    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!("{}: {}\n", self.verdict.word(), self.because);
        text.extend(self.boards.iter().map(|board| board.text(self.frames)));
        if let Some(file) = &self.file {
            text += &format!("meant, shown and difference: {file}\n");
        }
        text
    }
}

impl ComparedBoardAnswer {
    fn new(entry: &Entry) -> Self {
        let bench = &entry.contender.bench;
        let moment = |(at, as_meant): &(f64, bool)| MomentAnswer {
            percent_of_frame: (at * 100.0).round() as u32,
            as_meant: *as_meant,
        };
        Self {
            label: entry.contender.label.clone(),
            board: bench.adapter().name().to_string(),
            quirks: words::fault_names(bench),
            blame: entry.blame.into(),
            frames: entry.signatures.len(),
            bad_frames: entry.signatures.iter().filter(|signature| !signature.is_clean()).count(),
            mistake: entry.mistake.clone(),
            lacks: entry.lacks.clone(),
            class: entry.class.iter().map(Into::into).collect(),
            first: FirstDifferenceAnswer::new(entry),
            moments: entry.moments.iter().map(moment).collect(),
        }
    }

    fn text(&self, frames: u32) -> String {
        let mut text = match &self.first {
            None if self.frames == 0 => format!("  {}: no frames ({})\n", self.label, self.blame.word()),
            None if self.mistake.is_some() => {
                format!("  {}: as on the plain board, which is not as meant ({})\n", self.label, self.blame.word())
            }
            None => format!("  {}: all {frames} frames as meant\n", self.label),
            Some(first) => format!(
                "  {}: {} of {frames} frames not as meant, first frame {} ({})\n           {}\n",
                self.label,
                self.bad_frames,
                first.frame,
                self.blame.word(),
                first.text()
            ),
        };
        if let Some(mistake) = &self.mistake {
            text += &format!("           {mistake}\n");
        }
        for lack in &self.lacks {
            text += &format!("           {lack}\n");
        }
        for behaviour in &self.class {
            text += &format!("           {}\n", behaviour.text());
        }
        let wrong = self.moments.iter().filter(|moment| !moment.as_meant);
        let wrong: Vec<String> = wrong.map(|moment| format!("{} %", moment.percent_of_frame)).collect();
        if !wrong.is_empty() && wrong.len() < self.moments.len() {
            text += &format!("           not as meant when written {} down the frame\n", wrong.join(", "));
        }
        text
    }
}

impl FirstDifferenceAnswer {
    fn new(entry: &Entry) -> Option<Self> {
        let first = entry.first.as_ref()?;
        let signature = &first.signature;
        let pattern = signature.lines.pattern();
        Some(Self {
            frame: first.frame,
            lines: signature.lines.count(),
            line_period: pattern.map(|pattern| pattern.period),
            line_phase: pattern.map(|pattern| pattern.phase),
            x_from: signature.x.map(|(from, _)| from),
            x_to: signature.x.map(|(_, to)| to),
            addresses_differ: signature.nature == Some(Nature::Addresses),
            sees: Impression::of(signature).words(),
        })
    }

    fn text(&self) -> String {
        let what = if self.addresses_differ {
            "fetched addresses differ"
        } else {
            "addresses are right, what is shown differs"
        };
        let columns = match (self.x_from, self.x_to) {
            (Some(from), Some(to)) => format!(", pixels {from} to {to}"),
            _ => String::new(),
        };
        format!("{} lines{columns}; {what}; {}", self.lines, self.sees)
    }
}
