//! Fetch: a stretch of a scan line to spans of memory.

use crate::line::{Line, Run};
use crate::span::Span;
use crate::stages::Stages;
use crate::tap::{LineEffects, Plain, Tap};

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

    /// Adds a run of linear addresses, cut where the counter wraps or memory goes on elsewhere.
    fn add_run(&mut self, line: &Line, bank: u32, mut at: u32, mut run: Run) {
        while run.len > 0 {
            let len = run.len.min(line.consecutive(run.linear));
            self.add(Span { at, address: line.place(run.linear) | bank, len });
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
    pub fn plain_spans_of(&self, len: u32, each: impl FnMut(Span)) {
        spans(&Plain, self, &LineEffects::default(), 0, len, each);
    }

    /// The spans from which a board under a tap fetches the line, in order, written over `all`;
    /// `effects` is what of the tap acts on the line.
    pub fn spans_into<T: Tap>(&self, tap: &T, effects: &LineEffects, all: &mut Vec<Span>) {
        all.clear();
        spans(tap, self, effects, 0, self.fetched(), |span| all.push(span));
    }
}

/// What of a tap acts on a line.
pub(crate) fn line_effects<T: Tap>(tap: &T, line: &Line) -> LineEffects {
    if tap.stages().is_empty() { LineEffects::default() } else { tap.line_effects(line) }
}

/// Calls `each` with the spans of `len` bytes from `offset` on, in order;
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
    each: impl FnMut(Span),
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
    if let Some(last) = joined.last {
        (joined.each)(last);
    }
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
