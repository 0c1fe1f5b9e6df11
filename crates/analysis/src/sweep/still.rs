//! Pictures at rest, held line by line against the plain board's, no frame being drawn.

use std::ops::RangeInclusive;
use std::sync::Arc;

use backporch_adapter::{Aspects, Palette, Registers, Rgba};
use backporch_bench::{Bench, LaidMemory};
use backporch_quirk::QuirkStack;
use backporch_raster::{
    Board, DrawnLine, Frame, Intercept, Line, LineDependencies, LineEffects, LineReuse, Plain, QuietFrame, ScanLine,
    SegmentKind, Stages,
};

use super::SweepAxis;
use crate::verdict::{Damage, pixels_of, spans_differ};

/// What all pictures share whose registers differ in nothing but where memory is shown from.
struct Geometry {
    quiet: QuietFrame,
    /// Picture lines, from the start address of `quiet`.
    lines: Vec<Line>,
    /// Pixels of a line.
    width: u32,
    plain: Palette,
    bent: Palette,
    /// Whether a board's frame is its picture lines, each shown from end to end under one palette: then what holds
    /// of the lines holds of the frame.
    is_lines: bool,
}

/// One picture at rest after another, of a bench under its quirks.
pub(super) struct StillPictures<'a> {
    bench: &'a Bench,
    tap: QuirkStack,
    /// The steps change nothing but where memory is shown from.
    moves_alone: bool,
    memory: LaidMemory<'a>,
    geometry: Option<Geometry>,
    known: KnownLines,
    pair: Pair,
}

impl<'a> StillPictures<'a> {
    /// Of a bench, where nothing of it depends on how a picture came about or changes the timing.
    pub fn new(bench: &'a Bench, over: &[SweepAxis]) -> Option<Self> {
        let tap = bench.stack();
        let at_rest = !tap.stages().intersects(Stages::PORT | Stages::LATCH | Stages::SYNC);
        let adapter = bench.adapter();
        let cells = over.iter().flat_map(|over| &adapter.field_info(over.field).bits).filter_map(|slice| slice.cell());
        let decides = cells.fold(Aspects::empty(), |all, cell| all | adapter.aspects(cell));
        let moves_alone = !decides.intersects(Aspects::TIMING | Aspects::SHOWN | Aspects::COLOUR);
        let (memory, known) = (LaidMemory::new(bench), KnownLines::under(&tap));
        at_rest.then(|| Self { bench, tap, moves_alone, memory, geometry: None, known, pair: Pair::default() })
    }

    /// What differs from the plain board; `None` where lines alone do not tell.
    pub fn damage(&mut self, registers: &Registers) -> Option<Damage> {
        let adapter = self.bench.adapter();
        let start = adapter.get(registers, adapter.start_address());
        let geometry = match self.geometry.take() {
            Some(known) if self.moves_alone || known.is_of(self.bench, registers) => self.geometry.insert(known),
            _ => {
                self.known.forget();
                self.geometry.insert(Geometry::of(self.bench, registers, &self.tap))
            }
        };
        if !geometry.is_lines {
            return None;
        }
        geometry.quiet.set_start(start);
        let memory = self.memory.under(&geometry.quiet);
        let mut damage = Damage::none(geometry.width, geometry.lines.len() as u32);
        let recoloured = geometry.plain.colours != geometry.bent.colours;
        for (index, line) in geometry.lines.iter().enumerate() {
            let line = geometry.quiet.line_from(line, start);
            let change = self.known.get(&line, || self.pair.change(&self.tap, &line));
            if let Some((first, last)) = change.bytes {
                damage.damaged[index] = true;
                damage.widen(pixels_of(first..=last, line.bytes, geometry.width));
            }
            if !change.shows && !recoloured {
                continue;
            }
            if let Some(pixels) = self.pair.pixels(geometry, &self.tap, &line, memory) {
                damage.visible[index] = true;
                damage.widen(pixels);
            }
        }
        Some(damage)
    }
}

impl Geometry {
    fn of(bench: &Bench, registers: &Registers, tap: &QuirkStack) -> Self {
        let adapter = bench.adapter();
        let quiet = QuietFrame::new(adapter, registers, &Plain);
        let frame = Board::plain(Arc::clone(adapter), registers.clone()).run_frame();
        let plain = adapter.palette_of(registers, quiet.shown().format as usize);
        let mut bent = plain.clone();
        if tap.stages().contains(Stages::COLOUR) {
            tap.colour(frame.number, &mut bent);
        }
        let lines: Vec<Line> =
            (0..quiet.picture_lines()).map(|index| quiet.line(frame.number, quiet.start(), index)).collect();
        let (width, height) = frame.picture_size();
        let as_planned = |(line, planned): (&ScanLine, &Line)| {
            line.fetch == Some(*planned)
                && frame.spans_of(line) == planned.plain_spans()
                && is_whole(&frame, line, width)
        };
        let is_lines = !frame.unstable
            && height as usize == lines.len()
            && frame.picture_lines().zip(&lines).all(as_planned)
            && frame.palettes.iter().all(|palette| **palette == plain);
        Self { quiet, lines, width, plain, bent, is_lines }
    }

