//! Redrawing what enters the window, as a routine does.

use backporch_raster::{Board, Tap};

/// Dots from one byte to the next while a routine redraws what enters the
/// window: some 1.3 µs at 25 MHz, a store in a tight loop.
const DOTS_A_BYTE: u64 = 32;
/// Bytes written one by one; a picture that changes more is put there at once.
const MOST_BYTES_REDRAWN: usize = 4096;
/// Bytes compared at once.
const STRETCH: usize = 256;

/// What has to change in memory for another picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum MemoryRedraw {
    /// The bytes at these offsets.
    Bytes(Vec<usize>),
    /// So much that it is put there at once.
    All,
}

impl MemoryRedraw {
    /// From what memory holds to what it should hold.
    pub fn between(found: &[u8], wanted: &[u8]) -> Self {
        let mut changed = Vec::new();
        for (stretch, (new, old)) in wanted.chunks(STRETCH).zip(found.chunks(STRETCH)).enumerate() {
            if new != old {
                let pairs = new.iter().zip(old).enumerate();
                changed.extend(pairs.filter(|(_, (new, old))| new != old).map(|(at, _)| stretch * STRETCH + at));
            }
            if changed.len() > MOST_BYTES_REDRAWN {
                return Self::All;
            }
        }
        Self::Bytes(changed)
    }

    /// Brings memory to what it should hold: byte by byte where a routine would, at once where the processor sees memory
    /// otherwise than the board does, as through planes. `advance` brings the beam to a dot.
    pub fn run<T: Tap>(&self, board: &mut Board<T>, wanted: &[u8], advance: fn(&mut Board<T>, u64)) {
        if let Self::Bytes(changed) = self {
            for at in changed.iter().copied() {
                board.write_memory(at as u32, wanted[at]);
                if board.memory()[at] != wanted[at] {
                    break;
                }
                let next = board.beam().dot + DOTS_A_BYTE;
                advance(board, next);
            }
        }
        if board.memory() != wanted {
            board.load(wanted);
        }
    }
}
