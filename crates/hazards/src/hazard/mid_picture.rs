//! Colours, panning, page and mode written while the beam is in the picture, where that splits it.
//!
//! ```text
//! a write in the active area ─► does the frame show both states?
//!                            ─► is it a bar or a split of the picture, meant to be there?
//!                            ─► does it come again and again?  ─► hazard
//! ```
//!
//! A bar is meant to be there where its register is changed more than once in the picture, or has come back to its
//! value by the next frame, or gets the same value at the same line of the next frame or of the one before.

use std::collections::BTreeMap;

use backporch_adapter::{Aspects, Cell, Role};
use backporch_script::{Event, PortAccess};

use super::seen::SeenFrame;
use super::setting::JudgedBoard;
use super::{Hazard, HazardKind};

/// Frames in which a register has split the picture before that is reported: setting up does so once or twice.
const FRAMES: u8 = 3;
/// Scan lines by which a bar's write may wander from frame to frame.
const SAME_LINE: u32 = 2;

/// What was written: a register, or an entry of the DAC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Target {
    Cell(usize),
    Colour(u8),
    Port(u16),
}

impl Target {
    fn of(access: &PortAccess) -> Self {
        match (access.colour, access.cell) {
            (Some(entry), _) => Self::Colour(entry),
            (None, Some(cell)) => Self::Cell(cell.position()),
            (None, None) => Self::Port(access.port),
        }
    }
}

/// How often each register has split the picture.
#[derive(Clone, Debug, Default)]
pub(super) struct MidPictureWatch {
    splits: BTreeMap<Target, u8>,
}

impl MidPictureWatch {
    /// Judges the writes of frame `judged`.
    pub fn judge(&mut self, setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize) -> Vec<Hazard> {
        let mut hazards: Vec<Hazard> = Vec::new();
        let mut reported = Vec::new();
        for access in splitting(setting, frames, judged) {
            let target = Target::of(access);
            if reported.contains(&target) || is_meant(frames, judged, access) {
                continue;
            }
            reported.push(target);
            let splits = self.splits.entry(target).or_default();
            *splits = splits.saturating_add(1);
            let known = hazards.iter().any(|hazard| hazard.by == access.by);
            if *splits >= FRAMES && !known {
                hazards.push(hazard(setting, frames, judged, access));
            }
        }
        hazards
    }
}

/// Writes in the active area that change what is shown, firmware's own apart.
fn in_picture(frame: &SeenFrame) -> impl Iterator<Item = &PortAccess> {
    let within = |access: &&PortAccess| {
        let shows = Aspects::SHOWN | Aspects::COLOUR;
        access.changes.intersects(shows) && frame.is_in_picture(access.at.dot) && !access.by.is_firmware()
    };
    let ports = frame.events.iter().filter_map(|event| match event {
        Event::Port(access) => Some(access),
        _ => None,
    });
    ports.filter(within)
}

/// Those of which the frame shows both states.
fn splitting<'a>(
    setting: &JudgedBoard,
    frames: &[&'a SeenFrame],
    judged: usize,
) -> impl Iterator<Item = &'a PortAccess> {
    let frame = frames[judged];
    let blink = blink_turned(setting, frames, judged);
    in_picture(frame).filter(move |access| {
        access.changes.contains(Aspects::COLOUR) && frame.colours_split_at(access.at.dot)
            || access.changes.contains(Aspects::SHOWN) && frame.lines_split_at(access.at.dot)
            || access.changes.contains(Aspects::SHOWN) && access.cell.is_some_and(|cell| blink.contains(&cell))
    })
}

/// The register by which text blinks or has bright backgrounds, where text is shown and that has changed since the frame
/// before.
fn blink_turned(setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize) -> Vec<Cell> {
    let before = judged.checked_sub(1).and_then(|before| frames.get(before));
    let (Some(field), Some(before)) = (setting.adapter.field_with(Role::Blink), before) else { return Vec::new() };
    let frame = frames[judged];
    let value = |frame: &SeenFrame| setting.adapter.get(&frame.registers, field);
    let is_text =
        frame.first_line().is_some_and(|line| setting.adapter.format(line.format as usize).serialise.is_text());
    if !is_text || value(before) == value(frame) {
        return Vec::new();
    }
    setting.adapter.field_info(field).bits.iter().filter_map(|slice| slice.cell()).collect()
}

fn is_meant(frames: &[&SeenFrame], judged: usize, access: &PortAccess) -> bool {
    let frame = frames[judged];
    let target = Target::of(access);
    let same = |frame: &SeenFrame| in_picture(frame).filter(|other| Target::of(other) == target).count();
    if same(frame) > 1 {
        return true;
    }
    let before = judged.checked_sub(1).and_then(|before| frames.get(before));
    let comes_back = before.is_some_and(|before| match (target, access.cell) {
        (Target::Colour(entry), _) => before.registers.dac(entry) == frame.registers.dac(entry),
        (_, Some(cell)) => before.registers.cell(cell) == frame.registers.cell(cell),
        (_, None) => {
            before.registers.dac_mask() == frame.registers.dac_mask()
                && before.registers.palette_shown() == frame.registers.palette_shown()
        }
    });
    let again = |other: &SeenFrame| {
        in_picture(other).any(|other| {
            Target::of(other) == target
                && other.value == access.value
                && other.at.line.abs_diff(access.at.line) <= SAME_LINE
        })
    };
    comes_back || before.is_some_and(|before| again(before)) || frames.get(judged + 1).is_some_and(|next| again(next))
}

fn hazard(setting: &JudgedBoard, frames: &[&SeenFrame], judged: usize, access: &PortAccess) -> Hazard {
    let frame = frames[judged];
    let what = match (access.colour, access.cell) {
        (Some(entry), _) => format!("entry {entry} of the DAC"),
        (None, Some(cell)) => field_of(setting, cell).to_owned(),
        (None, None) => format!("port {:#05X}", access.port),
    };
    // Whoever began in blanking ran out of it.
    let began_before = judged.checked_sub(1).and_then(|before| frames.get(before)).is_some_and(|before| {
        before.events.iter().any(|event| {
            matches!(event, Event::Port(other)
                if other.by == access.by && other.at.dot >= before.active_end && other.changes == access.changes)
        })
    });
    let from = if began_before { ", begun in blanking and run over into the picture" } else { "" };
    Hazard::of_write(
        HazardKind::MidPicture,
        frame.number,
        access,
        format!(
            "{what} was written in the middle of the picture{from}: above scan line {} this frame shows it as it was \
             before, below as it is after",
            access.at.line
        ),
        if began_before {
            "write less in a frame, begin at the start of blanking, or write faster".to_owned()
        } else {
            "write it in blanking: wait for retrace first".to_owned()
        },
    )
}

/// Name of the register that holds a cell.
pub(super) fn field_of(setting: &JudgedBoard, cell: Cell) -> &str {
    let holds = |field: &backporch_adapter::Field| field.bits.iter().any(|slice| slice.cell() == Some(cell));
    setting.adapter.fields().find(|(_, field)| holds(field)).map_or("a register", |(_, field)| field.name.as_str())
}
