//! Fetch: a stretch of a scan line to spans of memory.

use crate::tap::{Line, Run, Stages, Tap};

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

    /// Whether this span goes on, in memory and on its line, where `last` of the same line ends.
    #[must_use]
    pub fn continues(&self, last: &Self) -> bool {
        last.end() == self.at && last.address + last.len == self.address
    }
}

/// Calls `each` with the spans of `len` bytes from `offset` on, in order.
///
/// Spans end where the tap says so and where the counter wraps; neighbours
/// that continue one another are joined.
pub(crate) fn spans<T: Tap>(tap: &T, line: &Line, offset: u32, len: u32, mut each: impl FnMut(Span)) {
    let bent = tap.stages().has(Stages::ADDRESS) && tap.stages_on(line).has(Stages::ADDRESS);
    let bank = if bent { tap.bank(line) } else { line.bank };
    let end = offset + len;
    let mut at = offset;
    let mut joined: Option<Span> = None;
    while at < end {
        let healthy = line.healthy(at);
        let run = match bent {
            true => tap.address(line, at, healthy),
            false => Run { linear: healthy, len: u32::MAX },
        };
        let inside = run.linear & line.mask;
        let len = run.len.max(1).min(end - at).min(line.mask - inside + 1);
        let span = Span { at, address: inside | bank, len };
        at += len;
        match &mut joined {
            Some(last) if span.continues(last) => last.len += span.len,
            Some(last) => each(std::mem::replace(last, span)),
            None => joined = Some(span),
        }
    }
    if let Some(last) = joined {
        each(last);
    }
}

/// The memory address of one byte of a line.
pub(crate) fn address<T: Tap>(tap: &T, line: &Line, offset: u32) -> u32 {
    let healthy = line.healthy(offset);
    match tap.stages().has(Stages::ADDRESS) && tap.stages_on(line).has(Stages::ADDRESS) {
        true => tap.address(line, offset, healthy).linear & line.mask | tap.bank(line),
        false => line.memory(healthy),
    }
}

/// The byte one offset of a line is fetched from, before the fetch stage's taps.
pub(crate) fn byte<T: Tap>(tap: &T, line: &Line, memory: &[u8], offset: u32) -> u8 {
    let address = address(tap, line, offset) as usize;
    memory.get(address).copied().unwrap_or(0)
}
