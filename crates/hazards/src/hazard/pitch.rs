//! The pitch a driver writes at, found from its own writes, against the one the board shows.

use std::collections::BTreeMap;

use backporch_raster::Line;
use backporch_script::{Maker, MemoryTransfer};

use super::seen::SeenFrame;
use super::setting::JudgedBoard;
use super::{Hazard, HazardKind};

/// Steps from row to row an instruction must have made before they tell its pitch.
const STEPS: u32 = 31;
/// Of a hundred of these, this many must be alike.
const ALIKE: u32 = 80;
/// Writes so near each other lie on one row: whole characters with their attribute, pixel after pixel of a plane.
const ALONG: u32 = 4;

/// How an instruction steps from row to row.
#[derive(Clone, Debug, Default)]
struct Steps {
    /// How often each step was made, and bytes of the rows before it.
    strides: BTreeMap<i64, (u32, u32)>,
    total: u32,
    /// A step that leads to no row, until it is known whether the board will show rows so.
    suspect: Option<Suspect>,
    reported: bool,
}

/// A step from row to row at another pitch than the board showed just then.
#[derive(Clone, Copy, Debug)]
struct Suspect {
    stride: i64,
    bytes: u32,
    first: MemoryTransfer,
    /// Frame in which the instruction last wrote.
    last: u64,
    /// How its rows are shown.
    rows: Rows,
    format: u32,
}

/// The steps of each instruction so far.
#[derive(Clone, Debug, Default)]
pub(super) struct PitchWatch {
    steps: BTreeMap<Maker, Steps>,
}

/// A stretch of a row written byte after byte.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    first: MemoryTransfer,
    bytes: u32,
}

/// What is shown of the processor's window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Rows {
    /// Offsets from one row to the next.
    pitch: u32,
    /// Offset bits that do not count along rows.
    bank: u32,
}

impl Rows {
    fn of(setting: &JudgedBoard, line: &Line) -> Self {
        let per_offset = setting.bytes_at_offset(line);
        let window = setting.adapter.memory().window_bytes - 1;
        Self { pitch: line.pitch / per_offset, bank: (line.bank_bits(u32::MAX) / per_offset) & window }
    }
}

impl PitchWatch {
    /// Takes in a burst that began in frame `judged`.
    pub fn note(&mut self, setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize, burst: &[MemoryTransfer]) {
        // The mode may just have been set: what counts is how the picture comes to be shown.
        let until = burst.last().map_or(0, |last| last.at.dot);
        let after = frames[judged..].iter().find_map(|frame| frame.line_after(until));
        // A drawing that goes on for longer than is known is held against what the board shows meanwhile.
        let meanwhile = || frames[judged..].iter().rev().find_map(|frame| frame.first_line());
        let Some(line) = after.or_else(meanwhile).filter(|line| line.pitch > 0) else { return };
        let rows = Rows::of(setting, &line);
        let stretches = stretches(burst);
        let Some(first) = stretches.first().map(|stretch| stretch.first) else { return };
        let of_bank = |stretch: &&Stretch| (stretch.first.offset ^ first.offset) & rows.bank == 0;
        let stretches: Vec<&Stretch> = stretches.iter().filter(of_bank).collect();
        for pair in stretches.windows(2) {
            let (one, two) = (pair[0], pair[1]);
            if one.first.by != two.first.by || one.first.by.is_firmware() {
                continue;
            }
            let stride = i64::from(two.first.offset & !rows.bank) - i64::from(one.first.offset & !rows.bank);
            let steps = self.steps.entry(one.first.by).or_default();
            steps.add(stride, one.bytes);
            steps.suspect(one.first, rows, line.format);
        }
    }

    /// Pitches that are wrong and stay so, once for each instruction: its drawing is over, or another mode was set.
    pub fn judge(&mut self, setting: &JudgedBoard, frame: &SeenFrame) -> Vec<Hazard> {
        let line = frame.first_line().filter(|line| line.pitch > 0);
        let shown = line.map(|line| (line.format, Rows::of(setting, &line)));
        let settled = |suspect: &mut Suspect| match shown {
            Some((format, rows)) if format == suspect.format => {
                suspect.rows = rows;
                suspect.last + QUIET < frame.number || suspect.first.at.frame + LONGEST < frame.number
            }
            _ => suspect.first.at.frame < frame.number,
        };
        self.tell(setting, settled)
    }

