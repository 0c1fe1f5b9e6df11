//! The reference of the language, made from the tables that define it.

use crate::family::Family;
use crate::language::{Action, ActionEntry, DecisionPoint, KINDS, Quantity, Value};

/// Every action: the name of its stage, and what the tables say of it.
pub fn actions() -> impl Iterator<Item = (&'static str, &'static ActionEntry)> {
    let stages = Action::<Value>::STAGES.iter();
    stages.flat_map(|(stage, actions)| actions.iter().map(move |action| (*stage, action)))
}

/// The names of the quantities that are known where an action decides whether to act.
#[must_use]
pub fn quantities_known(place: DecisionPoint) -> Vec<&'static str> {
    Quantity::<Value>::known_at(place)
}

/// The actions, quantities, conditions and built-in families, as Markdown tables.
#[must_use]
pub fn reference() -> String {
    let mut text = "\n## Actions\n".to_owned();
    for (stage, entries) in Action::<Value>::STAGES {
        let rows = entries.iter().map(|entry| {
            [format!("`{}`", entry.name), values(entry), entry.decides_at.short().to_owned(), entry.plain_words()]
        });
        text += &format!("\n### {stage}\n\n");
        text += &table(["action", "values", "decides at a", "what it does"], rows);
    }
    let rows = Quantity::<Value>::TABLE.iter();
    let rows = rows.map(|(name, words)| [format!("`{name}`"), (*words).to_owned(), known_to(name)]);
    text += "\n## Quantities\n\n";
    text += &table(["quantity", "what it is", "known at a"], rows);
    text += "\n## Conditions\n\n";
    text +=
        &table(["condition", "holds"], KINDS.iter().map(|(form, words)| [format!("`{form}`"), (*words).to_owned()]));
    text += "\n## Built-in families\n\n";
    let rows = Family::all_built_in().map(|family| {
        let standing = family.standing().word();
        let stage = family.form().effects.first().map_or("", |effect| effect.does.stage());
        [
            format!("`{}`", family.name()),
            stage.to_owned(),
            family.title().to_owned(),
            family.count().to_string(),
            standing.to_owned(),
        ]
    });
    text + &table(["name", "stage", "what is wrong", "members", "standing"], rows)
}

/// A Markdown table.
fn table<const COLUMNS: usize>(head: [&str; COLUMNS], rows: impl Iterator<Item = [String; COLUMNS]>) -> String {
    let line = |cells: &[String]| format!("| {} |\n", cells.join(" | "));
    let rule = vec!["---".to_owned(); COLUMNS];
    let rows: String = rows.map(|row| line(&row)).collect();
    line(&head.map(str::to_owned)) + &line(&rule) + &rows
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
    let decides_at = |place: &&DecisionPoint| quantities_known(**place).contains(&name);
    let places: Vec<&str> = DecisionPoint::ALL.iter().filter(decides_at).map(|place| place.short()).collect();
    if places.is_empty() { "as the quantity is".to_owned() } else { places.join(", ") }
}
