//! What a text form may not hold although it can be read: two values under one key, and texts with hidden characters.

use std::collections::HashSet;

use crate::lex::{TokenKind, tokens};
use crate::outline::Outline;
use crate::{InputError, Source, TextPosition, is_hidden};

/// Refuses the first key that stands twice in one group, for RON and JSON alike.
///
/// # Errors
/// The key at its second place.
pub fn refuse_doubled_keys(source: &Source) -> Result<(), InputError> {
    let text = source.text();
    let mut seen = HashSet::new();
    for (group, key, span) in Outline::of(text).keys() {
        if !seen.insert((group, key.clone())) {
            let error = InputError::new(source.name(), format!("{key} a second time"), "each name once in a group");
            return Err(error.at(TextPosition::of(text, span.start)).in_field(key));
        }
    }
    Ok(())
}

/// Refuses the first text that holds a [hidden](is_hidden) character.
pub(crate) fn refuse_hidden(source: &Source) -> Result<(), InputError> {
    let text = source.text();
    for token in tokens(text).filter(|token| token.kind == TokenKind::Quoted) {
        // What is no text is a character or a list of bytes: it names nothing.
        let Ok(value) = ron::from_str::<String>(&text[token.span.clone()]) else { continue };
        if let Some(hidden) = value.chars().find(|c| is_hidden(*c)) {
            let found = format!("a text with the character U+{:04X}", u32::from(hidden));
            let allowed = "texts without control characters and changes of direction";
            let outline = Outline::of(text);
            let error = InputError::new(source.name(), found, allowed).at(TextPosition::of(text, token.span.start));
            return Err(error.in_field(outline.path_to(token.span.start)));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parse;
    use std::collections::BTreeMap;

    fn refusal(text: &str) -> String {
        parse::<BTreeMap<String, BTreeMap<String, String>>>(&Source::built_in("a.ron", text)).unwrap_err().to_string()
    }

    #[test]
    fn a_key_stands_once() {
        assert_eq!(
            refusal("{\"a\": {\"b\": \"1\"},\n \"c\": {\"b\": \"1\", \"\\u{62}\": \"2\"}}"),
            "a.ron:2:18: b: found b a second time, allowed each name once in a group"
        );
        assert!(refusal("{\"a\": {}, \"a\": {}}").contains("a second time"));
        let json = Source::built_in("a.json", "{\"a\": [{\"b\": 1}, {\"b\": 2}], \"c\": {\"b\": 1, \"b\": 2}}");
        assert!(refuse_doubled_keys(&json).unwrap_err().to_string().starts_with("a.json:1:43: b: "));
    }

    #[test]
    fn hidden_characters_are_refused_written_out_or_escaped() {
        for hidden in ["\u{1b}", "\\u{1b}", "\\n", "\u{202e}", "\\u{2066}", "\\r", "\u{7f}"] {
            let said = refusal(&format!("{{\"a\": {{\"b\": \"x{hidden}y\"}}}}"));
            assert!(said.starts_with("a.ron:1:13: a.b: found a text with the character U+"), "{said}");
        }
        let plain = "{\"a\": {\"b\": \"größer → ②\"}}";
        parse::<BTreeMap<String, BTreeMap<String, String>>>(&Source::built_in("a.ron", plain)).unwrap();
    }
}