    /// The same at the end.
    pub fn finish(&mut self, setting: &JudgedBoard) -> Vec<Hazard> {
        self.tell(setting, |_| true)
    }

    fn tell(&mut self, setting: &JudgedBoard, settled: impl Fn(&mut Suspect) -> bool) -> Vec<Hazard> {
        let mut hazards = Vec::new();
        for steps in self.steps.values_mut().filter(|steps| !steps.reported) {
            if let Some(suspect) = steps.suspect.take_if(|suspect| settled(suspect))
                && suspect.is_wrong()
            {
                steps.reported = true;
                hazards.push(suspect.hazard(setting));
            }
        }
        hazards
    }
}

/// Different steps of one instruction that are counted.
const MOST_STRIDES: usize = 64;
/// Frames without a write after which a drawing is over.
const QUIET: u64 = 3;
/// Frames after which an instruction that goes on is judged all the same.
const LONGEST: u64 = 120;

impl Steps {
    fn add(&mut self, stride: i64, bytes: u32) {
        let (times, of) = self.strides.entry(stride).or_default();
        *times += 1;
        *of = bytes;
        self.total += 1;
        if self.strides.len() > MOST_STRIDES {
            // Whoever steps so differently has no pitch.
            self.strides.clear();
            (self.total, self.suspect) = (0, None);
        }
    }

    /// Notes a step that is nearly always made and leads to no row below or above.
    fn suspect(&mut self, first: MemoryTransfer, rows: Rows, format: u32) {
        let last = first.at.frame;
        if let Some(suspect) = &mut self.suspect {
            suspect.last = last;
        }
        let Some((stride, (times, bytes))) = self.strides.iter().max_by_key(|(_, (times, _))| *times) else { return };
        let steady = self.total >= STEPS && times * 100 >= self.total * ALIKE;
        let suspect = Suspect { stride: *stride, bytes: *bytes, first, last, rows, format };
        if !self.reported && steady && suspect.is_wrong() {
            self.suspect.get_or_insert(suspect);
        }
    }
}

impl Suspect {
    fn is_wrong(&self) -> bool {
        let pitch = i64::from(self.rows.pitch);
        let off = self.stride.rem_euclid(pitch).min((-self.stride).rem_euclid(pitch));
        // Stretches that touch, end to end or next to each other, are a slanting line as it should be.
        let touches = off <= 1 || off.abs_diff(i64::from(self.bytes)) <= 1;
        !touches && self.stride.abs() > i64::from(ALONG)
    }

    fn hazard(&self, setting: &JudgedBoard) -> Hazard {
        let format = setting.adapter.format(self.format as usize);
        let at = self.first.at;
        Hazard {
            kind: HazardKind::Pitch,
            frame: at.frame,
            line: at.line,
            dot: at.line_dot,
            made: Some(at.dot),
            by: self.first.by,
            what: format!(
                "rows are written {} bytes apart, the {} format shows them {} apart: they slant",
                self.stride.abs(),
                format.name,
                self.rows.pitch
            ),
            cure: "step by the pitch that follows from the registers, or program the registers for the picture's pitch"
                .to_owned(),
        }
    }
}

fn stretches(burst: &[MemoryTransfer]) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::new();
    let mut last: Option<MemoryTransfer> = None;
    for write in burst {
        // The planes that one access reaches are written at one offset.
        if last.is_some_and(|last| (last.at.dot, last.offset) == (write.at.dot, write.offset)) {
            continue;
        }
        // Pixels of one byte are written one after the other there.
        let along = last.is_some_and(|last| (0..=ALONG).contains(&write.offset.wrapping_sub(last.offset)));
        match stretches.last_mut().filter(|_| along) {
            Some(stretch) => stretch.bytes = write.offset + 1 - stretch.first.offset,
            None => stretches.push(Stretch { first: *write, bytes: 1 }),
        }
        last = Some(*write);
    }
    stretches
}
