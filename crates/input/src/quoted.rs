//! Texts as RON writes them.

/// A RON string: quotation marks, backslashes and control characters escaped.
///
/// ```
/// assert_eq!(backporch_input::quoted("a \"b\""), r#""a \"b\"""#);
/// ```
#[must_use]
pub fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for character in text.chars() {
        match character {
            '"' | '\\' => quoted.extend(['\\', character]),
            control if control.is_control() => quoted.extend(control.escape_default()),
            plain => quoted.push(plain),
        }
    }
    quoted + "\""
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn ron_reads_it_back(text in any::<String>()) {
            prop_assert_eq!(ron::from_str::<String>(&quoted(&text)).unwrap(), text);
        }
    }
}
