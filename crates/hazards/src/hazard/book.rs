//! What a driver has done to each byte of video memory so far.

use std::sync::Arc;

use backporch_script::Event;

use super::seen::Seen;

/// What has been done to one byte.
#[derive(Clone, Copy, Debug, Default)]
struct Entry {
    /// Frame of its last write, plus 1; 0 where there was none.
    written: u32,
    /// Frame of its last change, plus 1.
    changed: u32,
    /// Frames in which it was changed, up to 255.
    rounds: u8,
}

/// What has been done to every byte by the driver itself, firmware apart. Clones share it until one of them goes on.
#[derive(Clone, Debug, Default)]
pub(super) struct Book {
    entries: Arc<Vec<Entry>>,
}

impl Book {
    /// Takes in what a frame did.
    pub fn note(&mut self, frame: &Seen) {
        let number = u32::try_from(frame.number + 1).unwrap_or(u32::MAX);
        for event in &frame.events {
            let Event::Memory(write) = event else { continue };
            if write.by.is_firmware() {
                continue;
            }
            let entries = Arc::make_mut(&mut self.entries);
            let at = write.address as usize;
            if at >= entries.len() {
                entries.resize(at + 1, Entry::default());
            }
            let entry = &mut entries[at];
            entry.written = number;
            if write.old != write.new && entry.changed != number {
                entry.changed = number;
                entry.rounds = entry.rounds.saturating_add(1);
            }
        }
    }

    fn entry(&self, address: u32) -> Entry {
        self.entries.get(address as usize).copied().unwrap_or_default()
    }

    /// Frames in which a byte was changed, up to 255.
    pub fn rounds(&self, address: u32) -> u8 {
        self.entry(address).rounds
    }

    /// The frame in which a byte was last written.
    pub fn last_written(&self, address: u32) -> Option<u64> {
        self.entry(address).written.checked_sub(1).map(u64::from)
    }
}
