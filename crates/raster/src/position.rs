//! Where the beam is, and how far it may go in one frame.

/// A frame of more dots than this is cut: no monitor locks to it.
pub(crate) const MOST_FRAME_DOTS: u64 = 1 << 21;
/// A frame of more scan lines than this is cut: no monitor locks to it.
pub(crate) const MOST_FRAME_LINES: usize = 1 << 14;

/// Where the beam is: the next character clock to be drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Beam {
    /// Dots since the board was made.
    pub dot: u64,
    /// Frame number since the board was made.
    pub frame: u64,
    /// Scan line of the frame, counted from the first one displayed.
    pub scan_line: u32,
    /// Character clock of the line.
    pub char: u32,
    /// Dot of the line.
    pub line_dot: u32,
    /// Whether memory is shown here.
    pub display: bool,
    /// Whether horizontal sync is on.
    pub horizontal_sync: bool,
    /// Whether vertical sync is on.
    pub vertical_sync: bool,
}
