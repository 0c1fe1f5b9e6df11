//! What is on the bench, in words.

use backporch_bench::Bench;
use backporch_quirk::{DesignQuirk, Quirk};

use super::part::NamedValue;

/// The bench in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BenchPart {
    /// What is on it, as its file says.
    pub title: String,
    /// Board, mode, picture, monitor, seed.
    pub facts: Vec<NamedValue>,
    /// Registers that differ from the mode's start-up values.
    pub registers: Vec<ChangedRegister>,
    /// What its class does by design, in the order in which it acts.
    pub by_design: Vec<DesignQuirk>,
    /// Faults, in the order in which they act.
    pub quirks: Vec<QuirkPart>,
    /// What a user should know of how it was set up.
    pub notes: Vec<String>,
}

/// A register that differs from the mode's start-up value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangedRegister {
    /// Its name.
    pub name: String,
    /// What it holds.
    pub value: u32,
    /// What the mode starts up with.
    pub usual: u32,
    /// What it is for.
    pub means: String,
}

/// A fault in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct QuirkPart {
    /// Its name.
    pub name: String,
    /// What is wrong, in a few words.
    pub about: String,
    /// The physical cause.
    pub cause: String,
    /// How it looks on the screen.
    pub looks: String,
    /// What it does, a sentence an effect.
    pub does: Vec<String>,
    /// Its parameters.
    pub parameters: Vec<NamedValue>,
}

impl BenchPart {
    /// Says a bench.
    #[must_use]
    pub fn new(bench: &Bench) -> Self {
        Self {
            title: bench.title().to_string(),
            facts: facts(bench),
            registers: registers(bench),
            by_design: bench.layers().design().to_vec(),
            quirks: bench.quirks().iter().map(QuirkPart::new).collect(),
            notes: bench.notes().to_vec(),
        }
    }
}

fn facts(bench: &Bench) -> Vec<NamedValue> {
    let adapter = bench.adapter();
    let named = |title: &str, name: &str| if title.is_empty() { name.to_string() } else { format!("{name}: {title}") };
    let mut facts = vec![
        NamedValue::new("Board", named(&adapter.profile().title, adapter.name())),
        NamedValue::new("Mode", named(&bench.mode().title, &bench.mode().name)),
        NamedValue::new("Memory", format!("{} KiB", adapter.memory().bytes / 1024)),
    ];
    if let Some(picture) = bench.picture() {
        let colours = picture.palette().len();
        let size = format!("{} × {} pixels, {colours} colours", picture.width(), picture.height());
        facts.push(NamedValue::new("Picture", size));
    }
    if let Some(routine) = bench.routine() {
        facts.push(NamedValue::new("Routine", routine));
    }
    if let Some(monitor) = bench.monitor() {
        facts.push(NamedValue::new("Monitor", named(&monitor.title, &monitor.name)));
    }
    if bench.seed() != 0 {
        facts.push(NamedValue::new("Seed of chance", bench.seed().to_string()));
    }
    facts
}

fn registers(bench: &Bench) -> Vec<ChangedRegister> {
    let adapter = bench.adapter();
    let usual = adapter.start_up(bench.mode());
    let fields = adapter.fields().filter(|(_, info)| info.access.writes());
    fields
        .map(|(field, info)| ChangedRegister {
            name: info.name.clone(),
            value: adapter.get(bench.registers(), field),
            usual: adapter.get(&usual, field),
            means: info.means.clone(),
        })
        .filter(|row| row.value != row.usual)
        .collect()
}

impl QuirkPart {
    fn new(quirk: &Quirk) -> Self {
        let family = quirk.family();
        Self {
            name: quirk.name().to_string(),
            about: family.title().to_string(),
            cause: family.cause().to_string(),
            looks: family.looks().to_string(),
            does: quirk.describe(),
            parameters: quirk
                .parameters()
                .into_iter()
                .map(|(name, value)| NamedValue::new(name, value.to_string()))
                .collect(),
        }
    }
}
