//! Plain words for what a form holds and what a field takes, free of the names of program types.

use std::fmt::Display;

use crate::bounds::Bounds;

/// Characters of a quoted piece of a file before it is cut off with `…`.
const LONGEST_QUOTE: usize = 40;

/// Fields in round brackets.
pub(crate) const FIELDS: &str = "fields in ( )";
/// A list.
pub(crate) const LIST: &str = "a list in [ ]";
/// A map.
pub(crate) const MAP: &str = "a map in { }";
/// Values in round brackets.
pub(crate) const VALUES: &str = "values in ( )";
/// Text.
pub(crate) const TEXT: &str = "text in double quotes";
/// One character.
pub(crate) const CHARACTER: &str = "one character in single quotes";
/// A truth value.
pub(crate) const BOOLEAN: &str = "true or false";
/// A bare name.
pub(crate) const NAME: &str = "a name without quotes";
/// A number with or without a fraction.
pub(crate) const NUMBER: &str = "a number";

/// A piece of a file as a message shows it: groups by their kind, marks in backquotes, long words cut short.
pub(crate) fn piece(text: &str) -> String {
    match text {
        "" => "the end of the file".to_owned(),
        _ if text.starts_with('[') => LIST.to_owned(),
        _ if text.starts_with('{') => MAP.to_owned(),
        _ if text.starts_with('(') => VALUES.to_owned(),
        ")" | "]" | "}" | "," | ":" => format!("`{text}`"),
        _ if text.starts_with(['"', '\'', 'r', 'b']) && text.ends_with(['"', '\'', '#']) => shortened(text),
        _ => match text.split_once('(') {
            Some((name, _)) => format!("{}(…)", shortened(name.trim_end())),
            None => shortened(text),
        },
    }
}

/// `text` cut after its first [`LONGEST_QUOTE`] characters.
pub(crate) fn shortened(text: &str) -> String {
    match text.char_indices().nth(LONGEST_QUOTE) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

/// Names one after the other: `a, b, c`.
pub(crate) fn listed(names: &[&str], none: &str) -> String {
    if names.is_empty() { none.to_owned() } else { names.join(", ") }
}

/// `1 value`, `2 values`.
pub(crate) fn counted(count: impl Display) -> String {
    let count = count.to_string();
    let plural = if count == "1" { "" } else { "s" };
    format!("{count} value{plural}")
}

/// What serde says it expected, in plain words; the wording of a form's own types is kept.
pub(crate) fn plain_expected(expected: &str) -> String {
    if let Some(bounds) = Bounds::of_type(expected) {
        return bounds.in_words();
    }
    if let Some(bounds) = expected.strip_prefix("a nonzero ").and_then(Bounds::of_type) {
        return format!("{} other than 0", bounds.in_words());
    }
    if let Some(plain) = plain_kind(expected) {
        return plain.to_owned();
    }
    let begins = |starts: &[&str]| starts.iter().any(|start| expected.starts_with(start));
    if begins(&["struct ", "internally tagged enum ", "adjacently tagged enum "]) {
        FIELDS.to_owned()
    } else if begins(&["tuple struct ", "tuple variant ", "a tuple of size "]) {
        VALUES.to_owned()
    } else if begins(&["enum ", "unit struct ", "unit variant ", "variant ", "field "]) {
        NAME.to_owned()
    } else {
        expected.to_owned()
    }
}

fn plain_kind(expected: &str) -> Option<&'static str> {
    Some(match expected {
        "a boolean" => BOOLEAN,
        "a string" | "a borrowed string" | "str" | "path string" => TEXT,
        "a character" => CHARACTER,
        "unit" => "()",
        "option" => "a value or None",
        "a sequence" => LIST,
        "a map" => MAP,
        "f32" | "f64" | "a 32-bit floating point number" | "a 64-bit floating point number" => NUMBER,
        _ => return None,
    })
}

/// How many values serde says it expected, as in `a tuple of size 2` or `tuple struct … with 3 elements`.
pub(crate) fn expected_count(expected: &str) -> String {
    let is_count = |word: &&str| word.bytes().all(|byte| byte.is_ascii_digit());
    match expected.split_whitespace().rfind(is_count) {
        Some(count) => counted(count),
        None => plain_expected(expected),
    }
}

/// What serde says it found, without the kind before it: `the string "a"` is `"a"`.
pub(crate) fn plain_found(found: &str) -> String {
    let kinds = [
        "the boolean ",
        "the unsigned integer ",
        "the signed integer ",
        "the floating point number ",
        "the UTF-8 character ",
        "the string ",
        "the byte string ",
    ];
    match found {
        "a sequence" => LIST.to_owned(),
        "a map" => MAP.to_owned(),
        "a unit value" => "()".to_owned(),
        "an optional value" => "None or Some".to_owned(),
        _ if found.starts_with("a ") || found.starts_with("an ") => "a value of another kind".to_owned(),
        _ => {
            let bare = kinds.iter().find_map(|kind| found.strip_prefix(kind));
            shortened(bare.unwrap_or(found).trim_matches('`'))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn expectations_lose_their_program_names() {
        assert_eq!(plain_expected("u8"), "a whole number, 0..=255");
        assert_eq!(plain_expected("a nonzero u8"), "a whole number, 0..=255 other than 0");
        assert_eq!(plain_expected("struct BenchForm"), FIELDS);
        assert_eq!(plain_expected("tuple struct Pair with 2 elements"), VALUES);
        assert_eq!(plain_expected("a colour such as #RRGGBB"), "a colour such as #RRGGBB");
        assert_eq!(expected_count("tuple struct Pair with 2 elements"), "2 values");
        assert_eq!(expected_count("an array of length 1"), "1 value");
    }

    #[test]
    fn findings_lose_their_kinds() {
        assert_eq!(plain_found("the unsigned integer `7`"), "7");
        assert_eq!(plain_found("the string \"a\""), "\"a\"");
        assert_eq!(plain_found("a newtype variant"), "a value of another kind");
    }

    #[test]
    fn long_pieces_are_cut_at_a_character() {
        assert_eq!(piece(&"ö".repeat(50)), format!("{}…", "ö".repeat(40)));
        assert_eq!(piece("]"), "`]`");
        assert_eq!(piece("(a: 1)"), VALUES);
        assert_eq!(piece("Rows(\n    rows: 256,\n)"), "Rows(…)");
        assert_eq!(piece("\"a (b)\""), "\"a (b)\"");
    }
}
