//! How far from its plain address each byte of a line is fetched.
//!
//! A byte fetched from elsewhere is still the right one for some other place of
//! the picture. So a line is not judged good or bad here: it is cut into
//! stretches, each with its distance, and what a stretch is worth is left to
//! whoever asks for a place.

use backporch_raster::{Line, LineDependencies, Tap};

use crate::runs::{AddressRun, runs};
use crate::setting::Setting;

/// Places a line can begin at that stand for all.
const PLACES_LOOKED_AT: u32 = 64;

/// Bytes of a line that are fetched equally far from their plain addresses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct DisplacedBytes {
    /// Offset of the first on the line.
    pub from: u32,
    /// How many.
    pub len: u32,
    /// Bytes further on in memory, wrapping around; `None` from another bank.
    pub by: Option<u32>,
}

/// The lines of one setting under one tap.
pub(crate) struct Displacements<'a, T> {
    tap: &'a T,
    setting: &'a Setting,
    /// The stretches from each place a line can begin at, where nothing else decides them.
    by_place: Option<ByPlace>,
    period: u32,
}

/// The stretches from each place, one after another.
struct ByPlace {
    ends: Vec<u32>,
    stretches: Vec<DisplacedBytes>,
}

impl<'a, T: Tap> Displacements<'a, T> {
    pub fn new(tap: &'a T, setting: &'a Setting) -> Self {
        let alone = LineDependencies::LINEAR | LineDependencies::LENGTH;
        let by_place = (alone.contains(tap.depends_on()) && setting.is_evenly_spaced()).then(|| {
            let (mut ends, mut stretches) = (Vec::new(), Vec::new());
            for place in 0..setting.places {
                cut(tap, &setting.line_from(place), &mut stretches);
                ends.push(stretches.len() as u32);
            }
            ByPlace { ends, stretches }
        });
        let period = by_place.as_ref().map_or(setting.places, |places| places.period(setting.places));
        Self { tap, setting, by_place, period }
    }

    /// Start addresses after which every line is fetched alike, so much further on; a power of two.
    pub fn period(&self) -> u32 {
        self.period
    }

    /// Whether every line has to be asked about anew.
    pub fn is_slow(&self) -> bool {
        self.by_place.is_none()
    }

    /// Writes the stretches of a picture line over `stretches`.
    pub fn line(&self, start: u32, index: u32, stretches: &mut Vec<DisplacedBytes>) {
        stretches.clear();
        match &self.by_place {
            Some(places) => {
                let row = index / self.setting.lines_of_row;
                let place = start.wrapping_add(row.wrapping_mul(self.setting.pitch_units));
                stretches.extend_from_slice(places.at(place & (self.setting.places - 1)));
            }
            None => cut(self.tap, &self.setting.quiet.line(0, start, index), stretches),
        }
    }

    /// Writes the stretches of a line that begins at a place and shows another number of character clocks over `stretches`.
    pub fn line_of(&self, place: u32, displayed: u32, stretches: &mut Vec<DisplacedBytes>) {
        stretches.clear();
        let line = self.setting.line_from(place);
        cut(self.tap, &Line { displayed, bytes: displayed * line.char_bytes, ..line }, stretches);
    }
}

impl ByPlace {
    fn at(&self, place: u32) -> &[DisplacedBytes] {
        let end = |place: u32| self.ends[place as usize] as usize;
        let first = place.checked_sub(1).map_or(0, end);
        &self.stretches[first..end(place)]
    }

    fn period(&self, places: u32) -> u32 {
        let mut period = places;
        while period > 1 && (0..places - period / 2).all(|place| self.at(place) == self.at(place + period / 2)) {
            period /= 2;
        }
        period
    }
}

/// The most stretches that a line is cut into, at places spread over all that one can begin at.
pub(crate) fn most_stretches<T: Tap>(tap: &T, setting: &Setting) -> usize {
    let mut stretches = Vec::new();
    let count = |place: u32| {
        stretches.clear();
        cut(tap, &setting.line_from(place), &mut stretches);
        stretches.len()
    };
    (0..setting.places).step_by((setting.places / PLACES_LOOKED_AT).max(1) as usize).map(count).max().unwrap_or(0)
}

/// Cuts a line into its stretches.
fn cut<T: Tap>(tap: &T, line: &Line, stretches: &mut Vec<DisplacedBytes>) {
    if line.bank_bits(tap.bank(line) ^ line.bank) != 0 {
        stretches.push(DisplacedBytes { from: 0, len: line.bytes, by: None });
        return;
    }
    let first = stretches.len();
    for AddressRun { from, len, plain, linear } in runs(tap, line) {
        let by = Some(linear.wrapping_sub(plain) & line.mask);
        match stretches[first..].last_mut() {
            Some(last) if last.by == by => last.len += len,
            _ => stretches.push(DisplacedBytes { from, len, by }),
        }
    }
}
