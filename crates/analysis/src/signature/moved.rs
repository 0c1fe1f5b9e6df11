//! How far the content of the bad parts of a frame has moved.

use backporch_raster::{Frame, ScanLine, SegmentKind, Span};
use smallvec::SmallVec;

/// Pixels to either side that are tried where addresses are right and pixels are not.
const FURTHEST: i32 = 32;

/// Pixels to the left by which a picture stands on the screen, where it stands elsewhere as a whole and on its own lines.
pub(super) fn on_screen(healthy: &Frame, faulty: &Frame) -> Option<i32> {
    if faulty.lines.len() != healthy.lines.len() || faulty.shift.lines != healthy.shift.lines {
        return None;
    }
    let line = healthy.picture_lines().next()?;
    let pixel_dots = healthy.segments_of(line).iter().find_map(|segment| segment.kind.pixel_dots())?;
    Some((healthy.shift.dots - faulty.shift.dots) / i32::from(pixel_dots.max(1)))
}

/// Distances that are told from one another; what moved by others counts as moved by none.
const MOST_DISTANCES: usize = 16;

/// Lines of wrong values whose distance is looked for before it is given up.
const MOST_SEARCHED: u32 = 8;

/// By how much the bad parts of a frame have moved: for each distance, in pixels to the left, the bytes that moved by it.
#[derive(Debug, Default)]
pub(crate) struct Movement {
    by: SmallVec<[(i32, u64); 4]>,
    bytes: u64,
    /// Lines of wrong values for which none was found.
    unfound: u32,
}

impl Movement {
    /// Takes in bytes that moved by a distance in pixels, or by none.
    pub fn add(&mut self, by: Option<i32>, bytes: u32) {
        self.bytes += u64::from(bytes);
        let Some(by) = by else { return };
        match self.by.iter().position(|(known, _)| *known == by) {
            Some(at) => self.by[at].1 += u64::from(bytes),
            None if self.by.len() < MOST_DISTANCES => self.by.push((by, bytes.into())),
            None => {}
        }
    }

    /// The distance by which three quarters of the bad bytes have moved, or more.
    pub fn most(&self) -> Option<i32> {
        self.by.iter().find(|(_, moved)| 4 * moved >= 3 * self.bytes.max(1)).map(|(by, _)| *by)
    }

    /// Takes in one line of both frames.
    pub fn follow(&mut self, healthy: &Frame, one: &ScanLine, faulty: &Frame, other: &ScanLine, width: u32) {
        let (right, wrong) = (healthy.spans_of(one), faulty.spans_of(other));
        let bytes = one.fetch.map_or(0, |line| line.bytes).max(1);
        if right != wrong {
            follow_spans(right, wrong, |by, moved| {
                let by = i32::try_from(by * i64::from(width) / i64::from(bytes)).ok();
                self.add(by, moved);
            });
            return;
        }
        let mut pairs = healthy.segments_of(one).iter().zip(faulty.segments_of(other));
        if pairs.all(|(segment, that)| healthy.values_of(segment.kind) == faulty.values_of(that.kind)) {
            return;
        }
        let by = self.of_values(|| (active(healthy, one), active(faulty, other)));
        self.unfound += u32::from(by.is_none());
        self.add(by, bytes);
    }

    /// The distance at which a line shows its own pixels; where one is known from lines before, it is tried alone.
    fn of_values(&self, values: impl FnOnce() -> (Vec<u8>, Vec<u8>)) -> Option<i32> {
        let known = self.by.first().map(|(by, _)| *by);
        if known.is_none() && self.unfound >= MOST_SEARCHED {
            return None;
        }
        let (values, shown) = values();
        let is = |by: &i32| {
            let skipped = by.unsigned_abs() as usize;
            let (from, to) = if *by > 0 { (&values, &shown) } else { (&shown, &values) };
            skipped < from.len() && from[skipped..].iter().zip(to).all(|(one, other)| one == other)
        };
        match known {
            Some(known) => Some(known).filter(is),
            None => (1..=FURTHEST).flat_map(|by| [by, -by]).find(is),
        }
    }
}

/// Pixel values of a line's active parts.
fn active(frame: &Frame, line: &ScanLine) -> Vec<u8> {
    let kinds = frame.segments_of(line).iter().map(|segment| segment.kind);
    let active = kinds.filter(|kind| matches!(kind, SegmentKind::Active { .. }));
    active.flat_map(|kind| frame.values_of(kind)).copied().collect()
}

/// The distances between the addresses of a line's bytes where they differ, in bytes, and how many bytes differ by each.
fn follow_spans(right: &[Span], wrong: &[Span], mut differs: impl FnMut(i64, u32)) {
    let (mut right, mut wrong) = (right.iter().peekable(), wrong.iter().peekable());
    while let (Some(one), Some(other)) = (right.peek(), wrong.peek()) {
        let (from, to) = (one.at.max(other.at), one.end().min(other.end()));
        if from < to {
            let address = |span: &Span| i64::from(span.address) + i64::from(from - span.at);
            let by = address(other) - address(one);
            if by != 0 {
                differs(by, to - from);
            }
        }
        if one.end() <= other.end() {
            right.next();
        } else {
            wrong.next();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(at: u32, address: u32, len: u32) -> Span {
        Span { at, address, len }
    }

    #[test]
    fn bytes_from_one_row_on_are_moved_by_it() {
        let right = [span(0, 1000, 320)];
        let followed = |wrong: &[Span]| {
            let mut all = Vec::new();
            follow_spans(&right, wrong, |by, bytes| all.push((by, bytes)));
            all
        };
        assert_eq!(followed(&[span(0, 1000, 256), span(256, 1512, 64)]), [(256, 64)]);
        assert_eq!(followed(&[span(0, 998, 256), span(256, 1254, 64)]), [(-2, 256), (-2, 64)]);
        assert_eq!(followed(&[span(0, 998, 256), span(256, 1257, 64)]), [(-2, 256), (1, 64)]);
    }

    #[test]
    fn what_most_of_it_moved_by_counts() {
        let mut movement = Movement::default();
        assert_eq!(movement.most(), None);
        movement.add(Some(8), 30);
        movement.add(Some(-2), 9);
        movement.add(None, 1);
        assert_eq!(movement.most(), Some(8), "three quarters");
        movement.add(None, 1);
        assert_eq!(movement.most(), None);
    }

    #[test]
    fn a_panned_line_is_moved_and_a_spoilt_one_is_not() {
        let values: Vec<u8> = (0..100).collect();
        let left: Vec<u8> = values[2..].iter().copied().chain([0, 0]).collect();
        let right: Vec<u8> = [0, 0].into_iter().chain(values[..98].iter().copied()).collect();
        let of = |movement: &Movement, shown: &[u8]| movement.of_values(|| (values.clone(), shown.to_vec()));
        assert_eq!(of(&Movement::default(), &left), Some(2));
        assert_eq!(of(&Movement::default(), &right), Some(-2));
        let mut known = Movement::default();
        known.add(Some(2), 1);
        assert_eq!(of(&known, &right), None);
        let spoilt: Vec<u8> = values.iter().map(|value| value ^ 64).collect();
        assert_eq!(of(&Movement::default(), &spoilt), None);
    }
}
