//! The controller's counters, moved by stretches of equal state.
//!
//! Along a line every controller has a character counter that is compared for
//! equality with displayed, sync position and total (here). VerticalCounters a frame the
//! 6845 counts [rows](rows::Rows), the EGA and VGA controllers count scan
//! [lines](lines::Lines); both move at line ends.
//!
//! [`Counters::stretch`] first meets the comparisons that hold at this
//! character clock, then says for how many character clocks nothing changes;
//! [`Counters::advance`] moves on. The [stepper](crate::stepper) does the same
//! one character clock at a time, and the tests hold the two equal.

pub mod lines;
pub mod rows;

use backporch_adapter::{Timing, Vertical};

use lines::Lines;
use rows::Rows;

/// A line of more character clocks than this is cut: writes have kept its
/// counter from ever meeting the total.
pub(crate) const MOST_LINE_CHARS: u32 = 4096;

/// A pulse or blanking along the line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Pulse {
    /// Whether it is on.
    pub on: bool,
    /// Character clocks to come, where it is counted.
    pub left: u16,
}

/// Character-clock state of the controller.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Counters {
    /// Character counter.
    pub char: u16,
    /// Character clocks since the line began (equals `char` until the counter
    /// runs past its total).
    pub along: u32,
    /// Horizontal sync.
    pub sync: Pulse,
    /// Horizontal blanking.
    pub blank: Pulse,
    /// Between the start of the line and the end of display.
    pub horizontal_enable: bool,
    /// The way down the frame.
    pub vertical: VerticalCounters,
}

/// The way down the frame.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum VerticalCounters {
    /// In rows of scan lines.
    Rows(Rows),
    /// In scan lines.
    Lines(Lines),
}

/// What a line's end brought.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LineEnd {
    /// A new frame begins.
    pub frame: bool,
    /// Vertical sync begins.
    pub vertical_sync: bool,
    /// Vertical sync ends.
    pub vertical_sync_end: bool,
}

impl Pulse {
    /// Meets the comparisons at `char`: the end of a compared pulse, then a start.
    fn arrive(&mut self, char: u16, start: u16, width: u16, ends: Option<(u16, u16)>) {
        if self.on && ends.is_some_and(|(bits, end)| char & bits == end) {
            self.on = false;
        }
        if char == start && width > 0 {
            *self = Self { on: true, left: width };
        }
    }

    /// Character clocks until it ends by itself, 1 to `most`.
    fn stays(&self, char: u16, ends: Option<(u16, u16)>, most: u16) -> u16 {
        match (self.on, ends) {
            (false, _) => most,
            (true, None) => self.left,
            (true, Some((bits, end))) => match end.wrapping_sub(char) & bits {
                0 => bits + 1,
                left => left,
            },
        }
    }

    fn run(&mut self, chars: u16, counted: bool) {
        if counted {
            self.left = self.left.saturating_sub(chars);
            self.on = self.left > 0;
        }
    }
}

impl Counters {
    /// At the first character clock of a frame.
    #[must_use]
    pub fn at_frame_start(start: u32, timing: &Timing) -> Self {
        let mut counters = Self {
            char: 0,
            along: 0,
            sync: Pulse::default(),
            blank: Pulse::default(),
            horizontal_enable: false,
            vertical: match &timing.vertical {
                Vertical::Rows(rows) => VerticalCounters::Rows(Rows::at_frame_start(rows)),
                Vertical::Lines(lines) => VerticalCounters::Lines(Lines::at_frame_start(lines)),
            },
        };
        counters.restart(start, timing);
        counters
    }

    /// Meets the comparisons that hold at this character clock and gives the
    /// number of character clocks, at most `most`, for which the state stays.
    pub fn stretch(&mut self, timing: &Timing, units_per_char: u32, most: u32) -> u32 {
        self.arrive(timing, units_per_char);
        let values = timing.char_values;
        let ahead = |point: u16| match point.wrapping_sub(self.char) & (values - 1) {
            0 => values,
            distance => distance,
        };
        let point = |at: u16| if at < values { ahead(at) } else { values };
        let to_end = (timing.last_char.wrapping_sub(self.char) & (values - 1)) + 1;
        let stays = to_end
            .min(ahead(0))
            .min(point(timing.displayed))
            .min(point(timing.sync_start))
            .min(point(timing.blank_start))
            .min(self.sync.stays(self.char, timing.sync_ends(), values))
            .min(self.blank.stays(self.char, timing.blank_ends(), values));
        u32::from(stays).min(MOST_LINE_CHARS.saturating_sub(self.along).max(1)).min(most)
    }

    fn arrive(&mut self, timing: &Timing, units_per_char: u32) {
        if self.char == 0 {
            self.horizontal_enable = true;
        }
        if self.char == timing.displayed {
            self.horizontal_enable = false;
            if let VerticalCounters::Rows(rows) = &mut self.vertical {
                rows.end_display(timing, self.along * units_per_char);
            }
        }
        let compared = timing.compared_as(self.char);
        self.blank.arrive(compared, timing.blank_start, timing.blank_width, timing.blank_ends());
        self.sync.arrive(compared, timing.sync_start, timing.sync_width, timing.sync_ends());
    }

    /// Moves `count` character clocks on, as far as [`Counters::stretch`] said
    /// at most. Answers where that ended the line.
    pub fn advance(&mut self, timing: &Timing, count: u32) -> Option<LineEnd> {
        let values = u32::from(timing.char_values);
        let last = (u32::from(self.char) + count.saturating_sub(1)) % values;
        self.sync.run(count as u16, timing.sync_ends().is_none());
        self.blank.run(count as u16, timing.blank_ends().is_none());
        self.along += count;
        self.char = ((last + 1) % values) as u16;
        (last == u32::from(timing.last_char)).then(|| self.end_line(timing))
    }

