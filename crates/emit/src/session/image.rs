//! Video memory as a program writes it: through the processor's window, pass by pass.

use backporch_adapter::{Adapter, FieldId, PLANES, Registers, Role};

/// Bytes of the window that a program with segments reaches at once.
const WINDOW: u32 = 0x1_0000;
/// Most bytes of one piece, so that it fits the buffer it is unpacked into.
pub(super) const PIECE: usize = 0x8000;

/// One way through the window.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Pass {
    /// Port writes before it.
    pub select: Vec<(u16, u8)>,
    /// Offset into the window of the first byte.
    pub offset: u32,
    /// The bytes.
    pub bytes: Vec<u8>,
}

/// The window under one setting of the registers.
#[derive(Clone, Debug)]
pub(super) struct Window {
    /// Segment of its first byte.
    pub segment: u16,
    /// Bytes of it.
    pub len: u32,
    /// For each byte of memory the plane and the offset at which it is reached.
    reached: Vec<Option<(u8, u16)>>,
    /// Whether planes are written one by one.
    pub by_planes: bool,
}

impl Window {
    /// `None` where nothing is mapped.
    pub fn of(adapter: &Adapter, registers: &Registers) -> Option<Self> {
        let path = adapter.memory_path(&open(adapter, registers));
        let base = (0..2 * WINDOW).step_by(0x800).find(|offset| path.written(*offset).is_some())?;
        let memory = adapter.memory().bytes;
        let mapped = (0..WINDOW).take_while(|offset| path.written(base + offset).is_some()).count() as u32;
        let len = if path.written(base).is_some_and(|(_, bits)| bits == 1) { mapped.min(memory) } else { mapped };
        let by_planes = path.written(base).is_some_and(|(_, bits)| bits.count_ones() == PLANES);
        let mut reached = vec![None; memory as usize];
        for offset in 0..len {
            let Some((at, bits)) = path.written(base + offset) else { continue };
            for plane in (0..PLANES).filter(|plane| bits >> plane & 1 != 0) {
                if let Some(place) = reached.get_mut((at + plane) as usize)
                    && place.is_none()
                {
                    *place = Some((plane as u8, offset as u16));
                }
            }
        }
        let segment = ((adapter.memory().window + base) >> 4) as u16;
        Some(Self { segment, len, reached, by_planes })
    }

    /// Plane and offset at which a byte of memory is reached.
    pub fn reached(&self, address: u32) -> Option<(u8, u16)> {
        self.reached.get(address as usize).copied().flatten()
    }

    /// The passes that put `memory` there, up to the last byte that is not `blank` already.
    pub fn passes(&self, adapter: &Adapter, registers: &Registers, memory: &[u8], blank: Option<u8>) -> Vec<Pass> {
        let planes = if self.by_planes { PLANES as u8 } else { 1 };
        let mut passes = Vec::new();
        for plane in 0..planes {
            let mut bytes = vec![0u8; self.len as usize];
            for (place, byte) in self.reached.iter().zip(memory) {
                if let Some((of, offset)) = place
                    && (!self.by_planes || *of == plane)
                {
                    bytes[usize::from(*offset)] = *byte;
                }
            }
            if let Some(blank) = blank {
                let used = bytes.iter().rposition(|byte| *byte != blank).map_or(0, |last| last + 1);
                bytes.truncate(used);
            }
            let select = if self.by_planes { select(adapter, registers, 1 << plane) } else { Vec::new() };
            for (at, piece) in bytes.chunks(PIECE).enumerate() {
                let offset = (at * PIECE) as u32;
                passes.push(Pass { select: select.clone(), offset, bytes: piece.to_vec() });
            }
        }
        if self.by_planes {
            // All planes again, as drawing into them wants it.
            passes.push(Pass { select: select(adapter, registers, 0x0F), offset: 0, bytes: Vec::new() });
        }
        passes
    }
}

/// The registers with every plane open to writes, where planes are written one by one.
fn open(adapter: &Adapter, registers: &Registers) -> Registers {
    let mut open = registers.clone();
    let chained = [Role::ChainFour, Role::Sequential].map(|role| adapter.field_with(role));
    let set = |field: Option<FieldId>| field.is_some_and(|field| adapter.get(registers, field) != 0);
    let odd_even = chained[1].is_some() && !set(chained[1]);
    if let Some(field) = adapter.field_with(Role::MapMask)
        && !set(chained[0])
        && !odd_even
    {
        // Four bits fit it.
        let _ = adapter.set(&mut open, field, 0x0F);
    }
    open
}

fn select(adapter: &Adapter, registers: &Registers, planes: u32) -> Vec<(u16, u8)> {
    let field = adapter.field_with(Role::MapMask);
    field.map_or_else(Vec::new, |field| adapter.programming(registers, field, planes))
}
