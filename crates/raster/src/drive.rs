//! What drives a board: the five calls, and a look at the beam.

use crate::frame::Frame;
use crate::position::Beam;

/// Whatever can be driven as a board: the [`Board`](crate::Board) itself and
/// the plain `Stepper` beside it.
pub trait Drive {
    /// Runs the beam until it has drawn every character clock that begins before `dot`.
    fn run_to(&mut self, dot: u64);

    /// Writes a byte to a port, at the beam's place.
    fn write_port(&mut self, port: u16, value: u8);

    /// Reads a byte from a port, at the beam's place.
    fn read_port(&mut self, port: u16) -> u8;

    /// Writes a byte of video memory at an offset into the processor's window.
    fn write_memory(&mut self, offset: u32, value: u8);

    /// Reads a byte of video memory at an offset into the processor's window.
    fn read_memory(&mut self, offset: u32) -> u8;

    /// Where the beam is.
    fn beam(&self) -> Beam;

    /// Runs to the end of the frame under way and gives it.
    fn run_frame(&mut self) -> Frame;

    /// The newest whole frame, once.
    fn take_frame(&mut self) -> Option<Frame>;

    /// The frame under way, its whole lines so far.
    fn frame_so_far(&self) -> &Frame;
}
