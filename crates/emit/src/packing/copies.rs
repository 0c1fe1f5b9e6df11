//! Copies of what came before: a control byte of 128 to 255 stands before a distance (a word, the lower byte first) from
//! which 4 to 131 bytes are copied. A copy may reach into itself.

use std::collections::HashMap;

use super::put_plain;

/// Shortest and longest copy.
const COPY: std::ops::RangeInclusive<usize> = 4..=131;
/// Most places looked at for a copy.
const MOST_TRIED: usize = 32;

/// Packs at most 32 KiB.
pub fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packed = Vec::new();
    let mut places: HashMap<[u8; 4], Vec<usize>> = HashMap::new();
    let (mut at, mut literal) = (0, 0);
    while at < bytes.len() {
        let (distance, len) = longest(bytes, at, &places);
        let taken = if len >= *COPY.start() { len } else { 1 };
        if len >= *COPY.start() {
            put_plain(&bytes[literal..at], &mut packed);
            packed.push((len - COPY.start()) as u8 | 0x80);
            packed.extend((distance as u16).to_le_bytes());
            literal = at + len;
        }
        for place in at..at + taken {
            if let Some(key) = bytes.get(place..).and_then(|rest| rest.first_chunk::<4>()) {
                places.entry(*key).or_default().push(place);
            }
        }
        at += taken;
    }
    put_plain(&bytes[literal..], &mut packed);
    packed.push(0);
    packed
}

/// Distance and length of the longest copy of what comes next.
fn longest(bytes: &[u8], at: usize, places: &HashMap<[u8; 4], Vec<usize>>) -> (usize, usize) {
    let Some(key) = bytes[at..].first_chunk::<4>() else { return (0, 0) };
    let tried = places.get(key).into_iter().flatten().rev().take(MOST_TRIED);
    let alike = |from: usize| {
        (0..*COPY.end()).take_while(|on| at + on < bytes.len() && bytes[from + on] == bytes[at + on]).count()
    };
    // Of equally long ones the nearest.
    tried.map(|from| (at - from, alike(*from))).fold((0, 0), |best, one| if one.1 > best.1 { one } else { best })
}
