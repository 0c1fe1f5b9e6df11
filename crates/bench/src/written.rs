//! Bench files written: what was set up, as a text to keep or pass on.

use std::collections::BTreeMap;

use backporch_adapter::{Adapter, Registers};
use backporch_input::{Number, quoted};

use crate::file::{BenchFile, KeyRef, MachineRef, MouseRef, OverlayRef, PlaceRef, QuirkRef, Scroll};

/// The registers that differ from those of `before`, by name.
#[must_use]
pub fn differing(adapter: &Adapter, registers: &Registers, before: &Registers) -> BTreeMap<String, Number> {
    let fields = adapter.fields().filter(|(field, _)| adapter.get(registers, *field) != adapter.get(before, *field));
    fields.map(|(field, info)| (info.name.clone(), u64::from(adapter.get(registers, field)).into())).collect()
}

impl BenchFile {
    /// The file's text: every field that says something, one a line.
    #[must_use]
    pub fn to_text(&self) -> String {
        // Every field has to be thought of here.
        let Self {
            version: _,
            title,
            adapter,
            mode,
            registers,
            plain,
            quirks,
            picture,
            overlays,
            memory,
            routine,
            cpu,
            machine,
            monitor,
            seed,
        } = self;
        let mut text = String::from("(\n    version: 1,\n");
        let mut line = |field: &str, value: String| text += &format!("    {field}: {value},\n");
        if !title.is_empty() {
            line("title", quoted(title));
        }
        line("adapter", quoted(adapter));
        if let Some(mode) = mode {
            line("mode", quoted(mode));
        }
        if !registers.is_empty() {
            let one = |(name, value): (&String, &Number)| format!("{}: {value}", quoted(name));
            line("registers", format!("{{{}}}", joined(registers.iter().map(one))));
        }
        if *plain {
            line("plain", "true".to_string());
        }
        if !quirks.is_empty() {
            line("quirks", format!("[{}]", joined(quirks.iter().map(quirk_text))));
        }
        if let Some(picture) = picture {
            let mut parts = vec![format!("source: {}", quoted(&picture.source))];
            if picture.at != 0 {
                parts.push(format!("at: {}", picture.at));
            }
            if picture.column != 0 {
                parts.push(format!("column: {}", picture.column));
            }
            if picture.scroll == Scroll::Redrawn {
                parts.push("scroll: Redrawn".to_string());
            }
            if picture.dither {
                parts.push("dither: true".to_string());
            }
            line("picture", format!("({})", joined(parts.into_iter())));
        }
        if !overlays.is_empty() {
            line("overlays", format!("[{}]", joined(overlays.iter().map(overlay_text))));
        }
        let named = [("memory", memory), ("routine", routine), ("cpu", cpu), ("monitor", monitor)];
        for (field, name) in named {
            if let Some(name) = name {
                line(field, quoted(name));
            }
        }
        if *machine != MachineRef::default() {
            line("machine", machine_text(machine));
        }
        if *seed != 0 {
            line("seed", seed.to_string());
        }
        text + ")\n"
    }
}

fn machine_text(machine: &MachineRef) -> String {
    let MachineRef { processor, clock, folder, tail, keys, mouse } = machine;
    let clock = format!("(crystal_hz: {}, divide: {})", clock.crystal_hz, clock.divide);
    let mut parts = vec![format!("processor: {}", quoted(processor)), format!("clock: {clock}")];
    parts.extend(folder.iter().map(|folder| format!("folder: {}", quoted(folder))));
    if !tail.is_empty() {
        parts.push(format!("tail: {}", quoted(tail)));
    }
    if !keys.is_empty() {
        parts.push(format!("keys: [{}]", joined(keys.iter().map(key_text))));
    }
    if !mouse.is_empty() {
        let moved = mouse.iter().map(|MouseRef(at, right, down, held)| format!("({at}, {right}, {down}, {held})"));
        parts.push(format!("mouse: [{}]", joined(moved)));
    }
    format!("({})", joined(parts.into_iter()))
}

fn overlay_text(overlay: &OverlayRef) -> String {
    let (name, mut parts) = match overlay {
        OverlayRef::Picture { source, from, size, dither, place: _ } => {
            let mut parts = vec![format!("source: {}", quoted(source))];
            if *from != (0, 0) {
                parts.push(format!("from: ({}, {})", from.0, from.1));
            }
            parts.extend(size.map(|(columns, lines)| format!("size: ({columns}, {lines})")));
            if *dither {
                parts.push("dither: true".to_string());
            }
            ("Picture", parts)
        }
        OverlayRef::Text { text, colour, ground, font, place: _ } => {
            let mut parts = vec![format!("text: {}", quoted(text)), format!("colour: {colour}")];
            parts.extend(ground.map(|ground| format!("ground: {ground}")));
            parts.extend(font.iter().map(|font| format!("font: {}", quoted(font))));
            ("Text", parts)
        }
    };
    let PlaceRef { start, x, y } = overlay.place();
    if overlay.place() != PlaceRef::default() {
        parts.push(format!("place: (start: {start}, x: {x}, y: {y})"));
    }
    format!("{name}({})", joined(parts.into_iter()))
}

fn key_text(KeyRef(from, key, to): &KeyRef) -> String {
    let to = to.map_or_else(String::new, |to| format!(", {to}"));
    format!("({from}, {}{to})", quoted(key))
}

fn quirk_text(quirk: &QuirkRef) -> String {
    let mut text = format!("(name: {}", quoted(&quirk.name));
    if !quirk.parameters.is_empty() {
        let one = |(name, value): (&String, &i64)| format!("{}: {value}", quoted(name));
        text += &format!(", parameters: {{{}}}", joined(quirk.parameters.iter().map(one)));
    }
    text + ")"
}

fn joined(parts: impl Iterator<Item = String>) -> String {
    parts.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch_input::{Source, parse};

    #[test]
    fn every_built_in_bench_comes_back() {
        for (name, text) in crate::BENCHES.entries() {
            let file: BenchFile = parse(&Source::built_in(*name, *text)).unwrap();
            let written = file.to_text();
            assert_eq!(parse::<BenchFile>(&Source::built_in("again", &written)).unwrap(), file, "{written}");
        }
    }

    #[test]
    fn every_field_comes_back() {
        let text = r#"(version: 1, title: "a \"b\" \\ c", adapter: "x.ron", mode: "m", registers: {"a": 0x10, "b": 0}, plain: true,
            quirks: [(name: "q", parameters: {"p": -3}), (name: "r")],
            picture: (source: "p.png", at: 3, column: 4, scroll: Redrawn, dither: true),
            overlays: [Picture(source: "bar.png", from: (0, 8), size: (64, 16), place: (start: 40, x: 3, y: 9)),
                Text(text: "a \"b\"", colour: 15, ground: 1, font: "f.txt"), Text(text: "c", colour: 2)],
            memory: "m.bin", routine: "r", cpu: "c",
            machine: (processor: "80286", clock: (crystal_hz: 16000000, divide: 2), folder: "f", tail: "t", keys: [(5, "a"), (5.25, "b", 6.000001)],
                mouse: [(7, -1, 2, 3)]),
            monitor: "n", seed: 7)"#;
        let file: BenchFile = parse(&Source::built_in("all", text)).unwrap();
        let written = file.to_text();
        assert_eq!(parse::<BenchFile>(&Source::built_in("again", &written)).unwrap(), file, "{written}");
    }
}
