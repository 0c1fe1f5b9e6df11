//! Packing bytes for programs, control byte by control byte.
//!
//! One of 1 to 127 stands before that number of bytes as they are; what one of 128 to 255 means is each form's own; 0 ends
//! it. [`runs`] needs no look back, so that video memory is only written; [`copies`] packs tighter, by way of a buffer.

pub mod copies;
pub mod runs;

/// Most bytes as they are behind one control byte.
const MOST_PLAIN: usize = 127;

/// Puts bytes as they are.
fn put_plain(bytes: &[u8], packed: &mut Vec<u8>) {
    for piece in bytes.chunks(MOST_PLAIN) {
        packed.push(piece.len() as u8);
        packed.extend_from_slice(piece);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A form's own part of unpacking: the control byte, what follows it, the bytes so far; gives what is left.
    type Own = for<'a> fn(u8, &'a [u8], &mut Vec<u8>) -> Option<&'a [u8]>;

    type Pack = fn(&[u8]) -> Vec<u8>;

    /// How each form packs, and its own part of unpacking.
    const FORMS: [(Pack, Own); 2] = [(runs::packed, repeated), (copies::packed, copied)];

    fn repeated<'a>(control: u8, rest: &'a [u8], bytes: &mut Vec<u8>) -> Option<&'a [u8]> {
        let (value, rest) = rest.split_first()?;
        bytes.resize(bytes.len() + usize::from(control) - 125, *value);
        Some(rest)
    }

    fn copied<'a>(control: u8, rest: &'a [u8], bytes: &mut Vec<u8>) -> Option<&'a [u8]> {
        let (distance, rest) = rest.split_first_chunk::<2>()?;
        let from = bytes.len().checked_sub(usize::from(u16::from_le_bytes(*distance)))?;
        for on in 0..usize::from(control & 0x7F) + 4 {
            bytes.push(*bytes.get(from + on)?);
        }
        Some(rest)
    }

    /// Unpacks; `None` where it ends early or copies from nowhere.
    fn unpacked(mut packed: &[u8], own: Own) -> Option<Vec<u8>> {
        let mut bytes = Vec::new();
        loop {
            let (control, rest) = packed.split_first()?;
            packed = match control {
                0 => return Some(bytes),
                1..=127 => {
                    let (plain, rest) = rest.split_at_checked(usize::from(*control))?;
                    bytes.extend_from_slice(plain);
                    rest
                }
                _ => own(*control, rest, &mut bytes)?,
            };
        }
    }

    proptest! {
        #[test]
        fn bytes_come_back(runs in prop::collection::vec((any::<u8>(), 1usize..400), 0..40)) {
            let bytes: Vec<u8> = runs.iter().flat_map(|(value, count)| std::iter::repeat_n(*value, *count)).collect();
            for (pack, own) in FORMS {
                prop_assert_eq!(unpacked(&pack(&bytes), own), Some(bytes.clone()));
            }
        }

        #[test]
        fn noise_comes_back(bytes in prop::collection::vec(0u8..3, 0..2000)) {
            for (pack, own) in FORMS {
                let packed = pack(&bytes);
                prop_assert!(packed.len() <= bytes.len() + bytes.len() / 100 + 3);
                prop_assert_eq!(unpacked(&packed, own), Some(bytes.clone()));
            }
        }
    }
}
