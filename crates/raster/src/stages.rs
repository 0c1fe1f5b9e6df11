//! The stages of the pipeline.

bitflags::bitflags! {
    /// A set of pipeline stages.
    #[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
    pub struct Stages: u8 {
        /// Port writes.
        const PORT = 1;
        /// Taking over the start address.
        const LATCH = 2;
        /// Address of each byte.
        const ADDRESS = 4;
        /// The bytes fetched.
        const FETCH = 8;
        /// Pixel values.
        const PIXEL = 16;
        /// Colour tables.
        const COLOUR = 32;
        /// Comparands and sync.
        const SYNC = 64;
        /// Bytes written to memory by the processor.
        const MEMORY = 128;
    }
}
