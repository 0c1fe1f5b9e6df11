//! Prediction from the fetch plan alone: no pixel is drawn.
//!
//! The plan is not even kept: each line's runs are held against the healthy
//! addresses as they come. Of the test card, which is known to the pixel, the lines
//! that come from elsewhere are drawn, each alone, and what differs on them counts.

use backporch_adapter::Timing;
use backporch_raster::{DrawnLine, Line, LineDependencies, LineEffects, Plain, QuietFrame, Run, Shift, Stages, Tap};

use crate::setup::ExperimentSetup;
use crate::signature::frames::HeldAgainst;
use crate::signature::moved::Movement;
use crate::signature::{FrameSignature, Nature};

/// Frames for which a person watches whether the picture stands still: about a second.
const FRAMES_IN_PLACE: u64 = 64;

/// What the first `frames` frames of a board at rest fetch otherwise than a healthy one.
pub(super) fn signature_of_frames<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T, frames: u64) -> FrameSignature {
    let start = |frame: &u64| setup.quiet.latched(tap, *frame);
    let first = start(&0);
    // Where a frame neither starts elsewhere nor plays a part, it is the same again.
    let by_frame = tap.depends_on().contains(LineDependencies::FRAME);
    let others = (1..frames).filter(|frame| by_frame || start(frame) != first);
    others.fold(signature(setup, tap, 0), |all, frame| all.merged_with(&signature(setup, tap, frame)))
}

/// What frame `frame` of a board at rest fetches otherwise than a healthy one.
pub(super) fn signature<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T, frame: u64) -> FrameSignature {
    let (width, height) = setup.size();
    if let Some(displaced) = displaced(setup, tap) {
        let Displaced { flickers, moved, short } = displaced;
        let all = FrameSignature::all(width, height, Nature::Displaced).with_pitch(setup.pitch());
        return FrameSignature { flickers, moved, short, ..all };
    }
    let start = setup.quiet.latched(tap, frame);
    let moved_start = start != setup.quiet.start();
    let moves = tap.stages().contains(Stages::ADDRESS);
    let mut signature = setup.clean();
    let mut movement = Movement::default();
    let mut drawn = DrawnLine::default();
    for (index, healthy) in (0..).zip(&setup.lines) {
        let line = if moved_start { setup.quiet.line(frame, start, index) } else { Line { frame, ..*healthy } };
        let effects = if moves { tap.line_effects(&line) } else { LineEffects::default() };
        let moves = effects.stages.contains(Stages::ADDRESS);
        if !moves && !moved_start {
            continue;
        }
        let mut differs = false;
        hold(tap, &line, (healthy, width), moves.then_some(&effects), &mut movement, |pixels| {
            differs = true;
            if setup.held() == HeldAgainst::All {
                signature.mark(index, pixels, Nature::Addresses);
            }
        });
        if differs && let Some((from, to, bad)) = setup.shown(tap, &line, &effects, &mut drawn) {
            signature.mark_some(index, (from, to.min(width.saturating_sub(1))), bad, Nature::Addresses);
        }
    }
    signature.moved = movement.most().filter(|_| signature.nature.is_some());
    signature
}

impl ExperimentSetup {
    /// First and last pixel of a line that show otherwise than meant, and how many do, where what shows is what counts.
    fn shown<T: Tap>(
        &self,
        tap: &T,
        line: &Line,
        effects: &LineEffects,
        drawn: &mut DrawnLine,
    ) -> Option<(u32, u32, u32)> {
        if self.held() == HeldAgainst::All {
            return None;
        }
        self.quiet.draw_line(tap, line, effects, self.memory(), drawn);
        let meant = self.meant_values().get(line.picture_line as usize)?;
        self.held().extent(line.picture_line, 0, meant, &drawn.values)
    }

