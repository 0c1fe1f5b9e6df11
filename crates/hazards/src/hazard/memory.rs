//! Writes to video memory: columns too early or too late, tears, a wrong pitch.

use backporch_script::{Event, MemoryAccess};
use std::collections::BTreeSet;

use super::seen::{Movement, Read, Seen};
use super::setting::Setting;
use super::{Hazard, HazardKind};

/// Part of a frame without a write that ends a burst.
const APART: u64 = 16;
/// Rows a burst must step down before its stride is taken for a pitch.
const ROWS_FOR_PITCH: usize = 32;

/// Judges the bursts of writes that began in frame `judged`.
pub(super) fn judge(setting: &Setting, frames: &[&Seen], judged: usize) -> Vec<Hazard> {
    let frame = frames[judged];
    let gap = (frame.end_dot - frame.first_dot) / APART;
    let mut hazards = Vec::new();
    for burst in bursts(frames, gap) {
        if burst[0].at.frame != frame.number {
            continue;
        }
        hazards.extend(wrong_pitch(setting, frame, &burst));
        match target(frames, judged, &burst) {
            Some(target) => hazards.extend(judge_column(frames, judged, target, &burst)),
            None => hazards.extend(frames[judged..].iter().filter_map(|frame| tear(frame, &burst))),
        }
    }
    hazards
}

/// Writes with neither a wait nor a pause between them.
fn bursts(frames: &[&Seen], gap: u64) -> Vec<Vec<MemoryAccess>> {
    let mut bursts: Vec<Vec<MemoryAccess>> = Vec::new();
    let mut apart = true;
    for event in frames.iter().flat_map(|frame| &frame.events) {
        match event {
            Event::Memory(write) => {
                let last = bursts.last().and_then(|burst| burst.last());
                apart |= last.is_none_or(|last| write.at.dot - last.at.dot > gap);
                match bursts.last_mut().filter(|_| !apart) {
                    Some(burst) => burst.push(*write),
                    None => bursts.push(vec![*write]),
                }
                apart = false;
            }
            Event::Waited(_) => apart = true,
            Event::Port(_) | Event::Passed(_) => {}
        }
    }
    bursts
}

/// The frame for whose entering edge a burst redraws, by position; `None`
/// where less than half of it lies on such an edge.
fn target(frames: &[&Seen], judged: usize, burst: &[MemoryAccess]) -> Option<usize> {
    let share = |at: usize| -> Option<usize> {
        let (before, frame) = (frames.get(at.checked_sub(1)?)?, frames.get(at)?);
        let movement = frame.movement_from(before)?;
        Some(burst.iter().filter(|write| on_edge(frame, &movement, write.address)).count())
    };
    // Where it fits several, it is meant for the next frame first.
    let order = [judged + 1, judged, judged + 2];
    let best = order.into_iter().filter_map(|at| Some((share(at)?, at)));
    let (count, at) = best.rev().max_by_key(|(count, _)| *count)?;
    (count * 2 >= burst.len()).then_some(at)
}

fn on_edge(frame: &Seen, movement: &Movement, address: u32) -> bool {
    frame.reads(address).any(|read| movement.enters(&read))
}

/// Damage a burst did in one frame.
struct Damage {
    first: Read,
    /// Dot of the write that did the first of it.
    made: u64,
    lines: BTreeSet<u32>,
}

impl Damage {
    /// From what was read wrong, each with the write behind it.
    fn of(reads: impl Iterator<Item = (Read, MemoryAccess)>) -> Option<Self> {
        let mut first: Option<(Read, u64)> = None;
        let mut lines = BTreeSet::new();
        for (read, write) in reads {
            if first.is_none_or(|(first, _)| read.dot < first.dot) {
                first = Some((read, write.at.dot));
            }
            lines.insert(read.line);
        }
        first.map(|(first, made)| Self { first, made, lines })
    }
}

