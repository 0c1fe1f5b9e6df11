//! Port writes as the program keeps them: for each stage its moment and number, then ports and values; FFh ends them.

use backporch_workaround::transition::{BeamMoment, Stage};

/// Ports and bytes, in order.
pub(super) type PortWrites = Vec<(u16, u8)>;
/// What stands for a moment that does not matter, vertical retrace, and the active area.
const ANYTIME: u8 = 0;
const RETRACE: u8 = 1;
const ACTIVE_AREA: u8 = 2;
/// What ends a list.
const END: u8 = 0xFF;
/// Most writes of a stage as it is kept.
const MOST: usize = 254;

/// Writes that may be made anywhere.
pub(super) fn port_list(writes: &[(u16, u8)]) -> Vec<u8> {
    let mut list = Vec::new();
    put(ANYTIME, writes, &mut list);
    list.push(END);
    list
}

/// Writes stage by stage.
pub(super) fn stage_list(stages: &[Stage]) -> Vec<u8> {
    let mut list = Vec::new();
    for stage in stages {
        let moment = match stage.moment {
            BeamMoment::Anytime => ANYTIME,
            BeamMoment::Retrace => RETRACE,
            BeamMoment::ActiveArea => ACTIVE_AREA,
        };
        let writes: PortWrites = stage.cells.iter().flat_map(|cell| &cell.ports).copied().collect();
        writes.chunks(MOST).for_each(|piece| put(moment, piece, &mut list));
    }
    list.push(END);
    list
}

fn put(moment: u8, writes: &[(u16, u8)], list: &mut Vec<u8>) {
    list.extend([moment, writes.len() as u8]);
    for (port, value) in writes {
        list.extend(port.to_le_bytes());
        list.push(*value);
    }
}
