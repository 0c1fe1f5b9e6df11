//! The window over memory: whether it runs over an end behind which nothing was prepared.

use backporch_raster::Line;
use backporch_script::Maker;

use super::book::Book;
use super::seen::SeenFrame;
use super::signal::signal_writes;
use super::{Hazard, HazardKind};

/// What lies behind the end is prepared if it was written this many frames before the window came there, or later.
const PREPARED: u64 = 30;

/// Whether the window runs over an end.
#[derive(Clone, Debug, Default)]
pub(super) struct WindowWatch {
    /// Frame since which it does.
    since: Option<u64>,
    reported: bool,
}

/// Where a window runs over, and what it shows beyond.
struct Over {
    scan_line: u32,
    where_to: String,
    /// Linear addresses shown beyond the end, as lines and their first byte there.
    beyond: Vec<(Line, u32)>,
}

impl WindowWatch {
    /// Judges a frame; `bytes_at_address` bytes lie behind one address of the processor, and `by` moved the window.
    pub fn judge(
        &mut self,
        frame: &SeenFrame,
        bytes_at_address: u32,
        book: &Book,
        by: (Option<u64>, Maker),
    ) -> Option<Hazard> {
        // On the way from one mode to another nothing stands where it should.
        if signal_writes(frame).next().is_some() {
            return None;
        }
        let Some(over) = over(frame, bytes_at_address) else {
            *self = Self::default();
            return None;
        };
        let since = *self.since.get_or_insert(frame.number);
        if self.reported || !is_stale(&over, book, since) {
            return None;
        }
        self.reported = true;
        let (made, by) = by;
        Some(Hazard {
            kind: HazardKind::RunsOver,
            frame: frame.number,
            line: over.scan_line,
            dot: 0,
            made,
            by,
            what: format!(
                "the window from start address {:#06X} runs over {}",
                frame.start.unwrap_or(0),
                over.where_to
            ),
            cure: "keep start address and screen inside, or let the redraw wrap at the same address as the board"
                .to_owned(),
        })
    }
}

/// Whether anything is shown beyond the end that was not prepared for it.
fn is_stale(over: &Over, book: &Book, since: u64) -> bool {
    let fresh = |address: u32| book.last_written(address).is_some_and(|frame| frame + PREPARED >= since);
    over.beyond.iter().any(|(line, from)| (*from..line.bytes).any(|at| !fresh(line.memory(line.plain_address(at)))))
}

fn over(frame: &SeenFrame, bytes_at_address: u32) -> Option<Over> {
    let mut over: Option<Over> = None;
    let mut before: Option<Line> = None;
    for (number, line) in frame.lines.iter().enumerate() {
        let Some(line) = line.fetch.filter(|line| line.bytes > 0) else { continue };
        let end = u64::from(line.linear) + u64::from(line.bytes);
        let around = u64::from(line.mask) + 1;
        // A split screen begins at 0 again, too, but not by running over.
        let wraps = |last: &Line| {
            last.bank == line.bank
                && line.linear < last.linear
                && u64::from(last.linear) + u64::from(line.pitch) >= around
        };
        // Where rows fill memory to the byte, the picture goes on at its beginning as if there were no end.
        let joins = line.pitch > 0 && around.is_multiple_of(u64::from(line.pitch));
        let segment = |address: u64| (address / u64::from(bytes_at_address)) >> 16;
        let is_over = over.is_some();
        let mut runs = |where_to: String, from: u32| {
            let over = over.get_or_insert_with(|| Over { scan_line: number as u32, where_to, beyond: Vec::new() });
            over.beyond.push((line, from));
        };
        if joins {
        } else if end > around {
            runs(end_of(around), (around - u64::from(line.linear)) as u32);
        } else if before.as_ref().is_some_and(wraps) {
            runs(end_of(around), 0);
        } else if segment(u64::from(line.linear)) != segment(end - 1) {
            let edge = (u64::from(line.linear) | (0x1_0000 * u64::from(bytes_at_address) - 1)) + 1;
            let from = (edge - u64::from(line.linear)) as u32;
            runs("a 64 KiB segment, which a routine's 16-bit offsets cannot follow".to_owned(), from);
        } else if is_over {
            runs(String::new(), 0);
        }
        before = Some(line);
    }
    over
}

fn end_of(around: u64) -> String {
    format!("the end of its {around} bytes and goes on at their beginning")
}
