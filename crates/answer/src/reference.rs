//! The reference page of the JSON documents, made from their schemas.

use std::collections::BTreeSet;

use serde_json::{Map, Value};

use crate::schema::schemas;

const HEAD: &str = "# JSON reference

Every command takes `--format json` and then prints one document: a JSON object with `\"version\": 1`. This page is made
from the schemas that `backporch schema COMMAND` prints (JSON Schema, draft 2020-12); the tests hold every document to
them. Fields marked *optional* are left out where they have nothing to say; a type with `or null` is always there.

Addresses and register values are decimal numbers in JSON.
";

/// The page as Markdown: a section for each command, then one for each type that documents share.
#[must_use]
pub fn reference() -> String {
    let mut page = HEAD.to_string();
    let mut types: Map<String, Value> = Map::new();
    for answer in schemas() {
        let schema = answer.schema.as_value();
        page += &format!("\n## `{}`\n\n{}", answer.command, section(schema));
        let definitions = schema.get("$defs").and_then(Value::as_object);
        types.extend(definitions.into_iter().flatten().map(|(name, schema)| (name.clone(), schema.clone())));
    }
    page += "\n# Types\n";
    let names: BTreeSet<&String> = types.keys().collect();
    for name in names {
        page += &format!("\n## {name}\n\n{}", section(&types[name]));
    }
    page
}

/// A schema's description, and a table of its fields or values.
fn section(schema: &Value) -> String {
    let mut text = described(schema).map_or_else(String::new, |description| format!("{description}\n\n"));
    let alternatives = ["oneOf", "anyOf"].iter().find_map(|key| schema.get(key)).and_then(Value::as_array);
    if let Some(fields) = schema.get("properties").and_then(Value::as_object) {
        text += &fields_table(schema, fields);
    }
    for alternative in alternatives.into_iter().flatten() {
        text += &match alternative.get("const") {
            Some(value) => {
                format!("- `{value}`: {}\n", described(alternative).unwrap_or_default())
            }
            None => format!("- {}\n", type_of(alternative)),
        };
    }
    text
}

fn fields_table(schema: &Value, fields: &Map<String, Value>) -> String {
    let required = schema.get("required").and_then(Value::as_array);
    let is_required = |name: &str| required.is_some_and(|names| names.iter().any(|one| one == name));
    let mut text = "| field | type | what it is |\n| --- | --- | --- |\n".to_string();
    for (name, field) in fields {
        let optional = if is_required(name) { "" } else { ", optional" };
        let description = described(field).unwrap_or_default();
        text += &format!("| `{name}` | {}{optional} | {description} |\n", type_of(field));
    }
    text
}

fn described(schema: &Value) -> Option<String> {
    let description = schema.get("description")?.as_str()?;
    Some(description.split_whitespace().collect::<Vec<_>>().join(" "))
}

/// A type in words, linked where it has a section of its own.
fn type_of(schema: &Value) -> String {
    if let Some(name) = schema.get("$ref").and_then(Value::as_str).and_then(|path| path.rsplit('/').next()) {
        return format!("[{name}](#{})", name.to_lowercase());
    }
    if let Some(value) = schema.get("const") {
        return format!("`{value}`");
    }
    if let Some(alternatives) = ["oneOf", "anyOf"].iter().find_map(|key| schema.get(key)).and_then(Value::as_array) {
        return alternatives.iter().map(type_of).collect::<Vec<_>>().join(" or ");
    }
    let names: Vec<&str> = match schema.get("type") {
        Some(Value::String(name)) => vec![name],
        Some(Value::Array(names)) => names.iter().filter_map(Value::as_str).collect(),
        _ => return "any".to_string(),
    };
    names.iter().map(|name| simple(name, schema)).collect::<Vec<_>>().join(" or ")
}

fn simple(name: &str, schema: &Value) -> String {
    match name {
        "array" => match schema.get("prefixItems").and_then(Value::as_array) {
            Some(items) => format!("[{}]", items.iter().map(type_of).collect::<Vec<_>>().join(", ")),
            None => format!("list of {}", schema.get("items").map_or("any".to_string(), type_of)),
        },
        "object" => match schema.get("additionalProperties").filter(|values| values.is_object()) {
            Some(values) => format!("object of {} by name", type_of(values)),
            None => "object".to_string(),
        },
        _ => name.to_string(),
    }
}
