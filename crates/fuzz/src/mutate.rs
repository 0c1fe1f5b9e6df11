//! Inputs changed at random.

use fastrand::Rng;

/// Most changes to one input.
const MOST_CHANGES: usize = 6;
/// Most bytes that one change takes, doubles or brings.
const MOST_BYTES: usize = 64;
/// What a person's slip or an attacker's wish may look like.
const WORDS: [&str; 26] = [
    "0",
    "-1",
    "1",
    "65535",
    "65536",
    "4294967295",
    "4294967296",
    "18446744073709551616",
    "1e309",
    "NaN",
    "inf",
    "0x",
    "\"\"",
    "\"0..0\"",
    "\"0..=18446744073709551615/1\"",
    "(",
    ")",
    "[",
    "]",
    "{",
    "}",
    ",",
    "None",
    "Some(",
    "../..",
    "\u{202E}",
];

/// One of some inputs, with a few stretches taken out, doubled, exchanged or brought in from another one.
#[must_use]
pub fn mutated(rng: &mut Rng, corpus: &[Vec<u8>]) -> Vec<u8> {
    let Some(of) = rng.choice(corpus) else {
        return Vec::new();
    };
    let mut bytes = of.clone();
    for _ in 0..rng.usize(1..=MOST_CHANGES) {
        change(rng, &mut bytes, corpus);
    }
    bytes
}

fn change(rng: &mut Rng, bytes: &mut Vec<u8>, corpus: &[Vec<u8>]) {
    let at = rng.usize(0..=bytes.len());
    let to = rng.usize(at..=bytes.len().min(at + MOST_BYTES));
    match rng.u8(0..8) {
        0 => drop(bytes.drain(at..to)),
        1 => {
            let again = bytes[at..to].to_vec();
            bytes.splice(at..at, again);
        }
        2 => {
            let other = rng.choice(corpus).map_or(&[][..], Vec::as_slice);
            let from = rng.usize(0..=other.len());
            let until = rng.usize(from..=other.len().min(from + MOST_BYTES));
            bytes.splice(at..to, other[from..until].iter().copied());
        }
        3 => replace_number(rng, bytes, at),
        4 => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte ^= 1 << rng.u8(0..8);
            }
        }
        5 => bytes.truncate(at),
        6 => {
            let random: Vec<u8> = (at..to).map(|_| rng.u8(..)).collect();
            bytes.splice(at..to, random);
        }
        _ => {
            let word = rng.choice(WORDS).unwrap_or_default();
            bytes.splice(at..at, word.bytes());
        }
    }
}

/// Puts a word in the place of the next number.
fn replace_number(rng: &mut Rng, bytes: &mut Vec<u8>, at: usize) {
    let Some(from) = bytes[at..].iter().position(u8::is_ascii_digit).map(|ahead| at + ahead) else {
        return;
    };
    let len = bytes[from..].iter().take_while(|byte| byte.is_ascii_alphanumeric()).count();
    let word = rng.choice(WORDS).unwrap_or_default();
    bytes.splice(from..from + len, word.bytes());
}
