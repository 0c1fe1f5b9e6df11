//! Answers of other commands as parts of the page.

use backporch_answer::{
    CandidateAnswer, DiagnoseAnswer, HazardAnswer, HazardsAnswer, OutcomeAnswer, ProbeAnswer, StepTableAnswer,
    SuspectAnswer,
};
use backporch_quirk::Family;
use backporch_signal::Signal;

use super::part::{DiagnosisPart, HazardPart, HazardsPart, NamedValue, ProbePart, SightingPart, SuspectPart};
use super::plot::BeamChart;

impl From<&DiagnoseAnswer> for DiagnosisPart {
    fn from(answer: &DiagnoseAnswer) -> Self {
        Self {
            says: answer.says.clone(),
            seen: answer
                .seen
                .iter()
                .map(|one| SightingPart { setting: one.at.clone(), seen: one.saw.clone() })
                .collect(),
            suspects: answer.suspects.iter().map(SuspectPart::from).collect(),
            indistinguishable: answer.indistinguishable.iter().map(|group| group.join(", ")).collect(),
            probes: answer.probes.iter().map(ProbePart::from).collect(),
        }
    }
}

impl From<&SuspectAnswer> for SuspectPart {
    fn from(answer: &SuspectAnswer) -> Self {
        let about = |family: Family| format!("{}. {}", family.title(), family.looks());
        Self {
            name: answer.quirk.clone(),
            about: Family::built_in(&answer.quirk).map_or_else(String::new, about),
            parameters: NamedValue::all(&answer.parameters),
            probability: answer.probability,
            explains: answer.explains as u32,
            contradicts: answer.contradicts as u32,
        }
    }
}

impl From<&ProbeAnswer> for ProbePart {
    fn from(answer: &ProbeAnswer) -> Self {
        let outcome = |outcome: &OutcomeAnswer| {
            let left =
                if outcome.suspects.is_empty() { "none of these".to_string() } else { outcome.suspects.join(", ") };
            NamedValue::new(&outcome.sees, left)
        };
        Self {
            setting: NamedValue::all(&answer.registers),
            bits: answer.expected_information_bits,
            outcomes: answer.outcomes.iter().map(outcome).collect(),
        }
    }
}

impl From<&HazardAnswer> for HazardPart {
    fn from(answer: &HazardAnswer) -> Self {
        let HazardAnswer { kind, frame, line, dot, what, cure, by } = answer;
        Self {
            kind: kind.clone(),
            frame: *frame as u32,
            line: *line,
            dot: *dot,
            what: by.as_ref().map_or_else(|| what.clone(), |by| format!("{what}; by {by}")),
            cure: cure.clone(),
            again: 0,
        }
    }
}

impl HazardsPart {
    /// Every hazard of an answer, marked on a frame of the signal where there is one.
    #[must_use]
    pub fn new(answer: &HazardsAnswer, signal: Option<&Signal>) -> Self {
        Self::marked(answer.hazards.iter().map(HazardPart::from).collect(), answer.frames, signal)
    }

    /// The first hazard of each kind, with how many more there are.
    #[must_use]
    pub fn summed(hazards: &[HazardAnswer], frames: u64, signal: Option<&Signal>) -> Self {
        let mut listed: Vec<HazardPart> = Vec::new();
        for answer in hazards {
            match listed.iter_mut().find(|known| known.kind == answer.kind) {
                Some(known) => known.again += 1,
                None => listed.push(answer.into()),
            }
        }
        Self::marked(listed, frames, signal)
    }

    fn marked(hazards: Vec<HazardPart>, frames: u64, signal: Option<&Signal>) -> Self {
        let places = hazards.iter().map(|hazard| (hazard.dot, hazard.line)).collect();
        Self { frames: frames as u32, chart: signal.map(|signal| BeamChart::new(signal, places)), drawn: None, hazards }
    }
}

/// A short name for a setting, such as `256 × 200, by 2 pixels`.
#[must_use]
pub fn candidate_title(answer: &CandidateAnswer) -> String {
    format!("{} × {}, by {}", answer.width_px, answer.height_px, answer.step())
}

/// A short name for a table, such as `256 × 200, by 2 pixels`.
#[must_use]
pub fn way_title(answer: &StepTableAnswer) -> String {
    format!("{} × {}, by {}", answer.clear_width_px, answer.height_px, answer.step())
}

/// What a table gives up, what it needs, and what the monitor gets.
#[must_use]
pub fn way_facts(answer: &StepTableAnswer) -> Vec<NamedValue> {
    let wrong =
        if answer.worst_wrong_px == 0 { "nothing".to_string() } else { format!("{} pixels", answer.worst_wrong_px) };
    let mut facts = vec![
        NamedValue::new("gives up", &answer.cost),
        NamedValue::new("wrong in the worst step", wrong),
        NamedValue::new("table", format!("{} entries", answer.steps.len())),
        NamedValue::new("memory", format!("{} bytes", answer.memory_bytes)),
        NamedValue::new("a step redraws", format!("{} bytes", answer.redraw_bytes)),
    ];
    if let Some(within) = &answer.within_frame {
        let lines =
            format!("{} written at up to {} lines, {} again after each", within.register, within.lines, within.rest);
        facts.push(NamedValue::new("in a frame", lines));
        facts.push(NamedValue::new("a write holds at this share of the polling loop's phases", within.shares()));
    }
    if answer.probability < 1.0 {
        facts.push(NamedValue::new("probability", format!("{:.3}", answer.probability)));
    }
    facts.extend(answer.passing.as_ref().map(|passing| NamedValue::new("set up", &passing.says)));
    facts
}

/// Size, pitch, clean start addresses, cost and the like of a setting.
#[must_use]
pub fn candidate_facts(answer: &CandidateAnswer) -> Vec<NamedValue> {
    let place = if answer.centred {
        "in the middle".to_string()
    } else {
        format!("{} dots and {} lines off the middle", answer.off_centre_dots, answer.off_centre_lines)
    };
    let [left, right] = answer.border_dots;
    let mut facts = vec![
        NamedValue::new("gives up", &answer.cost),
        NamedValue::new("clean start addresses", format!("{} of {}", answer.clean_starts, answer.of_starts)),
        NamedValue::new("picture", place),
        NamedValue::new("border", format!("{left} dots left, {right} right")),
        NamedValue::new("pitch", format!("{} bytes", answer.pitch_bytes)),
        NamedValue::new("a step redraws", &answer.redraws),
    ];
    if answer.probability_clean < 1.0 {
        facts.insert(2, NamedValue::new("probability", format!("{:.3}", answer.probability_clean)));
    }
    if let Some(failing) = &answer.fails_at {
        facts.push(NamedValue::new("fails at", failing));
    }
    facts
}
