//! Names in a case: parts divided by `/`, none of which leads anywhere but down.

use crate::is_hidden;

/// Longest name, and longest part of one, in bytes: what the disks of today take.
const LONGEST_NAME: usize = 1024;
const LONGEST_PART: usize = 255;

/// What a name may be, for errors.
pub(super) const ALLOWED: &str = "a relative name, parts divided by /, without .. and : and \\";

/// Whether a name leads to a place in the case and nowhere else, on any machine.
pub(super) fn is_safe(name: &str) -> bool {
    let part_is_safe = |part: &str| !matches!(part, "" | "." | "..") && part.len() <= LONGEST_PART;
    name.len() <= LONGEST_NAME
        && !name.contains(['\\', ':'])
        && !name.chars().any(is_hidden)
        && name.split('/').all(part_is_safe)
}

/// What of two names is alike where a disk does not tell capitals apart.
#[must_use]
pub fn folded(name: &str) -> String {
    name.to_lowercase()
}

/// A name as an error shows it: a hostile one may be as long as it likes.
pub(super) fn shown(name: &str) -> String {
    match name.char_indices().nth(100) {
        Some((at, _)) => format!("{}…", &name[..at]),
        None => name.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_lead_down_only() {
        for name in ["a", "a/b.c", "a b/ä", "..a", "a..b/c", "<i>.ron"] {
            assert!(is_safe(name), "{name}");
        }
        let long = "x".repeat(256);
        for name in [
            "", "/a", "a/", "a//b", ".", "..", "a/../b", "./a", "c:/a", "c:a", "a\\b", "\\\\a\\b", "a\0b", "a\nb",
            &long,
        ] {
            assert!(!is_safe(name), "{name}");
        }
    }
}
