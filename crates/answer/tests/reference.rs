//! The reference page is the one that the schemas give. `BACKPORCH_RENEW=1` writes it anew.

use std::path::Path;

use backporch_answer::{reference, schemas};

#[test]
fn the_reference_page_follows_the_schemas() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/json.md");
    let page = reference();
    if std::env::var_os("BACKPORCH_RENEW").is_some_and(|value| value == "1") {
        std::fs::write(&path, &page).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap();
    assert!(kept == page, "docs/json.md is out of date; BACKPORCH_RENEW=1 cargo test -p backporch-answer renews it");
}

/// Every document has the version, and every field and value says what it is.
#[test]
fn every_field_is_described() {
    for answer in schemas() {
        let schema = answer.schema.as_value();
        assert!(schema["properties"]["version"].is_object(), "{}", answer.command);
        let mut bare = Vec::new();
        undescribed(schema, answer.command, &mut bare);
        assert!(bare.is_empty(), "{bare:?}");
    }
}

fn undescribed(schema: &serde_json::Value, path: &str, bare: &mut Vec<String>) {
    for (name, definition) in schema["$defs"].as_object().into_iter().flatten() {
        undescribed(definition, name, bare);
    }
    for (name, field) in schema["properties"].as_object().into_iter().flatten() {
        if field["description"].is_null() {
            bare.push(format!("{path}.{name}"));
        }
    }
}
