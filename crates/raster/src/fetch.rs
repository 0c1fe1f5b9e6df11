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

/// Joins neighbours that continue one another, and hands spans on in order.
struct Joined<F> {
    last: Option<Span>,
    each: F,
}

impl<F: FnMut(Span)> Joined<F> {
    fn add(&mut self, span: Span) {
        match &mut self.last {
            Some(last) if span.continues(last) => last.len += span.len,
            Some(last) => (self.each)(std::mem::replace(last, span)),
            None => self.last = Some(span),
        }
    }

    /// Adds a run of linear addresses, cut where the counter wraps.
    fn add_run(&mut self, line: &Line, bank: u32, mut at: u32, mut run: Run) {
        while run.len > 0 {
            let inside = run.linear & line.mask;
            let len = run.len.min(line.mask - inside + 1);
            self.add(Span { at, address: inside | bank, len });
            at += len;
            run = Run { linear: run.linear.wrapping_add(len), len: run.len - len };
        }
    }
}

/// The stages a tap touches on a line.
pub(crate) fn stages_on<T: Tap>(tap: &T, line: &Line) -> Stages {
    match tap.stages() == Stages::NONE {
        true => Stages::NONE,
        false => tap.stages_on(line),
    }
}

/// Calls `each` with the spans of `len` bytes from `offset` on, in order;
/// `stages` are those the tap touches on the line.
///
/// Spans end where the tap says so and where the counter wraps; neighbours
/// that continue one another are joined.
pub(crate) fn spans<T: Tap>(tap: &T, line: &Line, stages: Stages, offset: u32, len: u32, each: impl FnMut(Span)) {
    let mut joined = Joined { last: None, each };
    if stages.has(Stages::ADDRESS) {
        let bank = bank(tap, line);
        tap.runs(line, offset, len, &mut |at, run| joined.add_run(line, bank, at, run));
    } else {
        joined.add_run(line, line.bank, offset, Run { linear: line.healthy(offset), len });
    }
    if let Some(last) = joined.last {
        (joined.each)(last);
    }
}

/// The bank a tap chooses; it has no say in the bits that count along the line.
fn bank<T: Tap>(tap: &T, line: &Line) -> u32 {
    tap.bank(line) & !line.mask
}

/// The memory address of one byte of a line.
pub(crate) fn address<T: Tap>(tap: &T, line: &Line, offset: u32) -> u32 {
    let healthy = line.healthy(offset);
    match tap.stages().has(Stages::ADDRESS) && tap.stages_on(line).has(Stages::ADDRESS) {
        true => tap.address(line, offset, healthy).linear & line.mask | bank(tap, line),
        false => line.memory(healthy),
    }
}

/// The byte one offset of a line is fetched from, before the fetch stage's taps.
pub(crate) fn byte<T: Tap>(tap: &T, line: &Line, memory: &[u8], offset: u32) -> u8 {
    let address = address(tap, line, offset) as usize;
    memory.get(address).copied().unwrap_or(0)
}
