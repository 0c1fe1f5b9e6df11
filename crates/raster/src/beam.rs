//! The beam: stretches of a scan line drawn, lines and frames ended.

use std::sync::Arc;

use backporch_adapter::{Aspects, FramePosition, Palette, StartLoad, Timing};

use crate::board::{Board, Drawing, Drawn, DrawnValues};
use crate::counters::{LineEnd, MOST_LINE_CHARS};
use crate::fetch;
use crate::field::FieldProgress;
use crate::frame::{ScanLine, Segment, SegmentKind};
use crate::latch::Reload;
use crate::line::{Line, LinePosition};
use crate::line_source::LineSource;
use crate::position::{MOST_FRAME_DOTS, MOST_FRAME_LINES};
use crate::stages::Stages;
use crate::tap::{LineEffects, Tap};
use crate::template::{LineStart, LineTemplate, Shows};

impl<T: Tap> Board<T> {
    /// Draws one stretch of at most `most` character clocks, or a whole line
    /// where one like it has been drawn before.
    pub(crate) fn step(&mut self, most: u32) {
        let decoded = self.state.refresh(self.frame.number);
        let (timing, shape) = (decoded.timing, decoded.shape);
        let (char_dots, units) = (decoded.shown.char_dots, decoded.shown.addressing.units_per_char);
        let snows = self.state.snow.is_some();
        let load = self.load_inside_line(&timing);
        if self.now == 0 {
            self.field = FieldProgress::first(&timing);
        }
        if self.counters.along == 0 {
            let begins = LineStart::of(&self.counters);
            if most >= timing.chars()
                && !snows
                && load.is_none()
                && let Some(template) = self.templates.find(shape, &begins)
            {
                return self.repeat(&timing, template);
            }
            self.line.begins = Some((begins, shape));
        }
        let most = if snows { 1 } else { most };
        let to_load = load.and_then(|char| char.checked_sub(self.counters.along)).filter(|clocks| *clocks > 0);
        let chars = self.stable_clocks(&timing, units, shape).min(most).min(to_load.unwrap_or(u32::MAX));
        if self.counters.in_sync() {
            self.push(SegmentKind::Sync, chars);
        } else if self.counters.in_blanking() {
            self.push(SegmentKind::Blank, chars);
        } else if self.counters.shows() {
            self.draw(chars);
        } else {
            self.push(SegmentKind::Border, chars);
        }
        self.state.snow = None;
        self.now += u64::from(chars) * u64::from(char_dots);
        let regular = self.counters.along + chars == timing.chars();
        self.stable.1 -= chars;
        match self.counters.advance(&timing, chars) {
            Some(end) => {
                if regular {
                    self.keep_template(shape);
                }
                self.end_line(&timing, end, false);
            }
            None if self.counters.along >= MOST_LINE_CHARS => {
                self.counters.along = 0;
                self.end_line(&timing, LineEnd::default(), true);
            }
            None if load == Some(self.counters.along) && self.latch.inside_line(self.state.latch_delay()) => {
                self.taken = self.state.take_start(self.now, self.frame.number + 1, self.start);
            }
            None => {}
        }
    }

    /// The character clock inside the line under way at which the class takes
    /// the start address over.
    fn load_inside_line(&self, timing: &Timing) -> Option<u32> {
        if !matches!(timing.start_load, StartLoad::LastSync { .. }) {
            return None;
        }
        let FramePosition { line, char } = self.state.decoded.take_over;
        (line == self.line_of_counters() && char > 0).then_some(char)
    }

    /// Character clocks for which the counters stay as they are. Writes that
    /// leave timing alone cut a stretch in two and need no second look.
    fn stable_clocks(&mut self, timing: &Timing, units: u32, shape: u64) -> u32 {
        let (known, left) = self.stable;
        if known != shape || left == 0 || self.counters.along == 0 {
            self.stable = (shape, self.counters.stretch(timing, units, u32::MAX));
        }
        self.stable.1
    }

