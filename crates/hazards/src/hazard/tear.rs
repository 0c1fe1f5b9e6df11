//! Tears: what is drawn anew again and again, drawn across the place the beam is reading.
//!
//! A picture drawn once in full view is no tear; a place that is drawn anew for the third time is animated.

use backporch_script::MemoryAccess;

use super::book::Book;
use super::seen::{Read, Seen};
use super::{Hazard, HazardKind};

/// Earlier frames in which a place was changed that is taken for animated.
const ROUNDS: u8 = 2;

/// Writes so near each other in the processor's window belong to one thing drawn.
const NEAR_OFFSET: u32 = 32;
/// So do those shown so near each other: scan lines, and bytes along the line.
const NEAR_LINES: u32 = 16;
const NEAR_BYTES: u32 = 64;

/// A write, and where it is first read in the frame.
#[derive(Clone, Copy, Debug)]
struct Drawn {
    write: MemoryAccess,
    read: Read,
}

impl Drawn {
    fn is_ahead(&self) -> bool {
        self.read.dot > self.write.at.dot
    }

    fn is_near(&self, other: &Self) -> bool {
        let (one, two) = (&self.read, &other.read);
        self.write.offset.abs_diff(other.write.offset) <= NEAR_OFFSET
            || one.line.abs_diff(two.line) <= NEAR_LINES && one.at.abs_diff(two.at) <= NEAR_BYTES
    }
}

/// A burst of which a thing is crossed by the beam in this frame.
///
/// What was drawn in the blanking before the frame counts as ahead of the beam.
pub(super) fn tear(book: &Book, before: Option<&Seen>, frame: &Seen, burst: &[MemoryAccess]) -> Option<Hazard> {
    let from = before.map_or(frame.first_dot, |before| before.active_end);
    let here = burst.iter().filter(|write| write.at.dot >= from && write.at.dot < frame.end_dot);
    let changing = here.filter(|write| write.old != write.new && !write.by.is_firmware());
    let animated = changing.filter(|write| book.rounds(write.address) >= ROUNDS);
    let drawn = animated.filter_map(|write| Some(Drawn { write: *write, read: frame.first_read(write.address)? }));
    let mut last: Option<Drawn> = None;
    let mut side = None;
    for next in drawn {
        if last.is_some_and(|last| !last.is_near(&next)) {
            side = None;
        }
        if side.is_some_and(|side| side != next.is_ahead()) {
            return Some(hazard(frame, &next));
        }
        side = Some(next.is_ahead());
        last = Some(next);
    }
    None
}

fn hazard(frame: &Seen, drawn: &Drawn) -> Hazard {
    let Drawn { write, read } = drawn;
    let which = if drawn.is_ahead() { "from" } else { "up to" };
    Hazard {
        kind: HazardKind::Tear,
        frame: frame.number,
        line: read.line,
        dot: read.line_dot,
        made: Some(write.at.dot),
        by: write.by,
        what: format!(
            "memory was written across the place the beam was reading: {which} scan line {} on this frame shows the \
             new picture, elsewhere the old one",
            read.line
        ),
        cure: "write behind the beam or in blanking, or draw into memory that is not shown and move the start address"
            .to_owned(),
    }
}
