//! The name that was probably meant.

use strsim::osa_distance;

/// Names longer than this are not compared: they are hardly mistyped, and comparing costs the product of the lengths.
const LONGEST_COMPARED: usize = 64;

/// The known name nearest to `found`, or `None` if none is near enough to be a slip of the keyboard.
///
/// Near enough is one slip (a letter too many, too few, wrong, or two swapped) for each three letters of `found`,
/// and at least one; upper and lower case count as equal. Of equally near names the first wins.
#[must_use]
pub fn nearest<'a>(found: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let found = found.to_lowercase();
    let letters = found.chars().count();
    if letters == 0 || found.len() > LONGEST_COMPARED {
        return None;
    }
    let slips_allowed = (letters / 3).max(1);
    known
        .into_iter()
        .filter(|name| name.len() <= LONGEST_COMPARED)
        .map(|name| (osa_distance(&found, &name.to_lowercase()), name))
        .filter(|(slips, _)| *slips <= slips_allowed && *slips < letters)
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    const NAMES: [&str; 4] = ["displayed", "total", "start_address", "sync_position"];

    #[test]
    fn slips_find_their_name() {
        assert_eq!(nearest("dispalyed", NAMES), Some("displayed"));
        assert_eq!(nearest("Total", NAMES), Some("total"));
        assert_eq!(nearest("start_adress", NAMES), Some("start_address"));
    }

    #[test]
    fn strangers_find_nothing() {
        assert_eq!(nearest("palette", NAMES), None);
        assert_eq!(nearest("", NAMES), None);
        assert_eq!(nearest("x", ["y"]), None);
        assert_eq!(nearest(&"displayed".repeat(1000), NAMES), None);
    }
}
