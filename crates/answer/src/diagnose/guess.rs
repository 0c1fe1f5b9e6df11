//! A family that was put together from what was seen.

use backporch_diagnosis::Guess;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A family that was put together from what was seen: a conjecture to try, not a known fault.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GuessAnswer {
    /// Its name.
    pub quirk: String,
    /// Its file.
    pub text: String,
    /// What it takes to write it down, in bits; of guesses that explain as much the shortest comes first.
    pub bits: f64,
    /// Sightings that it explains.
    pub explains: usize,
    /// Sightings that speak against it.
    pub contradicts: usize,
}

impl GuessAnswer {
    pub(super) fn new(guess: &Guess) -> Self {
        Self {
            quirk: guess.family.name().to_string(),
            text: guess.text.clone(),
            bits: guess.bits,
            explains: guess.explains,
            contradicts: guess.contradicts,
        }
    }

    /// The effect, from its file, in one line.
    pub(super) fn text(&self, counted: usize) -> String {
        let effect = self.text.lines().find(|line| line.contains("does:")).unwrap_or_default().trim();
        format!("  a guess to try, {}: {effect} explains {} of {counted}\n", self.quirk, self.explains)
    }
}
