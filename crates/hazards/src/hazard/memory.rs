//! Writes to video memory: columns too early or too late, tears, a wrong pitch.

use backporch_script::{Event, MemoryTransfer};
use std::collections::BTreeSet;

use super::book::Book;
use super::pitch::PitchWatch;
use super::seen::{ScreenRead, SeenFrame, WindowMovement};
use super::setting::JudgedBoard;
use super::tear::tear;
use super::{Hazard, HazardKind};

/// Part of a frame without a write that ends a burst.
const APART: u64 = 16;

/// What the driver has done to memory so far.
#[derive(Clone, Debug, Default)]
pub(super) struct MemoryWatch {
    pub book: Book,
    pitch: PitchWatch,
}

impl MemoryWatch {
    /// Judges the bursts of writes that began in frame `judged`, and takes in what that frame did.
    pub fn judge(&mut self, setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize) -> Vec<Hazard> {
        let frame = frames[judged];
        let gap = (frame.end_dot - frame.first_dot) / APART;
        let mut hazards = Vec::new();
        for burst in bursts(frames, gap) {
            if burst[0].at.frame != frame.number {
                self.pitch.note(setting, frames, judged, going_on(frames, judged, &burst));
                continue;
            }
            self.pitch.note(setting, frames, judged, &burst);
            match target(frames, judged, &burst) {
                Some(target) => hazards.extend(judge_column(frames, judged, target, &burst)),
                None => {
                    let before = |at: usize| at.checked_sub(1).and_then(|before| frames.get(before)).copied();
                    let torn = |at: usize| tear(&self.book, before(at), frames[at], &burst);
                    hazards.extend((judged..frames.len()).filter_map(torn));
                }
            }
        }
        self.book.note(frame);
        hazards.extend(self.pitch.judge(setting, frame));
        hazards
    }

    /// What can be reported at the end.
    pub fn finish(&mut self, setting: &JudgedBoard) -> Vec<Hazard> {
        self.pitch.finish(setting)
    }
}

/// What a burst that began before the frame judged does in the newest frame, which was not known when that was judged.
fn going_on<'a>(frames: &[&SeenFrame], judged: usize, burst: &'a [MemoryTransfer]) -> &'a [MemoryTransfer] {
    let newest = frames.get(judged + 2).filter(|_| burst[0].at.frame < frames[judged].number);
    let first = newest.and_then(|newest| burst.iter().position(|write| write.at.frame >= newest.number));
    first.map_or(&[], |first| &burst[first..])
}

/// Writes with neither a wait nor a pause between them.
fn bursts(frames: &[&SeenFrame], gap: u64) -> Vec<Vec<MemoryTransfer>> {
    let mut bursts: Vec<Vec<MemoryTransfer>> = Vec::new();
    let mut apart = true;
    for event in frames.iter().flat_map(|frame| &frame.events) {
        match event {
            Event::Memory(write) if write.by.is_firmware() => {}
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
            Event::Port(_) | Event::Passed(_) | Event::Looked(_) => {}
        }
    }
    bursts
}

/// The frame for whose entering edge a burst redraws, by position; `None`
/// where less than half of it lies on such an edge.
fn target(frames: &[&SeenFrame], judged: usize, burst: &[MemoryTransfer]) -> Option<usize> {
    let share = |at: usize| -> Option<usize> {
        let (before, frame) = (frames.get(at.checked_sub(1)?)?, frames.get(at)?);
        let movement = frame.movement_from(before).filter(WindowMovement::overlaps)?;
        Some(burst.iter().filter(|write| on_edge(frame, &movement, write.address)).count())
    };
    // Where it fits several, it is meant for the next frame first; last of all for the one before.
    let order = [Some(judged + 1), Some(judged), Some(judged + 2), judged.checked_sub(1)];
    let best = order.into_iter().flatten().filter_map(|at| Some((share(at)?, at)));
    let (count, at) = best.rev().max_by_key(|(count, _)| *count)?;
    (count * 2 >= burst.len()).then_some(at)
}

fn on_edge(frame: &SeenFrame, movement: &WindowMovement, address: u32) -> bool {
    frame.reads(address).any(|read| movement.enters(&read))
}

/// Damage a burst did in one frame.
struct Damage {
    first: ScreenRead,
    /// The write that did the first of it.
    made: MemoryTransfer,
    lines: BTreeSet<u32>,
}

impl Damage {
    /// From what was read wrong, each with the write behind it.
    fn of(reads: impl Iterator<Item = (ScreenRead, MemoryTransfer)>) -> Option<Self> {
        let mut first: Option<(ScreenRead, MemoryTransfer)> = None;
        let mut lines = BTreeSet::new();
        for (read, write) in reads {
            if first.is_none_or(|(first, _)| read.dot < first.dot) {
                first = Some((read, write));
            }
            lines.insert(read.line);
        }
        first.map(|(first, made)| Self { first, made, lines })
    }
}

fn judge_column(frames: &[&SeenFrame], judged: usize, target: usize, burst: &[MemoryTransfer]) -> Vec<Hazard> {
    let changing = || burst.iter().filter(|write| write.old != write.new);
    let mut hazards = Vec::new();
    for frame in frames.get(judged..target).unwrap_or_default() {
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
                made: Some(damage.made.at.dot),
                by: damage.made.by,
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
    // As long as the picture stands, the old edge does.
    let stands = frames[target + 1..].iter().take_while(|next| next.start == frame.start);
    let end = stands.last().map_or(frame.end_dot, |last| last.end_dot);
    let late = changing().filter(|write| write.at.dot < end && !for_next(write.address)).filter_map(|write| {
        let read = frame.first_read(write.address)?;
        (read.dot <= write.at.dot).then_some((read, *write))
    });
    if let Some(damage) = Damage::of(late) {
        hazards.push(Hazard {
            kind: HazardKind::ColumnLate,
            frame: frame.number,
            line: damage.first.line,
            dot: damage.first.line_dot,
            made: Some(damage.made.at.dot),
            by: damage.made.by,
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
