//! The beam: frame, lines, retrace, and the dot clock that follows.

use backporch_adapter::{Adapter, Mode, StatusSignal};
use backporch_evidence::survey::{SurveyedMode, TIMED_LINES, Taken};

use crate::figure::Figure;
use crate::processor::{SurveyedProcessor, beats_a_second};

/// What the beam of a mode came to.
#[derive(Clone, Debug, Default)]
pub(crate) struct ModeBeam {
    pub figures: Vec<Figure>,
    /// Dots a second and how far they may be off.
    pub dot_clock: Option<(f64, f64)>,
}

/// Mean of a run, and how far it may be off: both of its edges are seen up to a round of polling late. Runs that all begin
/// alike are all late alike, so that they need not tell how long a round is.
fn mean(taken: &Taken, round: f64) -> (f64, f64) {
    (taken.mean(), f64::from(taken.spread()).max(round) + 2.0)
}

impl ModeBeam {
    pub fn of(processor: &SurveyedProcessor, adapter: &Adapter, mode: &Mode, surveyed: &SurveyedMode) -> Self {
        let registers = adapter.start_up(mode);
        let Ok(signal) = adapter.signal(&registers) else { return Self::default() };
        let mut figures = Vec::new();
        let unseen = |of| Figure::nothing(of, "the status port did not show it");
        let (Some(frame), Some(lines)) = (&surveyed.frame, &surveyed.lines) else {
            return Self { figures: vec![unseen("frame rate"), unseen("line rate")], dot_clock: None };
        };
        let round = processor.polling_beats();
        // Frames follow one another, so that the polling counts once for all of them.
        let (frame_beats, frame_off) = mean(frame, round);
        let frame_off = frame_off / f64::from(frame.runs);
        let rate = beats_a_second() / frame_beats;
        let found = (rate, rate * frame_off / frame_beats);
        figures.push(Figure::number("frame rate", "Hz", found, Some(signal.frame_rate_hz())));
        let (lines_beats, lines_off) = mean(lines, round);
        let line_beats = lines_beats / f64::from(TIMED_LINES);
        let line_off = lines_off / f64::from(TIMED_LINES);
        // A processor too slow to see every line end counts some lines for one.
        let missed = f64::from(lines.spread()) > 0.5 * line_beats;
        let profile_lines = f64::from(signal.vertical.total());
        if missed {
            let why = "the processor is too slow to see every line end";
            figures.extend(["line rate", "lines of a frame"].map(|of| Figure::nothing(of, why)));
        } else {
            let rate = beats_a_second() / line_beats;
            let found = (rate, rate * line_off / line_beats);
            figures.push(Figure::number("line rate", "Hz", found, Some(signal.line_rate_hz())));
            let count = frame_beats / line_beats;
            let off = count * (line_off / line_beats + frame_off / frame_beats);
            let whole = (count - count.round()).abs() <= off && off < 0.5;
            let found = if whole { (count.round(), 0.0) } else { (count, off) };
            figures.push(Figure::number("lines of a frame", "lines", found, Some(profile_lines)));
        }
        if let Some(retrace) = &surveyed.retrace {
            let per_line = frame_beats / profile_lines;
            let (beats, off) = mean(retrace, round);
            let profile = f64::from(signal.vertical.sync());
            figures.push(Figure::number(
                "vertical retrace",
                "lines",
                (beats / per_line, off / per_line),
                Some(profile),
            ));
        }
        if let Some(marks) = surveyed.marks.filter(|_| !missed) {
            let shown = adapter.status_mask(StatusSignal::DisplayDisabled).is_some();
            let profile =
                if shown { signal.vertical.active() } else { signal.vertical.total() - signal.vertical.sync() };
            let spread = f64::from(marks.spread()) + if shown { 0.0 } else { 1.0 };
            let found = (f64::from(marks.most), spread);
            figures.push(Figure::number("line ends between retraces", "lines", found, Some(f64::from(profile))));
        }
        let dots = f64::from(signal.horizontal.total()) * profile_lines;
        let clock = dots * beats_a_second() / frame_beats;
        let dot_clock = (clock, clock * frame_off / frame_beats);
        let profile = Some(adapter.dot_clock_of(&registers).get());
        figures.push(Figure::number("dot clock, by the profile's totals", "Hz", dot_clock, profile));
        let figures = figures.into_iter().map(|figure| figure.in_mode(&surveyed.name)).collect();
        Self { figures, dot_clock: Some(dot_clock) }
    }
}
