//! When the start address is taken over.

use backporch_adapter::{Adapter, Mode, StartLoad};
use backporch_evidence::survey::{SurveyedMode, TakeOver};

use crate::figure::Figure;
use crate::processor::SurveyedProcessor;

const FIGURE: &str = "start address taken over, after retrace";
/// What is said where all that was written before a picture is shown in it.
const AT_PICTURE: &str = "as the picture begins";
/// What is said where nothing written within a frame before a picture is.
const NOT_BY_NEXT: &str = "not by the next picture";

/// Rounds of polling that reading the timer takes, at most; and until an edge is seen and the timer read.
const TIMER_ROUNDS: f64 = 2.0;
const EDGE_ROUNDS: f64 = 2.0;

/// What was found of a mode.
#[derive(Clone, Debug)]
pub(crate) struct StartTakeOver {
    pub figure: Figure,
    /// What the profile should say instead.
    pub other: Option<StartLoad>,
}

/// Lines from where vertical retrace begins to where a load comes.
fn after_retrace(adapter: &Adapter, mode: &Mode, load: Option<StartLoad>) -> f64 {
    let mut timing = adapter.timing(&adapter.start_up(mode));
    timing.start_load = load.unwrap_or(timing.start_load);
    let place = timing.take_over();
    let lines = f64::from(place.line) + f64::from(place.char) / f64::from(timing.chars().max(1));
    lines - f64::from(timing.sync_line())
}

impl StartTakeOver {
    /// `None` where the survey did not ask, or nothing was seen.
    pub fn of(processor: &SurveyedProcessor, adapter: &Adapter, mode: &Mode, surveyed: &SurveyedMode) -> Option<Self> {
        let TakeOver { taken, missed } = surveyed.take_over?;
        let frame = surveyed.frame.as_ref()?.mean();
        let line = frame / f64::from(adapter.timing(&adapter.start_up(mode)).lines().max(1));
        let round = processor.polling_beats();
        // What was written, was written before the timer was read, and that was read some time after retrace began.
        let earliest = |beats: u32| (f64::from(beats) - TIMER_ROUNDS * round - frame) / line;
        let latest = |beats: u32| (f64::from(beats) + EDGE_ROUNDS * round - frame) / line;
        let profile = after_retrace(adapter, mode, None);
        let in_words = format!("{profile:.1} lines");
        let loads = [StartLoad::VerticalRetrace, StartLoad::VerticalRetraceEnd, StartLoad::FrameStart];
        let (figure, range) = match (taken, missed) {
            (Some(taken), Some(missed)) => {
                let (from, to) = (earliest(taken.min(missed)), latest(taken.max(missed)));
                let found = ((from + to) / 2.0, (to - from) / 2.0);
                (Figure::number(FIGURE, "lines", found, Some(profile)), from..=to)
            }
            (Some(taken), None) => {
                let from = earliest(taken);
                let expected = if profile >= from { AT_PICTURE.to_string() } else { in_words };
                (Figure::words(FIGURE, AT_PICTURE, Some(expected)), from..=f64::INFINITY)
            }
            (None, Some(_)) => (Figure::words(FIGURE, NOT_BY_NEXT, Some(in_words)), f64::INFINITY..=f64::INFINITY),
            (None, None) => return None,
        };
        let mut fitting = loads.into_iter().filter(|load| range.contains(&after_retrace(adapter, mode, Some(*load))));
        let only = fitting.next().filter(|_| fitting.next().is_none());
        let other = only.filter(|_| !range.contains(&profile));
        Some(Self { figure: figure.in_mode(&surveyed.name), other })
    }
}
