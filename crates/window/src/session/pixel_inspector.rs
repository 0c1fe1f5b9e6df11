//! The pixel inspector: where a pixel comes from, and where a byte shows.

use backporch_raster::{Frame, Provenance, ScanLine, SegmentKind, View};

use super::board_pair::BoardPair;
use super::canvas::BoardSide;

/// A pixel pointed at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InspectedPixel {
    /// The board whose frame it belongs to.
    pub side: BoardSide,
    /// Where it comes from.
    pub provenance: Provenance,
}

/// Consecutive pixels of a picture line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PixelRun {
    /// First pixel.
    pub x: u32,
    /// Number of pixels.
    pub count: u32,
    /// Line of the picture.
    pub line: u32,
}

/// A pixel of a board's newest picture, and where it comes from.
pub(crate) fn provenance(boards: &BoardPair, side: BoardSide, x: u32, line: u32) -> Option<InspectedPixel> {
    Some(InspectedPixel { side, provenance: boards.provenance(side, x, line)? })
}

/// The pixel and picture line at a place of a view, where memory is shown there.
pub(crate) fn picture_point(frame: &Frame, view: View, x: u32, y: u32) -> Option<(u32, u32)> {
    match view {
        View::Picture => Some((x, y)),
        View::Raster => {
            let line = frame.lines.get(y as usize)?;
            let fetch = line.fetch.as_ref()?;
            Some((x / narrowest(frame), fetch.picture_line))
        }
    }
}

/// Where on the raster a pixel of the picture begins: dot and scan line.
pub(crate) fn raster_point(frame: &Frame, x: u32, picture_line: u32) -> Option<(u32, u32)> {
    let shows = |line: &ScanLine| line.fetch.as_ref().is_some_and(|fetch| fetch.picture_line == picture_line);
    let scan = frame.lines.iter().position(shows)?;
    Some((x * narrowest(frame), scan as u32))
}

/// Dots of the frame's narrowest pixel.
pub(crate) fn narrowest(frame: &Frame) -> u32 {
    let dots = frame.segments.iter().filter_map(|segment| segment.kind.pixel_dots());
    u32::from(dots.min().unwrap_or(1)).max(1)
}

/// Where a byte of memory shows in a frame, from the top.
#[must_use]
pub fn shown_at(frame: &Frame, address: u32) -> Vec<PixelRun> {
    let mut places = Vec::new();
    for (line, scan) in frame.picture_lines().enumerate() {
        let spans = frame.spans_of(scan).iter();
        for span in spans.filter(|span| (span.address..span.address + span.len).contains(&address)) {
            let offset = span.at + (address - span.address);
            if let Some((x, count)) = pixels_of(frame, scan, offset) {
                places.push(PixelRun { x, count, line: line as u32 });
            }
        }
    }
    places
}

/// The pixels one byte of a line gives: first, and number.
fn pixels_of(frame: &Frame, scan: &ScanLine, offset: u32) -> Option<(u32, u32)> {
    let fetch = scan.fetch.as_ref()?;
    let mut values = 0;
    let mut dots = 1;
    for segment in frame.segments_of(scan) {
        if let SegmentKind::Active { count, pixel_dots, .. } = segment.kind {
            values += count;
            dots = u32::from(pixel_dots);
        }
    }
    let wide = dots / narrowest(frame);
    // PixelRun a byte, or where two bytes make a character, its pixels shared out.
    let (from, to) = (offset * values / fetch.bytes.max(1), (offset + 1) * values / fetch.bytes.max(1));
    Some((from * wide, (to - from).max(1) * wide))
}
