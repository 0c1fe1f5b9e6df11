//! Writes against the beam: where in a frame each port and each byte of memory was written.

use backporch_script::TraceAccess;

/// Most writes kept of a frame.
const MOST: usize = 2048;

/// What was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WriteTarget {
    /// A port.
    Port(u16),
    /// A byte of video memory, by its offset in the processor's window.
    Memory(u32),
}

/// A write, and where the beam stood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BusWrite {
    /// Scan line of the frame.
    pub line: u32,
    /// Dot of the line.
    pub dot: u32,
    /// What was written.
    pub what: WriteTarget,
}

/// The writes of one frame.
#[derive(Clone, Debug, Default)]
struct FrameWrites {
    frame: u64,
    writes: Vec<BusWrite>,
    /// How many more were made than are kept.
    left_out: usize,
}

/// The writes of the frame under way and of the one before.
#[derive(Clone, Debug, Default)]
pub(crate) struct BusWrites {
    before: FrameWrites,
    under_way: FrameWrites,
}

/// What an access writes, where it writes.
pub(crate) fn written(access: TraceAccess) -> Option<WriteTarget> {
    match access {
        TraceAccess::Port(port, _) => Some(WriteTarget::Port(port)),
        TraceAccess::Memory(offset, _) => Some(WriteTarget::Memory(offset)),
        TraceAccess::Read(_) | TraceAccess::MemoryRead(_) => None,
    }
}

impl BusWrites {
    /// Takes in a write made in a frame.
    pub fn take(&mut self, frame: u64, write: BusWrite) {
        if frame != self.under_way.frame {
            let fresh = FrameWrites { frame, ..FrameWrites::default() };
            self.before = std::mem::replace(&mut self.under_way, fresh);
        }
        if self.under_way.writes.len() < MOST {
            self.under_way.writes.push(write);
        } else {
            self.under_way.left_out += 1;
        }
    }

    /// How many writes of a frame are not kept.
    pub fn left_out(&self, frame: u64) -> usize {
        self.kept(frame).map_or(0, |kept| kept.left_out)
    }

    /// The writes of a frame, in the order of the beam; none where it is long past.
    pub fn of_frame(&self, frame: u64) -> &[BusWrite] {
        self.kept(frame).map_or(&[], |kept| &kept.writes)
    }

    fn kept(&self, frame: u64) -> Option<&FrameWrites> {
        [&self.under_way, &self.before].into_iter().find(|kept| kept.frame == frame)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_two_frames_are_kept() {
        let mut writes = BusWrites::default();
        let write = |line| BusWrite { line, dot: 3, what: WriteTarget::Port(0x3D4) };
        for (frame, line) in [(0, 1), (0, 2), (1, 5), (3, 7)] {
            writes.take(frame, write(line));
        }
        assert_eq!(writes.of_frame(0), []);
        assert_eq!(writes.of_frame(1), [write(5)]);
        assert_eq!(writes.of_frame(2), [], "nothing was written in it");
        assert_eq!(writes.of_frame(3), [write(7)]);
        // More than are kept are counted.
        (0..MOST as u32 + 40).for_each(|line| writes.take(4, write(line)));
        assert_eq!((writes.of_frame(4).len(), writes.left_out(4)), (MOST, 40));
        assert_eq!((writes.of_frame(3), writes.left_out(3)), (&[write(7)][..], 0));
    }
}
