//! The waveform of a frame: sync, display enable and address along the beam's way, and what was written on it.

use std::borrow::Cow;
use std::ops::Range;

use backporch_raster::{Frame, ScanLine, SegmentKind};

use super::{BoardSide, BusWrite, Session, WriteTarget};

/// What a line of the signal does over some dots.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Level {
    /// It is low at one of them.
    pub low: bool,
    /// It is high at one of them.
    pub high: bool,
}

/// What happens over some dots of the beam's way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct WaveColumn {
    /// Sync, horizontal or vertical.
    pub sync: Level,
    /// Display enable: memory is shown.
    pub enable: Level,
    /// Least and greatest address fetched.
    pub address: Option<(u32, u32)>,
    /// A port was written.
    pub port: bool,
    /// Memory was written.
    pub memory: bool,
}

/// One moment of the beam's way, in full.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WaveMoment {
    /// Scan line and dot of it.
    pub place: (u32, u32),
    /// What the beam draws there.
    pub draws: &'static str,
    /// Address of the byte shown.
    pub address: Option<u32>,
}

/// The frame one looks at, with the way of the beam over it.
#[derive(Clone, Debug)]
pub struct Waveform<'a> {
    frame: Cow<'a, Frame>,
    writes: &'a [BusWrite],
    /// First dot of each line, and of what follows the last.
    starts: Vec<u64>,
    /// Dots of a whole frame.
    dots: u64,
}

impl Session {
    /// The waveform of the frame one looks at: inside a frame up to the beam.
    #[must_use]
    pub fn waveform(&self) -> Waveform<'_> {
        let whole = self.transport.frame(BoardSide::Faulty);
        let inside = !self.transport.is_running() && self.transport.is_mid_frame();
        let frame = if inside {
            Cow::Owned(self.transport.boards().frame_under_way(BoardSide::Faulty))
        } else {
            Cow::Borrowed(whole)
        };
        Waveform::new(frame, self.transport.writes(), length(whole))
    }

    /// Goes to a dot of the frame one looks at.
    pub fn go_to_dot(&mut self, dot: u64) {
        let boards = self.transport.boards();
        let first = if self.transport.is_mid_frame() { boards.frame_start() } else { boards.newest.faulty.first_dot };
        self.run(false);
        // Just behind it, so that what happens at this very dot has happened.
        self.seek_dot(first + dot + 1);
    }
}

impl Session {
    /// Puts the beam at the inspected pixel, in the frame one looks at.
    pub fn beam_to_inspected(&mut self) {
        let Some((line, x)) = self.inspection.pixel().map(|pixel| (pixel.provenance.scan_line, pixel.provenance.x))
        else {
            return;
        };
        let frame = self.transport.frame(BoardSide::Faulty);
        let above = frame.lines.iter().take(line as usize).map(|line| u64::from(line.dots)).sum::<u64>();
        let shown = frame.lines.get(line as usize).map(|line| frame.segments_of(line)).unwrap_or_default();
        let active = shown.iter().find_map(|segment| Some((segment.dot, segment.kind.pixel_dots()?)));
        let (dot, pixel) = active.unwrap_or((0, 1));
        self.go_to_dot(above + u64::from(dot) + u64::from(x) * u64::from(pixel));
    }
}

fn length(frame: &Frame) -> u64 {
    frame.lines.iter().map(|line| u64::from(line.dots)).sum()
}

impl<'a> Waveform<'a> {
    fn new(frame: Cow<'a, Frame>, writes: &'a [BusWrite], whole: u64) -> Self {
        let mut starts = vec![0];
        let mut end = 0;
        for line in &frame.lines {
            end += u64::from(line.dots);
            starts.push(end);
        }
        Self { frame, writes, starts, dots: whole.max(end).max(1) }
    }

    /// Dots of the whole frame.
    #[must_use]
    pub fn dots(&self) -> u64 {
        self.dots
    }

    /// Dots of a scan line, from the frame's first one on; those of the last for lines not drawn yet.
    #[must_use]
    pub fn line(&self, line: u32) -> Range<u64> {
        let at = (line as usize).min(self.starts.len().saturating_sub(2));
        self.starts[at]..self.starts.get(at + 1).copied().unwrap_or(self.dots)
    }

    /// What happens over `window`, in this many columns of equal length.
    #[must_use]
    pub fn columns(&self, window: Range<u64>, count: usize) -> Vec<WaveColumn> {
        let mut columns = vec![WaveColumn::default(); count];
        let length = window.end.saturating_sub(window.start).max(1) as f64;
        let column = |dot: f64| (dot - window.start as f64) * count as f64 / length;
        let touched = |from: f64, to: f64| {
            let (from, to) = (column(from), column(to));
            let first = from.max(0.0) as usize;
            let last = (to.ceil().max(0.0) as usize).min(count);
            first.min(last)..last
        };
        let lines = self.frame.lines.iter().zip(&self.starts);
        for (line, start) in lines.filter(|(line, start)| overlaps(&window, **start, line.dots)) {
            let start = *start as f64;
            for segment in self.frame.segments_of(line) {
                let from = start + f64::from(segment.dot);
                for at in touched(from, from + f64::from(segment.dots)) {
                    let wave = &mut columns[at];
                    raise(&mut wave.sync, segment.kind == SegmentKind::Sync);
                    raise(&mut wave.enable, matches!(segment.kind, SegmentKind::Active { .. }));
                }
            }
            for fetch in self.fetches(line) {
                let from = start + fetch.dot;
                for at in touched(from, from + fetch.dots) {
                    // Where a column shows part of a span, it has the addresses of that part.
                    let dot = |column: f64| window.start as f64 + column * length / count as f64;
                    let share = |dot: f64| ((dot - from) / fetch.dots).clamp(0.0, 1.0);
                    let address = |share: f64| fetch.address + (share * f64::from(fetch.bytes.max(1) - 1)) as u32;
                    let (least, most) = (address(share(dot(at as f64))), address(share(dot((at + 1) as f64))));
                    let known = columns[at].address.unwrap_or((least, most));
                    columns[at].address = Some((known.0.min(least), known.1.max(most)));
                }
            }
        }
        for write in self.writes {
            let at = column(self.dot_of(write) as f64);
            if at >= 0.0 && (at as usize) < count {
                match write.what {
                    WriteTarget::Port(_) => columns[at as usize].port = true,
                    WriteTarget::Memory(_) => columns[at as usize].memory = true,
                }
            }
        }
        columns
    }

