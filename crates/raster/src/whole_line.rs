//! Whole lines drawn at once: as a template says, with one picture line from its first dot on, or none.

use crate::board::{Board, Drawing, Drawn, DrawnValues, LineUnderWay};
use crate::fetch;
use crate::frame::{ScanLine, SegmentKind};
use crate::line::{Line, LinePosition};
use crate::line_source::LineSource;
use crate::tap::Tap;
use crate::template::Shows;

impl<T: Tap> Board<T> {
    /// Draws all stretches of a line, the counters being at its start, where the template shows memory in one piece
    /// or not at all; answers whether it does.
    pub(crate) fn draw_whole(&mut self, template: usize) -> bool {
        let active = match self.templates.at(template).shows {
            Shows::Nothing => None,
            Shows::PictureLine(position) => Some(position),
            Shows::Pieces => return false,
        };
        if self.drawing == Drawing::Nothing {
            self.throw_away(template);
            return true;
        }
        let palette = self.palette_index();
        let spans = self.frame.spans.len() as u32;
        let segments = self.frame.segments.len() as u32;
        let shown = active.map(|position| (position, self.show_line()));
        let template = self.templates.at_palette(template, palette);
        self.frame.segments.extend_from_slice(&template.segments);
        let fetch = shown.and_then(|(position, (line, first))| {
            let segment = &mut self.frame.segments[segments as usize + position];
            if let SegmentKind::Active { first: values, .. } = &mut segment.kind {
                *values = first;
            }
            line
        });
        let dots = template.dots;
        self.now += u64::from(dots);
        let (segments, spans) = (segments..self.frame.segments.len() as u32, spans..self.frame.spans.len() as u32);
        (self.line.first_segment, self.line.first_span) = (segments.end, spans.end);
        self.frame.lines.push(ScanLine { dots, segments, spans, fetch });
        true
    }

    /// Counts a line of a frame that is thrown away.
    fn throw_away(&mut self, template: usize) {
        let dots = self.templates.at(template).dots;
        self.now += u64::from(dots);
        self.drawn = None;
        let LineUnderWay { first_segment, first_span, .. } = self.line;
        let (segments, spans) = (first_segment..first_segment, first_span..first_span);
        self.frame.lines.push(ScanLine { dots, segments, spans, fetch: None });
    }

    /// Draws the picture line that begins here, unless the one before shows the same; gives it and the position of
    /// its first value.
    fn show_line(&mut self) -> (Option<Line>, u32) {
        if self.drawing != Drawing::All {
            return (None, self.pass(self.state.decoded.timing.displayed.into()).0);
        }
        let line = self.line_here();
        let always_repeats = self.state.tap.always_repeats();
        if always_repeats && let Some(drawn) = self.same_line_before(&line) {
            let drawn = drawn.values();
            return (Some(line), self.show_again(drawn));
        }
        let effects = fetch::line_effects(&self.state.tap, &line);
        if !always_repeats && let Some(drawn) = self.drawn_before(&line, &effects) {
            let drawn = drawn.values();
            return (Some(line), self.show_again(drawn));
        }
        let Self { state, counters, frame, scratch, .. } = self;
        let source = LineSource {
            tap: &state.tap,
            shown: &state.decoded.shown,
            line: &line,
            effects: &effects,
            memory: &state.memory,
            row_start: counters.row_start(),
            snow: None,
        };
        let (first_value, first_span) = (frame.values.len() as u32, frame.spans.len() as u32);
        let spans = &mut frame.spans;
        source.draw(0, line.displayed, scratch, &mut frame.values, |row| spans.extend(row.spans()));
        let spans = frame.spans.len() as u32 - first_span;
        let (writes, shape) = (state.writes, state.decoded.shape);
        self.drawn = Some(Drawn { writes, shape, line, effects, first_value, first_span, spans });
        (Some(line), first_value)
    }

    /// Notes the spans of a line drawn before once more; gives the position of its first value.
    fn show_again(&mut self, drawn: DrawnValues) -> u32 {
        self.frame.spans.extend_from_within(drawn.spans);
        drawn.first
    }

    /// Values for this many character clocks, which are not to be seen: their first, and how many. All of a frame share them.
    pub(crate) fn pass(&mut self, chars: u32) -> (u32, u32) {
        let shown = &self.state.decoded.shown;
        let pixels = chars * u32::from(shown.char_dots / shown.pixel_dots.max(1));
        self.drawn = None;
        if let Some((first, count)) = self.passed
            && count >= pixels
        {
            return (first, pixels);
        }
        let first = self.frame.values.len() as u32;
        self.frame.values.resize((first + pixels) as usize, 0);
        self.passed = Some((first, pixels));
        (first, pixels)
    }

    /// How the line that begins here is fetched.
    fn line_here(&mut self) -> Line {
        let (shape, shown) = (self.state.decoded.shape, &self.state.decoded.shown);
        let repeats = self.counters.repeats(shown.uses_row_address);
        let picture_line = self.next_picture_line.saturating_sub(u32::from(repeats));
        let place = LinePosition {
            frame: self.frame.number,
            scan_line: self.frame.lines.len() as u32,
            picture_line,
            row: self.counters.row(),
            row_address: self.counters.scan(),
            start: self.start,
            linear: self.counters.row_start().wrapping_mul(shown.addressing.unit),
            below_split: self.counters.below_split(),
        };
        let line = match &self.line_before {
            Some((line, known)) if *known == shape => line.moved_to(place, shown),
            _ => Line::at(place, &self.state.decoded.timing, shown),
        };
        self.next_picture_line = picture_line + 1;
        self.line_before = Some((line, shape));
        line
    }
}
