//! The attribute port out of step: an index taken for data, or data for an index.

use backporch_adapter::PortRole;
use backporch_script::{Event, Maker, PortAccess};

use super::seen::SeenFrame;
use super::setting::JudgedBoard;
use super::{Hazard, HazardKind};

/// Part of a frame after which a write no longer belongs to the one before.
const APART: u64 = 8;

/// Bit of an index that lets the palette be shown (VGA register documentation).
const SHOW: u8 = 0x20;

/// The last write to the attribute port.
#[derive(Clone, Copy, Debug)]
struct Last {
    dot: u64,
    value: u8,
    was_data: bool,
    by: Maker,
    /// Whether the status port has been read since.
    reset: bool,
}

/// What was last written to the attribute port.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct FlipFlopWatch {
    last: Option<Last>,
}

impl FlipFlopWatch {
    /// Judges a frame's writes.
    pub fn judge(&mut self, setting: &JudgedBoard, frame: &SeenFrame) -> Vec<Hazard> {
        let Some(port) = setting.adapter.port_of(&frame.registers, PortRole::AttributeFlipFlop) else {
            return Vec::new();
        };
        let gap = (frame.end_dot - frame.first_dot) / APART;
        let mut hazards: Vec<Hazard> = Vec::new();
        for event in &frame.events {
            match event {
                Event::Looked(look) if !look.of_memory => {
                    if let Some(last) = &mut self.last {
                        last.reset = true;
                    }
                }
                Event::Port(access) if access.port == port => {
                    let known = hazards.iter().any(|hazard| hazard.by == access.by);
                    hazards.extend(self.out_of_step(frame, access, gap).filter(|_| !known));
                    self.last = Some(Last {
                        dot: access.at.dot,
                        value: access.value,
                        was_data: access.cell.is_some(),
                        by: access.by,
                        reset: false,
                    });
                }
                _ => {}
            }
        }
        hazards
    }

    fn out_of_step(&self, frame: &SeenFrame, access: &PortAccess, gap: u64) -> Option<Hazard> {
        let last = self.last.filter(|last| !last.by.is_firmware() && !access.by.is_firmware())?;
        let is_data = access.cell.is_some();
        let begins_anew = access.at.dot - last.dot > gap;
        let what = if is_data && begins_anew {
            format!(
                "{:#04X}, the first byte of a new access, was taken for the data of register {:#04X}: the port still \
                 waited for data",
                access.value,
                last.value & !SHOW
            )
        } else if !is_data && !last.was_data && last.reset && last.value & SHOW != 0 && access.value & SHOW == 0 {
            if last.value == SHOW {
                return None;
            }
            format!(
                "{:#04X} was taken for an index and blanks the screen: the status port was read between index {:#04X} \
                 and its data",
                access.value, last.value
            )
        } else {
            return None;
        };
        Some(Hazard::of_write(
            HazardKind::FlipFlop,
            frame.number,
            access,
            format!("the attribute port was out of step: {what}"),
            "read the status port just before each index, and nothing that reads it (a wait, an interrupt) \
                   between index and data"
                .to_owned(),
        ))
    }
}
