//! The start address: torn, late, or near its take-over.

use super::seen::SeenFrame;
use super::setting::JudgedBoard;
use super::{Hazard, HazardKind};
use backporch_script::{At, Event, Maker, PortAccess, Waited};

/// A byte of the start address that changed it.
#[derive(Clone, Copy, Debug)]
struct StartWrite {
    at: At,
    by: Maker,
    cell: usize,
    before: u32,
    after: u32,
}

/// Part of a frame within which writes of different bytes belong together.
const TOGETHER: u64 = 8;
/// Without a processor or a wait to tell, this many microseconds count as near.
const NEAR_MICROSECONDS: f64 = 20.0;
/// One part in this many by which machines of a class differ in speed.
const SPEED_SPREAD: u64 = 10;

/// Judges the changes of the start address that ended in frame `judged`.
pub(super) fn judge(setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize) -> Vec<Hazard> {
    let near = judged + 2;
    let events = frames.iter().take(near).flat_map(|frame| &frame.events);
    let writes: Vec<StartWrite> = events.filter_map(start_write).collect();
    let frame = frames[judged];
    let gap = (frame.end_dot - frame.first_dot) / TOGETHER;
    let mut hazards = Vec::new();
    for group in grouped(&writes, gap) {
        let group = changing(group);
        if group.last().is_some_and(|last| last.at.frame == frame.number) {
            hazards.extend(judge_group(setting, frames, judged, group));
        }
    }
    hazards.extend(excursion(setting, frames, judged, &writes));
    hazards
}

/// A frame whose start address lies far from what was set before and from what is set next, with bytes of both: the
/// take-over fell between two writes, however far apart they were.
fn excursion(setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize, writes: &[StartWrite]) -> Option<Hazard> {
    let (before, next) = (frames.get(judged.checked_sub(1)?)?, frames.get(judged + 1)?);
    let shown = |frame: &SeenFrame| frame.first_line().map(|line| line.start);
    let latch = before.latch_dot;
    let mut changes = writes.iter().filter(|write| write.before != write.after);
    let first = changes.clone().rfind(|write| write.at.dot < latch)?;
    let last = changes.find(|write| write.at.dot >= latch)?;
    let (old, taken, new) = (first.before, first.after, last.after);
    let are_shown = shown(frames[judged]) == Some(taken) && shown(next) == Some(new);
    let whole = old.abs_diff(new);
    let far = whole > 0 && taken.abs_diff(old) > whole && taken.abs_diff(new) > whole;
    (first.cell != last.cell && are_shown && far)
        .then(|| torn(setting, first, last, latch, frames[judged].number, (old, taken, new)))
}

/// A write of the start address; firmware's own is no mistake of the program.
fn start_write(event: &Event) -> Option<StartWrite> {
    match event {
        Event::Port(access) if !access.by.is_firmware() => {
            let ((before, after), cell) = (access.start?, access.cell?);
            Some(StartWrite { at: access.at, by: access.by, cell: cell.position(), before, after })
        }
        _ => None,
    }
}

/// The last access of a frame that changed the start address.
pub(super) fn last_change(frame: &SeenFrame) -> Option<&PortAccess> {
    frame.events.iter().rev().find_map(|event| match event {
        Event::Port(access) if access.start.is_some_and(|(before, after)| before != after) => Some(access),
        _ => None,
    })
}

/// Writes of different bytes in a row, each soon after the last.
fn grouped(writes: &[StartWrite], gap: u64) -> Vec<&[StartWrite]> {
    let mut groups = Vec::new();
    let mut from = 0;
    for at in 1..=writes.len() {
        let ends = match writes.get(at) {
            None => true,
            Some(next) => {
                let repeated = writes[from..at].iter().any(|write| write.cell == next.cell);
                repeated || next.at.dot - writes[at - 1].at.dot > gap
            }
        };
        if ends {
            groups.push(&writes[from..at]);
            from = at;
        }
    }
    groups
}

