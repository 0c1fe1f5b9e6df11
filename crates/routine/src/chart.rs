//! The beam-position chart: one frame as the beam draws it, with every write
//! and wait as a mark, so that a person sees the race (SVG).

use std::collections::BTreeMap;
use std::fmt::Write as _;

use backporch_adapter::Adapter;
use backporch_raster::SegmentKind;

use crate::time::DotTime;
use crate::watch::{At, Event, FrameRecord};

/// Width of the raster in the chart.
const RASTER_WIDTH: f64 = 800.0;
/// Height of a scan line.
const LINE_HEIGHT: f64 = 1.5;
const LEFT: f64 = 60.0;
const TOP: f64 = 44.0;
/// Room below for the key.
const BELOW: f64 = 78.0;
/// Memory writes of a line closer than this are one mark.
const MERGED: f64 = 3.0;

/// What a stretch of a line is, with its shade: the darker, the less is shown.
const KINDS: [(&str, &str); 4] =
    [("active area", "#dfe7ee"), ("border", "#b9c4cd"), ("blanking", "#7d8791"), ("sync", "#3c444c")];
/// Marks: name, colour, shape.
const MARKS: [(&str, &str); 4] = [
    ("start address written", "#b3261e"),
    ("other port written", "#8a5a00"),
    ("memory written", "#0b6e4f"),
    ("wait over", "#2447a8"),
];

fn kind_of(kind: SegmentKind) -> usize {
    match kind {
        SegmentKind::Active { .. } => 0,
        SegmentKind::Border => 1,
        SegmentKind::Blank => 2,
        SegmentKind::Sync => 3,
    }
}

/// The frame's chart.
#[must_use]
pub fn beam_chart(record: &FrameRecord, adapter: &Adapter) -> String {
    let frame = &record.frame;
    let dots = frame.lines.iter().map(|line| line.dots).max().unwrap_or(1).max(1);
    let chart = Chart { scale: RASTER_WIDTH / f64::from(dots) };
    let height = frame.lines.len() as f64 * LINE_HEIGHT;
    let (width, whole) = (LEFT + RASTER_WIDTH + 20.0, TOP + height + BELOW);
    let clock = DotTime::new(adapter.dot_clock());
    let lasts = clock.picosecond_of(record.end_dot() - frame.first_dot) as f64 / 1e9;
    let mut svg = String::new();
    // Writing into a text cannot fail.
    let _ = writeln!(
        svg,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width:.0} {whole:.0}\" role=\"img\" \
         font-family=\"sans-serif\" font-size=\"12\">\n<title>Beam position in frame {}</title>\n\
         <desc>The raster of one frame, left to right and top to bottom as the beam draws it, with marks where the \
         routine wrote or its wait ended.</desc>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n\
         <text x=\"{LEFT}\" y=\"18\">Frame {}: {} lines of {dots} dots, {lasts:.3} ms</text>",
        frame.number,
        frame.number,
        frame.lines.len(),
    );
    chart.raster(record, &mut svg);
    chart.latch(record, &mut svg);
    chart.marks(record, clock, &mut svg);
    key(TOP + height, &mut svg);
    svg.push_str("</svg>\n");
    svg
}

struct Chart {
    scale: f64,
}

impl Chart {
    fn x(&self, dot: u32) -> f64 {
        LEFT + f64::from(dot) * self.scale
    }

    fn y(line: u32) -> f64 {
        TOP + f64::from(line) * LINE_HEIGHT
    }

    /// Lines that look alike are drawn as one.
    fn raster(&self, record: &FrameRecord, svg: &mut String) {
        let frame = &record.frame;
        let shape = |line: usize| -> Vec<(u32, u32, usize)> {
            let mut parts: Vec<(u32, u32, usize)> = Vec::new();
            for segment in frame.segments_of(&frame.lines[line]) {
                let kind = kind_of(segment.kind);
                match parts.last_mut() {
                    Some((_, dots, last)) if *last == kind => *dots += segment.dots,
                    _ => parts.push((segment.dot, segment.dots, kind)),
                }
            }
            parts
        };
        let mut line = 0;
        while line < frame.lines.len() {
            let parts = shape(line);
            let alike = (line..frame.lines.len()).take_while(|other| shape(*other) == parts).count();
            for (dot, dots, kind) in &parts {
                let _ = writeln!(
                    svg,
                    "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{:.2}\" height=\"{:.2}\" fill=\"{}\"/>",
                    self.x(*dot),
                    Self::y(line as u32),
                    f64::from(*dots) * self.scale,
                    alike as f64 * LINE_HEIGHT,
                    KINDS[*kind].1
                );
            }
            if line % 50 == 0 || line == 0 {
                let _ = writeln!(
                    svg,
                    "<text x=\"{}\" y=\"{:.2}\" text-anchor=\"end\">line {line}</text>",
                    LEFT - 6.0,
                    Self::y(line as u32) + 4.0
                );
            }
            line += alike.max(1);
        }
    }