fn judge_column(frames: &[&Seen], judged: usize, target: usize, burst: &[MemoryAccess]) -> Vec<Hazard> {
    let changing = || burst.iter().filter(|write| write.old != write.new);
    let mut hazards = Vec::new();
    for frame in &frames[judged..target] {
        let early = changing().filter_map(|write| {
            let read = frame.last_read(write.address).filter(|read| read.dot > write.at.dot)?;
            Some((read, *write))
        });
        if let Some(damage) = Damage::of(early) {
            let (shown, meant) = (frame.number, frames[target].number);
            hazards.push(Hazard {
                kind: HazardKind::ColumnEarly,
                frame: shown,
                line: damage.first.line,
                dot: damage.first.line_dot,
                made: Some(damage.made),
                what: format!(
                    "the column that enters with frame {meant} was redrawn while frame {shown} still showed it at its \
                     old place: a line down the edge on {} scan lines",
                    damage.lines.len()
                ),
                cure: "redraw it after the last frame that shows it at the old place: wait for retrace first"
                    .to_owned(),
            });
        }
    }
    let frame = frames[target];
    let next = frames.get(target + 1).and_then(|next| Some((*next, next.movement_from(frame)?)));
    let for_next = |address: u32| next.as_ref().is_some_and(|(next, movement)| on_edge(next, movement, address));
    let late =
        changing().filter(|write| write.at.dot < frame.end_dot && !for_next(write.address)).filter_map(|write| {
            let read = frame.first_read(write.address)?;
            (read.dot <= write.at.dot).then_some((read, *write))
        });
    if let Some(damage) = Damage::of(late) {
        hazards.push(Hazard {
            kind: HazardKind::ColumnLate,
            frame: frame.number,
            line: damage.first.line,
            dot: damage.first.line_dot,
            made: Some(damage.made),
            what: format!(
                "the column that enters with frame {} was redrawn after the beam had read it: {} scan lines show the \
                 old edge",
                frame.number,
                damage.lines.len()
            ),
            cure: "begin the redraw earlier, at the start of retrace, from the top line down".to_owned(),
        });
    }
    hazards
}

/// A burst that crosses the beam in this frame.
fn tear(frame: &Seen, burst: &[MemoryAccess]) -> Option<Hazard> {
    let here = burst.iter().filter(|write| write.at.frame == frame.number && write.old != write.new);
    let mut sides = here.filter_map(|write| {
        let read = frame.first_read(write.address)?;
        Some((read, read.dot > write.at.dot, write.at.dot))
    });
    let (_, first_side, _) = sides.next()?;
    let (read, ahead, made) = sides.find(|(_, side, _)| *side != first_side)?;
    let which = if ahead { "from" } else { "up to" };
    Some(Hazard {
        kind: HazardKind::Tear,
        frame: frame.number,
        line: read.line,
        dot: read.line_dot,
        made: Some(made),
        what: format!(
            "memory was written across the place the beam was reading: {which} scan line {} on this frame shows the \
             new picture, elsewhere the old one",
            read.line
        ),
        cure: "write behind the beam or in blanking, or draw into memory that is not shown and move the start address"
            .to_owned(),
    })
}

/// A burst that steps down the rows at another pitch than the board shows them.
fn wrong_pitch(setting: &Setting, frame: &Seen, burst: &[MemoryAccess]) -> Option<Hazard> {
    let line = frame.first_line().filter(|line| line.pitch > 0)?;
    let mut starts = vec![burst[0]];
    let next = 1..=setting.bytes_at_address();
    let steps = burst.windows(2).filter(|pair| !next.contains(&pair[1].address.wrapping_sub(pair[0].address)));
    starts.extend(steps.map(|pair| pair[1]));
    // Rows of one bank only; their linear addresses differ by the pitch.
    let bank = starts[0].address & !line.mask;
    starts.retain(|write| write.address & !line.mask == bank);
    if starts.len() < ROWS_FOR_PITCH.min(frame.rows.max(2) as usize / 2) {
        return None;
    }
    let stride =
        |pair: &[MemoryAccess]| (pair[1].address & line.mask).wrapping_sub(pair[0].address & line.mask) & line.mask;
    let first = stride(&starts[..2]);
    let steady = starts.windows(2).filter(|pair| stride(pair) == first).count();
    if first == 0 || first % line.pitch == 0 || steady * 10 < (starts.len() - 1) * 9 {
        return None;
    }
    let format = setting.adapter.format(line.format as usize);
    Some(Hazard {
        kind: HazardKind::Pitch,
        frame: frame.number,
        line: starts[0].at.line,
        dot: starts[0].at.line_dot,
        made: Some(starts[0].at.dot),
        what: format!(
            "rows are written {first} bytes apart, the {} format shows them {} apart: the column slants",
            format.name, line.pitch
        ),
        cure: "step by the pitch that follows from the registers, or program the registers for the picture's pitch"
            .to_owned(),
    })
}
