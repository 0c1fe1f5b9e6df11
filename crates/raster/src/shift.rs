//! Where a monitor shows a frame.

/// How far the monitor shows a frame from its place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Shift {
    /// To the right, in dots.
    pub dots: i32,
    /// VerticalCounters, in scan lines.
    pub lines: i32,
}

impl Shift {
    /// Whether the frame stands in its place.
    #[must_use]
    pub fn is_none(self) -> bool {
        self == Self::default()
    }
}
