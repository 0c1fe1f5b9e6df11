//! `calibrate`: figures of a surveyed machine beside those of profiles.

use backporch_calibration::{Agreement, Calibration, Figure, FigureValue};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a survey of a real machine came to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CalibrateAnswer {
    /// The adapter profile it was held against.
    pub board: String,
    /// The processor model it was held against; null where none is near.
    pub cpu: Option<String>,
    /// Every figure, those of the machine first.
    pub figures: Vec<FigureAnswer>,
    /// Figures from which a profile differs beyond their spread.
    pub differing: usize,
    /// The processor model that was written.
    pub cpu_file: String,
    /// The adapter profile that was written.
    pub board_file: String,
}

/// One figure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FigureAnswer {
    /// What it is of.
    pub of: String,
    /// The mode it was found in; null for the machine's own.
    pub mode: Option<String>,
    /// Unit of the numbers; empty for words.
    pub unit: String,
    /// The number that was found.
    pub found: Option<f64>,
    /// How far the true one may lie from it.
    pub spread: Option<f64>,
    /// What was found in words.
    pub found_words: Option<String>,
    /// The profile's number.
    pub profile: Option<f64>,
    /// The profile's words.
    pub profile_words: Option<String>,
    /// How the two go together.
    pub agreement: AgreementAnswer,
    /// Found less profile, where a number differs.
    pub difference: Option<f64>,
    /// Why nothing was found.
    pub why: Option<String>,
}

/// How a figure and its profile go together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum AgreementAnswer {
    /// The profile lies within the spread.
    Agrees,
    /// It does not.
    Differs,
    /// Beyond what is known: nothing was found, or the profile says nothing.
    Unknown,
}

impl From<&Figure> for FigureAnswer {
    fn from(figure: &Figure) -> Self {
        let (agreement, difference) = match figure.agreement() {
            Agreement::Agrees => (AgreementAnswer::Agrees, None),
            Agreement::Differs(by) => (AgreementAnswer::Differs, by),
            Agreement::Unknown => (AgreementAnswer::Unknown, None),
        };
        let (mut found, mut spread, mut found_words, mut why) = (None, None, None, None);
        match &figure.found {
            FigureValue::Number { value, spread: off } => (found, spread) = (Some(*value), Some(*off)),
            FigureValue::Words(words) => found_words = Some(words.clone()),
            FigureValue::Nothing(reason) => why = Some(reason.clone()),
        }
        Self {
            of: figure.of.to_string(),
            mode: figure.mode.clone(),
            unit: figure.unit.to_string(),
            found,
            spread,
            found_words,
            profile: figure.profile,
            profile_words: figure.profile_words.clone(),
            agreement,
            difference,
            why,
        }
    }
}

impl CalibrateAnswer {
    /// The answer of a calibration whose files were written.
    #[must_use]
    pub fn new(calibration: &Calibration, board: &str, cpu_file: String, board_file: String) -> Self {
        let figures: Vec<FigureAnswer> = calibration.figures.iter().map(FigureAnswer::from).collect();
        let differing = figures.iter().filter(|figure| figure.agreement == AgreementAnswer::Differs).count();
        Self { board: board.to_string(), cpu: calibration.against.clone(), figures, differing, cpu_file, board_file }
    }

    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        let cpu = self.cpu.as_deref().unwrap_or("no processor model");
        let mut text = format!("held against {} and {cpu}\n", self.board);
        let mut mode = None;
        for figure in &self.figures {
            if figure.mode != mode {
                mode.clone_from(&figure.mode);
                text += &format!("{}:\n", mode.as_deref().unwrap_or_default());
            }
            text += &figure.text();
        }
        text += &match self.differing {
            0 => "nothing differs beyond its spread\n".to_string(),
            1 => "1 figure differs beyond its spread\n".to_string(),
            number => format!("{number} figures differ beyond their spread\n"),
        };
        text + &format!("written: {}, for --cpu\nwritten: {}, for --board\n", self.cpu_file, self.board_file)
    }
}

impl FigureAnswer {
    fn text(&self) -> String {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        let found = match (self.found, self.spread, &self.found_words) {
            (Some(value), Some(spread), _) if spread > 0.0 => {
                let digits = digits(spread);
                format!("{value:.digits$} \u{b1} {spread:.digits$}{unit}")
            }
            (Some(value), ..) => format!("{value}{unit}"),
            (_, _, Some(words)) => words.clone(),
            _ => "unknown".to_string(),
        };
        let says = match (self.agreement, self.difference, self.profile, &self.profile_words) {
            (AgreementAnswer::Agrees, ..) => "agrees".to_string(),
            (AgreementAnswer::Differs, Some(by), Some(profile), _) => {
                let digits = digits(self.spread.filter(|spread| *spread > 0.0).unwrap_or(by).abs());
                format!("differs by {by:+.digits$}: the profile says {profile:.digits$}")
            }
            (AgreementAnswer::Differs, _, _, words) => {
                format!("differs: the profile says {}", words.as_deref().unwrap_or_default())
            }
            (AgreementAnswer::Unknown, ..) => match &self.why {
                Some(why) => format!("beyond what is known: {why}"),
                None => "the profile does not say".to_string(),
            },
        };
        format!("  {:<46} {found:<26} {says}\n", self.of)
    }
}

/// Digits behind the point that a spread leaves.
fn digits(spread: f64) -> usize {
    match spread {
        spread if spread >= 10.0 => 0,
        spread if spread >= 1.0 => 1,
        spread if spread >= 0.1 => 2,
        spread if spread >= 0.01 => 3,
        _ => 4,
    }
}
