//! Packing memory for the program: runs and literal bytes.
//!
//! A control byte of 1 to 127 stands before that number of bytes to copy; one of 128
//! to 255 before one byte to store 3 to 130 times; 0 ends it.

/// Packs bytes.
pub(super) fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packed = Vec::new();
    let mut literal = Vec::new();
    let mut rest = bytes;
    while let Some(first) = rest.first() {
        let run = rest.iter().take(130).take_while(|byte| *byte == first).count();
        if run >= 3 {
            flush(&mut literal, &mut packed);
            packed.extend([run as u8 + 125, *first]);
            rest = &rest[run..];
        } else {
            literal.push(*first);
            if literal.len() == 127 {
                flush(&mut literal, &mut packed);
            }
            rest = &rest[1..];
        }
    }
    flush(&mut literal, &mut packed);
    packed.push(0);
    packed
}

fn flush(literal: &mut Vec<u8>, packed: &mut Vec<u8>) {
    if !literal.is_empty() {
        packed.push(literal.len() as u8);
        packed.append(literal);
    }
}

/// Unpacks what [`packed`] made; `None` where it ends early.
#[cfg(test)]
fn unpacked(mut packed: &[u8]) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
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
                let (value, rest) = rest.split_first()?;
                bytes.resize(bytes.len() + usize::from(*control) - 125, *value);
                rest
            }
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

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
