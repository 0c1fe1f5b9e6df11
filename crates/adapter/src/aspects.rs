//! What depends on a register cell, so that a write makes only that anew.

bitflags::bitflags! {
    /// A set of the things that are decoded from registers.
    #[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
    pub struct Aspects: u8 {
        /// Comparands of the counters.
        const TIMING = 1;
        /// How memory is shown.
        const SHOWN = 2;
        /// Colours of pixel values and border.
        const COLOUR = 4;
        /// The processor's way to memory.
        const MEMORY = 8;
        /// Dot clock and polarity of sync: what the monitor is sent beside the counters.
        const SIGNAL = 16;
    }
}
