//! Frames: what one frame showed, dot for dot, in pixel values and in colour.

use std::ops::Range;
use std::sync::Arc;

use backporch_adapter::{Palette, Rgba};

use crate::line::Line;
use crate::shift::Shift;
use crate::span::Span;

/// What the beam draws.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SegmentKind {
    /// Pixels from memory: position of the first among the frame's values and
    /// dots a pixel.
    Active {
        /// First value.
        first: u32,
        /// Number of values.
        count: u32,
        /// Dots each value lasts.
        pixel_dots: u8,
    },
    /// Border colour.
    Border,
    /// Nothing: blanking.
    Blank,
    /// Nothing: a sync pulse, horizontal or vertical.
    Sync,
}

impl SegmentKind {
    /// Dots a pixel, where memory is shown.
    #[must_use]
    pub fn pixel_dots(self) -> Option<u8> {
        match self {
            Self::Active { pixel_dots, .. } => Some(pixel_dots),
            _ => None,
        }
    }
}

/// Consecutive dots of a scan line that are alike.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Segment {
    /// First dot of the line.
    pub dot: u32,
    /// Number of dots.
    pub dots: u32,
    /// What they show.
    pub kind: SegmentKind,
    /// Position of the palette among the frame's palettes.
    pub palette: u16,
}

/// One scan line of the raster.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScanLine {
    /// Dots of the whole line.
    pub dots: u32,
    /// Its segments among the frame's, left to right.
    pub segments: Range<u32>,
    /// Its spans among the frame's, left to right.
    pub spans: Range<u32>,
    /// How it was fetched, where it shows memory.
    pub fetch: Option<Line>,
}

/// Which part of a frame is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum View {
    /// The active area, one row a picture line: repeated scan lines once.
    Picture,
    /// The whole raster, one dot a pixel.
    Raster,
}

/// Colours of what has no colour: how blanking and sync are made visible.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tint {
    /// Blanking.
    pub blank: Rgba,
    /// Sync.
    pub sync: Rgba,
}

impl Default for Tint {
    fn default() -> Self {
        Self { blank: [0x26, 0x22, 0x30, 255], sync: [0x6B, 0x2E, 0x5E, 255] }
    }
}

/// One frame.
///
/// Frames are equal where they show the same, dot for dot and byte for byte,
/// however their values and palettes are stored.
#[derive(Clone, Debug, Default)]
pub struct Frame {
    /// Number since the board was made.
    pub number: u64,
    /// First dot since the board was made.
    pub first_dot: u64,
    /// Scan lines, from the first displayed to the last before the next frame.
    pub lines: Vec<ScanLine>,
    /// Segments of all lines.
    pub segments: Vec<Segment>,
    /// Spans of all lines.
    pub spans: Vec<Span>,
    /// Pixel values of all active segments.
    pub values: Vec<u8>,
    /// Palettes shown under, in the order they came into force.
    pub palettes: Vec<Arc<Palette>>,
    /// How far the monitor shows it from its place.
    pub shift: Shift,
    /// Cut because it did not end: a monitor would show nothing.
    pub unstable: bool,
}

impl PartialEq for Frame {
    fn eq(&self, other: &Self) -> bool {
        let whole = |frame: &Self| (frame.number, frame.first_dot, frame.lines.len(), frame.shift, frame.unstable);
        let mut pairs = self.lines.iter().zip(&other.lines);
        whole(self) == whole(other) && pairs.all(|(line, that)| self.line_equals(line, other, that))
    }
}

impl Eq for Frame {}

/// Pixels of a view, row by row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Pixels a row.
    pub width: u32,
    /// Rows.
    pub height: u32,
    /// Colour of each pixel, `width × height`.
    pub rgba: Vec<Rgba>,
}

impl Frame {
    /// Scan lines that show memory, each picture line once.
    pub fn picture_lines(&self) -> impl Iterator<Item = &ScanLine> {
        let mut next = 0;
        self.lines.iter().filter(move |line| match &line.fetch {
            Some(fetch) if fetch.picture_line >= next => {
                next = fetch.picture_line + 1;
                true
            }
            _ => false,
        })
    }

    /// The segments of a line.
    #[must_use]
    pub fn segments_of(&self, line: &ScanLine) -> &[Segment] {
        &self.segments[line.segments.start as usize..line.segments.end as usize]
    }

    /// The spans of a line.
    #[must_use]
    pub fn spans_of(&self, line: &ScanLine) -> &[Span] {
        &self.spans[line.spans.start as usize..line.spans.end as usize]
    }