    /// Keeps the line under way as a template, where nothing has changed in it.
    fn keep_template(&mut self, shape: u64) {
        let Some((begins, since)) = self.line.begins else {
            return;
        };
        let segments = &self.frame.segments[self.line.first_segment as usize..];
        let one_palette = segments.windows(2).all(|pair| pair[0].palette == pair[1].palette);
        if since == shape && one_palette {
            let segments = segments.to_vec();
            let ends = (self.counters.sync, self.counters.blank);
            let decoded = &self.state.decoded;
            let picture_dots = u32::from(decoded.timing.displayed) * u32::from(decoded.shown.char_dots);
            let shows = Shows::of(&segments, picture_dots);
            self.templates.keep(shape, LineTemplate { begins, segments, shows, dots: self.line.dots, ends });
        }
    }

    /// Draws a whole line as a template says.
    fn repeat(&mut self, timing: &Timing, template: usize) {
        let units = self.state.decoded.shown.addressing.units_per_char;
        let ends = self.templates.at(template).ends;
        if self.draw_whole(template) {
            let end = self.counters.run_line(timing, units, ends);
            return self.line_ended(timing, end, false);
        }
        let palette = self.palette_index();
        let char_dots = u32::from(self.state.decoded.shown.char_dots);
        let (count, dots) = (self.templates.at(template).segments.len(), self.templates.at(template).dots);
        for position in 0..count {
            let segment = self.templates.at(template).segments[position];
            match segment.kind {
                SegmentKind::Active { .. } => {
                    self.counters.along = segment.dot / char_dots;
                    self.draw(segment.dots / char_dots);
                }
                _ => {
                    self.frame.segments.push(Segment { palette, ..segment });
                    self.line.dots += segment.dots;
                }
            }
        }
        self.now += u64::from(dots);
        let end = self.counters.run_line(timing, units, ends);
        self.end_line(timing, end, false);
    }

    fn push(&mut self, kind: SegmentKind, chars: u32) {
        let dots = chars * u32::from(self.state.decoded.shown.char_dots);
        let palette = self.palette_index();
        let segment = Segment { dot: self.line.dots, dots, kind, palette };
        self.line.dots += dots;
        let on_this_line = self.frame.segments.len() as u32 > self.line.first_segment;
        let last = self.frame.segments.last_mut().filter(|_| on_this_line);
        if !last.is_some_and(|last| last.joins(&segment)) {
            self.frame.segments.push(segment);
        }
    }

    /// Position of the palette in force among the frame's palettes.
    pub(crate) fn palette_index(&mut self) -> u16 {
        let palettes = &mut self.frame.palettes;
        let current = &self.state.decoded.palette;
        let known = |last: &Arc<Palette>| Arc::ptr_eq(last, current) || **last == **current;
        if !palettes.last().is_some_and(known) && palettes.len() < usize::from(u16::MAX) {
            palettes.push(Arc::clone(current));
        }
        (palettes.len() - 1) as u16
    }

    /// Draws `chars` character clocks of the active area.
    fn draw(&mut self, chars: u32) {
        if self.drawing != Drawing::All {
            let (first, count) = self.pass(chars);
            let pixel_dots = self.state.decoded.shown.pixel_dots;
            return self.push(SegmentKind::Active { first, count, pixel_dots }, chars);
        }
        let line = self.line_fetched();
        let along = self.counters.along;
        let count = chars * line.char_pixels;
        let pixel_dots = self.state.decoded.shown.pixel_dots;
        let active = |first| SegmentKind::Active { first, count, pixel_dots };

        let whole = along == 0 && chars == line.displayed && self.state.snow.is_none();
        let effects = self.line_effects(&line);
        if whole && let Some(drawn) = self.drawn_before(&line, &effects) {
            let DrawnValues { first, spans } = drawn.values();
            let segment = active(first);
            self.frame.spans.extend_from_within(spans);
            self.line.noted = line.fetched();
            self.push(segment, chars);
            return;
        }
        let first = self.frame.values.len() as u32;
        let first_span = self.frame.spans.len() as u32;
        let segment = active(first);
        self.fetch(&line, &effects, along, chars);
        self.push(segment, chars);
        self.drawn = whole.then(|| Drawn {
            writes: self.state.writes,
            shape: self.state.decoded.shape,
            line,
            effects,
            first_value: first,
            first_span,
            spans: self.frame.spans.len() as u32 - first_span,
        });
    }

