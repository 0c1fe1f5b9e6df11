//! The verdict of a frame: a faulty board's held against a healthy one's.

use std::ops::RangeInclusive;

use backporch_adapter::Rgba;
use backporch_raster::{Frame, ScanLine, Span, Tint, View};
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
        let mut damage = Self::of_fetch(healthy, faulty, widest(healthy, faulty));
        for (line, differs) in pixel_differences(healthy, faulty).into_iter().enumerate() {
            if let Some(pixels) = differs {
                damage.visible[line] = true;
                damage.widen(pixels);
            }
        }
        damage
    }

    /// Nothing differs on a picture of this many pixels a line and lines.
    pub(crate) fn none(width: u32, lines: u32) -> Self {
        let marks = vec![false; lines as usize];
        Self { damaged: marks.clone(), visible: marks, x: None, width }
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

    pub(crate) fn widen(&mut self, pixels: RangeInclusive<u32>) {
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
            let line_bytes = one.fetch.map_or(1, |line| line.bytes);
            let spans = || spans_differ(healthy.spans_of(one), faulty.spans_of(other));
            let timing = displaced || !healthy.alike_in_time(one, faulty, other);
            let of_spans = || spans().map(|bytes| pixels_of(bytes, line_bytes, width));
            Some(if timing { whole.clone() } else { of_spans() })
        }
        _ => Some(whole.clone()),
    };
    std::iter::from_fn(line).collect()
}

/// The pixels of some bytes of a line of this many.
pub(crate) fn pixels_of(bytes: RangeInclusive<u32>, line_bytes: u32, width: u32) -> RangeInclusive<u32> {
    let pixels = |count: u32| count * width / line_bytes.max(1);
    pixels(*bytes.start())..=pixels(bytes.end() + 1).saturating_sub(1)
}

/// Pixels of a line of the wider picture.
fn widest(healthy: &Frame, faulty: &Frame) -> u32 {
    healthy.picture_size().0.max(faulty.picture_size().0)
}

/// For each picture line, the first and last pixel that differ in colour. What has the same values under the same
/// palette is not painted.
fn pixel_differences(healthy: &Frame, faulty: &Frame) -> Vec<Option<RangeInclusive<u32>>> {
    let dots = healthy.narrowest_pixel();
    let in_place = healthy.shift.is_none() && faulty.shift.is_none();
    if !in_place || healthy.picture_size() != faulty.picture_size() || dots != faulty.narrowest_pixel() {
        return picture_differences(healthy, faulty);
    }
    let mut rows = [(); 2].map(|()| vec![Rgba::default(); healthy.picture_size().0 as usize]);
    let line = |(one, other): (&ScanLine, &ScanLine)| {
        if healthy.looks_like(one, faulty, other) {
            return None;
        }
        let [right, wrong] = &mut rows;
        healthy.paint(one, dots, Tint::default(), right);
        faulty.paint(other, dots, Tint::default(), wrong);
        pixel_difference(right, wrong)
    };
    healthy.picture_lines().zip(faulty.picture_lines()).map(line).collect()
}

/// The same of the painted pictures, wherever they stand and whatever their sizes.
fn picture_differences(healthy: &Frame, faulty: &Frame) -> Vec<Option<RangeInclusive<u32>>> {
    let (right, wrong) = (healthy.picture(View::Picture), faulty.picture(View::Picture));
    let lines = right.height.max(wrong.height) as usize;
    (0..lines).map(|line| pixel_difference(right.row(line), wrong.row(line))).collect()
}

/// The first and last pixel of a line that differ in colour.
fn pixel_difference(right: &[Rgba], wrong: &[Rgba]) -> Option<RangeInclusive<u32>> {
    if right == wrong {
        return None;
    }
    let longest = right.len().max(wrong.len());
    let mut differing = (0..longest).filter(|x| right.get(*x) != wrong.get(*x));
    let first = differing.next()?;
    let last = differing.next_back().unwrap_or(first);
    Some(first as u32..=last as u32)
}

/// First and last byte offset at which two lists of spans fetch from different addresses.
pub(crate) fn spans_differ(one: &[Span], other: &[Span]) -> Option<RangeInclusive<u32>> {
    let (mut one, mut other) = (one.iter().peekable(), other.iter().peekable());
    let mut differing: Option<RangeInclusive<u32>> = None;
    let mut at = 0;
    loop {
        while one.next_if(|span| span.end() <= at).is_some() {}
        while other.next_if(|span| span.end() <= at).is_some() {}
        let here = [one.peek(), other.peek()];
        let edge = |span: &&&Span| if span.at > at { span.at } else { span.end() };
        let Some(next) = here.iter().flatten().map(edge).min() else {
            return differing;
        };
        let [here, there] =
            here.map(|span| span.filter(|span| span.at <= at).map(|span| span.address + (at - span.at)));
        if here != there {
            let first = differing.map_or(at, |bytes| *bytes.start());
            differing = Some(first..=next - 1);
        }
        at = next;
    }
}

/// For each picture line, from the top, the pixels from the first to the last that are not as on a healthy board:
/// fetched from elsewhere, out of place in time, or of another colour. Pixels count from the left of the active area.
#[must_use]
pub fn line_damage(healthy: &Frame, faulty: &Frame) -> Vec<Option<RangeInclusive<u32>>> {
    let fetch = fetch_differences(healthy, faulty, widest(healthy, faulty));
    fetch.into_iter().zip(pixel_differences(healthy, faulty)).map(|(fetch, pixels)| both(fetch, pixels)).collect()
}

/// The least range that holds both.
fn both(one: Option<RangeInclusive<u32>>, other: Option<RangeInclusive<u32>>) -> Option<RangeInclusive<u32>> {
    match (one, other) {
        (Some(one), Some(other)) => Some(*one.start().min(other.start())..=*one.end().max(other.end())),
        (one, other) => one.or(other),
    }
}
