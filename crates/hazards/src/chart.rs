//! The beam-position chart: one frame as the beam draws it, with every write
//! and wait as a mark, so that a person sees the race.
//!
//! The chart is a list of plain shapes; [`svg`] writes them down, [`image`]
//! paints them.

mod image;
mod svg;

use std::collections::BTreeMap;

use ::image::RgbImage;
use backporch_adapter::Adapter;
use backporch_raster::SegmentKind;
use backporch_script::{At, DotTime, Event, FrameRecord};

/// Width of the raster in the chart.
const RASTER_WIDTH: f64 = 800.0;
/// Height of a scan line.
const LINE_HEIGHT: f64 = 1.5;
const LEFT: f64 = 80.0;
const TOP: f64 = 44.0;
/// Room below for the key.
const BELOW: f64 = 78.0;
/// Memory writes of a line closer than this are one mark.
const MERGED: f64 = 3.0;

type Colour = [u8; 3];

const INK: Colour = [0, 0, 0];
const EDGE: Colour = [0x3c, 0x44, 0x4c];
/// The take-over and what races with it.
const LATCH: Colour = [0xb3, 0x26, 0x1e];

/// What a stretch of a line is, with its shade: the darker, the less is shown.
const KINDS: [(&str, Colour); 4] = [
    ("active area", [0xdf, 0xe7, 0xee]),
    ("border", [0xb9, 0xc4, 0xcd]),
    ("blanking", [0x7d, 0x87, 0x91]),
    ("sync", EDGE),
];
/// Marks: name, colour; each has a shape of its own, too.
const MARKS: [(&str, Colour); 4] = [
    ("start address written", LATCH),
    ("other port written", [0x8a, 0x5a, 0x00]),
    ("memory written", [0x0b, 0x6e, 0x4f]),
    ("wait over", [0x24, 0x47, 0xa8]),
];

/// One thing drawn.
#[derive(Clone, Debug)]
enum Shape {
    Rect {
        x: f64,
        y: f64,
        width: f64,
        height: f64,
        fill: Colour,
        edge: Option<Colour>,
    },
    Polygon {
        points: Vec<(f64, f64)>,
        fill: Colour,
        title: String,
    },
    Circle {
        x: f64,
        y: f64,
        radius: f64,
        fill: Colour,
        title: String,
    },
    /// A dashed line across.
    Dashed {
        from: f64,
        to: f64,
        y: f64,
        colour: Colour,
    },
    /// A text on its base line; `end` puts its end at `x`, `clear` a light rim around it.
    Text {
        x: f64,
        y: f64,
        text: String,
        colour: Colour,
        end: bool,
        clear: bool,
    },
}

/// Everything drawn, in order.
#[derive(Clone, Debug)]
struct Drawing {
    width: f64,
    height: f64,
    number: u64,
    shapes: Vec<Shape>,
}

/// The frame's chart as SVG.
#[must_use]
pub fn beam_chart(record: &FrameRecord, adapter: &Adapter) -> String {
    svg::write(&Drawing::new(record, adapter))
}

/// The frame's chart as a picture, twice as large as the SVG's units.
#[must_use]
pub fn beam_chart_image(record: &FrameRecord, adapter: &Adapter) -> RgbImage {
    image::paint(&Drawing::new(record, adapter))
}

fn kind_of(kind: SegmentKind) -> usize {
    match kind {
        SegmentKind::Active { .. } => 0,
        SegmentKind::Border => 1,
        SegmentKind::Blank => 2,
        SegmentKind::Sync => 3,
    }
}

impl Drawing {
    fn new(record: &FrameRecord, adapter: &Adapter) -> Self {
        let frame = &record.frame;
        let dots = frame.lines.iter().map(|line| line.dots).max().unwrap_or(1).max(1);
        let chart = Chart { scale: RASTER_WIDTH / f64::from(dots) };
        let height = frame.lines.len() as f64 * LINE_HEIGHT;
        let clock = DotTime::new(adapter.dot_clock_of(&record.registers));
        let lasts = clock.picosecond_of(record.end_dot() - frame.first_dot) as f64 / 1e9;
        let heading = format!("Frame {}: {} lines of {dots} dots, {lasts:.3} ms", frame.number, frame.lines.len());
        let mut shapes = vec![text(LEFT, 18.0, heading)];
        chart.raster(record, &mut shapes);
        chart.latch(record, &mut shapes);
        chart.marks(record, clock, &mut shapes);
        key(TOP + height, &mut shapes);
        Self { width: LEFT + RASTER_WIDTH + 20.0, height: TOP + height + BELOW, number: frame.number, shapes }
    }
}

