//! The reference of the language, made from the tables that define it.

use std::fmt::Write;

use crate::language::{Action, ActionEntry, KINDS, Knows, Quantity, Value};

/// Every action: the name of its stage, and what the tables say of it.
pub fn actions() -> impl Iterator<Item = (&'static str, &'static ActionEntry)> {
    let stages = Action::<Value>::STAGES.iter();
    stages.flat_map(|(stage, actions)| actions.iter().map(move |action| (*stage, action)))
}

/// The names of the quantities that are known where an action decides whether to act.
#[must_use]
pub fn quantities_known(place: Knows) -> Vec<&'static str> {
    Quantity::<Value>::known_at(place)
}

/// The actions, quantities and conditions of the language, as Markdown tables.
#[must_use]
pub fn reference() -> String {
    let mut text = String::new();
    for (stage, entries) in Action::<Value>::STAGES {
        // Writing to a text does not fail.
        let _ = write!(text, "### {stage}\n\n| action | values | what it does |\n| --- | --- | --- |\n");
        for entry in *entries {
            let _ = writeln!(text, "| `{}` | {} | {} |", entry.name, values(entry), entry.plain_words());
        }
        text.push('\n');
    }
    text += "### Quantities\n\n| quantity | what it is | known to |\n| --- | --- | --- |\n";
    for (name, words) in Quantity::<Value>::TABLE {
        let _ = writeln!(text, "| `{name}` | {words} | {} |", known_to(name));
    }
    text += "\n### Conditions\n\n| condition | holds |\n| --- | --- |\n";
    for (form, words) in KINDS {
        let _ = writeln!(text, "| `{form}` | {words} |");
    }
    text
}

impl ActionEntry {
    /// What it does, the names of its values as code.
    fn plain_words(&self) -> String {
        self.words.replace(":#}", "}").replace(['{', '}'], "`")
    }
}

fn values(entry: &ActionEntry) -> String {
    let each = entry.fields.iter().map(|(name, limits)| format!("`{name}`: {limits}"));
    each.collect::<Vec<_>>().join("; ")
}

fn known_to(quantity: &str) -> String {
    let name = quantity.split('(').next().unwrap_or_default();
    let knows = |place: &&Knows| quantities_known(**place).contains(&name);
    let places: Vec<&str> = Knows::ALL.iter().filter(knows).map(|place| place.short()).collect();
    if places.is_empty() { "as the quantity is".to_owned() } else { places.join(", ") }
}