/// The group without the writes at its ends that changed nothing.
fn changing(group: &[StartWrite]) -> &[StartWrite] {
    let changes = |write: &StartWrite| write.before != write.after;
    match (group.iter().position(changes), group.iter().rposition(changes)) {
        (Some(first), Some(last)) => &group[first..=last],
        _ => &[],
    }
}

fn judge_group(setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize, group: &[StartWrite]) -> Vec<Hazard> {
    let (Some(first), Some(last)) = (group.first(), group.last()) else { return Vec::new() };
    let (old, new) = (first.before, last.after);
    if old == new {
        return Vec::new();
    }
    // The take-over a frame holds decides what the next frame shows.
    let latches = frames[..=judged].iter().map(|frame| (frame.latch_dot, frame.number + 1));
    for (latch, shows) in latches {
        let taken = group.iter().take_while(|write| write.at.dot < latch).last().map_or(old, |write| write.after);
        if taken != old && taken != new {
            return vec![torn(setting, first, last, latch, shows, (old, taken, new))];
        }
    }
    let wait = last_wait(frames, last.at.dot);
    let late = missed(frames, judged, last, wait.as_ref());
    let shows = |(_, at): &(&SeenFrame, usize)| {
        let request = Request { old, new, at: last.at.dot, waited: wait.map(|wait| wait.until.dot) };
        request.spoils(frames, *at) || request.is_passed_over(frames, *at)
    };
    let late = late.filter(shows).map(|(holder, missed)| {
        let missed = frames[missed].number;
        let after = setting.duration(last.at.dot - holder.latch_dot);
        let (line, dot) = holder.latch_place;
        Hazard {
            kind: HazardKind::LateStart,
            frame: missed,
            line: last.at.line,
            dot: last.at.line_dot,
            made: Some(last.at.dot),
            by: last.by,
            what: format!(
                "start address {new:#06X} was written {after} after frame {missed} had taken over {old:#06X}: \
                 it shows from frame {} on",
                missed + 1
            ),
            cure: format!(
                "write the start address before line {line}, dot {dot} of the frame before, where boards of this class \
                 take it over under these registers; its active area is safe"
            ),
        }
    });
    let near = near(setting, frames, judged, group, wait.as_ref());
    late.into_iter().chain(near).collect()
}

fn torn(
    setting: &JudgedBoard,
    first: &StartWrite,
    last: &StartWrite,
    latch: u64,
    shows: u64,
    (old, taken, new): (u32, u32, u32),
) -> Hazard {
    let (before, after) = (setting.duration(latch - first.at.dot), setting.duration(last.at.dot - latch));
    Hazard {
        kind: HazardKind::TornStart,
        frame: shows,
        line: last.at.line,
        dot: last.at.line_dot,
        made: Some(last.at.dot),
        by: last.by,
        what: format!(
            "the start address was taken over between its bytes: frame {shows} shows {taken:#06X}, neither {old:#06X} \
             nor {new:#06X}; the bytes were written {before} before and {after} after"
        ),
        cure: "write both bytes well before the take-over, or move the start address so that only one byte changes"
            .to_owned(),
    }
}

/// The last wait that ended before a dot.
fn last_wait(frames: &[&SeenFrame], dot: u64) -> Option<Waited> {
    let events = frames.iter().flat_map(|frame| &frame.events);
    events.rev().find_map(|event| match event {
        Event::Waited(wait) if wait.until.dot <= dot => Some(*wait),
        _ => None,
    })
}

/// A change of the start address that came too late for a frame.
///
/// By itself that is no mistake: the frame after shows it. It is one where the frame it came too late for shows what
/// was meant to stand elsewhere by then, or where a routine that keeps time with the beam never shows it at all.
#[derive(Clone, Copy, Debug)]
struct Request {
    old: u32,
    new: u32,
    /// Dot of its last write.
    at: u64,
    /// Dot at which the wait before it ended.
    waited: Option<u64>,
}