fn text(x: f64, y: f64, text: impl Into<String>) -> Shape {
    Shape::Text { x, y, text: text.into(), colour: INK, end: false, clear: false }
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
    fn raster(&self, record: &FrameRecord, shapes: &mut Vec<Shape>) {
        let lines = record.frame.lines.len();
        let mut line = 0;
        while line < lines {
            let parts = parts(record, line);
            let alike = (line..lines).take_while(|other| self::parts(record, *other) == parts).count();
            shapes.extend(parts.iter().map(|(dot, dots, kind)| Shape::Rect {
                x: self.x(*dot),
                y: Self::y(line as u32),
                width: f64::from(*dots) * self.scale,
                height: alike as f64 * LINE_HEIGHT,
                fill: KINDS[*kind].1,
                edge: None,
            }));
            line += alike.max(1);
        }
        shapes.extend((0..lines as u32).step_by(50).map(|line| Shape::Text {
            x: LEFT - 6.0,
            y: Self::y(line) + 4.0,
            text: format!("line {line}"),
            colour: INK,
            end: true,
            clear: false,
        }));
    }

    fn latch(&self, record: &FrameRecord, shapes: &mut Vec<Shape>) {
        let y = Self::y(record.latch_line.min(record.frame.lines.len() as u32));
        let to = LEFT + RASTER_WIDTH;
        shapes.push(Shape::Dashed { from: LEFT, to, y, colour: LATCH });
        let text = "start address taken over".to_owned();
        shapes.push(Shape::Text { x: to, y: y - 3.0, text, colour: LATCH, end: true, clear: true });
    }

    fn marks(&self, record: &FrameRecord, clock: DotTime, shapes: &mut Vec<Shape>) {
        let mut memory: BTreeMap<u32, Vec<(f64, f64)>> = BTreeMap::new();
        let mut marks = Vec::new();
        for event in &record.events {
            let (kind, at, what) = match event {
                Event::Port(access) => {
                    let kind = usize::from(access.start.is_none());
                    (kind, access.at, format!("port {:#05X} = {:#04X}", access.port, access.value))
                }
                Event::Waited(wait) => (3, wait.until, format!("end of the wait for {}", wait.moment)),
                Event::Memory(access) => {
                    let stretches = memory.entry(access.at.line).or_default();
                    let x = self.x(access.at.line_dot);
                    match stretches.last_mut() {
                        Some((_, end)) if x - *end < MERGED => *end = x,
                        _ => stretches.push((x, x)),
                    }
                    continue;
                }
                Event::Passed(_) | Event::Looked(_) => continue,
            };
            let time = clock.picosecond_of(at.dot - record.frame.first_dot) as f64 / 1e6;
            marks.push(self.mark(kind, at, &format!("{what}, {time:.1} us into the frame")));
        }
        let stretches = memory.iter().flat_map(|(line, stretches)| stretches.iter().map(move |one| (*line, *one)));
        shapes.extend(stretches.map(|(line, (from, to))| Shape::Rect {
            x: from - 1.0,
            y: Self::y(line),
            width: to - from + 2.0,
            height: LINE_HEIGHT,
            fill: MARKS[2].1,
            edge: None,
        }));
        shapes.extend(marks);
    }

    /// A mark whose shape, not only its colour, tells what it is.
    fn mark(&self, kind: usize, at: At, what: &str) -> Shape {
        let title = format!("{what} (line {}, dot {})", at.line, at.line_dot);
        mark(kind, self.x(at.line_dot), Self::y(at.line), title)
    }
}

/// Stretches of a line: first dot, dots, kind.
fn parts(record: &FrameRecord, line: usize) -> Vec<(u32, u32, usize)> {
    let mut parts: Vec<(u32, u32, usize)> = Vec::new();
    for segment in record.frame.segments_of(&record.frame.lines[line]) {
        let kind = kind_of(segment.kind);
        match parts.last_mut() {
            Some((_, dots, last)) if *last == kind => *dots += segment.dots,
            _ => parts.push((segment.dot, segment.dots, kind)),
        }
    }
    parts
}

fn mark(kind: usize, x: f64, y: f64, title: String) -> Shape {
    let fill = MARKS[kind].1;
    let polygon = |points: [(f64, f64); 4], title| {
        let points = points.iter().map(|(a, b)| (x + a, y + b)).collect();
        Shape::Polygon { points, fill, title }
    };
    match kind {
        0 => polygon([(0.0, -6.0), (6.0, 0.0), (0.0, 6.0), (-6.0, 0.0)], title),
        1 => Shape::Circle { x, y, radius: 4.0, fill, title },
        2 => Shape::Rect { x: x - 5.0, y: y - 1.5, width: 10.0, height: 3.0, fill, edge: None },
        _ => polygon([(-5.0, -6.0), (-5.0, 6.0), (6.0, 0.0), (6.0, 0.0)], title),
    }
}

fn key(bottom: f64, shapes: &mut Vec<Shape>) {
    for (position, (name, fill)) in KINDS.into_iter().enumerate() {
        let (x, y) = (LEFT + position as f64 * 200.0, bottom + 18.0);
        shapes.push(Shape::Rect { x, y, width: 16.0, height: 12.0, fill, edge: Some(EDGE) });
        shapes.push(text(x + 22.0, bottom + 28.0, name));
    }
    for (position, (name, _)) in MARKS.into_iter().enumerate() {
        let x = LEFT + position as f64 * 200.0;
        shapes.push(mark(position, x + 8.0, bottom + 50.0, String::new()));
        shapes.push(text(x + 22.0, bottom + 54.0, name));
    }
}