    /// The line drawn just before, where this one would be drawn alike.
    pub(crate) fn drawn_before(&self, line: &Line, effects: &LineEffects) -> Option<&Drawn> {
        let tap = &self.state.tap;
        let drawn = self.same_line_before(line)?;
        (tap.stages().is_empty() || tap.repeats(&drawn.effects, effects)).then_some(drawn)
    }

    /// The line drawn just before, where it is the same picture line from the same memory.
    pub(crate) fn same_line_before(&self, line: &Line) -> Option<&Drawn> {
        let drawn = self.drawn.as_ref()?;
        let Line { scan_line, row_address, picture_line, .. } = drawn.line;
        let row_address = if self.state.decoded.shown.uses_row_address { line.row_address } else { row_address };
        let repeats = picture_line == line.picture_line
            && drawn.writes == self.state.writes
            && drawn.shape == self.state.decoded.shape
            && drawn.line == Line { scan_line, row_address, ..*line };
        repeats.then_some(drawn)
    }

    /// How the line under way is fetched; its place is decided at its first
    /// active stretch, the rest follows the registers.
    fn line_fetched(&mut self) -> Line {
        let shape = self.state.decoded.shape;
        if let Some((line, known)) = self.line.now
            && known == shape
        {
            return line;
        }
        let (timing, shown) = (&self.state.decoded.timing, &self.state.decoded.shown);
        let counters = &self.counters;
        let picture_line = match self.line.fetch {
            Some(first) => first.picture_line,
            None if counters.repeats(shown.uses_row_address) => self.next_picture_line.saturating_sub(1),
            None => self.next_picture_line,
        };
        let place = LinePosition {
            frame: self.frame.number,
            scan_line: self.frame.lines.len() as u32,
            picture_line,
            row: counters.row(),
            row_address: counters.scan(),
            start: self.start,
            linear: counters.row_start().wrapping_mul(shown.addressing.unit),
            below_split: counters.below_split(),
        };
        let line = Line::at(place, timing, shown);
        self.next_picture_line = picture_line + 1;
        self.line.fetch.get_or_insert(line);
        self.line.now = Some((line, shape));
        line
    }

    /// What of the tap acts on the line under way; a write may change that.
    fn line_effects(&mut self, line: &Line) -> LineEffects {
        let asked = [self.state.writes, self.state.decoded.shape];
        match self.line.effects {
            Some((effects, then)) if then == asked => effects,
            _ => {
                let effects = fetch::line_effects(&self.state.tap, line);
                self.line.effects = Some((effects, asked));
                effects
            }
        }
    }

    /// Fetches and serialises `chars` character clocks from `along` on.
    fn fetch(&mut self, line: &Line, effects: &LineEffects, along: u32, chars: u32) {
        let Self { state, counters, frame, scratch, line: under_way, .. } = self;
        let source = LineSource {
            tap: &state.tap,
            shown: &state.decoded.shown,
            line,
            effects,
            memory: &state.memory,
            row_start: counters.row_start(),
            snow: state.snow,
        };
        let spans = &mut frame.spans;
        let (first_span, noted) = (under_way.first_span, under_way.noted);
        source.draw(along, chars, scratch, &mut frame.values, |row| {
            for new in row.spans().filter_map(|span| span.starting_at(noted)) {
                let on_this_line = spans.len() as u32 > first_span;
                match spans.last_mut() {
                    Some(last) if on_this_line && new.continues(last) => last.len += new.len,
                    _ => spans.push(new),
                }
            }
        });
        let extra = u32::from(line.pan > 0);
        under_way.noted = under_way.noted.max((along + chars + extra) * line.char_bytes);
    }

