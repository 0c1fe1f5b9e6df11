//! `measure`: what each line of a photographed screen shows.

use std::collections::BTreeMap;

use backporch_measure::{CaptureReport, DarkBand, Finding, LineEvidence, Measurement, StretchContent};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::words;

/// Lines listed in text, at most.
const MOST_LINES: usize = 24;

/// Captures of a screen, held against the plain board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeasureAnswer {
    /// The adapter profile.
    pub board: String,
    /// The mode.
    pub mode: String,
    /// The test card of a session, where captures show it; null where they show the bench's picture.
    pub card: Option<TestCardAnswer>,
    /// The steps that were looked at.
    pub looks: Vec<MeasuredLookAnswer>,
    /// The sightings file that was written.
    pub sightings: Option<String>,
}

/// What was seen at one step.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeasuredLookAnswer {
    /// What the stepped register held, and others that a session set.
    pub step: BTreeMap<String, u32>,
    /// The look of a session, where its number was read; null otherwise.
    pub look: Option<LookFoundAnswer>,
    /// The captures, all of them taken together.
    pub captures: Vec<MeasuredCaptureAnswer>,
    /// Picture lines that show what was meant.
    pub as_meant: u32,
    /// Picture lines that show something else.
    pub wrong: u32,
    /// Picture lines of which the captures do not allow to tell.
    pub could_not_tell: u32,
    /// The same in the words of sightings.
    pub saw: String,
    /// Every picture line, from the top.
    pub lines: Vec<MeasuredLineAnswer>,
}

/// A test card that captures show.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct TestCardAnswer {
    /// What one of its codes says; null where none could be read.
    pub code: Option<String>,
    /// Where none could be read, the boards on which none can be at the step of the first capture, so that it is the
    /// board that damages them and not the photograph.
    pub unreadable_on: Vec<MeasuredBoardAnswer>,
}

/// A board whose picture captures are held against.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MeasuredBoardAnswer {
    /// The plain board.
    Plain,
    /// A board as its class is built.
    ByDesign,
    /// The same with the bench's quirks.
    UnderQuirks,
    /// A board as its class is built, under the suspect of that name.
    UnderSuspect(String),
}

/// Which look of a session captures show.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LookFoundAnswer {
    /// Its number, as the label at the upper left shows it.
    pub number: u32,
    /// Natural logarithm of how much likelier this number is than any other of the session; of several captures the least.
    pub margin: f64,
}

/// How the step of a capture was found, where it was not given.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StepFoundAnswer {
    /// Steps among which it was looked for.
    pub among: u64,
    /// The board whose picture fits best at this step.
    pub board: MeasuredBoardAnswer,
    /// How well the lines fit that picture: the mean of their correlations, up to 1; those that fit nothing count as 0.
    pub fit: f64,
    /// The step that looks different and comes nearest; null where there was no other.
    pub next: Option<NextStepAnswer>,
}

/// The step that comes nearest to the one found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextStepAnswer {
    /// What the stepped register holds there.
    pub step: u32,
    /// How well the lines fit it; null where it shows the same content beside its place, so that edges of the active area
    /// tell.
    pub fit: Option<f64>,
    /// Standard errors by which the lines, or the edges, speak for the step found against this one; less than 2.5 is not
    /// enough.
    pub margin: f64,
}

/// How a capture was laid over the picture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeasuredCaptureAnswer {
    /// The file it comes from.
    pub file: String,
    /// Corners of the active area in capture pixels from the upper left: upper left, upper right, lower right, lower left.
    pub corners: [[f64; 2]; 4],
    /// Capture pixels that a picture pixel is wide and high.
    pub scale: [f64; 2],
    /// Picture pixels by which parts of the picture still lie beside their places: the median; null where it shows too
    /// little to tell.
    pub residual_px: Option<f64>,
    /// The same, of the worst tenth.
    pub worst_residual_px: Option<f64>,
    /// Agreement of capture and picture, 1 where they are the same.
    pub agreement: f64,
    /// Picture pixels by which edges of the active area lie right of, or below, where the content alone says: left, right,
    /// top, bottom; null where an edge does not stand out from the border.
    pub edges_px: [Option<f64>; 4],
    /// Whether opposite edges lie beside where the content says, to the same side, so that nobody knows whether it stands in its
    /// place.
    pub contradicted: bool,
    /// Pixels and lines by which the content as a whole stands left of and above its place in the frame.
    pub content_moved: [f64; 2],
    /// Standard deviation of the blur in picture pixels, across and down.
    pub blur_px: [f64; 2],
    /// Usual error of a number of the capture, 0 to 255.
    pub noise: f64,
    /// Picture lines that lie outside of the capture, in all or by a tenth and more.
    pub cut_off_lines: u32,
    /// Picture lines much darker than the others: the exposure shows part of a frame.
    pub dark_lines: u32,
    /// Dark bands across the picture: the exposure is shorter than a frame, or rolls, and shows part of two.
    pub bands: Vec<DarkBandAnswer>,
    /// How its step was found; null where it was given.
    pub step_found: Option<StepFoundAnswer>,
    /// Where the capture with what was found on it was written.
    pub drawing: Option<String>,
}

