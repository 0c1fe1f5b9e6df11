//! Proving a table by rendering: every distinct step on the suspected board, held against what was meant.
//!
//! The picture laid for the proof is noise, so that a byte from the wrong
//! place is seen; the rest of memory is other noise. What the table says is right has
//! to be right to the pixel, and no more may be wrong than it says.

use backporch_bench::Bench;
use backporch_raster::{Frame, Plain, QuietFrame, Tap};
use rayon::prelude::*;

use super::frame_schedule::Slack;
use super::laid_copies::LaidCopies;
use super::timed_register::Moments;
use super::{StepTable, TableStep};

/// Steps that one board shows after another.
const STRETCH: usize = 64;

/// Whether every step shows what the table says, under a tap.
pub(crate) fn holds_rendered<T: Tap + Clone + Send + Sync>(bench: &Bench, table: &StepTable, tap: &T) -> bool {
    let shown: Vec<&TableStep> = table.steps.iter().filter(|step| !step.skipped).collect();
    let proof = Proof::new(bench, table);
    shown.par_chunks(STRETCH).all(|steps| steps.iter().all(|step| proof.holds(tap, step)))
}

/// What all steps of a table are held against.
struct Proof<'a> {
    laid: LaidCopies<'a>,
    /// The picture as pixel values.
    meant: Vec<Vec<u8>>,
}

impl<'a> Proof<'a> {
    fn new(bench: &'a Bench, table: &'a StepTable) -> Self {
        let bytes = QuietFrame::new(bench.adapter(), &table.registers, &Plain).line(0, 0, 0).bytes;
        let line = |index: u32| (0..bytes).map(|at| noise(index * bytes + at, 0x9E37_79B1)).collect();
        let lines = (0..table.height).map(line).collect();
        let around = noise_memory(bench.adapter().memory().bytes);
        let laid = LaidCopies::new(bench, table, lines, around);
        let first = table.steps.first().map_or(0, |step| step.position);
        // What the plain board shows of the picture is the same wherever it lies.
        let meant = laid.meant(first).map(|frame| values(&frame, table.height).map(Iterator::collect).collect());
        Self { laid, meant: meant.unwrap_or_default() }
    }

    /// With writes beside the beam, also where all of them come as early or as late as is said to do no harm.
    fn holds<T: Tap + Clone>(&self, tap: &T, step: &TableStep) -> bool {
        let writes = self.laid.table.writes_of(step);
        let blanked = writes.map_or(0, |writes| writes.blanked);
        let slack = writes.and_then(|writes| writes.slack);
        let edges = slack.into_iter().flat_map(|Slack { set, restore }| {
            [Moments { set: set.from, restore: restore.from }, Moments { set: set.to, restore: restore.to }]
        });
        std::iter::once(None).chain(edges.map(Some)).all(|moments| {
            let wrong = self.laid.shown_at(step, tap, moments).and_then(|frame| self.wrong_pixels(&frame));
            wrong.is_some_and(|(wrong, missing)| wrong + missing.saturating_sub(blanked) <= step.wrong.pixels)
        })
    }

    /// Pixels that differ from what is meant, and those that are not shown; `None` where the frame is of another shape.
    fn wrong_pixels(&self, frame: &Frame) -> Option<(u32, u32)> {
        let (mut wrong, mut missing) = (0, 0);
        let mut lines = values(frame, self.laid.table.height);
        for meant in &self.meant {
            let mut shown = lines.next()?;
            for value in meant {
                match shown.next() {
                    Some(shown) => wrong += u32::from(shown != *value),
                    None => missing += 1,
                }
            }
            if shown.next().is_some() {
                return None;
            }
        }
        Some((wrong, missing))
    }
}

/// Pixel values of the first `height` picture lines.
fn values(frame: &Frame, height: u32) -> impl Iterator<Item = impl Iterator<Item = u8> + '_> + '_ {
    let lines = frame.picture_lines().take(height as usize);
    lines.map(|line| frame.segments_of(line).iter().flat_map(|one| frame.values_of(one.kind).iter().copied()))
}

/// Video memory full of noise.
pub(super) fn noise_memory(bytes: u32) -> Vec<u8> {
    (0..bytes).map(|at| noise(at, 0x2545_F491)).collect()
}

fn noise(at: u32, by: u32) -> u8 {
    let mixed = (at ^ at >> 15).wrapping_add(1).wrapping_mul(by);
    (mixed ^ mixed >> 13).wrapping_mul(0x85EB_CA6B).to_be_bytes()[0]
}
