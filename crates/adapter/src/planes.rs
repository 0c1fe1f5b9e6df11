//! The processor's way to memory: straight, or through the sequencer and
//! graphics controller of the classes whose memory has four planes.
//!
//! Planes lie side by side in the bench's memory: byte `4 a + p` is byte `a` of
//! plane `p`. The rules are those of the VGA register documentation (graphics
//! controller: write modes 0 to 3, read modes 0 and 1, set/reset, rotate, logic
//! function, bit mask; sequencer: map mask, odd/even, chain four).

use crate::adapter::Adapter;
use crate::profile::{MemoryAccess, MemoryRule};
use crate::reader::Reader;
use crate::register::Registers;
use crate::role::Role;

/// Planes of memory.
pub const PLANES: u32 = 4;

/// Windows begin at multiples of this many bytes.
const WINDOW_STEP: usize = 0x800;

/// Bits of an address inside a plane of 64 KiB.
const PLANE_MASK: u32 = 0xFFFF;

/// The processor's way to memory under one state of the registers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MemoryPath {
    window_mask: u32,
    through: Option<Planes>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Planes {
    from: u32,
    len: u32,
    map_mask: u8,
    chaining: Chaining,
    set_reset: u8,
    enable_set_reset: u8,
    rotate: u32,
    function: u32,
    bit_mask: u8,
    write_mode: u32,
    read_mode: u32,
    read_map: u32,
    compare: u8,
    care: u8,
}

/// Whether address bits choose among planes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Chaining {
    /// No: an address reaches all four.
    None,
    /// The lowest bit chooses planes 0 and 2 or 1 and 3.
    OddEven,
    /// The two lowest bits choose one plane.
    Four,
}

impl Chaining {
    fn new(fields: Reader<'_>) -> Self {
        if fields.is_set(Role::ChainFour) {
            Self::Four
        } else if fields.is_set_or(Role::Sequential, true) {
            Self::None
        } else {
            Self::OddEven
        }
    }
}

impl Adapter {
    /// The processor's way to memory under these registers.
    #[must_use]
    pub fn memory_path(&self, registers: &Registers) -> MemoryPath {
        let MemoryRule { bytes, access, .. } = self.memory();
        let window_mask = bytes - 1;
        let through = (access == MemoryAccess::Planes).then(|| Planes::new(self.reader(registers)));
        MemoryPath { window_mask, through }
    }
}

impl Adapter {
    /// Where in the processor's address space memory begins under these registers; `None` where nothing is mapped.
    #[must_use]
    pub fn mapped_window(&self, registers: &Registers) -> Option<u32> {
        let (path, rule) = (self.memory_path(registers), self.memory());
        let base = (0..rule.window_bytes).step_by(WINDOW_STEP).find(|offset| path.written(*offset).is_some())?;
        Some(rule.window + base)
    }
}

impl MemoryPath {
    /// Writes a byte at an offset into the window; answers with the address of
    /// the first byte of memory it goes to, `None` where nothing is mapped there.
    pub fn write(&self, memory: &mut [u8], latches: [u8; 4], offset: u32, value: u8) -> Option<u32> {
        let Some(planes) = &self.through else {
            let at = offset & self.window_mask;
            *memory.get_mut(at as usize)? = value;
            return Some(at);
        };
        let (at, to) = planes.target(offset)?;
        let bytes = memory.get_mut(at as usize..)?.first_chunk_mut::<4>()?;
        for plane in (0..4).filter(|plane| to >> plane & 1 != 0) {
            bytes[plane] = planes.written(plane, value, latches[plane]);
        }
        Some(at + to.trailing_zeros() % PLANES)
    }

    /// Where a byte written at an offset into the window would go: the first
    /// address, and a bit for each byte from there on.
    #[must_use]
    pub fn written(&self, offset: u32) -> Option<(u32, u32)> {
        match &self.through {
            None => Some((offset & self.window_mask, 1)),
            Some(planes) => planes.target(offset).map(|(at, to)| (at, to.into())),
        }
    }

    /// The offset into the window at which the processor reaches a byte of memory; the plane is a matter of the map mask
    /// where an offset reaches several.
    #[must_use]
    pub fn offset_of(&self, address: u32) -> Option<u32> {
        let Some(planes) = &self.through else { return Some(address & self.window_mask) };
        let (at, plane) = (address / PLANES, address % PLANES);
        let inside = match planes.chaining {
            Chaining::Four => at & 0xFFFC | plane,
            Chaining::OddEven => at & 0xFFFE | plane & 1,
            Chaining::None => at & PLANE_MASK,
        };
        (inside < planes.len && planes.place(inside) == at * PLANES).then_some(planes.from + inside)
    }

    /// How many bytes of memory, all planes counted, lie before the one this many offsets on.
    #[must_use]
    pub fn shown_at(&self, offset: u32) -> u32 {
        match self.through.map(|planes| planes.chaining) {
            None | Some(Chaining::Four) => offset,
            Some(Chaining::OddEven) => (offset / 2).wrapping_mul(PLANES) | offset & 1,
            Some(Chaining::None) => offset.wrapping_mul(PLANES),
        }
    }