    fn meant_values(&self) -> &[Vec<u8>] {
        let drawn = |line: &Line| {
            let mut drawn = DrawnLine::default();
            self.quiet.draw_line(&Plain, line, &LineEffects::default(), self.memory(), &mut drawn);
            drawn.values
        };
        self.meant_values.get_or_init(|| self.lines.iter().map(drawn).collect())
    }
}

/// A whole picture out of place.
struct Displaced {
    /// Only in some frames.
    flickers: bool,
    /// Pixels to the left, where it is always the same and on its own lines.
    moved: Option<i32>,
    /// Pixels by which lines end before they should.
    short: u32,
}

/// Whether comparands or sync put the whole picture out of place.
fn displaced<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T) -> Option<Displaced> {
    if !tap.stages().contains(Stages::SYNC) {
        return None;
    }
    let healthy = *setup.quiet.timing();
    // When the start address is taken over plays no part in a picture at rest.
    let changed =
        Timing { start_load: healthy.start_load, ..*QuietFrame::new(setup.adapter(), &setup.registers, tap).timing() };
    let format = setup.quiet.format();
    let pixel_dots = i32::from(format.pixel_dots.max(1));
    if changed != healthy {
        // The later the pulse, the further left a monitor shows the picture.
        let later = i32::from(changed.sync_start) - i32::from(healthy.sync_start);
        // Blanking may go with it.
        let in_place = Timing { sync_start: healthy.sync_start, blank_start: healthy.blank_start, ..changed };
        let alone = later != 0 && in_place == healthy;
        let moved = alone.then(|| later * i32::from(format.char_dots) / pixel_dots);
        let short = u32::from(healthy.displayed.saturating_sub(changed.displayed)) * format.pixels_per_char();
        return Some(Displaced { flickers: false, moved, short });
    }
    let mut tap = tap.clone();
    let shifts: Vec<Shift> = (0..FRAMES_IN_PLACE).map(|frame| tap.shift(frame)).collect();
    let first = *shifts.first()?;
    let flickers = shifts.iter().any(|shift| *shift != first);
    if shifts.iter().all(|shift| shift.is_none()) {
        return None;
    }
    let moved = (!flickers && first.lines == 0).then(|| -first.dots / pixel_dots);
    Some(Displaced { flickers, moved, short: 0 })
}

/// Holds one line's addresses against the healthy ones, and tells `each` stretch of pixels that differs; `effects` is what of
/// the tap moves them, if anything.
fn hold<T: Tap>(
    tap: &T,
    line: &Line,
    (healthy, width): (&Line, u32),
    effects: Option<&LineEffects>,
    movement: &mut Movement,
    mut differs: impl FnMut((u32, u32)),
) {
    let right_bank = effects.is_none() || line.bank_bits(tap.bank(line) ^ healthy.bank) == 0;
    let pixel = |byte: u32| byte * width / line.bytes;
    let mut each = |at: u32, run: Run| {
        // Both go on byte by byte and wrap at the same mask, so one difference holds for the whole run.
        let moved = run.linear.wrapping_sub(healthy.plain_address(at)) & line.mask;
        if moved != 0 || !right_bank {
            let last = pixel(at + run.len).saturating_sub(1).max(pixel(at));
            let moved = right_bank.then(|| pixels_of(signed(moved, line.mask), line.bytes, width));
            differs((pixel(at), last));
            movement.add(moved, run.len);
        }
    };
    match effects {
        Some(effects) => tap.runs(line, effects, 0, line.bytes, &mut each),
        None => each(0, Run { linear: line.plain_address(0), len: line.bytes }),
    }
}

/// The difference as the shorter way round the memory.
fn signed(moved: u32, mask: u32) -> i32 {
    if moved > mask / 2 { -((mask - moved + 1) as i32) } else { moved as i32 }
}

fn pixels_of(bytes: i32, line_bytes: u32, width: u32) -> i32 {
    (i64::from(bytes) * i64::from(width) / i64::from(line_bytes.max(1))) as i32
}