    /// Whether these registers make it, too, wherever memory is shown from.
    fn is_of(&self, bench: &Bench, registers: &Registers) -> bool {
        let adapter = bench.adapter();
        adapter.timing(registers) == *self.quiet.timing()
            && adapter.shown(registers) == *self.quiet.shown()
            && adapter.palette_of(registers, self.quiet.shown().format as usize) == self.plain
    }
}

/// Whether a line shows memory from its first dot on, in one piece as wide as the picture.
fn is_whole(frame: &Frame, line: &ScanLine, width: u32) -> bool {
    let active = |kind| matches!(kind, SegmentKind::Active { .. });
    let mut active = frame.segments_of(line).iter().filter(|segment| active(segment.kind));
    let whole = active.next().is_some_and(|segment| {
        segment.dot == 0
            && frame.values_of(segment.kind).len() == width as usize
            && segment.dots == width * frame.narrowest_pixel()
    });
    whole && active.next().is_none()
}

/// What a tap changes on a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct LineChange {
    /// First and last byte that are not fetched from where the plain board fetches them.
    bytes: Option<(u32, u32)>,
    /// Whether the pixels may be others.
    shows: bool,
}

/// What a tap is known to change on lines of one geometry, by where they begin.
struct KnownLines {
    /// Whether nothing but where a line begins decides what the tap does to it.
    is_decided_by_start: bool,
    changes: Vec<Option<LineChange>>,
}

impl KnownLines {
    fn under(tap: &QuirkStack) -> Self {
        let decides = LineDependencies::LINEAR | LineDependencies::LENGTH;
        Self { is_decided_by_start: decides.contains(tap.depends_on()), changes: Vec::new() }
    }

    fn forget(&mut self) {
        self.changes.clear();
    }

    /// What is changed on a line, found by `ask` where it is not known.
    fn get(&mut self, line: &Line, ask: impl FnOnce() -> LineChange) -> LineChange {
        // Panned lines fetch more; a bank that does not stand beside the counter cannot be distinguished from it.
        if !self.is_decided_by_start || line.pan > 0 || line.bank & line.mask != 0 {
            return ask();
        }
        let place = (line.linear | line.bank) as usize;
        if self.changes.len() <= place {
            self.changes.resize(place + 1, None);
        }
        *self.changes[place].get_or_insert_with(ask)
    }
}

/// A line of the plain board and of the other.
#[derive(Default)]
struct Pair {
    plain: DrawnLine,
    bent: DrawnLine,
}

impl Pair {
    /// What a tap changes on a line.
    fn change(&mut self, tap: &QuirkStack, line: &Line) -> LineChange {
        let effects = tap.line_effects(line);
        let bytes = if effects.stages.contains(Stages::ADDRESS) {
            line.spans_into(tap, &effects, &mut self.bent.spans);
            line.spans_into(&Plain, &LineEffects::default(), &mut self.plain.spans);
            spans_differ(&self.plain.spans, &self.bent.spans).map(RangeInclusive::into_inner)
        } else {
            None
        };
        LineChange { bytes, shows: bytes.is_some() || effects.stages.intersects(Stages::FETCH | Stages::PIXEL) }
    }

    /// First and last pixel of another colour than on the plain board.
    fn pixels(
        &mut self,
        geometry: &Geometry,
        tap: &QuirkStack,
        line: &Line,
        memory: &[u8],
    ) -> Option<RangeInclusive<u32>> {
        let Geometry { quiet, plain, bent, .. } = geometry;
        quiet.draw_line(&Plain, line, &LineEffects::default(), memory, &mut self.plain);
        quiet.draw_line(tap, line, &tap.line_effects(line), memory, &mut self.bent);
        let (one, other) = (&self.plain.values, &self.bent.values);
        let same_colours = plain.colours == bent.colours;
        if same_colours && one == other {
            return None;
        }
        let colour = |palette: &Palette, value: &u8| -> Rgba { palette.colours[usize::from(*value)] };
        let differ =
            |(one, other): (&u8, &u8)| !(same_colours && one == other) && colour(plain, one) != colour(bent, other);
        let first = one.iter().zip(other).position(differ)?;
        let last = one.iter().zip(other).rposition(differ)?;
        Some(first as u32..=last as u32)
    }
}
