//! `boards`: the adapter profiles.

use anyhow::Result;
use backporch_adapter::Adapter;
use backporch_bench::{Library, adapter_names};
use serde::Serialize;

use crate::answer::{Answer, Found};
use crate::args::BoardsArgs;

#[derive(Debug, Serialize)]
struct Listed {
    name: String,
    title: String,
    modes: Vec<String>,
}

pub fn run(args: &BoardsArgs, answer: &mut Answer) -> Result<Found> {
    let library = Library::default();
    match &args.name {
        Some(name) => {
            let adapter = library.adapter(name)?;
            answer.give(adapter.profile(), |_| in_full(&adapter))?;
        }
        None => {
            let mut boards = Vec::new();
            for name in adapter_names() {
                let adapter = library.adapter(name)?;
                let profile = adapter.profile();
                boards.push(Listed {
                    name: profile.name.clone(),
                    title: profile.title.clone(),
                    modes: profile.modes.iter().map(|mode| mode.name.clone()).collect(),
                });
            }
            answer.give(&boards, |boards| boards.iter().map(Listed::text).collect())?;
        }
    }
    Ok(Found::Nothing)
}

impl Listed {
    fn text(&self) -> String {
        format!("{:18}{}\n{:18}modes: {}\n", self.name, self.title, "", self.modes.join(", "))
    }
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
    text += &format!("\nTiming\n  {:?}\n", profile.timing);
    text += "\nRegisters\n";
    for (_, field) in adapter.fields() {
        let cells: Vec<String> = field.bits.iter().rev().map(cell_text).collect();
        let offset = if field.plus > 0 { format!(", holds the quantity less {}", field.plus) } else { String::new() };
        let unit = if field.unit.is_empty() { String::new() } else { format!(", in {}", field.unit) };
        text += &format!(
            "  {:24}{:28}0..={}{unit}{offset}\n  {:24}{} ({})\n",
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
        text += &format!("  {:24}{:?}\n", at.join(" "), port.role);
    }
    text += "\nDisplay formats, the first whose condition holds\n";
    for format in &profile.formats {
        let when: Vec<String> = format.when.iter().map(|(name, value)| format!("{name} = {value}")).collect();
        let when = if when.is_empty() { "always".to_string() } else { when.join(", ") };
        text += &format!(
            "  {:24}{when}; {:?}, {} dots a character clock, {} a pixel\n",
            format.name, format.serialise, format.char_dots, format.pixel_dots
        );
    }
    text += "\nModes\n";
    for mode in &profile.modes {
        text += &format!("  {:24}{}\n", mode.name, mode.title);
        for block in &mode.registers {
            let bytes: Vec<String> = block.values.iter().map(|byte| format!("{byte:02X}")).collect();
            text += &format!("  {:24}{:?} from {:X}h: {}\n", "", block.bank, block.from, bytes.join(" "));
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
    format!("{:?} {:02X}h{bits}", slice.bank, slice.index)
}
