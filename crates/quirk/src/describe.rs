//! What a family does, said back in plain words.

use crate::family::Family;
use crate::family_form::{FamilyEffect, Threshold};
use crate::language::{Condition, Value};
use crate::quirk::Quirk;

impl Family {
    /// What it does, one sentence an effect, parameters by name.
    #[must_use]
    pub fn describe(&self) -> Vec<String> {
        self.form().effects.iter().map(FamilyEffect::words).collect()
    }
}

impl Quirk {
    /// What it does, one sentence an effect, parameters by value.
    #[must_use]
    pub fn describe(&self) -> Vec<String> {
        let number = &mut |value: &Value| Value::Number(self.number(value).into());
        let filled = self.family().form().effects.iter().map(|effect| FamilyEffect {
            when: effect.when.map(number),
            does: effect.does.map(number),
            threshold: effect.threshold.as_ref().map(|threshold| Threshold {
                of: threshold.of.map(number),
                from: number(&threshold.from),
                does: threshold.does.map(number),
            }),
        });
        filled.map(|effect| effect.words()).collect()
    }
}

impl FamilyEffect {
    fn words(&self) -> String {
        let mut words = String::new();
        if self.when != Condition::Always {
            words += &format!("When {}: ", self.when.words());
        }
        words += &self.does.words();
        if let Some(threshold) = &self.threshold {
            let (of, from) = (threshold.of.words(), &threshold.from);
            words += &format!("; but once {of} is {from} or more, {}", threshold.does.words());
        }
        words += ".";
        capital(&words)
    }
}

fn capital(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map(|first| first.to_uppercase().chain(chars).collect()).unwrap_or_default()
}
