//! Panning against the start address, along the line and down: shown with the wrong one, or below a split.

use backporch_adapter::{Cell, Role};
use backporch_raster::Line;
use backporch_script::{Event, PortAccess};

use super::seen::SeenFrame;
use super::setting::JudgedBoard;
use super::{Hazard, HazardKind};

/// Frames below a split that have moved before that is reported.
const MOVED: u32 = 2;

/// What was seen below splits so far.
#[derive(Clone, Debug, Default)]
pub(super) struct PanningWatch {
    moved: u32,
}

impl PanningWatch {
    /// Judges what frame `judged` shows.
    pub fn judge(&mut self, setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize) -> Vec<Hazard> {
        let below = self.below_split(setting, frames, judged);
        let paired = paired_wrongly(setting, frames, judged).or_else(|| paired_wrongly_down(setting, frames, judged));
        paired.into_iter().chain(below).collect()
    }

    fn below_split(&mut self, setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize) -> Option<Hazard> {
        let (before, frame) = (frames.get(judged.checked_sub(1)?)?, frames[judged]);
        let (old, below) = (before.below_split()?, frame.below_split()?);
        if below.pan == 0 && old.pan == 0 || below.pan == old.pan {
            return None;
        }
        self.moved += 1;
        if self.moved < MOVED {
            return None;
        }
        let access = last_write(setting, Role::PixelPanning, frames, judged)?;
        Some(Hazard {
            kind: HazardKind::PanBelowSplit,
            frame: frame.number,
            line: below.scan_line,
            dot: 0,
            made: Some(access.at.dot),
            by: access.by,
            what: format!(
                "panning by {} pixels reaches below the split at scan line {}: what should stand there moves with it",
                below.pan, below.scan_line
            ),
            cure: match setting.adapter.field_with(Role::PanningAboveSplit) {
                Some(field) => format!("set {} once", setting.adapter.field_info(field).name),
                None => "set panning to 0 at the split's scan line, and back in retrace".to_owned(),
            },
        })
    }
}

/// How far the picture has moved to the left from one frame to the next, in pixels, rows left out, and how many pixels
/// a step of the start address is.
fn moved(one: &Line, two: &Line) -> Option<(i64, i64)> {
    let step = i64::from(two.unit * two.char_pixels / two.char_bytes.max(1)) << two.repeat;
    let alike = (one.unit, one.pitch, one.format, one.repeat) == (two.unit, two.pitch, two.format, two.repeat);
    let pitch = i64::from(two.pitch / two.unit.max(1));
    if step <= 1 || !alike || pitch == 0 {
        return None;
    }
    let units = i64::from(two.start) - i64::from(one.start);
    let along = units - (units + pitch / 2).div_euclid(pitch) * pitch;
    Some((along * step + i64::from(two.pan) - i64::from(one.pan), step))
}

/// A frame that shows the panning of one step with the start address of another: it stands a whole step of the start
/// address off the way that the frames around it go.
fn paired_wrongly(setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize) -> Option<Hazard> {
    let line = |at: usize| frames.get(at)?.first_line();
    let (before, here, next) = (line(judged.checked_sub(1)?)?, line(judged)?, line(judged + 1)?);
    let after = line(judged + 2)?;
    let (came, step) = moved(&before, &here)?;
    let (went, _) = moved(&here, &next)?;
    let (later, _) = moved(&next, &after)?;
    let pans = [before.pan, here.pan, next.pan];
    let starts = [before.start, here.start, next.start];
    let both_change = pans.iter().any(|pan| *pan != pans[0]) && starts.iter().any(|start| *start != starts[0]);
    if !both_change || !goes_astray([came, went, later], step) {
        return None;
    }
    let way = (came + went) / 2;
    let access = last_write(setting, Role::PixelPanning, frames, judged)?;
    let frame = frames[judged];
    let start = setting.adapter.field_info(setting.adapter.start_address()).name.as_str();
    let shown = if (came < went) == (way >= 0) { "before" } else { "after" };
    Some(Hazard::of_write(
        HazardKind::PanPairing,
        frame.number,
        access,
        format!(
            "frame {} shows panning by {} with start address {:#06X}, that of the step {shown}: the picture jumps by \
             {step} pixels and back",
            frame.number, here.pan, here.start
        ),
        format!(
            "write {start} in the active area, where it waits for its take-over, and panning in the retrace that \
             follows"
        ),
    ))
}

/// Whether a picture that moves by these distances from frame to frame is a whole step of the start address off its way
/// in between.
fn goes_astray([came, went, later]: [i64; 3], step: i64) -> bool {
    let way = (came + went) / 2;
    (came - went).abs() == 2 * step && way.abs() < step && (later == way || later == came)
}

/// The same down the picture: the scan line of its row at which the frame begins, and the row that the start address names.
fn paired_wrongly_down(setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize) -> Option<Hazard> {
    let preset = setting.adapter.field_with(Role::PresetRowScan)?;
    let frame = frames[judged];
    let height = i64::from(setting.adapter.timing(&frame.registers).last_scan) + 1;
    let place = |at: usize| -> Option<(i64, i64)> {
        let line = frames.get(at)?.first_line()?;
        let pitch = i64::from(line.pitch / line.unit.max(1));
        (height > 1 && pitch > 0).then(|| (i64::from(line.start).div_euclid(pitch), i64::from(line.row_address)))
    };
    let places = [place(judged.checked_sub(1)?)?, place(judged)?, place(judged + 1)?, place(judged + 2)?];
    let lines = places.map(|(row, scan)| row * height + scan);
    let both_change = places[..3].iter().any(|(row, _)| *row != places[0].0)
        && places[..3].iter().any(|(_, scan)| *scan != places[0].1);
    let moves = [lines[1] - lines[0], lines[2] - lines[1], lines[3] - lines[2]];
    if !both_change || !goes_astray(moves, height) {
        return None;
    }
    let access = last_write(setting, Role::PresetRowScan, frames, judged)?;
    let name = |field| setting.adapter.field_info(field).name.as_str();
    let (start, preset) = (name(setting.adapter.start_address()), name(preset));
    Some(Hazard::of_write(
        HazardKind::PanPairing,
        frame.number,
        access,
        format!(
            "frame {} begins at scan line {} of its row with the {start} of another step: the picture jumps by {height} scan \
             lines and back",
            frame.number, places[1].1
        ),
        format!(
            "write {start} in the active area, where it waits for its take-over, and {preset} in the retrace that follows"
        ),
    ))
}

/// The last write to a register before a frame's picture ends.
fn last_write<'a>(
    setting: &JudgedBoard,
    role: Role,
    frames: &[&'a SeenFrame],
    judged: usize,
) -> Option<&'a PortAccess> {
    let bits = &setting.adapter.field_info(setting.adapter.field_with(role)?).bits;
    let holds = |cell: Cell| bits.iter().any(|slice| slice.cell() == Some(cell));
    let until = frames[judged].active_end;
    let events = frames[..=judged].iter().flat_map(|frame| &frame.events).rev();
    let mut ports = events.filter_map(|event| match event {
        Event::Port(access) => Some(access),
        _ => None,
    });
    ports.find(|access| access.at.dot < until && access.cell.is_some_and(holds))
}