    /// Whether an offset reaches a byte of every plane.
    #[must_use]
    pub fn reaches_planes(&self) -> bool {
        self.through.is_some_and(|planes| planes.chaining == Chaining::None)
    }

    /// Reads a byte at an offset into the window, loading the latches; FFh
    /// where nothing is mapped there.
    pub fn read(&self, memory: &[u8], latches: &mut [u8; 4], offset: u32) -> u8 {
        let Some(planes) = &self.through else {
            return memory.get((offset & self.window_mask) as usize).copied().unwrap_or(0xFF);
        };
        let Some((at, plane)) = planes.source(offset) else {
            return 0xFF;
        };
        if let Some(bytes) = memory.get(at as usize..).and_then(|rest| rest.first_chunk::<4>()) {
            *latches = *bytes;
        }
        match planes.read_mode {
            0 => latches[plane],
            _ => planes.compared(latches),
        }
    }

    /// The address in memory the processor reads at an offset into the window.
    #[must_use]
    pub fn address(&self, offset: u32) -> Option<u32> {
        match &self.through {
            None => Some(offset & self.window_mask),
            Some(planes) => planes.source(offset).map(|(at, plane)| at + plane as u32),
        }
    }
}

impl Planes {
    fn new(fields: Reader<'_>) -> Self {
        // Windows of the memory map field, as offsets from A0000h.
        let (from, len) = match fields.stored_or(Role::MemoryMap, 1) {
            0 => (0, 0x20000),
            1 => (0, 0x10000),
            2 => (0x10000, 0x8000),
            _ => (0x18000, 0x8000),
        };
        Self {
            from,
            len,
            map_mask: fields.stored_or(Role::MapMask, 15) as u8 & 15,
            chaining: Chaining::new(fields),
            set_reset: fields.value(Role::SetReset) as u8,
            enable_set_reset: fields.value(Role::EnableSetReset) as u8,
            rotate: fields.value(Role::Rotate) & 7,
            function: fields.value(Role::LogicFunction) & 3,
            bit_mask: fields.stored_or(Role::BitMask, 0xFF) as u8,
            write_mode: fields.value(Role::WriteMode) & 3,
            read_mode: fields.value(Role::ReadMode) & 1,
            read_map: fields.value(Role::ReadMap) & 3,
            compare: fields.value(Role::ColourCompare) as u8,
            care: fields.stored_or(Role::ColourCare, 15) as u8,
        }
    }

    /// Offset inside the mapped window.
    fn inside(&self, offset: u32) -> Option<u32> {
        offset.checked_sub(self.from).filter(|inside| *inside < self.len)
    }

    /// Address of plane 0's byte in memory, where chaining puts an offset.
    ///
    /// The bits that choose a plane are taken over by higher ones (chain four:
    /// 14 and 15, which pairs with double-word addressing; from memory).
    fn place(&self, inside: u32) -> u32 {
        let at = match self.chaining {
            Chaining::Four => inside & 0xFFFC | inside >> 14 & 3,
            Chaining::OddEven => inside & 0xFFFE,
            Chaining::None => inside & PLANE_MASK,
        };
        at * PLANES
    }

    fn target(&self, offset: u32) -> Option<(u32, u8)> {
        let inside = self.inside(offset)?;
        let reached = match self.chaining {
            Chaining::Four => 1 << (inside & 3),
            Chaining::OddEven => 0b0101 << (inside & 1),
            Chaining::None => 15,
        };
        Some((self.place(inside), reached & self.map_mask))
    }

    fn source(&self, offset: u32) -> Option<(u32, usize)> {
        let inside = self.inside(offset)?;
        let plane = match self.chaining {
            Chaining::Four => inside & 3,
            Chaining::OddEven => self.read_map & 2 | inside & 1,
            Chaining::None => self.read_map,
        };
        Some((self.place(inside), plane as usize))
    }

    fn written(&self, plane: usize, value: u8, latch: u8) -> u8 {
        let all = |on: bool| if on { 0xFF } else { 0 };
        let set = all(self.set_reset >> plane & 1 != 0);
        let rotated = value.rotate_right(self.rotate);
        let (data, mask) = match self.write_mode {
            0 if self.enable_set_reset >> plane & 1 != 0 => (set, self.bit_mask),
            0 => (rotated, self.bit_mask),
            1 => return latch,
            2 => (all(value >> plane & 1 != 0), self.bit_mask),
            _ => (set, self.bit_mask & rotated),
        };
        let data = match self.function {
            0 => data,
            1 => data & latch,
            2 => data | latch,
            _ => data ^ latch,
        };
        data & mask | latch & !mask
    }

    fn compared(&self, latches: &[u8; 4]) -> u8 {
        let cared = (0..4).filter(|plane| self.care >> plane & 1 != 0);
        cared.fold(0xFF, |alike, plane| {
            let wanted = if self.compare >> plane & 1 != 0 { latches[plane] } else { !latches[plane] };
            alike & wanted
        })
    }
}
