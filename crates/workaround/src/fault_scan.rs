//! Judging every start address of a setting against one fault.
//!
//! Three ways, from what the tap says it looks at ([`LineDependencies`]):
//!
//! * at nothing but where a line begins: the first bad byte from each place is
//!   found once, for all widths together; a width's bad places are those whose
//!   first bad byte lies within it;
//! * at the length of the line too: the bad places are found anew for each width;
//! * at anything more: every line of every start address is asked about.
//!
//! In the first two the places are a [`BitRing`] and a frame is the ring laid over
//! itself, one turn a line. Where only [some start addresses](FaultScan::of_starts)
//! are asked about and they have fewer lines than there are places, those lines
//! are asked about instead.

use std::collections::HashMap;
use std::ops::RangeInclusive;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use backporch_adapter::{Adapter, Registers, Timing};
use backporch_raster::{LatchMoment, Line, LineDependencies, Stages, Tap};
use rayon::prelude::*;

use crate::bit_ring::BitRing;
use crate::runs::{AddressRun, runs};
use crate::setting::{Pixels, Setting};
use crate::test_content;

/// Frames that are looked at where a fault depends on the frame's number.
pub const FRAMES_LOOKED_AT: u64 = 16;

/// Frames over which a picture that stands off its place is looked for: about a minute, since it
/// may jitter seldom, and asking is cheap.
pub const FRAMES_FOR_JITTER: u64 = 4096;

/// Nothing wrong on the whole line.
const NEVER: u32 = u32::MAX;

/// One fault, ready to scan settings.
#[derive(Debug)]
pub struct FaultScan<'a, T> {
    tap: &'a T,
    facts: LineDependencies,
    frames: u64,
    moves_take_over: bool,
    /// Whether the picture stands off its place in some frame, whatever the registers.
    jitters: bool,
    /// The start addresses that are asked about; all of them where none are named.
    starts: Option<RangeInclusive<u32>>,
    /// First bad byte from each place, for lines up to some length.
    first_bad: Option<FirstBad>,
    /// Start addresses that the counters never get.
    badly_latched: Mutex<HashMap<Latching, Arc<BitRing>>>,
}

/// All that decides which start addresses of a setting are badly latched.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Latching {
    dot: u64,
    starts: u32,
    unit: u32,
    mask: u32,
}

#[derive(Debug)]
struct FirstBad {
    bytes: u32,
    ring: u32,
    format: u32,
    at: Vec<u32>,
}

/// What a fault does to one setting, for every start address.
#[derive(Clone, Debug)]
pub enum FailureMap {
    /// The whole picture is wrong, whatever the start address.
    Everywhere,
    /// Where lines must not begin, and what else spoils a start address.
    Places {
        /// Bad places, in address units.
        places: BitRing,
        /// Bad start addresses whatever the lines.
        starts: Arc<BitRing>,
    },
    /// First bad picture line from each start address.
    Lines(Vec<u32>),
}

impl<'a, T: Tap + Clone + Sync> FaultScan<'a, T> {
    /// Gets ready to scan settings; the longest line among them is looked at once for all.
    #[must_use]
    pub fn new(tap: &'a T, settings: &[Setting]) -> Self {
        let facts = tap.depends_on();
        let frames = if facts.contains(LineDependencies::FRAME) { FRAMES_LOOKED_AT } else { 1 };
        let moves_take_over = settings.first().is_some_and(|setting| moves_take_over(tap, setting));
        let jitters = jitters(tap);
        let mut scan = Self {
            tap,
            facts,
            frames,
            moves_take_over,
            jitters,
            starts: None,
            first_bad: None,
            badly_latched: Mutex::default(),
        };
        let once = LineDependencies::LINEAR | LineDependencies::FRAME;
        let longest = settings.iter().max_by_key(|setting| setting.line.bytes);
        if let (true, Some(setting)) = (once.contains(facts), longest) {
            let at = scan.first_bad_bytes(setting);
            let Line { bytes, format, .. } = setting.line;
            scan.first_bad = Some(FirstBad { bytes, ring: setting.places, format, at });
        }
        scan
    }

    /// Asks about these start addresses alone; all others count as clean.
    #[must_use]
    pub fn of_starts(self, starts: Option<RangeInclusive<u32>>) -> Self {
        Self { starts, ..self }
    }

    /// Whether the judgement rests on more than fetched addresses and timing,
    /// so that only rendering can prove it.
    #[must_use]
    pub fn needs_rendering(&self) -> bool {
        let proven = Stages::ADDRESS | Stages::SYNC;
        !proven.contains(self.tap.stages()) || self.moves_take_over
    }

