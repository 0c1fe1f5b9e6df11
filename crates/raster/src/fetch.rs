//! Fetch: a stretch of a scan line to spans of memory.

use backporch_adapter::PLANES;

use crate::line::{Line, Run};
use crate::span::{Span, SpanRow};
use crate::stages::Stages;
use crate::tap::{LineEffects, Plain, Tap};

/// Joins neighbours that continue one another, and hands spans on in order.
struct Joined<F> {
    last: Option<Span>,
    each: F,
}

impl<F: FnMut(SpanRow)> Joined<F> {
    fn add(&mut self, span: Span) {
        match &mut self.last {
            Some(last) if span.continues(last) => last.len += span.len,
            Some(last) => (self.each)(std::mem::replace(last, span).into()),
            None => self.last = Some(span),
        }
    }

    /// Adds spans none of which continues the one before.
    fn add_row(&mut self, row: SpanRow) {
        let SpanRow { first, count, step } = row;
        self.add(first);
        let moved = |by: u32| Span { at: first.at + by * first.len, address: first.address + by * step, ..first };
        if count > 2 {
            self.end();
            (self.each)(SpanRow { first: moved(1), count: count - 2, step });
        }
        if count > 1 {
            self.add(moved(count - 1));
        }
    }

    fn end(&mut self) {
        if let Some(last) = self.last.take() {
            (self.each)(last.into());
        }
    }

    /// Adds a run of linear addresses, cut where the counter wraps or memory goes on elsewhere.
    fn add_run(&mut self, line: &Line, bank: u32, mut at: u32, mut run: Run) {
        while run.len > 0 {
            let address = line.place(run.linear) | bank;
            let len = match line.strided(run.linear) {
                Some((step, units)) if run.len >= PLANES => {
                    let count = units.min(run.len / PLANES);
                    self.add_row(SpanRow { first: Span { at, address, len: PLANES }, count, step });
                    count * PLANES
                }
                _ => {
                    let len = run.len.min(line.consecutive(run.linear));
                    self.add(Span { at, address, len });
                    len
                }
            };
            at += len;
            run = Run { linear: run.linear.wrapping_add(len), len: run.len - len };
        }
    }
}

impl Line {
    /// The spans from which a plain board fetches the line, in order: what its registers mean.
    #[must_use]
    pub fn plain_spans(&self) -> Vec<Span> {
        let mut all = Vec::new();
        self.spans_into(&Plain, &LineEffects::default(), &mut all);
        all
    }

    /// Calls `each` with the spans of `len` bytes on from the line's first one, in order, as its registers mean
    /// them; `len` may go beyond what the line shows.
    pub fn plain_spans_of(&self, len: u32, mut each: impl FnMut(Span)) {
        spans(&Plain, self, &LineEffects::default(), 0, len, |row| row.spans().for_each(&mut each));
    }

    /// The spans from which a board under a tap fetches the line, in order, written over `all`;
    /// `effects` is what of the tap acts on the line.
    pub fn spans_into<T: Tap>(&self, tap: &T, effects: &LineEffects, all: &mut Vec<Span>) {
        all.clear();
        spans(tap, self, effects, 0, self.fetched(), |row| all.extend(row.spans()));
    }
}

/// What of a tap acts on a line.
pub(crate) fn line_effects<T: Tap>(tap: &T, line: &Line) -> LineEffects {
    if tap.stages().is_empty() { LineEffects::default() } else { tap.line_effects(line) }
}

/// Calls `each` with the spans of `len` bytes from `offset` on, in order, row by row;
/// `effects` is what of the tap acts on the line.
///
/// Spans end where the tap says so and where the counter wraps; neighbours
/// that continue one another are joined.
pub(crate) fn spans<T: Tap>(
    tap: &T,
    line: &Line,
    effects: &LineEffects,
    offset: u32,
    len: u32,
    each: impl FnMut(SpanRow),
) {
    let mut joined = Joined { last: None, each };
    let intercepted = effects.stages.contains(Stages::ADDRESS);
    let bank = if intercepted { bank(tap, line) } else { line.bank };
    for (at, len) in counting_runs(line, offset, len) {
        if intercepted {
            tap.runs(line, effects, at, len, &mut |at, run| joined.add_run(line, bank, at, run));
        } else {
            joined.add_run(line, bank, at, Run { linear: line.plain_address(at), len });
        }
    }
    joined.end();
}

/// Cuts a stretch where the address stands still: at every character clock of
/// lines whose counter skips some of them.
fn counting_runs(line: &Line, offset: u32, len: u32) -> impl Iterator<Item = (u32, u32)> {
    let end = offset + len;
    let step = if line.repeat == 0 { u32::MAX } else { line.char_bytes.max(1) };
    let cut = move |at: u32| (at / step).saturating_add(1).saturating_mul(step).min(end);
    std::iter::successors((len > 0).then_some(offset), move |at| Some(cut(*at)).filter(|next| *next < end))
        .map(move |at| (at, cut(at) - at))
}

/// The bank a tap chooses; it has no say in the bits that count along the line.
fn bank<T: Tap>(tap: &T, line: &Line) -> u32 {
    line.bank_bits(tap.bank(line))
}

/// The byte one offset of a line is fetched from, before the fetch stage's taps.
pub(crate) fn byte<T: Tap>(tap: &T, line: &Line, effects: &LineEffects, memory: &[u8], offset: u32) -> u8 {
    let plain = line.plain_address(offset);
    let address = if effects.stages.contains(Stages::ADDRESS) {
        line.place(tap.address(line, offset, plain).linear) | bank(tap, line)
    } else {
        line.memory(plain)
    };
    memory.get(address as usize).copied().unwrap_or(0)
}