    // ---- line and frame ends -----------------------------------------------------

    fn end_line(&mut self, timing: &Timing, end: LineEnd, cut: bool) {
        let line = std::mem::take(&mut self.line);
        let segments = self.frame.segments.len() as u32;
        let spans = self.frame.spans.len() as u32;
        self.frame.lines.push(ScanLine {
            dots: line.dots,
            segments: line.first_segment..segments,
            spans: line.first_span..spans,
            fetch: line.fetch,
        });
        (self.line.first_segment, self.line.first_span) = (segments, spans);
        self.line_ended(timing, end, cut);
    }

    /// What comes after a line that is drawn and noted.
    fn line_ended(&mut self, timing: &Timing, end: LineEnd, cut: bool) {
        let too_long =
            cut || self.now - self.frame.first_dot > MOST_FRAME_DOTS || self.frame.lines.len() >= MOST_FRAME_LINES;
        let restarts = end.frame && !self.field.goes_on(self.frame.lines.len() as u32);
        if restarts || too_long {
            self.end_frame(!end.frame);
        }
        if end.vertical_sync {
            self.field.sync();
            self.state.begin_vertical_sync();
        }
        if cut {
            return;
        }
        let due = match timing.start_load {
            StartLoad::FrameStart => end.frame,
            StartLoad::EachLineOfFirstRow => end.frame || self.counters.in_first_row(),
            StartLoad::VerticalRetrace => end.vertical_sync,
            StartLoad::VerticalRetraceEnd => end.vertical_sync_end,
            StartLoad::LastSync { .. } => {
                self.state.decoded.take_over == FramePosition { line: self.line_of_counters(), char: 0 }
            }
        };
        let reload = self.latch.at_line_start(timing.start_load, end.frame, due, self.state.latch_delay());
        if matches!(reload, Reload::Take | Reload::TakeAndRestart) {
            let ahead = u64::from(!timing.start_load.restarts() && !end.frame);
            self.taken = self.state.take_start(self.now, self.frame.number + ahead, self.start);
        }
        if matches!(reload, Reload::Restart | Reload::TakeAndRestart) {
            self.start = self.taken;
            self.counters.restart(self.start, timing);
        }
    }

    /// Scan line since the counters restarted.
    pub(crate) fn line_of_counters(&self) -> u32 {
        self.field.since_restart(self.frame.lines.len() as u32)
    }

    fn end_frame(&mut self, unstable: bool) {
        self.field.end();
        let number = self.frame.number + 1;
        let mut done = std::mem::take(&mut self.frame);
        done.unstable = unstable;
        if self.state.tap.stages().contains(Stages::SYNC) {
            done.shift = self.state.tap.shift(done.number);
        }
        self.frame.number = number;
        self.frame.first_dot = self.now;
        (self.line.first_segment, self.line.first_span) = (0, 0);
        self.finished = Some(done);
        self.next_picture_line = 0;
        self.drawn = None;
        self.passed = None;
        if self.state.tap.stages().contains(Stages::COLOUR) {
            self.state.decoded.spoil(Aspects::COLOUR);
        }
    }
}

impl Segment {
    /// Takes `next` in, where it continues this segment.
    pub(crate) fn joins(&mut self, next: &Self) -> bool {
        let follows = self.palette == next.palette && self.dot + self.dots == next.dot;
        let alike = match (&mut self.kind, next.kind) {
            (
                SegmentKind::Active { first, count, pixel_dots },
                SegmentKind::Active { first: then, count: more, pixel_dots: same },
            ) if follows && *pixel_dots == same && *first + *count == then => {
                *count += more;
                true
            }
            (SegmentKind::Active { .. }, _) | (_, SegmentKind::Active { .. }) => false,
            (this, that) => *this == that,
        };
        if follows && alike {
            self.dots += next.dots;
        }
        follows && alike
    }
}
