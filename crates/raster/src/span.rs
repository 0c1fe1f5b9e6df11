//! Spans: stretches of memory on a scan line.

/// Consecutive bytes of memory shown on consecutive places of a scan line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Span {
    /// Offset of the first byte on its line.
    pub at: u32,
    /// Memory address of the first byte.
    pub address: u32,
    /// Number of bytes, at least 1.
    pub len: u32,
}

impl Span {
    /// Offset after the last byte.
    #[must_use]
    pub fn end(&self) -> u32 {
        self.at + self.len
    }

    /// What of this span lies at or after an offset of its line.
    pub(crate) fn starting_at(self, offset: u32) -> Option<Self> {
        let gone = offset.saturating_sub(self.at);
        (gone < self.len).then(|| Self { at: self.at + gone, address: self.address + gone, len: self.len - gone })
    }

    /// Whether this span goes on, in memory and on its line, where `last` of the same line ends.
    #[must_use]
    pub fn continues(&self, last: &Self) -> bool {
        last.end() == self.at && last.address + last.len == self.address
    }
}
