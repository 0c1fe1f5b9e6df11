//! Who wrote what stands in video memory, as of any dot of the last frames.
//!
//! ```text
//! accesses ─► recent (frames that may still be asked about) ─► settled (last writer of every address)
//! ```

use std::collections::VecDeque;
use std::sync::Arc;

use backporch_adapter::{Adapter, MemoryAccess, PLANES, Registers};

use crate::record::{AccessKind, RecordedAccess};
use crate::registers::Far;

/// Addresses of a page.
const PAGE: u32 = 256;

/// The last writers of a page's addresses.
type Page = [Option<Far>; PAGE as usize];

/// Writes as they came, by address of video memory. A clone shares what is settled.
///
/// Where there are planes, one address stands for a byte of each.
#[derive(Clone, Debug)]
pub struct Writers {
    bytes_each: u32,
    recent: VecDeque<(u64, u32, Far)>,
    settled: Vec<Option<Arc<Page>>>,
}

impl Writers {
    /// Not written yet.
    #[must_use]
    pub fn new(adapter: &Adapter) -> Self {
        let bytes_each = match adapter.memory().access {
            MemoryAccess::Linear => 1,
            MemoryAccess::Planes => PLANES,
        };
        Self { bytes_each, recent: VecDeque::new(), settled: Vec::new() }
    }

    /// Takes an access in that is about to be made; `registers` say where in memory it leads.
    ///
    /// Dots must not go back.
    pub fn see(&mut self, access: &RecordedAccess, adapter: &Adapter, registers: &Registers) {
        if access.kind != AccessKind::Memory {
            return;
        }
        if let Some(address) = adapter.memory_path(registers).address(access.address) {
            self.recent.push_back((access.dot, address / self.bytes_each, access.by));
        }
    }

    /// Settles what was written before a dot: no dot before it will be asked about.
    pub fn settle(&mut self, dot: u64) {
        while let Some((_, address, by)) = self.recent.front().copied().filter(|(at, ..)| *at < dot) {
            self.recent.pop_front();
            let (page, at) = ((address / PAGE) as usize, (address % PAGE) as usize);
            if self.settled.len() <= page {
                self.settled.resize(page + 1, None);
            }
            let page = self.settled[page].get_or_insert_with(|| Arc::new([None; PAGE as usize]));
            Arc::make_mut(page)[at] = Some(by);
        }
    }

    /// The instruction that last wrote to a byte of video memory at a dot or before it.
    #[must_use]
    pub fn of(&self, byte: u32, dot: u64) -> Option<Far> {
        let address = byte / self.bytes_each;
        let recent = self.recent.iter().rev().find(|(at, written, _)| *at <= dot && *written == address);
        let settled = || self.settled.get((address / PAGE) as usize)?.as_ref()?[(address % PAGE) as usize];
        recent.map(|(.., by)| *by).or_else(settled)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Whatever is settled on the way, the newest write at or before the dot is found.
        #[test]
        fn the_newest_write_is_found(
            writes in prop::collection::vec((0u64..5, 0u32..600), 1..80),
            settles in prop::collection::vec(0usize..80, 0..4),
            asked in 0u32..600,
        ) {
            let adapter = Adapter::built_in("linear-256").unwrap();
            let registers = adapter.start_up(adapter.default_mode());
            let mut writers = Writers::new(&adapter);
            let mut dot = 0;
            let mut settled = 0;
            let mut made = Vec::new();
            for (number, (step, address)) in writes.iter().enumerate() {
                dot += step;
                let by = Far::new(1, number as u16);
                let access = RecordedAccess {
                    dot,
                    by,
                    kind: AccessKind::Memory,
                    address: *address,
                    value: 0,
                    by_firmware: false,
                    times: 1,
                    last: dot,
                };
                writers.see(&access, &adapter, &registers);
                made.push(access);
                if settles.contains(&number) {
                    settled = dot;
                    writers.settle(dot);
                }
            }
            for at in settled..dot + 2 {
                let wanted = made.iter().rev().find(|access| access.address == asked && access.dot <= at);
                prop_assert_eq!(writers.of(asked, at), wanted.map(|access| access.by));
            }
        }
    }
}
