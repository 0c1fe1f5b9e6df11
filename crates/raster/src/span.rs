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

/// Spans of equal length, each as far on in memory from the one before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct SpanRow {
    pub first: Span,
    /// Number of spans, at least 1.
    pub count: u32,
    /// Bytes of memory from the start of one to that of the next.
    pub step: u32,
}

impl From<Span> for SpanRow {
    fn from(first: Span) -> Self {
        Self { first, count: 1, step: 0 }
    }
}

impl SpanRow {
    /// Its spans, in order.
    pub fn spans(self) -> impl ExactSizeIterator<Item = Span> {
        let Self { first: Span { at, address, len }, count, step } = self;
        (0..count).map(move |index| Span { at: at + index * len, address: address + index * step, len })
    }

    /// Appends the bytes of its spans; where they lead out of memory, nothing answers: 0.
    pub fn read(self, memory: &[u8], bytes: &mut Vec<u8>) {
        let Self { first: Span { address, len, .. }, count, step } = self;
        let (from, len) = (address as usize, len as usize);
        let all = (count as usize - 1) * step as usize + len;
        match memory.get(from..from + all) {
            Some(there) if count == 1 => bytes.extend_from_slice(there),
            Some(there) => {
                let first = bytes.len();
                bytes.resize(first + count as usize * len, 0);
                let places = bytes[first..].chunks_exact_mut(len);
                places.zip(there.chunks(step as usize)).for_each(|(place, there)| place.copy_from_slice(&there[..len]));
            }
            None => self.spans().for_each(|span| {
                let end = bytes.len() + len;
                let from = span.address as usize;
                bytes.extend_from_slice(memory.get(from..memory.len().min(from + len)).unwrap_or(&[]));
                bytes.resize(end, 0);
            }),
        }
    }
}
