//! What a driver has done to each byte of video memory so far.

use std::collections::BTreeMap;
use std::sync::Arc;

use backporch_script::{Event, Maker};

use super::seen::SeenFrame;

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

/// Frames after which what is drawn over stood there for its own sake.
const SHORT_LIVED: u32 = 8;

/// Frames in which something short-lived was drawn over by one instruction.
#[derive(Clone, Copy, Debug, Default)]
struct Redraws {
    last: u32,
    frames: u32,
}

/// What has been done to every byte by the driver itself, firmware apart. Clones share it until one of them goes on.
#[derive(Clone, Debug, Default)]
pub(super) struct Book {
    entries: Arc<Vec<Entry>>,
    /// Who draws over what has hardly been drawn: things that move.
    redraws: BTreeMap<Maker, Redraws>,
}

impl Book {
    /// Takes in what a frame did.
    pub fn note(&mut self, frame: &SeenFrame) {
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
                if entry.changed > 0 && number - entry.changed <= SHORT_LIVED {
                    let redraws = self.redraws.entry(write.by).or_default();
                    redraws.frames += u32::from(redraws.last != number);
                    redraws.last = number;
                }
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

    /// Whether a byte was changed a short time before a frame.
    pub fn is_short_lived(&self, address: u32, frame: u64) -> bool {
        let changed = u64::from(self.entry(address).changed);
        changed > 0 && (frame + 1).saturating_sub(changed) <= u64::from(SHORT_LIVED)
    }

    /// Frames in which an instruction has drawn over what had stood for a short time only.
    pub fn redraws(&self, by: Maker) -> u32 {
        self.redraws.get(&by).map_or(0, |redraws| redraws.frames)
    }

    /// The frame in which a byte was last written.
    pub fn last_written(&self, address: u32) -> Option<u64> {
        self.entry(address).written.checked_sub(1).map(u64::from)
    }
}