    /// Runs from the first character clock of a line to its end, where both
    /// are known from a line before; only for lines whose counter does not run
    /// past its total.
    pub(crate) fn run_line(&mut self, timing: &Timing, units_per_char: u32, ends: (Pulse, Pulse)) -> LineEnd {
        let meets_displayed = timing.displayed <= timing.last_char;
        if meets_displayed && let VerticalCounters::Rows(rows) = &mut self.vertical {
            rows.end_display(timing, u32::from(timing.displayed) * units_per_char);
        }
        self.horizontal_enable = !meets_displayed;
        (self.sync, self.blank) = ends;
        self.end_line(timing)
    }

    fn end_line(&mut self, timing: &Timing) -> LineEnd {
        self.char = 0;
        self.along = 0;
        match (&mut self.vertical, &timing.vertical) {
            (VerticalCounters::Rows(rows), Vertical::Rows(comparands)) => rows.end_line(timing.last_scan, comparands),
            (VerticalCounters::Lines(lines), Vertical::Lines(comparands)) => lines.end_line(timing, comparands),
            // An adapter has one timing rule, so counters and comparands are of one kind.
            _ => LineEnd::default(),
        }
    }

    /// The address counter restarts from `start` and so do rows that follow.
    pub(crate) fn restart(&mut self, start: u32, timing: &Timing) {
        match (&mut self.vertical, &timing.vertical) {
            (VerticalCounters::Rows(rows), _) => rows.restart(start),
            (VerticalCounters::Lines(lines), Vertical::Lines(comparands)) => lines.restart(start, comparands),
            (VerticalCounters::Lines(_), Vertical::Rows(_)) => {}
        }
    }

    /// Whether this character clock shows memory.
    #[must_use]
    pub fn shows(&self) -> bool {
        self.horizontal_enable && self.vertical_enable()
    }

    /// Whether this scan line shows memory.
    #[must_use]
    pub fn vertical_enable(&self) -> bool {
        match &self.vertical {
            VerticalCounters::Rows(rows) => rows.shown,
            VerticalCounters::Lines(lines) => lines.shown,
        }
    }

    /// Whether vertical sync is on.
    #[must_use]
    pub fn vertical_sync(&self) -> bool {
        match &self.vertical {
            VerticalCounters::Rows(rows) => rows.sync_lines_left > 0,
            VerticalCounters::Lines(lines) => lines.sync,
        }
    }

    /// Whether vertical blanking is on.
    #[must_use]
    pub fn vertical_blanking(&self) -> bool {
        match &self.vertical {
            VerticalCounters::Rows(rows) => rows.blank_lines_left > 0,
            VerticalCounters::Lines(lines) => lines.blank,
        }
    }

    /// Whether horizontal or vertical sync is on.
    #[must_use]
    pub fn in_sync(&self) -> bool {
        self.sync.on || self.vertical_sync()
    }

    /// Whether horizontal or vertical blanking is on.
    #[must_use]
    pub fn in_blanking(&self) -> bool {
        self.blank.on || self.vertical_blanking()
    }

    /// Scan line of the row: the row address.
    #[must_use]
    pub fn scan(&self) -> u8 {
        match &self.vertical {
            VerticalCounters::Rows(rows) => rows.scan,
            VerticalCounters::Lines(lines) => lines.scan,
        }
    }

    /// Rows since the frame, or the part below the line compare, began.
    #[must_use]
    pub fn row(&self) -> u32 {
        match &self.vertical {
            VerticalCounters::Rows(rows) => u32::from(rows.row),
            VerticalCounters::Lines(lines) => lines.row,
        }
    }

    /// Address counter at the start of this row, in address units.
    #[must_use]
    pub fn row_start(&self) -> u32 {
        match &self.vertical {
            VerticalCounters::Rows(rows) => rows.row_start,
            VerticalCounters::Lines(lines) => lines.row_start,
        }
    }

    /// Address the controller puts out at this character clock, in its own units; it counts on where nothing is shown.
    #[must_use]
    pub fn address(&self, units_per_char: u32) -> u32 {
        self.row_start().wrapping_add(self.along.wrapping_mul(units_per_char))
    }

    /// Whether this is a later scan line of the first row.
    #[must_use]
    pub fn in_first_row(&self) -> bool {
        match &self.vertical {
            VerticalCounters::Rows(rows) => rows.row == 0 && rows.adjusting.is_none(),
            VerticalCounters::Lines(lines) => lines.row == 0 && !lines.below_split,
        }
    }

    /// Whether the address restarted at the line compare.
    #[must_use]
    pub fn below_split(&self) -> bool {
        matches!(&self.vertical, VerticalCounters::Lines(lines) if lines.below_split)
    }

    /// Whether this scan line shows what the one before it showed, for formats
    /// that show the same on every scan line of a row, and for those that do not.
    #[must_use]
    pub fn repeats(&self, uses_row_address: bool) -> bool {
        match &self.vertical {
            VerticalCounters::Rows(rows) => rows.scan != 0 && !uses_row_address,
            VerticalCounters::Lines(lines) if uses_row_address => lines.since_scan > 0,
            VerticalCounters::Lines(lines) => lines.since_row > 0,
        }
    }
}