    /// Whether the fault changes from frame to frame, so that only some frames were looked at.
    #[must_use]
    pub fn changes_with_frames(&self) -> bool {
        self.frames > 1 || self.tap.stages().intersects(Stages::SYNC | Stages::COLOUR)
    }

    /// Judges a setting.
    #[must_use]
    pub fn failures(&self, adapter: &Adapter, setting: &Setting) -> FailureMap {
        if self.spoils_timing(setting) || self.spoils_colour(adapter, &setting.registers) {
            return FailureMap::Everywhere;
        }
        let by_place = LineDependencies::LINEAR | LineDependencies::LENGTH | LineDependencies::FRAME;
        let known = |first: &&FirstBad| {
            let Line { bytes, format, .. } = setting.line;
            first.ring == setting.places && first.bytes >= bytes && first.format == format
        };
        let known = self.first_bad.as_ref().filter(known);
        let by_lines = known.is_none() && self.has_fewer_lines_than_places(setting);
        if by_lines || !by_place.contains(self.facts) || !setting.is_evenly_spaced() {
            return FailureMap::Lines(self.first_bad_lines(setting));
        }
        let bytes = setting.line.bytes;
        let places = match known {
            Some(first) => BitRing::from_fn(setting.places, |place| first.at[place as usize] < bytes),
            None => {
                let first = self.first_bad_bytes(setting);
                BitRing::from_fn(setting.places, |place| first[place as usize] < bytes)
            }
        };
        FailureMap::Places { places, starts: self.badly_latched(setting) }
    }

    /// Whether the lines of all start addresses asked about are fewer than the places a line can begin at.
    fn has_fewer_lines_than_places(&self, setting: &Setting) -> bool {
        self.starts.as_ref().is_some_and(|starts| {
            let lines = u64::from(starts.end().saturating_sub(*starts.start())) * u64::from(setting.height);
            lines < u64::from(setting.places)
        })
    }

    /// Whether a start address is asked about; ranges go around where the ring ends.
    fn is_asked(&self, setting: &Setting, start: u32) -> bool {
        self.starts.as_ref().is_none_or(|starts| {
            start.wrapping_sub(*starts.start()) & (setting.starts - 1) <= starts.end().saturating_sub(*starts.start())
        })
    }

    fn spoils_timing(&self, setting: &Setting) -> bool {
        self.jitters || changes_timing(self.tap, setting.quiet.timing())
    }

    fn spoils_colour(&self, adapter: &Adapter, registers: &Registers) -> bool {
        let right = adapter.palette(registers);
        let spoils = |frame| {
            let mut changed = right.clone();
            self.tap.colour(frame, &mut changed);
            changed != right
        };
        self.tap.stages().contains(Stages::COLOUR) && (0..FRAMES_LOOKED_AT).any(spoils)
    }

    /// Start addresses that the counters never get, each after the one before.
    fn badly_latched(&self, setting: &Setting) -> Arc<BitRing> {
        if !self.tap.stages().contains(Stages::LATCH) {
            return Arc::new(BitRing::new(setting.starts));
        }
        let Line { unit, mask, .. } = setting.line;
        let latching = Latching { dot: setting.latch_dot, starts: setting.starts, unit, mask };
        let known = self.latched_so_far().get(&latching).cloned();
        if let Some(ring) = known {
            return ring;
        }
        let ring = Arc::new(BitRing::from_fn(setting.starts, |start| self.is_badly_latched(latching, start)));
        self.latched_so_far().insert(latching, Arc::clone(&ring));
        ring
    }

    /// What a thread that panicked left is whole: rings are only ever added.
    fn latched_so_far(&self) -> MutexGuard<'_, HashMap<Latching, Arc<BitRing>>> {
        self.badly_latched.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn is_badly_latched(&self, latching: Latching, start: u32) -> bool {
        let Latching { dot, starts, unit, mask } = latching;
        let moment = LatchMoment {
            dot,
            frame: 1,
            start,
            shown: start.wrapping_sub(1) & (starts - 1),
            since_write: Some(dot / 2),
        };
        self.tap.would_latch(&moment).wrapping_mul(unit) & mask != start.wrapping_mul(unit) & mask
    }

