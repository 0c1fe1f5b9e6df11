//! How far the content of the bad parts of a frame has moved.

use backporch_raster::{Frame, ScanLine, SegmentKind, Span};

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

/// The one distance by which every bad line so far has moved, in pixels to the left.
#[derive(Debug, Default)]
pub(super) enum CommonMovement {
    /// No bad line yet.
    #[default]
    None,
    /// All of them by that much.
    By(i32),
    /// By different distances, or not moved at all.
    Other,
}

impl CommonMovement {
    pub fn pixels(&self) -> Option<i32> {
        match self {
            Self::By(pixels) => Some(*pixels),
            Self::None | Self::Other => None,
        }
    }

    /// Takes in one line of both frames.
    pub fn follow(&mut self, healthy: &Frame, one: &ScanLine, faulty: &Frame, other: &ScanLine, width: u32) {
        if matches!(self, Self::Other) {
            return;
        }
        let (right, wrong) = (healthy.spans_of(one), faulty.spans_of(other));
        let bytes = one.fetch.map_or(0, |line| line.bytes).max(1);
        let by = if right == wrong {
            let mut pairs = healthy.segments_of(one).iter().zip(faulty.segments_of(other));
            if pairs.all(|(segment, that)| healthy.values_of(segment.kind) == faulty.values_of(that.kind)) {
                return;
            }
            self.of_values(&active(healthy, one), &active(faulty, other))
        } else {
            of_spans(right, wrong).map(|moved| (i64::from(moved) * i64::from(width) / i64::from(bytes)) as i32)
        };
        *self = match (&self, by) {
            (Self::None, Some(by)) => Self::By(by),
            (Self::By(known), Some(by)) if *known == by => Self::By(by),
            _ => Self::Other,
        };
    }

    /// The distance at which a line shows its own pixels; the one of the lines before is tried alone.
    fn of_values(&self, values: &[u8], shown: &[u8]) -> Option<i32> {
        let is = |by: &i32| {
            let skipped = by.unsigned_abs() as usize;
            let (from, to) = if *by > 0 { (values, shown) } else { (shown, values) };
            skipped < from.len() && from[skipped..].iter().zip(to).all(|(one, other)| one == other)
        };
        match self {
            Self::By(known) => Some(*known).filter(is),
            _ => (1..=FURTHEST).flat_map(|by| [by, -by]).find(is),
        }
    }
}

/// Pixel values of a line's active parts.
fn active(frame: &Frame, line: &ScanLine) -> Vec<u8> {
    let kinds = frame.segments_of(line).iter().map(|segment| segment.kind);
    let active = kinds.filter(|kind| matches!(kind, SegmentKind::Active { .. }));
    active.flat_map(|kind| frame.values_of(kind)).copied().collect()
}

/// The one distance between the addresses of a line's bytes where they differ, in bytes.
fn of_spans(right: &[Span], wrong: &[Span]) -> Option<i32> {
    let mut moved = None;
    for one in right {
        for other in wrong {
            let from = one.at.max(other.at);
            if from >= one.end().min(other.end()) {
                continue;
            }
            let address = |span: &Span| i64::from(span.address) + i64::from(from - span.at);
            match (address(other) - address(one), moved) {
                (0, _) => {}
                (by, None) => moved = Some(by),
                (by, Some(known)) if by == known => {}
                _ => return None,
            }
        }
    }
    moved.and_then(|by| i32::try_from(by).ok())
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
        assert_eq!(of_spans(&right, &[span(0, 1000, 256), span(256, 1512, 64)]), Some(256));
        assert_eq!(of_spans(&right, &[span(0, 998, 256), span(256, 1254, 64)]), Some(-2));
        assert_eq!(of_spans(&right, &[span(0, 998, 256), span(256, 1257, 64)]), None);
    }

    #[test]
    fn a_panned_line_is_moved_and_a_spoilt_one_is_not() {
        let values: Vec<u8> = (0..100).collect();
        let left: Vec<u8> = values[2..].iter().copied().chain([0, 0]).collect();
        let right: Vec<u8> = [0, 0].into_iter().chain(values[..98].iter().copied()).collect();
        assert_eq!(CommonMovement::None.of_values(&values, &left), Some(2));
        assert_eq!(CommonMovement::None.of_values(&values, &right), Some(-2));
        assert_eq!(CommonMovement::By(2).of_values(&values, &right), None);
        let spoilt: Vec<u8> = values.iter().map(|value| value ^ 64).collect();
        assert_eq!(CommonMovement::None.of_values(&values, &spoilt), None);
    }
}