/// Lines that are darker than those beside them, with a sharp border.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DarkBandAnswer {
    /// The first picture line.
    pub from: u32,
    /// The last picture line.
    pub to: u32,
    /// By what share it is darker, 0 to 1.
    pub darker: f64,
}

/// What was found of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LineFindingAnswer {
    /// It shows what was meant.
    AsMeant,
    /// The whole line stands beside its place.
    Displaced,
    /// All or part of it comes from another place of memory.
    Elsewhere,
    /// Every shape is in its place, in other colours.
    WrongColours,
    /// It shows something that was not found in memory.
    SomethingElse,
    /// The captures do not allow to tell.
    CouldNotTell,
}

/// A picture line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeasuredLineAnswer {
    /// Its number, from 0 at the top.
    pub line: u32,
    /// What it shows.
    pub finding: LineFindingAnswer,
    /// How sure it is that it is, or is not, as meant, 0 to 1.
    pub probability: f64,
    /// Pixels by which it is displaced as a whole, to the right; negative to the left.
    pub displaced_px: Option<f64>,
    /// Pixels along memory by which what it shows lies further on than what was meant; negative before it.
    pub moved_px: Option<i64>,
    /// First pixel that is not as meant, from the left of the active area.
    pub x_from: Option<u32>,
    /// Last pixel that is not as meant.
    pub x_to: Option<u32>,
    /// Natural logarithms of how much likelier the captures are under the best of each kind than under anything at all;
    /// null for what was not tried because the line is as meant beyond doubt.
    pub log_likelihoods: LineLikelihoodsAnswer,
}

/// Likelihoods of a line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LineLikelihoodsAnswer {
    /// As meant.
    pub as_meant: f64,
    /// Displaced as a whole.
    pub displaced: Option<f64>,
    /// From another place of memory.
    pub elsewhere: Option<f64>,
    /// In other colours.
    pub wrong_colours: Option<f64>,
    /// Something else.
    pub something_else: Option<f64>,
}

impl MeasuredCaptureAnswer {
    /// The answer for a capture of that file.
    #[must_use]
    pub fn new(
        file: &str,
        report: &CaptureReport,
        step_found: Option<StepFoundAnswer>,
        drawing: Option<String>,
    ) -> Self {
        let geometry = &report.geometry;
        let pair = |(one, other): (f64, f64)| [hundredths(one), hundredths(other)];
        Self {
            file: file.to_string(),
            corners: geometry.corners.map(pair),
            scale: pair(geometry.scale),
            residual_px: geometry.residual.map(hundredths),
            worst_residual_px: geometry.worst_residual.map(hundredths),
            agreement: hundredths(geometry.agreement),
            edges_px: geometry.edges.map(|edge| edge.map(hundredths)),
            contradicted: geometry.is_contradicted(),
            content_moved: pair(geometry.content_moved),
            blur_px: pair(report.blur),
            noise: hundredths(report.noise),
            cut_off_lines: report.cut_off_lines as u32,
            dark_lines: report.dark_lines as u32,
            bands: report.bands.iter().map(DarkBandAnswer::new).collect(),
            step_found: step_found.map(StepFoundAnswer::rounded),
            drawing,
        }
    }
}

impl MeasuredLookAnswer {
    /// The answer for a step.
    #[must_use]
    pub fn new(
        step: BTreeMap<String, u32>,
        captures: Vec<MeasuredCaptureAnswer>,
        measured: &Measurement,
        saw: String,
    ) -> Self {
        let count =
            |as_meant: Option<bool>| measured.lines.iter().filter(|line| line.is_as_meant() == as_meant).count() as u32;
        Self {
            step,
            look: None,
            captures,
            as_meant: count(Some(true)),
            wrong: count(Some(false)),
            could_not_tell: count(None),
            saw,
            lines: measured.lines.iter().enumerate().map(|(at, line)| MeasuredLineAnswer::new(at, line)).collect(),
        }
    }