    /// The last pixel of the segments from `first` on, where the last of them shows memory.
    pub(crate) fn last_value_from(&self, first: u32) -> Option<u8> {
        match self.segments.get(first as usize..)?.last()?.kind {
            SegmentKind::Active { first, count, .. } => {
                self.values.get((first + count).checked_sub(1)? as usize).copied()
            }
            SegmentKind::Border | SegmentKind::Blank | SegmentKind::Sync => None,
        }
    }

    /// Pixel values of an active segment.
    #[must_use]
    pub fn values_of(&self, kind: SegmentKind) -> &[u8] {
        match kind {
            SegmentKind::Active { first, count, .. } => &self.values[first as usize..(first + count) as usize],
            _ => &[],
        }
    }

    /// Size of the active area in pixels and picture lines.
    ///
    /// Where the pixel width changes within the frame the narrowest counts.
    #[must_use]
    pub fn picture_size(&self) -> (u32, u32) {
        let dots = self.narrowest_pixel();
        let ends = self.active_segments().map(|segment| segment.dot + segment.dots);
        (ends.max().unwrap_or(0) / dots, self.picture_lines().count() as u32)
    }

    /// Whether a line of this frame and one of another have active area,
    /// border, blanking and sync at the same dots.
    #[must_use]
    pub fn alike_in_time(&self, line: &ScanLine, other: &Self, that: &ScanLine) -> bool {
        let edges = |segment: &Segment| {
            (segment.dot, segment.dots, segment.kind.pixel_dots(), std::mem::discriminant(&segment.kind))
        };
        let (one, two) = (self.segments_of(line), other.segments_of(that));
        line.dots == that.dots && one.iter().map(edges).eq(two.iter().map(edges))
    }

    /// Whether a line of this frame and one of another show the same, dot for dot: the same edges, the same pixel
    /// values, the same colours.
    #[must_use]
    pub fn looks_like(&self, line: &ScanLine, other: &Self, that: &ScanLine) -> bool {
        let mut pairs = self.segments_of(line).iter().zip(other.segments_of(that));
        self.alike_in_time(line, other, that)
            && pairs.all(|(one, two)| {
                let (palette, that) =
                    (&self.palettes[usize::from(one.palette)], &other.palettes[usize::from(two.palette)]);
                self.values_of(one.kind) == other.values_of(two.kind) && (Arc::ptr_eq(palette, that) || palette == that)
            })
    }

    fn line_equals(&self, line: &ScanLine, other: &Self, that: &ScanLine) -> bool {
        line.fetch == that.fetch && self.spans_of(line) == other.spans_of(that) && self.looks_like(line, other, that)
    }

    fn active_segments(&self) -> impl Iterator<Item = &Segment> {
        let active = |segment: &&Segment| matches!(segment.kind, SegmentKind::Active { .. });
        self.segments.iter().filter(active)
    }

    /// Dots of a pixel of [`View::Picture`]: the narrowest in the frame, at least 1.
    #[must_use]
    pub fn narrowest_pixel(&self) -> u32 {
        let dots = self.segments.iter().filter_map(|segment| segment.kind.pixel_dots());
        u32::from(dots.min().unwrap_or(1)).max(1)
    }

    /// The view in colour, sync and blanking in the default tint.
    #[must_use]
    pub fn picture(&self, view: View) -> Picture {
        let mut picture = Picture { width: 0, height: 0, rgba: Vec::new() };
        self.picture_into(view, Tint::default(), &mut picture);
        picture
    }

    /// The view in colour, written over `picture`, whose memory is reused.
    pub fn picture_into(&self, view: View, tint: Tint, picture: &mut Picture) {
        let (width, height, pixel) = match view {
            View::Picture => {
                let (width, height) = self.picture_size();
                (width, height, self.narrowest_pixel())
            }
            View::Raster => {
                let width = self.lines.iter().map(|line| line.dots).max().unwrap_or(0);
                (width, self.lines.len() as u32, 1)
            }
        };
        picture.width = width;
        picture.height = height;
        let size = width as usize * height as usize;
        picture.rgba.resize(size, [0, 0, 0, 255]);
        if size == 0 {
            return;
        }
        match view {
            View::Picture => self.paint_all(self.picture_lines(), pixel, tint, picture),
            View::Raster => self.paint_all(self.lines.iter(), pixel, tint, picture),
        }
        if !self.shift.is_none() {
            let repeats = (self.lines.iter().filter(|line| line.fetch.is_some()).count() as u32 / height.max(1)).max(1);
            let lines = match view {
                View::Picture => self.shift.lines / repeats as i32,
                View::Raster => self.shift.lines,
            };
            picture.shift(self.shift.dots / pixel as i32, lines);
        }
    }

