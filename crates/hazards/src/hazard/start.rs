//! The start address: torn, late, or near its take-over.

use super::seen::Seen;
use super::setting::Setting;
use super::{Hazard, HazardKind};
use backporch_script::{At, Event, Waited};

/// A byte of the start address that changed it.
#[derive(Clone, Copy, Debug)]
struct StartWrite {
    at: At,
    cell: usize,
    before: u32,
    after: u32,
}

/// Part of a frame within which writes of different bytes belong together.
const TOGETHER: u64 = 8;
/// Without a processor or a wait to tell, this many microseconds count as near.
const NEAR_MICROSECONDS: f64 = 20.0;
/// One part in so many by which machines of a class differ in speed.
const SPEED_SPREAD: u64 = 10;

/// Judges the changes of the start address that ended in frame `judged`.
pub(super) fn judge(setting: &Setting, frames: &[&Seen], judged: usize) -> Vec<Hazard> {
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
fn excursion(setting: &Setting, frames: &[&Seen], judged: usize, writes: &[StartWrite]) -> Option<Hazard> {
    let (before, next) = (frames.get(judged.checked_sub(1)?)?, frames.get(judged + 1)?);
    let shown = |frame: &Seen| frame.first_line().map(|line| line.start);
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

fn start_write(event: &Event) -> Option<StartWrite> {
    match event {
        Event::Port(access) => {
            let ((before, after), cell) = (access.start?, access.cell?);
            Some(StartWrite { at: access.at, cell: cell.position(), before, after })
        }
        _ => None,
    }
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

fn judge_group(setting: &Setting, frames: &[&Seen], judged: usize, group: &[StartWrite]) -> Vec<Hazard> {
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
    let late = missed(frames, judged, last, wait.as_ref()).map(|(holder, missed)| {
        let after = setting.duration(last.at.dot - holder.latch_dot);
        let (line, dot) = holder.latch_place;
        Hazard {
            kind: HazardKind::LateStart,
            frame: missed,
            line: last.at.line,
            dot: last.at.line_dot,
            made: Some(last.at.dot),
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
    let near = near(setting, frames, judged, last, wait.as_ref());
    late.into_iter().chain(near).collect()
}

fn torn(
    setting: &Setting,
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
        what: format!(
            "the start address was taken over between its bytes: frame {shows} shows {taken:#06X}, neither {old:#06X} \
             nor {new:#06X}; the bytes were written {before} before and {after} after"
        ),
        cure: "write both bytes well before the take-over, or move the start address so that only one byte changes"
            .to_owned(),
    }
}

/// The last wait that ended before a dot.
fn last_wait(frames: &[&Seen], dot: u64) -> Option<Waited> {
    let events = frames.iter().flat_map(|frame| &frame.events);
    events.rev().find_map(|event| match event {
        Event::Waited(wait) if wait.until.dot <= dot => Some(*wait),
        _ => None,
    })
}

/// The frame that holds the take-over a write came too late for, and the number of the one it was meant for.
fn missed<'a>(frames: &[&'a Seen], judged: usize, last: &StartWrite, wait: Option<&Waited>) -> Option<(&'a Seen, u64)> {
    let frame = frames[judged];
    if last.at.dot >= frame.latch_dot {
        return Some((frame, frame.number + 1));
    }
    // The routine waited for the blanking before this frame, and came after its start.
    let before = frames[..judged].last()?;
    let waited = wait?.until.dot;
    let for_this = (before.active_end..before.latch_dot).contains(&waited) && last.at.dot >= before.latch_dot;
    for_this.then_some((*before, frame.number))
}

fn near(
    setting: &Setting,
    frames: &[&Seen],
    judged: usize,
    last: &StartWrite,
    wait: Option<&Waited>,
) -> Option<Hazard> {
    let dot = last.at.dot;
    let latches = frames[..=judged].iter().map(|frame| (frame.latch_dot, frame.number + 1));
    let (latch, shows) = latches.min_by_key(|(latch, _)| latch.abs_diff(dot))?;
    let distance = latch.abs_diff(dot);
    let waited = wait
        .map(|wait| wait.until.dot)
        .filter(|waited| dot - waited < frames[judged].end_dot - frames[judged].first_dot);
    // A wait that ends after the take-over keeps the write after it at any speed.
    if waited.is_some_and(|waited| waited >= latch && dot >= latch) {
        return None;
    }
    let near = match (waited, setting.poll_dots()) {
        (Some(waited), Some(round)) => distance <= round + (dot - waited) / SPEED_SPREAD,
        _ => setting.microseconds(distance) <= NEAR_MICROSECONDS,
    };
    let side = if dot < latch { "before" } else { "after" };
    near.then(|| Hazard {
        kind: HazardKind::NearLatch,
        frame: shows,
        line: last.at.line,
        dot: last.at.line_dot,
        made: Some(last.at.dot),
        what: format!(
            "start address {:#06X} was written {} {side} it is taken over for frame {shows}: a slower or faster \
             machine, or another round of the polling loop, changes what is shown",
            last.after,
            setting.duration(distance)
        ),
        cure: "move the write away from the take-over, into the middle of the active area".to_owned(),
    })
}
