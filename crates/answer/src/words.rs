//! Phrases that several answers share.

use std::collections::BTreeMap;
use std::fmt::Display;

/// The names of faults, or `no faults`.
pub fn faults(names: &[String]) -> String {
    if names.is_empty() { "no faults".to_string() } else { names.join(", ") }
}

/// `1 pixel`, `2 pixels`.
pub fn counted(number: u64, singular: &str) -> String {
    if number == 1 { format!("1 {singular}") } else { format!("{number} {singular}s") }
}

/// `name value, name value`.
pub fn settings<V: Display>(values: &BTreeMap<String, V>) -> String {
    let settings: Vec<String> = values.iter().map(|(name, value)| format!("{name} {value}")).collect();
    settings.join(", ")
}

/// A probability in hundredths.
pub fn percent(probability: f64) -> String {
    let percent = probability * 100.0;
    if percent < 0.05 { "< 0.1 %".to_string() } else { format!("{percent:.1} %") }
}

/// The names of a bench's faults, in the order in which they act.
pub fn fault_names(bench: &backporch_bench::Bench) -> Vec<String> {
    bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect()
}