    /// What the stepped register held, in words.
    #[must_use]
    pub fn setting(&self) -> String {
        words::settings(&self.step)
    }

    /// How many lines show what was meant, in words.
    #[must_use]
    pub fn counts(&self) -> String {
        let lines = words::counted(u64::from(self.as_meant), "line");
        format!("{lines} as meant, {} not, {} could not be judged", self.wrong, self.could_not_tell)
    }

    fn text(&self) -> String {
        let look = self.look.as_ref().map_or(String::new(), LookFoundAnswer::text);
        let mut text = format!("{look}{}: {}\n", self.setting(), self.counts());
        for capture in &self.captures {
            text += &capture.text();
        }
        let not: Vec<&MeasuredLineAnswer> = self
            .lines
            .iter()
            .filter(|line| !matches!(line.finding, LineFindingAnswer::AsMeant | LineFindingAnswer::CouldNotTell))
            .collect();
        for line in not.iter().take(MOST_LINES) {
            text += &line.text();
        }
        if not.len() > MOST_LINES {
            text += &format!("  and {} more lines; --format json has them all\n", not.len() - MOST_LINES);
        }
        text + &format!("  in the words of sightings: {}\n", self.saw)
    }
}

impl LookFoundAnswer {
    /// The look of that number, which is so much likelier than the next (a natural logarithm).
    #[must_use]
    pub fn new(number: u32, margin: f64) -> Self {
        Self { number, margin: hundredths(margin) }
    }

    fn text(&self) -> String {
        format!("look {}, ", self.number)
    }
}

impl MeasuredCaptureAnswer {
    /// How the picture lies on it, and what is to be said of its light, a sentence each.
    #[must_use]
    pub fn says(&self) -> Vec<String> {
        let residual = match (self.residual_px, self.worst_residual_px) {
            (Some(median), Some(worst)) => format!("places to {median:.2} pixels (worst tenth {worst:.2})"),
            _ => "too few shapes to say how exactly it lies".to_string(),
        };
        let [across, down] = self.scale;
        let mut says = vec![format!(
            "a picture pixel is {across:.1} x {down:.1} pixels; {residual}; agreement {:.2}",
            self.agreement
        )];
        let [right, lines] = self.content_moved;
        if right != 0.0 || lines != 0.0 {
            says.push(format!(
                "by its edges, the whole content stands {right:+} pixels left and {lines:+} lines above its place"
            ));
        }
        if self.contradicted {
            says.push(
                "edges of the active area lie beside where the content says: it may stand elsewhere as a whole"
                    .to_string(),
            );
        }
        if self.cut_off_lines > 0 {
            let lines = words::counted(u64::from(self.cut_off_lines), "line");
            says.push(format!("{lines} cut off: outside of the capture, in all or in part"));
        }
        if self.dark_lines > 0 {
            let lines = words::counted(u64::from(self.dark_lines), "line");
            says.push(format!("{lines} much darker: the exposure is shorter than a frame and shows part of one"));
        }
        says.extend(self.bands.iter().map(|DarkBandAnswer { from, to, darker }| {
            let darker = words::percent(*darker);
            format!("lines {from} to {to} are darker by {darker}: the exposure is shorter than a frame and shows part of two")
        }));
        says.extend(self.step_found.iter().map(StepFoundAnswer::text));
        says
    }

    fn text(&self) -> String {
        let mut text = format!("  {}: {}\n", self.file, self.says().join("\n    "));
        if let Some(drawing) = &self.drawing {
            text += &format!("    drawn on: {drawing}\n");
        }
        text
    }
}

impl MeasuredBoardAnswer {
    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Plain => "the plain board".to_string(),
            Self::ByDesign => "the board as built".to_string(),
            Self::UnderQuirks => "the board with its quirks".to_string(),
            Self::UnderSuspect(name) => format!("the board under {name}"),
        }
    }
}

impl TestCardAnswer {
    /// How it was recognised, in words.
    #[must_use]
    pub fn says(&self) -> String {
        match (&self.code, self.unreadable_on.as_slice()) {
            (Some(code), _) => format!("test card, by its code: {code}"),
            (None, []) => {
                "test card, by what it shows; no code could be read, though every board that was tried shows one"
                    .to_string()
            }
            (None, boards) => {
                let boards: Vec<String> = boards.iter().map(MeasuredBoardAnswer::words).collect();
                format!("test card, by what it shows; its codes are damaged on {}", boards.join(", "))
            }
        }
    }
}

