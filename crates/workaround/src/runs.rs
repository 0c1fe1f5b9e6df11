//! A line as a tap is asked about it: run by run, as the fetch itself does.

use backporch_raster::{Line, Tap};

/// Bytes of a line whose addresses follow each other, on the plain board and under a tap.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AddressRun {
    /// Offset of the first on the line.
    pub from: u32,
    /// How many.
    pub len: u32,
    /// Where the plain board fetches the first.
    pub plain: u32,
    /// Where it is fetched under the tap.
    pub linear: u32,
}

/// The runs of a line under a tap, from its first byte to its last.
pub(crate) fn runs<T: Tap>(tap: &T, line: &Line) -> impl Iterator<Item = AddressRun> {
    let mut at = 0;
    std::iter::from_fn(move || {
        if at >= line.bytes {
            return None;
        }
        let plain = line.plain_address(at);
        let run = tap.address(line, at, plain);
        // Where the counter wraps the tap is asked again.
        let to_wrap = line.mask - (plain & line.mask) + 1;
        let len = run.len.max(1).min(to_wrap).min(line.bytes - at);
        let from = at;
        at += len;
        Some(AddressRun { from, len, plain, linear: run.linear })
    })
}