    /// What happens at a dot; nothing where the beam has not come there.
    #[must_use]
    pub fn at(&self, dot: u64) -> Option<WaveMoment> {
        let line = self.starts.partition_point(|start| *start <= dot).checked_sub(1)?;
        let (scan, into) = (self.frame.lines.get(line)?, (dot - self.starts[line]) as u32);
        let segments = self.frame.segments_of(scan);
        let segment = segments.iter().find(|segment| (segment.dot..segment.dot + segment.dots).contains(&into))?;
        let draws = match segment.kind {
            SegmentKind::Active { .. } => "active area",
            SegmentKind::Border => "border",
            SegmentKind::Blank => "blanking",
            SegmentKind::Sync => "sync",
        };
        let here = f64::from(into);
        let fetch = self.fetches(scan).find(|fetch| (fetch.dot..fetch.dot + fetch.dots).contains(&here));
        let address =
            fetch.map(|fetch| fetch.address + ((here - fetch.dot) / fetch.dots * f64::from(fetch.bytes)) as u32);
        Some(WaveMoment { place: (line as u32, into), draws, address })
    }

    /// The writes made over some dots, in order.
    pub fn writes_in(&self, window: Range<u64>) -> impl Iterator<Item = &BusWrite> {
        self.writes.iter().filter(move |write| window.contains(&self.dot_of(write)))
    }

    fn dot_of(&self, write: &BusWrite) -> u64 {
        self.line(write.line).start + u64::from(write.dot)
    }

    /// Where along a line which bytes are shown.
    fn fetches<'s>(&'s self, line: &'s ScanLine) -> impl Iterator<Item = Fetch> + 's {
        let active = self.frame.segments_of(line).iter().find(|segment| segment.kind.pixel_dots().is_some());
        let shown = active.zip(line.fetch.as_ref());
        shown.into_iter().flat_map(move |(active, fetch)| {
            let pixel = f64::from(active.kind.pixel_dots().unwrap_or(1));
            let byte = pixel * f64::from(fetch.char_pixels) / f64::from(fetch.char_bytes.max(1));
            self.frame.spans_of(line).iter().map(move |span| Fetch {
                dot: f64::from(active.dot) + f64::from(span.at) * byte,
                dots: (f64::from(span.len) * byte).max(1.0),
                address: span.address,
                bytes: span.len,
            })
        })
    }
}

/// Bytes shown one after the other.
#[derive(Clone, Copy, Debug)]
struct Fetch {
    dot: f64,
    dots: f64,
    address: u32,
    bytes: u32,
}

fn overlaps(window: &Range<u64>, start: u64, dots: u32) -> bool {
    start < window.end && start + u64::from(dots) > window.start
}

fn raise(level: &mut Level, is_high: bool) {
    level.high |= is_high;
    level.low |= !is_high;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Command;

    #[test]
    fn a_line_is_as_the_signal_counts_it() {
        // The signal's own account of the same registers, which the tests of signal and adapter hold to the
        // published timings.
        let session = Session::open("harbour-256-plain", &Default::default()).unwrap();
        let waveform = session.waveform();
        let signal = session.bench().adapter().signal(session.transport().faulty_registers()).unwrap();
        let (across, down) = (&signal.horizontal, &signal.vertical);
        assert_eq!(waveform.dots(), u64::from(across.total()) * u64::from(down.total()));
        let line = waveform.line(10);
        assert_eq!(line, u64::from(across.total()) * 10..u64::from(across.total()) * 11);
        let columns = waveform.columns(line.clone(), across.total() as usize);
        let high = |level: fn(&WaveColumn) -> Level| columns.iter().filter(|column| level(column).high).count() as u32;
        assert_eq!(high(|column| column.enable), across.active());
        assert_eq!(high(|column| column.sync), across.sync());
        let first = columns.iter().position(|column| column.sync.high).unwrap() as u32;
        assert_eq!(first, across.active() + across.front_porch());
        assert!(columns.iter().all(|column| column.enable.high == column.address.is_some()));
        let moment = waveform.at(line.start + 3).unwrap();
        assert_eq!((moment.place, moment.draws), ((10, 3), "active area"));
        assert_eq!(moment.address, columns[3].address.map(|(least, _)| least));
        assert!(waveform.at(waveform.dots()).is_none());
    }

    #[test]
    fn writes_stand_where_the_beam_was() {
        let mut session = Session::open("scroll-late", &Default::default()).unwrap();
        session.step_frames(8);
        session.step_lines(300);
        session.perform(Command::LineOn);
        let writes = session.transport().writes().to_vec();
        let waveform = session.waveform();
        for write in &writes {
            let dot = waveform.line(write.line).start + u64::from(write.dot);
            assert!(waveform.writes_in(dot..dot + 1).any(|one| one == write));
            let columns = waveform.columns(dot..dot + 8, 8);
            assert!(columns[0].port || columns[0].memory);
        }
        assert!(waveform.at(waveform.dots() - 1).is_none(), "the beam has not come there yet");
    }
}