impl Request {
    /// Whether the frame it missed shows bytes, written meanwhile, that the new start address would have shown elsewhere
    /// or not at all.
    fn spoils(&self, frames: &[&SeenFrame], missed: usize) -> bool {
        let frame = frames[missed];
        let Some(movement) = frame.movement(self.old, self.new) else { return false };
        let before = missed.checked_sub(1).map(|before| frames[before]);
        let blanking = before.map_or(frame.first_dot, |before| before.active_end);
        let from = self.waited.map_or(blanking, |waited| waited.min(blanking));
        let from = from.max(before.map_or(frame.first_dot, |before| before.first_dot));
        let split = frame.below_split().map_or(u32::MAX, |line| line.scan_line);
        let events = before.into_iter().chain([frame]).flat_map(|frame| &frame.events);
        events
            .filter_map(|event| match event {
                Event::Memory(write) if !write.by.is_firmware() && write.old != write.new => Some(write),
                _ => None,
            })
            .filter(|write| write.at.dot >= from)
            .any(|write| {
                let later = |read: &super::seen::ScreenRead| read.dot > write.at.dot && read.line < split;
                frame.reads(write.address).filter(later).any(|read| movement.leaves(&read))
            })
    }

    /// Whether a routine that waited for the beam had it replaced by its next one before it was ever shown.
    fn is_passed_over(&self, frames: &[&SeenFrame], missed: usize) -> bool {
        let latch = frames[missed].latch_dot;
        let waited = self.waited.is_some_and(|waited| self.at - waited < frames[missed].length());
        let mut later = frames[..=missed].iter().flat_map(|frame| &frame.events).filter_map(start_write);
        waited && later.any(|write| (self.at + 1..latch).contains(&write.at.dot) && write.after != self.new)
    }
}

/// The frame that holds the take-over a write came too late for, and the place of the one it was meant for.
fn missed<'a>(
    frames: &[&'a SeenFrame],
    judged: usize,
    last: &StartWrite,
    wait: Option<&Waited>,
) -> Option<(&'a SeenFrame, usize)> {
    let frame = frames[judged];
    if last.at.dot >= frame.latch_dot {
        return (judged + 1 < frames.len()).then_some((frame, judged + 1));
    }
    // The routine waited for the blanking before this frame, and came after its start.
    let before = frames[..judged].last()?;
    let waited = wait?.until.dot;
    let for_this = (before.active_end..before.latch_dot).contains(&waited) && last.at.dot >= before.latch_dot;
    for_this.then_some((*before, judged))
}

fn near(
    setting: &JudgedBoard,
    frames: &[&SeenFrame],
    judged: usize,
    group: &[StartWrite],
    wait: Option<&Waited>,
) -> Option<Hazard> {
    let last = group.last()?;
    let dot = last.at.dot;
    let latches = frames[..=judged].iter().map(|frame| (frame.latch_dot, frame.number + 1));
    let (latch, shows) = latches.min_by_key(|(latch, _)| latch.abs_diff(dot))?;
    let distance = latch.abs_diff(dot);
    let wait = wait.filter(|wait| dot - wait.until.dot < frames[judged].length());
    // A wait that ends after the take-over keeps the write after it at any speed.
    if wait.is_some_and(|wait| wait.until.dot >= latch && dot >= latch) {
        return None;
    }
    let near = match (wait, wait.and_then(|wait| wait.round).or_else(|| setting.poll_dots())) {
        (Some(wait), Some(round)) => distance <= round + (dot - wait.until.dot) / SPEED_SPREAD,
        // Nothing keeps it from the take-over; with one byte changed nothing can go wrong there.
        (None, _) if group.iter().filter(|write| write.before != write.after).count() < 2 => false,
        _ => setting.microseconds(distance) <= NEAR_MICROSECONDS,
    };
    let side = if dot < latch { "before" } else { "after" };
    near.then(|| Hazard {
        kind: HazardKind::NearLatch,
        frame: shows,
        line: last.at.line,
        dot: last.at.line_dot,
        made: Some(last.at.dot),
        by: last.by,
        what: format!(
            "start address {:#06X} was written {} {side} it is taken over for frame {shows}: a slower or faster \
             machine, or another round of the polling loop, changes what is shown",
            last.after,
            setting.duration(distance)
        ),
        cure: "move the write away from the take-over, into the middle of the active area".to_owned(),
    })
}
