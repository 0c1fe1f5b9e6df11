//! `boards`: the adapter profiles.

use std::path::Path;

use anyhow::Result;
use backporch_adapter::{ADAPTERS, Adapter};
use backporch_answer::{BoardAnswer, BoardProfileAnswer, BoardsAnswer};
use clap::Args;
use serde::Serialize;
use serde_json::Value;

use crate::output::{CheckResult, Output};

#[derive(Debug, Args)]
pub struct BoardsArgs {
    /// The adapter to show in full: a name, or the path of a profile
    pub name: Option<String>,
}

pub fn run(args: &BoardsArgs, output: &mut Output) -> Result<CheckResult> {
    if let Some(name) = &args.name {
        let adapter = Adapter::open(name, Path::new(""))?;
        output.answer(&BoardProfileAnswer::new(adapter.profile())?, |_| in_full(&adapter))?;
        return Ok(CheckResult::Nothing);
    }
    let boards = ADAPTERS.names().map(|name| Ok(BoardAnswer::new(Adapter::open(name, Path::new(""))?.profile())));
    let boards = boards.collect::<Result<_>>()?;
    output.answer(&BoardsAnswer { boards }, |answer| answer.boards.iter().map(BoardAnswer::text).collect())?;
    Ok(CheckResult::Nothing)
}

fn in_full(adapter: &Adapter) -> String {
    let profile = adapter.profile();
    let memory = profile.memory;
    let mut text = format!(
        "{}: {}\n\ndot clock {}\nmemory    {} KiB, window {:X}h to {:X}h\n",
        profile.name,
        profile.title,
        adapter.dot_clock(),
        memory.bytes / 1024,
        memory.window,
        memory.window + memory.window_bytes - 1,
    );
    text += "\nWhat is known\n";
    for fact in &profile.facts {
        text += &format!("  {} ({})\n", fact.says, fact.basis);
    }
    text += "\nBy design\n";
    if profile.by_design.is_empty() {
        text += "  nothing but what a programmer's manual tells\n";
    }
    for behaviour in &profile.by_design {
        text += &format!("  {:22}  {} ({})\n", behaviour.name, behaviour.says, behaviour.basis);
    }
    text += &format!("\nTiming\n  {}\n", in_words(&profile.timing));
    text += "\nRegisters\n";
    for (_, field) in adapter.fields() {
        let cells: Vec<String> = field.bits.iter().rev().map(cell_text).collect();
        let offset = if field.plus > 0 { format!(", holds the quantity less {}", field.plus) } else { String::new() };
        let unit = if field.unit.is_empty() { String::new() } else { format!(", in {}", field.unit) };
        text += &format!(
            "  {:22}  {:26}  0..={}{unit}{offset}\n  {:24}{} ({})\n",
            field.name,
            cells.join(" "),
            field.max(),
            "",
            field.means,
            field.basis
        );
    }
    text += "\nPorts\n";
    for port in &profile.ports {
        let at: Vec<String> = port.at.iter().map(|at| format!("{at:X}h")).collect();
        let moved: Vec<String> = port.moved_to.iter().map(|at| format!("{at:X}h")).collect();
        let moved = if moved.is_empty() { String::new() } else { format!(", moved to {}", moved.join(" ")) };
        text += &format!("  {:22}  {}{moved}\n", at.join(" "), in_words(&port.role));
    }
    text += "\nDisplay formats, the first whose condition holds\n";
    for format in &profile.formats {
        let when: Vec<String> = format.when.iter().map(|(name, value)| format!("{name} = {value}")).collect();
        let when = if when.is_empty() { "always".to_string() } else { when.join(", ") };
        text += &format!(
            "  {:24}{when}; {}, {} dots a character clock, {} a pixel\n",
            format.name,
            in_words(&format.serialise),
            format.char_dots,
            format.pixel_dots
        );
    }
    text += "\nModes\n";
    for mode in &profile.modes {
        text += &format!("  {:22}  {}\n", mode.name, mode.title);
        for block in &mode.registers {
            let bytes: Vec<String> = block.values.iter().map(|byte| format!("{byte:02X}")).collect();
            text += &format!("  {:24}{} from {:X}h: {}\n", "", in_words(&block.bank), block.from, bytes.join(" "));
        }
    }
    text
}

fn cell_text(slice: &backporch_adapter::Slice) -> String {
    let bits = match slice.width {
        8 => String::new(),
        1 => format!(".{}", slice.low),
        width => format!(".{}-{}", slice.low + width - 1, slice.low),
    };
    format!("{} {:02X}h{bits}", in_words(&slice.bank), slice.index)
}

/// A rule of a profile as its file has it, in words: `MonoText` as `mono text`, `Index(Crtc)` as `index crtc`.
fn in_words(rule: &impl Serialize) -> String {
    serde_json::to_value(rule).map_or_else(|_| String::new(), |rule| value_in_words(&rule))
}

fn value_in_words(value: &Value) -> String {
    match value {
        Value::String(name) => spaced(name),
        Value::Object(fields) => {
            let fields = fields.iter().map(|(name, value)| format!("{} {}", spaced(name), value_in_words(value)));
            fields.collect::<Vec<_>>().join(", ")
        }
        Value::Array(values) => values.iter().map(value_in_words).collect::<Vec<_>>().join(" "),
        Value::Null => "none".to_string(),
        Value::Bool(_) | Value::Number(_) => value.to_string(),
    }
}

/// A name's words apart and in lower case.
fn spaced(name: &str) -> String {
    let mut words = String::new();
    for letter in name.chars() {
        if letter.is_ascii_uppercase() && !words.is_empty() {
            words.push(' ');
        }
        words.push(if letter == '_' { ' ' } else { letter.to_ascii_lowercase() });
    }
    words
}
