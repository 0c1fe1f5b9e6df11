//! Characters that a reader does not see, and that act on what shows them.

use std::borrow::Cow;

/// Whether a character acts instead of being seen: control characters, line and paragraph separators, and those that
/// change the direction of the text around them (Unicode Standard Annex 9, section 2).
#[must_use]
pub fn is_hidden(c: char) -> bool {
    let separates = matches!(c, '\u{2028}' | '\u{2029}');
    let turns = matches!(c, '\u{61C}' | '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
    c.is_control() || separates || turns
}

/// The text with every [hidden](is_hidden) character shown escaped; line feeds and tabs stay.
///
/// ```
/// assert_eq!(backporch_input::visible("a\n\x1b[31mb"), "a\n\\u{1b}[31mb");
/// ```
#[must_use]
pub fn visible(text: &str) -> Cow<'_, str> {
    let stays = |c: char| !is_hidden(c) || matches!(c, '\n' | '\t');
    if text.chars().all(stays) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        if stays(c) {
            shown.push(c);
        } else {
            shown.extend(c.escape_default());
        }
    }
    Cow::Owned(shown)
}
