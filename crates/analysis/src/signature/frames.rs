//! Two drawn frames held against each other, line by line.

use backporch_raster::{Frame, ScanLine, SegmentKind};

use super::components::Components;
use super::moved::{self, Movement};
use super::{FrameSignature, Nature};
use crate::verdict::spans_differ;

/// What of two frames is held against each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum HeldAgainst {
    /// Addresses, pixel values and colours: then it does not matter what lies there.
    All,
    /// Pixel values and colours alone, as an eye can tell them of a picture it knows.
    Visible {
        /// Pixels and lines at the upper left that something covers.
        covered: (u32, u32),
    },
}

impl HeldAgainst {
    /// Pixels from the left of a line that cannot be seen.
    fn covered(self, line: u32) -> u32 {
        match self {
            Self::Visible { covered: (pixels, lines) } if line < lines => pixels,
            _ => 0,
        }
    }

    /// First and last pixel at which the values of a line, of which these begin with pixel `at`, differ where they are seen,
    /// and at how many they do.
    pub(crate) fn extent(self, line: u32, at: u32, values: &[u8], others: &[u8]) -> Option<(u32, u32, u32)> {
        let covered = (self.covered(line).saturating_sub(at) as usize).min(values.len()).min(others.len());
        let (from, to, bad) = extent(&values[covered..], &others[covered..])?;
        let at = at + covered as u32;
        Some((at + from, at + to, bad))
    }
}

impl FrameSignature {
    /// What `faulty` shows otherwise than `healthy`, whose picture has that many pixels a line and lines.
    #[must_use]
    pub fn between(size: (u32, u32), healthy: &Frame, faulty: &Frame) -> Self {
        Self::held(HeldAgainst::All, size, healthy, faulty)
    }

    /// The same of some of what frames are made of.
    pub(crate) fn held(held: HeldAgainst, (width, height): (u32, u32), healthy: &Frame, faulty: &Frame) -> Self {
        if faulty.unstable != healthy.unstable {
            return Self::all(width, height, Nature::NoPicture);
        }
        if faulty.shift != healthy.shift || faulty.lines.len() != healthy.lines.len() {
            let moved = moved::on_screen(healthy, faulty);
            let short = short(healthy, faulty);
            return Self { moved, short, ..Self::all(width, height, Nature::Displaced) };
        }
        let mut comparison = Comparison::new(held, healthy, faulty, Self::clean(width, height));
        let mut movement = Movement::default();
        let whole = (0, width.saturating_sub(1));
        let (mut right, mut wrong) = (healthy.picture_lines(), faulty.picture_lines());
        for index in 0..height {
            match (right.next(), wrong.next()) {
                (Some(one), Some(other)) if healthy.alike_in_time(one, faulty, other) => {
                    if comparison.differ(index, one, other) {
                        movement.follow(healthy, one, faulty, other, width);
                    }
                }
                (None, None) => break,
                _ => comparison.signature.mark(index, whole, Nature::Displaced),
            }
        }
        let Comparison { mut signature, mut components, .. } = comparison;
        if signature.nature == Some(Nature::Displaced) {
            signature.short = short(healthy, faulty);
        }
        let is_moved = matches!(signature.nature, Some(Nature::Pixels | Nature::Addresses));
        signature.moved = movement.most().filter(|_| is_moved);
        let lines = || healthy.picture_lines().zip(faulty.picture_lines());
        if signature.nature == Some(Nature::Pixels) && is_recolouring(healthy, faulty, lines()) {
            signature.nature = Some(Nature::Colours);
            components = Components::default();
            lines().for_each(|(one, other)| components.follow(healthy, one, faulty, other));
        }
        signature.components = components.changes();
        signature
    }
}

/// Two frames, and what is known so far of how they differ.
struct Comparison<'a> {
    held: HeldAgainst,
    healthy: &'a Frame,
    faulty: &'a Frame,
    signature: FrameSignature,
    components: Components,
    /// The palettes compared last, by their positions in either frame, and whether they are the same.
    palettes: Option<((u16, u16), bool)>,
}

impl<'a> Comparison<'a> {
    fn new(held: HeldAgainst, healthy: &'a Frame, faulty: &'a Frame, signature: FrameSignature) -> Self {
        Self { held, healthy, faulty, signature, components: Components::default(), palettes: None }
    }

