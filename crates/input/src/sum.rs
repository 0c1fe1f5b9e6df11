//! Check sums (SHA-256, FIPS 180-4) in hexadecimal digits.

use std::fmt::Write as _;
use std::io;

use sha2::{Digest, Sha256};

/// Digits of a check sum.
pub(crate) const SUM_DIGITS: usize = 64;

/// The check sum of bytes.
pub(crate) fn sum(bytes: &[u8]) -> String {
    let mut summing = Summing::default();
    summing.0.update(bytes);
    summing.finish()
}

/// A check sum of what is written bit by bit.
#[derive(Default)]
pub(crate) struct Summing(Sha256);

impl Summing {
    pub(crate) fn finish(self) -> String {
        let mut text = String::with_capacity(SUM_DIGITS);
        for byte in self.0.finalize() {
            // Writing into a text cannot fail.
            let _ = write!(text, "{byte:02x}");
        }
        text
    }
}

impl io::Write for Summing {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples of one block and of two (FIPS 180-2, appendix B).
    #[test]
    fn published_examples() {
        assert_eq!(sum(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        let two = b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
        assert_eq!(sum(two), "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    }
}
