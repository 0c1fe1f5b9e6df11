//! Tears: what is drawn anew again and again, drawn across the place the beam is reading.
//!
//! A picture drawn once in full view is no tear; a place that is drawn anew for the third time is animated, and so is one
//! that is drawn over soon by an instruction that does so again and again: something that moves.

use backporch_script::MemoryTransfer;

use super::book::Book;
use super::seen::{ScreenRead, SeenFrame};
use super::{Hazard, HazardKind};

/// Earlier frames in which a place was changed that is taken for animated.
const ROUNDS: u8 = 2;

/// Frames in which an instruction has drawn over what was short-lived before that is taken for moving something.
const MOVES: u32 = 4;

/// Writes so near each other in the processor's window belong to one thing drawn.
const NEAR_OFFSET: u32 = 32;
/// So do those shown so near each other: scan lines, and bytes along the line.
const NEAR_LINES: u32 = 16;
const NEAR_BYTES: u32 = 64;

/// A write, and where it is first read in the frame.
#[derive(Clone, Copy, Debug)]
struct Drawn {
    write: MemoryTransfer,
    read: ScreenRead,
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
pub(super) fn tear(
    book: &Book,
    before: Option<&SeenFrame>,
    frame: &SeenFrame,
    burst: &[MemoryTransfer],
) -> Option<Hazard> {
    let from = before.map_or(frame.first_dot, |before| before.active_end);
    let here = burst.iter().filter(|write| write.at.dot >= from && write.at.dot < frame.end_dot);
    let changing = here.filter(|write| write.old != write.new && !write.by.is_firmware());
    let moves = |write: &MemoryTransfer| {
        write.by.place().is_some()
            && book.redraws(write.by) >= MOVES
            && book.is_short_lived(write.address, write.at.frame)
    };
    let animated = changing.filter(|write| book.rounds(write.address) >= ROUNDS || moves(write));
    let drawn = animated.filter_map(|write| Some(Drawn { write: *write, read: frame.first_read(write.address)? }));
    let mut things: Vec<Thing> = Vec::new();
    for next in drawn {
        match things.last_mut().filter(|thing| thing.last.is_near(&next)) {
            Some(thing) if thing.last.is_ahead() != next.is_ahead() => return Some(hazard(frame, &next)),
            Some(thing) => thing.take(next),
            None => things.push(Thing::of(next)),
        }
        things.drain(..things.len().saturating_sub(MOST_THINGS));
    }
    // Drawn in several goes, such as plane by plane.
    let crossed = |at: usize| things[..at].iter().any(|thing| thing.is_crossed_by(&things[at]));
    (1..things.len()).find(|at| crossed(*at)).map(|at| hazard(frame, &things[at].last))
}

/// Things of one burst that are held against each other.
const MOST_THINGS: usize = 64;

/// Something drawn in one go, all of it on the same side of the beam.
#[derive(Clone, Debug)]
struct Thing {
    lines: (u32, u32),
    bytes: (u32, u32),
    last: Drawn,
}

impl Thing {
    fn of(first: Drawn) -> Self {
        let ScreenRead { line, at, .. } = first.read;
        Self { lines: (line, line), bytes: (at, at), last: first }
    }

    fn take(&mut self, next: Drawn) {
        let ScreenRead { line, at, .. } = next.read;
        self.lines = (self.lines.0.min(line), self.lines.1.max(line));
        self.bytes = (self.bytes.0.min(at), self.bytes.1.max(at));
        self.last = next;
    }

    /// Whether it stands in the same place as another, on the other side of the beam.
    fn is_crossed_by(&self, other: &Self) -> bool {
        let meet = |one: (u32, u32), two: (u32, u32)| one.0 <= two.1 && two.0 <= one.1;
        self.last.is_ahead() != other.last.is_ahead() && meet(self.lines, other.lines) && meet(self.bytes, other.bytes)
    }
}

fn hazard(frame: &SeenFrame, drawn: &Drawn) -> Hazard {
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