    /// Holds the addresses, then the values, then the colours of one line against each other. Whether its addresses or values
    /// differ.
    fn differ(&mut self, index: u32, one: &ScanLine, other: &ScanLine) -> bool {
        let (healthy, faulty) = (self.healthy, self.faulty);
        let (right, wrong) = (healthy.spans_of(one), faulty.spans_of(other));
        let mut differ = right != wrong;
        let elsewhere = spans_differ(right, wrong).filter(|_| differ);
        let nature = if elsewhere.is_some() { Nature::Addresses } else { Nature::Pixels };
        if let Some(bytes) = elsewhere.filter(|_| self.held == HeldAgainst::All) {
            let line_bytes = one.fetch.map_or(1, |line| line.bytes).max(1);
            let pixel = |byte: u32| byte * self.signature.width / line_bytes;
            let to = pixel(bytes.end() + 1).saturating_sub(1).max(pixel(*bytes.start()));
            self.signature.mark(index, (pixel(*bytes.start()), to), Nature::Addresses);
        }
        let mut at = 0;
        for (segment, that) in healthy.segments_of(one).iter().zip(faulty.segments_of(other)) {
            let (SegmentKind::Active { .. }, SegmentKind::Active { .. }) = (segment.kind, that.kind) else {
                continue;
            };
            let (values, others) = (healthy.values_of(segment.kind), faulty.values_of(that.kind));
            if let Some((from, to, bad)) = self.held.extent(index, at, values, others) {
                differ = true;
                self.signature.mark_some(index, (from, to), bad, nature);
            }
            if !self.same_palette(segment.palette, that.palette) {
                self.recoloured(index, at, others, (segment.palette, that.palette));
            }
            at += values.len() as u32;
        }
        differ
    }

    /// Notes which of the pixels from `at` on are shown in other colours than they are meant to be.
    fn recoloured(&mut self, index: u32, at: u32, values: &[u8], palettes: (u16, u16)) {
        let colours = &self.healthy.palettes[usize::from(palettes.0)].colours;
        let shown = &self.faulty.palettes[usize::from(palettes.1)].colours;
        self.components.add_values(values, colours, shown);
        let tinted = |value: &u8| colours[usize::from(*value)] != shown[usize::from(*value)];
        let first = values.iter().position(tinted);
        if let (Some(from), Some(to)) = (first, values.iter().rposition(tinted)) {
            let bad = values.iter().filter(|value| tinted(value)).count() as u32;
            self.signature.mark_some(index, (at + from as u32, at + to as u32), bad, Nature::Colours);
        }
    }

    fn same_palette(&mut self, one: u16, other: u16) -> bool {
        match self.palettes {
            Some((of, same)) if of == (one, other) => same,
            _ => {
                let (healthy, faulty) = (&self.healthy.palettes, &self.faulty.palettes);
                let same = healthy[usize::from(one)].colours == faulty[usize::from(other)].colours;
                self.palettes = Some(((one, other), same));
                same
            }
        }
    }
}

/// Pixels by which the lines of a picture end before they should.
fn short(healthy: &Frame, faulty: &Frame) -> u32 {
    healthy.picture_size().0.saturating_sub(faulty.picture_size().0)
}

/// First and last position at which two lists differ, and at how many they do.
fn extent(one: &[u8], other: &[u8]) -> Option<(u32, u32, u32)> {
    if one == other {
        return None;
    }
    let differ = |(a, b): (&u8, &u8)| a != b;
    let from = one.iter().zip(other).position(differ)?;
    let to = one.iter().zip(other).rposition(differ)?;
    // Counted in bytes, of which many are added at once.
    let counted = |(one, other): (&[u8], &[u8])| one.iter().zip(other).map(|(a, b)| u8::from(a != b)).sum::<u8>();
    let bad: u32 = one[from..=to].chunks(255).zip(other[from..=to].chunks(255)).map(counted).map(u32::from).sum();
    Some((from as u32, to as u32, bad))
}

/// Whether each pixel value is always shown as the same other one: then every shape is in its place, in other colours.
fn is_recolouring<'a>(
    healthy: &Frame,
    faulty: &Frame,
    mut lines: impl Iterator<Item = (&'a ScanLine, &'a ScanLine)>,
) -> bool {
    let mut known: [Option<u8>; 256] = [None; 256];
    lines.all(|(one, other)| {
        healthy.segments_of(one).iter().zip(faulty.segments_of(other)).all(|(segment, that)| {
            let mut pairs = healthy.values_of(segment.kind).iter().zip(faulty.values_of(that.kind));
            pairs.all(|(value, shown)| known[usize::from(*value)].get_or_insert(*shown) == shown)
        })
    })
}