    /// Paints lines one below the other; a line like the one above is copied.
    fn paint_all<'a>(
        &'a self,
        lines: impl Iterator<Item = &'a ScanLine>,
        pixel: u32,
        tint: Tint,
        picture: &mut Picture,
    ) {
        let width = picture.width as usize;
        let mut above: Option<&ScanLine> = None;
        for (row, line) in lines.enumerate() {
            let (painted, rest) = picture.rgba.split_at_mut(row * width);
            match above {
                Some(above) if self.segments_of(above) == self.segments_of(line) => {
                    rest[..width].copy_from_slice(&painted[painted.len() - width..]);
                }
                _ => self.paint(line, pixel, tint, &mut rest[..width]),
            }
            above = Some(line);
        }
    }

    /// Paints one line, `pixel` dots a pixel, from its left end, and black beyond its right one.
    pub fn paint(&self, line: &ScanLine, pixel: u32, tint: Tint, row: &mut [Rgba]) {
        let mut painted = 0;
        for segment in self.segments_of(line) {
            let from = (segment.dot / pixel) as usize;
            let to = ((segment.dot + segment.dots) / pixel) as usize;
            let Some(room) = row.get_mut(from..to.min(row.len().max(from))) else {
                break;
            };
            painted = to;
            let palette = &self.palettes[usize::from(segment.palette)];
            match segment.kind {
                SegmentKind::Active { pixel_dots, .. } => {
                    let values = self.values_of(segment.kind);
                    paint_values(values, u32::from(pixel_dots) / pixel, &palette.colours, room);
                }
                SegmentKind::Border => room.fill(palette.border),
                SegmentKind::Blank => room.fill(tint.blank),
                SegmentKind::Sync => room.fill(tint.sync),
            }
        }
        if let Some(rest) = row.get_mut(painted..) {
            rest.fill([0, 0, 0, 255]);
        }
    }

    /// The pixel value at `x` of a picture line, where memory is shown there.
    #[must_use]
    pub fn value_at(&self, x: u32, picture_line: u32) -> Option<u8> {
        let pixel = self.narrowest_pixel();
        let line = self.picture_lines().nth(picture_line as usize)?;
        let dot = x.checked_mul(pixel)?;
        let holds = |segment: &&Segment| (segment.dot..segment.dot + segment.dots).contains(&dot);
        let segment = self.segments_of(line).iter().find(holds)?;
        match segment.kind {
            SegmentKind::Active { pixel_dots, .. } => {
                let at = (dot - segment.dot) / u32::from(pixel_dots);
                self.values_of(segment.kind).get(at as usize).copied()
            }
            _ => None,
        }
    }
}

fn paint_values(values: &[u8], repeat: u32, colours: &[Rgba; 256], room: &mut [Rgba]) {
    match repeat {
        0 | 1 => {
            for (pixel, value) in room.iter_mut().zip(values) {
                *pixel = colours[usize::from(*value)];
            }
        }
        repeat => {
            for (pixels, value) in room.chunks_mut(repeat as usize).zip(values) {
                pixels.fill(colours[usize::from(*value)]);
            }
        }
    }
}

impl Picture {
    /// Moves the content to the right and down; what comes in is black.
    fn shift(&mut self, right: i32, down: i32) {
        let (width, height) = (i64::from(self.width), i64::from(self.height));
        let old = std::mem::take(&mut self.rgba);
        self.rgba = (0..height)
            .flat_map(|y| (0..width).map(move |x| (x - i64::from(right), y - i64::from(down))))
            .map(|(x, y)| {
                if (0..width).contains(&x) && (0..height).contains(&y) {
                    old[(y * width + x) as usize]
                } else {
                    [0, 0, 0, 255]
                }
            })
            .collect();
    }

    /// The pixels of a row from the top; none below the last.
    #[must_use]
    pub fn row(&self, row: usize) -> &[Rgba] {
        let width = self.width as usize;
        self.rgba.get(row * width..(row + 1) * width).unwrap_or(&[])
    }

    /// The bytes of all pixels: red, green, blue, 255.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        self.rgba.as_flattened()
    }
}
