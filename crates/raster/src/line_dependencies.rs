//! Which facts of a line decide what a tap does to it.
//!
//! A search over start addresses asks the same tap about millions of lines. It
//! may reuse an answer only where the tap has said that nothing it looks at
//! has changed; a tap that says nothing is taken to look at everything.

bitflags::bitflags! {
    /// A set of the facts of a [`Line`](crate::Line).
    ///
    /// The display format, `unit` and `mask` are the same for all lines of a
    /// setting and belong to no set.
    #[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
    pub struct LineDependencies: u8 {
        /// `linear`: where the line begins.
        const LINEAR = 1;
        /// `displayed`, `bytes` and `pitch`: how long it is.
        const LENGTH = 2;
        /// `scan_line`, `picture_line`, `row`, `row_address` and `bank`: which line it is.
        const PLACE = 4;
        /// `start`: the frame's start address.
        const START = 8;
        /// `frame`: the frame's number.
        const FRAME = 16;
    }
}