    /// The first bad byte of a line that begins at each place; one place speaks
    /// for all where the fault does not look at it.
    fn first_bad_bytes(&self, setting: &Setting) -> Vec<u32> {
        let place = |place: u32| {
            let line = setting.line_from(place);
            let frame = |frame| first_bad(self.tap, &Line { frame, ..line }, setting.pixels);
            (0..self.frames).map(frame).min().unwrap_or(NEVER)
        };
        if !self.facts.contains(LineDependencies::LINEAR) {
            return vec![place(0); setting.places as usize];
        }
        (0..setting.places).into_par_iter().with_min_len(1024).map(place).collect()
    }

    /// The first bad picture line from each start address, every scan line looked
    /// at; one start address speaks for all where the fault looks at nothing that comes from it.
    fn first_bad_lines(&self, setting: &Setting) -> Vec<u32> {
        let is_bad = |line: &Line| {
            (0..self.frames).any(|frame| first_bad(self.tap, &Line { frame, ..*line }, setting.pixels) != NEVER)
        };
        let first_bad = |start| setting.scan_lines(start).find(is_bad).map_or(NEVER, |line| line.picture_line);
        let by_start = self.facts.contains(LineDependencies::LINEAR) || self.facts.contains(LineDependencies::START);
        let of_all = (!by_start).then(|| first_bad(0));
        let badly_latched = self.badly_latched(setting);
        let start = |start| {
            if !self.is_asked(setting, start) {
                NEVER
            } else if badly_latched.has(start) {
                0
            } else {
                of_all.unwrap_or_else(|| first_bad(start))
            }
        };
        (0..setting.starts).into_par_iter().with_min_len(64).map(start).collect()
    }
}

/// Whether a fault lets whole frames stand off their place now and then.
#[must_use]
pub fn jitters<T: Tap + Clone>(tap: &T) -> bool {
    let mut tap = tap.clone();
    tap.stages().contains(Stages::SYNC) && (0..FRAMES_FOR_JITTER).any(|frame| !tap.shift(frame).is_none())
}

impl FailureMap {
    /// Start addresses from which a picture of `height` lines is not clean.
    #[must_use]
    pub fn bad(&self, setting: &Setting, height: u32) -> BitRing {
        match self {
            Self::Everywhere => {
                let mut all = BitRing::new(setting.starts);
                all.fill();
                all
            }
            Self::Places { places, starts } => {
                let rows = height.div_ceil(setting.lines_of_row);
                let mut bad = places.over(setting.pitch_units, rows);
                if bad.len() > setting.starts {
                    bad = BitRing::from_fn(setting.starts, |start| bad.has(start));
                }
                bad.add(starts);
                bad
            }
            Self::Lines(first) => BitRing::from_fn(setting.starts, |start| first[start as usize] < height),
        }
    }
}

/// Whether a fault changes comparands of the counters.
///
/// When the start address is taken over shows only as it is written: that is
/// left to rendering.
pub(crate) fn changes_timing<T: Tap>(tap: &T, right: &Timing) -> bool {
    if !tap.stages().contains(Stages::SYNC) {
        return false;
    }
    let mut changed = *right;
    tap.timing(&mut changed);
    changed.start_load = right.start_load;
    changed != *right
}

fn moves_take_over<T: Tap>(tap: &T, setting: &Setting) -> bool {
    let mut changed = *setting.quiet.timing();
    if tap.stages().contains(Stages::SYNC) {
        tap.timing(&mut changed);
    }
    changed.start_load != setting.quiet.timing().start_load
}

/// The first byte of a line that a tap takes from a wrong address or changes on its way.
fn first_bad<T: Tap>(tap: &T, line: &Line, pixels: Pixels) -> u32 {
    let stages = tap.stages();
    let touches = Stages::ADDRESS | Stages::FETCH | Stages::PIXEL;
    if !stages.intersects(touches) {
        return NEVER;
    }
    let here = tap.line_effects(line);
    let mut first = NEVER;
    if here.stages.contains(Stages::ADDRESS) {
        let wrong_bank = line.bank_bits(tap.bank(line) ^ line.bank) != 0;
        first = if wrong_bank { 0 } else { first_moved(tap, line) };
    }
    if here.stages.intersects(Stages::FETCH | Stages::PIXEL) {
        first = first.min(test_content::first_changed(tap, line, pixels, &here));
    }
    first
}

/// The first byte of a line that comes from a wrong address.
fn first_moved<T: Tap>(tap: &T, line: &Line) -> u32 {
    let moved = |run: &AddressRun| (run.linear ^ run.plain) & line.mask != 0;
    runs(tap, line).find(moved).map_or(NEVER, |run| run.from)
}
