//! Listings read back.

/// The bytes a listing shows, each at the address where it stands.
///
/// # Panics
/// Where a line's address is not the one after the line before.
pub fn bytes_of(listing: &str) -> Vec<u8> {
    let mut bytes = Vec::new();
    for line in listing.lines() {
        let Some((address, rest)) = line.split_once("  ") else { continue };
        let Ok(address) = usize::from_str_radix(address, 16) else { continue };
        assert_eq!(address, 0x100 + bytes.len());
        let hex = rest.split_whitespace().next().unwrap();
        bytes.extend((0..hex.len() / 2).map(|at| u8::from_str_radix(&hex[at * 2..at * 2 + 2], 16).unwrap()));
    }
    bytes
}
