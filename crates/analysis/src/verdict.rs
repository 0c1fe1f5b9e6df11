//! The verdict of a frame: a faulty board's held against a healthy one's.

use std::ops::RangeInclusive;

use backporch_raster::{Frame, Picture, Span, View};
use serde::Serialize;

use crate::pattern::LinePattern;

/// How bad a frame is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// As on a healthy board.
    Clean,
    /// Every bad line is right in its left half.
    EdgeDamaged,
    /// Anything more.
    Broken,
}

impl Verdict {
    /// The word for people and for JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Clean => "clean",
            Self::EdgeDamaged => "edge-damaged",
            Self::Broken => "broken",
        }
    }
}

/// What differs between the frames of a faulty and a healthy board.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Damage {
    /// For each picture line: its fetched addresses, or the frame's timing, differ.
    pub damaged: Vec<bool>,
    /// For each picture line: its pixels differ in the picture at hand.
    pub visible: Vec<bool>,
    /// Pixels from the left between which lines differ, over all lines.
    pub x: Option<RangeInclusive<u32>>,
    /// Pixels of a line.
    pub width: u32,
}

impl Damage {
    /// Holds `faulty` against `healthy`: fetch, timing and pixels.
    #[must_use]
    pub fn between(healthy: &Frame, faulty: &Frame) -> Self {
        let (right, wrong) = (healthy.picture(View::Picture), faulty.picture(View::Picture));
        let mut damage = Self::of_fetch(healthy, faulty, right.width.max(wrong.width));
        damage.see(&right, &wrong);
        damage
    }

    /// Holds fetch and timing of two frames against each other.
    fn of_fetch(healthy: &Frame, faulty: &Frame, width: u32) -> Self {
        let mut damage = Self { width, ..Self::default() };
        for differs in fetch_differences(healthy, faulty, width) {
            damage.damaged.push(differs.is_some());
            if let Some(pixels) = differs {
                damage.widen(pixels);
            }
        }
        damage.visible = vec![false; damage.damaged.len()];
        damage
    }

    fn see(&mut self, right: &Picture, wrong: &Picture) {
        for line in 0..self.visible.len() {
            if let Some(pixels) = pixel_difference(right, wrong, line) {
                self.visible[line] = true;
                self.widen(pixels);
            }
        }
    }

    fn widen(&mut self, pixels: RangeInclusive<u32>) {
        self.x = Some(match self.x.take() {
            Some(x) => *x.start().min(pixels.start())..=*x.end().max(pixels.end()),
            None => pixels,
        });
    }

    /// Number of lines whose fetch or timing differs.
    #[must_use]
    pub fn damaged_lines(&self) -> u32 {
        self.damaged.iter().filter(|line| **line).count() as u32
    }

    /// Number of lines whose pixels differ.
    #[must_use]
    pub fn visible_lines(&self) -> u32 {
        self.visible.iter().filter(|line| **line).count() as u32
    }

    /// The verdict.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        match &self.x {
            None => Verdict::Clean,
            Some(x) if *x.start() >= self.width.div_ceil(2) => Verdict::EdgeDamaged,
            Some(_) => Verdict::Broken,
        }
    }

    /// The pattern of the bad lines: of the damaged ones, or where fetch and
    /// timing are right, of the visible ones.
    #[must_use]
    pub fn pattern(&self) -> Option<LinePattern> {
        let lines = if self.damaged_lines() > 0 { &self.damaged } else { &self.visible };
        LinePattern::find(lines)
    }
}

/// For each picture line, the pixels between which fetch or timing differ.
pub(crate) fn fetch_differences(healthy: &Frame, faulty: &Frame, width: u32) -> Vec<Option<RangeInclusive<u32>>> {
    let displaced = healthy.shift != faulty.shift
        || healthy.unstable != faulty.unstable
        || healthy.lines.len() != faulty.lines.len();
    let (mut right, mut wrong) = (healthy.picture_lines(), faulty.picture_lines());
    let whole = Some(0..=width.saturating_sub(1));
    let line = || match (right.next(), wrong.next()) {
        (None, None) => None,
        (Some(one), Some(other)) => {
            let pixels = |count: u32| count * width / one.fetch.map_or(1, |line| line.bytes).max(1);
            let spans = spans_differ(healthy.spans_of(one), faulty.spans_of(other));
            let timing = displaced || !healthy.alike_in_time(one, faulty, other);
            let of_spans = || spans.map(|bytes| pixels(*bytes.start())..=pixels(bytes.end() + 1).saturating_sub(1));
            Some(if timing { whole.clone() } else { of_spans() })
        }
        _ => Some(whole.clone()),
    };
    std::iter::from_fn(line).collect()
}

/// The first and last pixel of a line that differ in colour.
pub(crate) fn pixel_difference(right: &Picture, wrong: &Picture, line: usize) -> Option<RangeInclusive<u32>> {
    let (one, other) = (right.row(line), wrong.row(line));
    if one == other {
        return None;
    }
    let longest = one.len().max(other.len());
    let mut differing = (0..longest).filter(|x| one.get(*x) != other.get(*x));
    let first = differing.next()?;
    let last = differing.next_back().unwrap_or(first);
    Some(first as u32..=last as u32)
}

/// First and last byte offset at which two lists of spans fetch from different addresses.
pub(crate) fn spans_differ(one: &[Span], other: &[Span]) -> Option<RangeInclusive<u32>> {
    if one == other {
        return None;
    }
    let end = |spans: &[Span]| spans.last().map_or(0, Span::end);
    let starts = one.iter().chain(other).flat_map(|span| [span.at, span.end()]);
    let mut edges: Vec<u32> = starts.collect();
    edges.sort_unstable();
    edges.dedup();
    let address = |spans: &[Span], at: u32| {
        let span = spans.iter().find(|span| (span.at..span.end()).contains(&at))?;
        Some(span.address + (at - span.at))
    };
    let differs = |pair: &&[u32]| address(one, pair[0]) != address(other, pair[0]);
    let mut differing = edges.windows(2).filter(differs);
    let first = differing.next()?;
    let last = differing.next_back().unwrap_or(first);
    Some(first[0]..=last[1].min(end(one).max(end(other))) - 1)
}

/// For each picture line, from the top, the pixels from the first to the last that are not as on a healthy board:
/// fetched from elsewhere, out of place in time, or of another colour. Pixels count from the left of the active area.
#[must_use]
pub fn line_damage(healthy: &Frame, faulty: &Frame) -> Vec<Option<RangeInclusive<u32>>> {
    let (right, wrong) = (healthy.picture(View::Picture), faulty.picture(View::Picture));
    let fetch = fetch_differences(healthy, faulty, right.width.max(wrong.width));
    let lines = fetch.into_iter().enumerate();
    lines.map(|(line, fetch)| both(fetch, pixel_difference(&right, &wrong, line))).collect()
}

/// The least range that holds both.
fn both(one: Option<RangeInclusive<u32>>, other: Option<RangeInclusive<u32>>) -> Option<RangeInclusive<u32>> {
    match (one, other) {
        (Some(one), Some(other)) => Some(*one.start().min(other.start())..=*one.end().max(other.end())),
        (one, other) => one.or(other),
    }
}
