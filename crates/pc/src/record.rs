//! What a program did to its board, access by access.

use backporch_raster::{Board, Tap};

use crate::registers::Far;

/// What was accessed, and how.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AccessKind {
    /// A byte written to a port.
    Port,
    /// A word written to a port and the next.
    PortWord,
    /// A byte read from a port where that changes what a later access does.
    PortRead,
    /// A byte written to video memory.
    Memory,
    /// A byte read from video memory; on some boards that fills latches.
    MemoryRead,
}

/// One access.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RecordedAccess {
    /// Dots since the board was made.
    pub dot: u64,
    /// The instruction that did it.
    pub by: Far,
    /// What kind it is.
    pub kind: AccessKind,
    /// Port, or offset into the board's window.
    pub address: u32,
    /// What was written or read.
    pub value: u16,
    /// Whether firmware did it at its own work, called by the instruction.
    pub by_firmware: bool,
    /// How often a port was read so in a row, at least 1.
    pub times: u32,
    /// The dot of the last of these reads.
    pub last: u64,
}

impl RecordedAccess {
    /// Does the same to a board.
    pub fn replay<T: Tap>(&self, board: &mut Board<T>) {
        board.run_to(self.dot);
        let port = self.address as u16;
        match self.kind {
            AccessKind::Port => board.write_port(port, self.value as u8),
            AccessKind::PortWord => board.write_port_word(port, self.value),
            AccessKind::PortRead => drop(board.read_port(port)),
            AccessKind::Memory => board.write_memory(self.address, self.value as u8),
            AccessKind::MemoryRead => _ = board.read_memory(self.address),
        }
    }
}

/// Accesses kept at most: some hundred megabytes' worth, minutes of a busy program.
pub const MOST_RECORDED: usize = 4 << 20;

/// Accesses as they come, where they are wanted, up to [`MOST_RECORDED`].
#[derive(Clone, Debug, Default)]
pub struct Record {
    on: bool,
    accesses: Vec<RecordedAccess>,
    full_at: Option<u64>,
}

impl Record {
    /// Starts or stops recording; what there is stays.
    pub fn set(&mut self, on: bool) {
        self.on = on;
    }

    /// Everything recorded so far.
    #[must_use]
    pub fn accesses(&self) -> &[RecordedAccess] {
        &self.accesses
    }

    /// Gives everything recorded so far and begins anew.
    pub fn take(&mut self) -> Vec<RecordedAccess> {
        std::mem::take(&mut self.accesses)
    }

    /// Whether accesses are wanted.
    #[inline]
    #[must_use]
    pub fn is_on(&self) -> bool {
        self.on
    }

    /// Puts back what was taken.
    pub(crate) fn restore(&mut self, accesses: Vec<RecordedAccess>) {
        self.accesses = accesses;
    }

    /// The dot of the first access that found no place.
    #[must_use]
    pub fn full_at(&self) -> Option<u64> {
        self.full_at
    }

    pub(crate) fn add(&mut self, access: RecordedAccess) {
        // Polling a port over and over does no more than polling it once.
        let polled = |last: &RecordedAccess| access.kind == AccessKind::PortRead && last.kind == AccessKind::PortRead;
        let is_full = self.accesses.len() >= MOST_RECORDED;
        match self.accesses.last_mut() {
            Some(last) if polled(last) && last.address == access.address => {
                (last.value, last.last) = (access.value, access.dot);
                last.times = last.times.saturating_add(1);
            }
            _ if is_full => _ = self.full_at.get_or_insert(access.dot),
            _ => self.accesses.push(access),
        }
    }
}