impl DarkBandAnswer {
    fn new(band: &DarkBand) -> Self {
        Self { from: band.from as u32, to: band.to as u32, darker: hundredths(band.darker) }
    }
}

impl StepFoundAnswer {
    fn rounded(self) -> Self {
        let next = self.next.map(|next| NextStepAnswer {
            fit: next.fit.map(hundredths),
            margin: hundredths(next.margin),
            ..next
        });
        Self { fit: hundredths(self.fit), next, ..self }
    }

    fn text(&self) -> String {
        let board = self.board.words();
        let mut text = format!("step found among {}: {board} fits {:.2} there", self.among, self.fit);
        if let Some(next) = &self.next {
            let fit = next.fit.map_or("the same beside its place".to_string(), |fit| format!("{fit:.2}"));
            text += &format!("; next {} ({fit}), {:.1} standard errors behind", next.step, next.margin);
        }
        text
    }
}

impl MeasuredLineAnswer {
    fn new(at: usize, line: &LineEvidence) -> Self {
        let finding = match line.finding {
            Finding::AsMeant => LineFindingAnswer::AsMeant,
            Finding::Displaced { .. } => LineFindingAnswer::Displaced,
            Finding::Elsewhere { .. } => LineFindingAnswer::Elsewhere,
            Finding::WrongColours => LineFindingAnswer::WrongColours,
            Finding::SomethingElse => LineFindingAnswer::SomethingElse,
            Finding::CouldNotTell => LineFindingAnswer::CouldNotTell,
        };
        let displaced_px = match line.finding {
            Finding::Displaced { half_pixels } => Some(f64::from(half_pixels) / 2.0),
            _ => None,
        };
        let moved_px = match line.finding {
            Finding::Elsewhere { moved } => Some(moved),
            _ => None,
        };
        let known = |log: f64| log.is_finite().then(|| hundredths(log));
        let other = line.stretches.iter().filter(|one| one.source != StretchContent::Meant);
        Self {
            line: at as u32,
            finding,
            probability: line.probability,
            displaced_px,
            moved_px,
            x_from: other.clone().map(|one| one.from as u32).min(),
            x_to: other.map(|one| one.to as u32).max(),
            log_likelihoods: LineLikelihoodsAnswer {
                as_meant: hundredths(line.likelihoods.as_meant),
                displaced: known(line.likelihoods.displaced),
                elsewhere: known(line.likelihoods.elsewhere),
                wrong_colours: known(line.likelihoods.wrong_colours),
                something_else: known(line.likelihoods.something_else),
            },
        }
    }

    /// What it shows, in words.
    #[must_use]
    pub fn what(&self) -> String {
        match self.finding {
            LineFindingAnswer::AsMeant => "as meant".to_string(),
            LineFindingAnswer::Displaced => {
                let by = self.displaced_px.unwrap_or_default();
                format!("displaced by {} pixels to the {}", by.abs(), if by < 0.0 { "left" } else { "right" })
            }
            LineFindingAnswer::Elsewhere => {
                let moved = self.moved_px.unwrap_or_default();
                let way = if moved < 0 { "before" } else { "after" };
                format!("from memory {} pixels {way} what was meant", moved.unsigned_abs())
            }
            LineFindingAnswer::WrongColours => "in wrong colours".to_string(),
            LineFindingAnswer::SomethingElse => "something that is not in memory".to_string(),
            LineFindingAnswer::CouldNotTell => "could not tell".to_string(),
        }
    }

    /// Where along it that is so, in words; empty where that is not known.
    #[must_use]
    pub fn pixels(&self) -> String {
        match (self.x_from, self.x_to) {
            (Some(from), Some(to)) => format!("pixels {from} to {to}"),
            _ => String::new(),
        }
    }

    /// How sure it is, in words.
    #[must_use]
    pub fn sureness(&self) -> String {
        words::percent(self.probability)
    }

    fn text(&self) -> String {
        let pixels = Some(self.pixels()).filter(|pixels| !pixels.is_empty());
        let pixels = pixels.map_or_else(String::new, |pixels| format!(", {pixels}"));
        format!("  line {:4}  {}{pixels} ({})\n", self.line, self.what(), self.sureness())
    }
}

impl MeasureAnswer {
    /// A summary of each step, and its lines that are not as meant.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!("{} in {}\n", self.board, self.mode);
        text.extend(self.card.iter().map(|card| card.says() + "\n"));
        text.extend(self.looks.iter().map(MeasuredLookAnswer::text));
        if let Some(file) = &self.sightings {
            text += &format!("sightings: {file}\n");
        }
        text
    }
}

fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
