//! Runs: a control byte of 128 to 255 stands before one byte to store 3 to 130 times.

use super::put_plain;

/// Lengths of a run.
const RUN: std::ops::RangeInclusive<usize> = 3..=130;

/// Packs bytes.
pub fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packed = Vec::new();
    let (mut at, mut plain) = (0, 0);
    while let Some(first) = bytes.get(at) {
        let run = bytes[at..].iter().take(*RUN.end()).take_while(|byte| *byte == first).count();
        if RUN.contains(&run) {
            put_plain(&bytes[plain..at], &mut packed);
            packed.extend([run as u8 + 125, *first]);
            at += run;
            plain = at;
        } else {
            at += 1;
        }
    }
    put_plain(&bytes[plain..], &mut packed);
    packed.push(0);
    packed
}
