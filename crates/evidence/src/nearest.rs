//! The phrase nearest to one that is not understood.

use crate::phrase::PHRASES;

/// What may be said, for a message that refuses `unknown`: the nearest phrase first named, then all of them.
pub(crate) fn allowed(unknown: &str) -> String {
    let first = unknown.split_whitespace().next().unwrap_or_default();
    let phrases = || PHRASES.split([',', ';']).map(str::trim);
    let nearest = backporch_input::nearest(unknown, phrases()).or_else(|| {
        // Of a longer text its first word may be the one that is misspelt.
        let same = |phrase: &&str| {
            let words: Vec<&str> = phrase.split_whitespace().collect();
            backporch_input::nearest(first, words).is_some()
        };
        phrases().find(same)
    });
    match nearest {
        Some(phrase) => format!("{PHRASES}; nearest to it: {phrase}"),
        None => PHRASES.to_string(),
    }
}