    fn latch(&self, record: &FrameRecord, svg: &mut String) {
        let y = Self::y(record.latch_line.min(record.frame.lines.len() as u32));
        let _ = writeln!(
            svg,
            "<line x1=\"{LEFT}\" x2=\"{:.2}\" y1=\"{y:.2}\" y2=\"{y:.2}\" stroke=\"#b3261e\" stroke-dasharray=\"6 3\"/>\n\
             <text x=\"{:.2}\" y=\"{:.2}\" text-anchor=\"end\" fill=\"#b3261e\" stroke=\"#ffffff\" stroke-width=\"3\" paint-order=\"stroke\">start address taken over</text>",
            LEFT + RASTER_WIDTH,
            LEFT + RASTER_WIDTH,
            y - 3.0
        );
    }

    fn marks(&self, record: &FrameRecord, clock: DotTime, svg: &mut String) {
        let mut memory: BTreeMap<u32, Vec<(f64, f64)>> = BTreeMap::new();
        let mut marks = String::new();
        for event in &record.events {
            let (kind, at, what) = match event {
                Event::Port(access) => {
                    let kind = usize::from(access.start.is_none());
                    (kind, access.at, format!("port {:#05X} = {:#04X}", access.port, access.value))
                }
                Event::Waited(wait) => (3, wait.until, format!("wait for {:?} over", wait.moment)),
                Event::Memory(access) => {
                    let stretches = memory.entry(access.at.line).or_default();
                    let x = self.x(access.at.line_dot);
                    match stretches.last_mut() {
                        Some((_, end)) if x - *end < MERGED => *end = x,
                        _ => stretches.push((x, x)),
                    }
                    continue;
                }
                Event::Passed(_) => continue,
            };
            let time = clock.picosecond_of(at.dot - record.frame.first_dot) as f64 / 1e6;
            let _ = writeln!(marks, "{}", self.mark(kind, at, &format!("{what}, {time:.1} us into the frame")));
        }
        for (line, stretches) in memory {
            for (from, to) in stretches {
                let _ = writeln!(
                    svg,
                    "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{:.2}\" height=\"{LINE_HEIGHT}\" fill=\"{}\"/>",
                    from - 1.0,
                    Self::y(line),
                    to - from + 2.0,
                    MARKS[2].1
                );
            }
        }
        svg.push_str(&marks);
    }

    /// A mark whose shape, not only its colour, tells what it is.
    fn mark(&self, kind: usize, at: At, what: &str) -> String {
        let (x, y) = (self.x(at.line_dot), Self::y(at.line));
        shape(kind, x, y, &format!("<title>{what} (line {}, dot {})</title>", at.line, at.line_dot))
    }
}

fn shape(kind: usize, x: f64, y: f64, inside: &str) -> String {
    let colour = MARKS[kind].1;
    let polygon = |points: [(f64, f64); 4]| {
        let points: Vec<String> = points.iter().map(|(a, b)| format!("{:.2},{:.2}", x + a, y + b)).collect();
        format!("<polygon points=\"{}\" fill=\"{colour}\" stroke=\"#ffffff\">{inside}</polygon>", points.join(" "))
    };
    match kind {
        0 => polygon([(0.0, -6.0), (6.0, 0.0), (0.0, 6.0), (-6.0, 0.0)]),
        1 => format!(
            "<circle cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"4\" fill=\"{colour}\" stroke=\"#ffffff\">{inside}</circle>"
        ),
        2 => format!("<rect x=\"{:.2}\" y=\"{:.2}\" width=\"10\" height=\"3\" fill=\"{colour}\"/>", x - 5.0, y - 1.5),
        _ => polygon([(-5.0, -6.0), (-5.0, 6.0), (6.0, 0.0), (6.0, 0.0)]),
    }
}

fn key(bottom: f64, svg: &mut String) {
    for (position, (name, colour)) in KINDS.iter().enumerate() {
        let x = LEFT + position as f64 * 200.0;
        let _ = writeln!(
            svg,
            "<rect x=\"{x}\" y=\"{:.2}\" width=\"16\" height=\"12\" fill=\"{colour}\" stroke=\"#3c444c\"/>\n\
             <text x=\"{}\" y=\"{:.2}\">{name}</text>",
            bottom + 18.0,
            x + 22.0,
            bottom + 28.0
        );
    }
    for (position, (name, _)) in MARKS.iter().enumerate() {
        let x = LEFT + position as f64 * 200.0;
        let _ = writeln!(
            svg,
            "{}\n<text x=\"{}\" y=\"{:.2}\">{name}</text>",
            shape(position, x + 8.0, bottom + 50.0, ""),
            x + 22.0,
            bottom + 54.0
        );
    }
}
