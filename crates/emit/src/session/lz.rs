//! Packing pictures: bytes as they are, and copies of what came before.
//!
//! A control byte of 1 to 127 stands before that number of bytes; one of 128 to 255 before a distance (a word, the
//! lower byte first) from which 4 to 131 bytes are copied; 0 ends it. A copy may reach into itself.

use std::collections::HashMap;

/// Shortest and longest copy.
const COPY: std::ops::RangeInclusive<usize> = 4..=131;
/// Most places looked at for a copy.
const MOST_TRIED: usize = 32;

/// Packs at most 32 KiB.
pub(super) fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packed = Vec::new();
    let mut places: HashMap<[u8; 4], Vec<usize>> = HashMap::new();
    let (mut at, mut literal) = (0, 0);
    while at < bytes.len() {
        let (distance, len) = longest(bytes, at, &places);
        let taken = if len >= *COPY.start() { len } else { 1 };
        if len >= *COPY.start() {
            put_literal(&bytes[literal..at], &mut packed);
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
    put_literal(&bytes[literal..], &mut packed);
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

fn put_literal(bytes: &[u8], packed: &mut Vec<u8>) {
    for piece in bytes.chunks(127) {
        packed.push(piece.len() as u8);
        packed.extend_from_slice(piece);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Unpacks; `None` where it ends early or copies from nowhere.
    fn unpacked(mut packed: &[u8]) -> Option<Vec<u8>> {
        let mut bytes: Vec<u8> = Vec::new();
        loop {
            let (control, rest) = packed.split_first()?;
            packed = match control {
                0 => return Some(bytes),
                1..=127 => {
                    let (copied, rest) = rest.split_at_checked(usize::from(*control))?;
                    bytes.extend_from_slice(copied);
                    rest
                }
                _ => {
                    let (distance, rest) = rest.split_first_chunk::<2>()?;
                    let from = bytes.len().checked_sub(usize::from(u16::from_le_bytes(*distance)))?;
                    for on in 0..usize::from(control & 0x7F) + 4 {
                        bytes.push(*bytes.get(from + on)?);
                    }
                    rest
                }
            };
        }
    }

    proptest! {
        #[test]
        fn bytes_come_back(runs in prop::collection::vec((any::<u8>(), 1usize..400), 0..40)) {
            let bytes: Vec<u8> = runs.iter().flat_map(|(value, count)| std::iter::repeat_n(*value, *count)).collect();
            prop_assert_eq!(unpacked(&packed(&bytes)), Some(bytes));
        }

        #[test]
        fn noise_comes_back(bytes in prop::collection::vec(0u8..3, 0..2000)) {
            let packed = packed(&bytes);
            prop_assert!(packed.len() <= bytes.len() + bytes.len() / 100 + 3);
            prop_assert_eq!(unpacked(&packed), Some(bytes));
        }
    }
}
