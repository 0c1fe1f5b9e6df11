//! Two drawn frames held against each other, line by line.

use backporch_raster::{Frame, ScanLine, SegmentKind};

use super::components::Components;
use super::moved::{self, Movement};
use super::{FrameSignature, Nature};
use crate::verdict::spans_differ;

impl FrameSignature {
    /// What `faulty` shows otherwise than `healthy`, whose picture has that many pixels a line and lines.
    #[must_use]
    pub fn between((width, height): (u32, u32), healthy: &Frame, faulty: &Frame) -> Self {
        if faulty.unstable != healthy.unstable {
            return Self::all(width, height, Nature::NoPicture);
        }
        if faulty.shift != healthy.shift || faulty.lines.len() != healthy.lines.len() {
            let moved = moved::on_screen(healthy, faulty);
            return Self { moved, ..Self::all(width, height, Nature::Displaced) };
        }
        let mut signature = Self::clean(width, height);
        let mut movement = Movement::default();
        let mut recolouring = Recolouring::default();
        let mut components = Components::default();
        let whole = (0, width.saturating_sub(1));
        let (mut right, mut wrong) = (healthy.picture_lines(), faulty.picture_lines());
        for index in 0..height {
            match (right.next(), wrong.next()) {
                (Some(one), Some(other)) if healthy.alike_in_time(one, faulty, other) => {
                    compare_lines(healthy, one, faulty, other, (index, width), &mut signature, &mut components);
                    movement.follow(healthy, one, faulty, other, width);
                    recolouring.follow(healthy, one, faulty, other);
                }
                (None, None) => break,
                _ => signature.mark(index, whole, Nature::Displaced, None),
            }
        }
        let is_moved = matches!(signature.nature, Some(Nature::Pixels | Nature::Addresses));
        signature.moved = movement.pixels().filter(|_| is_moved);
        if signature.nature == Some(Nature::Pixels) && recolouring.holds {
            signature.nature = Some(Nature::Colours);
            components = Components::default();
            let lines = healthy.picture_lines().zip(faulty.picture_lines());
            lines.for_each(|(one, other)| components.follow(healthy, one, faulty, other));
        }
        signature.components = components.changes();
        signature
    }
}

/// Holds the addresses, then the values, then the colours of one line against each other.
fn compare_lines(
    healthy: &Frame,
    one: &ScanLine,
    faulty: &Frame,
    other: &ScanLine,
    (index, width): (u32, u32),
    signature: &mut FrameSignature,
    components: &mut Components,
) {
    let (right, wrong) = (healthy.spans_of(one), faulty.spans_of(other));
    if let Some(bytes) = spans_differ(right, wrong) {
        let line_bytes = one.fetch.map_or(1, |line| line.bytes).max(1);
        let pixel = |byte: u32| byte * width / line_bytes;
        let to = pixel(bytes.end() + 1).saturating_sub(1).max(pixel(*bytes.start()));
        signature.mark(index, (pixel(*bytes.start()), to), Nature::Addresses, None);
    }
    let mut at = 0;
    for (segment, that) in healthy.segments_of(one).iter().zip(faulty.segments_of(other)) {
        let (SegmentKind::Active { .. }, SegmentKind::Active { .. }) = (segment.kind, that.kind) else {
            continue;
        };
        let (values, others) = (healthy.values_of(segment.kind), faulty.values_of(that.kind));
        if let Some((from, to, bad)) = extent(values, others) {
            signature.mark_some(index, (at + from, at + to), bad, Nature::Pixels, None);
        }
        let colours = &healthy.palettes[usize::from(segment.palette)].colours;
        let shown = &faulty.palettes[usize::from(that.palette)].colours;
        if colours != shown {
            components.add_values(others, colours, shown);
            let tinted = |value: &u8| colours[usize::from(*value)] != shown[usize::from(*value)];
            let first = others.iter().position(tinted);
            if let (Some(from), Some(to)) = (first, others.iter().rposition(tinted)) {
                let bad = others.iter().filter(|value| tinted(value)).count() as u32;
                signature.mark_some(index, (at + from as u32, at + to as u32), bad, Nature::Colours, None);
            }
        }
        at += values.len() as u32;
    }
}

/// First and last position at which two lists differ, and at how many they do.
fn extent(one: &[u8], other: &[u8]) -> Option<(u32, u32, u32)> {
    if one == other {
        return None;
    }
    let differ = |(a, b): (&u8, &u8)| a != b;
    let from = one.iter().zip(other).position(differ)?;
    let to = one.iter().zip(other).rposition(differ)?;
    let bad = one.iter().zip(other).filter(|(a, b)| a != b).count();
    Some((from as u32, to as u32, bad as u32))
}

/// Whether each pixel value is always shown as the same other one: then every
/// shape is in its place, in other colours.
struct Recolouring {
    shown: [Option<u8>; 256],
    holds: bool,
}

impl Default for Recolouring {
    fn default() -> Self {
        Self { shown: [None; 256], holds: true }
    }
}

impl Recolouring {
    fn follow(&mut self, healthy: &Frame, one: &ScanLine, faulty: &Frame, other: &ScanLine) {
        for (segment, that) in healthy.segments_of(one).iter().zip(faulty.segments_of(other)) {
            if !self.holds {
                return;
            }
            let pairs = healthy.values_of(segment.kind).iter().zip(faulty.values_of(that.kind));
            for (value, shown) in pairs {
                let known = self.shown[usize::from(*value)].get_or_insert(*shown);
                self.holds &= known == shown;
            }
        }
    }
}
