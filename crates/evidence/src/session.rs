//! Test sessions: the looks that a program on the real machine asks for, and the words it brings their answers back in.

use std::fmt::Write as _;
use std::sync::Arc;

use backporch_analysis::{Specimen, WriteMoment};
use backporch_bench::Bench;

use crate::experiment::Experiment;
use crate::statement::{Primary, Tinge};

/// Most looks of one session.
pub const MOST_LOOKS: usize = 99;

/// What may have been seen, as the answers have it; the first stands for no answer.
pub const SAW: [&str; 10] =
    ["nothing", "clean", "edge", "broken", "colours", "elsewhere", "specks", "no-picture", "unsure", "damaged"];

/// What the marker was put on: the first, the second and the last damaged line, the first and the last damaged column; the
/// column and the line where something belongs, and those where it stands.
pub const MARKS: [&str; 9] =
    ["top", "second", "bottom", "left", "right", "from-column", "from-line", "to-column", "to-line"];

/// How colours may be wrong, as the answers have it; the first stands for no word, and is never written.
pub const TINGES: [(&str, Option<Tinge>); 12] = [
    ("none", None),
    ("red missing", Some(Tinge::Missing(Primary::Red))),
    ("green missing", Some(Tinge::Missing(Primary::Green))),
    ("blue missing", Some(Tinge::Missing(Primary::Blue))),
    ("too little red", Some(Tinge::TooLittle(Primary::Red))),
    ("too little green", Some(Tinge::TooLittle(Primary::Green))),
    ("too little blue", Some(Tinge::TooLittle(Primary::Blue))),
    ("too red", Some(Tinge::TooMuch(Primary::Red))),
    ("too green", Some(Tinge::TooMuch(Primary::Green))),
    ("too blue", Some(Tinge::TooMuch(Primary::Blue))),
    ("too dark", Some(Tinge::TooDark)),
    ("too bright", Some(Tinge::TooBright)),
];

/// The symbols of a code that is copied down by hand: those that are not taken for one another, five bits each.
pub const SYMBOLS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/// One look: an experiment and the step of its register.
#[derive(Clone, Debug)]
pub struct SessionLook {
    /// The setting, on a bench with the test card.
    pub experiment: Experiment,
    /// Stored value of the register stepped.
    pub step: u32,
}

/// The looks of one session, all on one board.
#[derive(Clone, Debug)]
pub struct TestSession {
    /// What it is for, for people.
    pub title: String,
    bench: Arc<Bench>,
    looks: Vec<SessionLook>,
}

impl TestSession {
    /// A session of these looks on the bench's board, each with the test card in its memory; only the first
    /// [`MOST_LOOKS`] are kept.
    #[must_use]
    pub fn new(title: impl Into<String>, bench: &Arc<Bench>, looks: impl IntoIterator<Item = SessionLook>) -> Self {
        let mut cards: Vec<(Arc<Bench>, Arc<Bench>)> = Vec::new();
        let mut with_card = |bench: &Arc<Bench>| {
            if let Some((_, card)) = cards.iter().find(|(known, _)| Arc::ptr_eq(known, bench)) {
                return Arc::clone(card);
            }
            let card = if bench.is_test_card() { Arc::clone(bench) } else { Arc::new(bench.with_test_card()) };
            cards.push((Arc::clone(bench), Arc::clone(&card)));
            card
        };
        let looks = looks.into_iter().take(MOST_LOOKS).map(|look| {
            let bench = with_card(&look.experiment.bench);
            SessionLook { experiment: Experiment { bench, ..look.experiment }, ..look }
        });
        Self { title: title.into(), bench: Arc::clone(bench), looks: looks.collect() }
    }

    /// The bench with the board looked at.
    #[must_use]
    pub fn bench(&self) -> &Arc<Bench> {
        &self.bench
    }

    /// The looks, in order.
    #[must_use]
    pub fn looks(&self) -> &[SessionLook] {
        &self.looks
    }

    /// What stands above all answers.
    #[must_use]
    pub fn head(&self) -> String {
        let (name, board) = (printable(self.bench.name()), self.bench.adapter().name());
        format!("backporch answers 1\r\nbench {name}\r\nboard {board}\r\n")
    }

    /// What stands above the answer to a look, by its position; `cell` are the pixels and lines that a mark counts.
    #[must_use]
    pub fn head_of(&self, position: usize, cell: (u32, u32)) -> String {
        let Some(look) = self.looks.get(position) else {
            return String::new();
        };
        let SessionLook { experiment, step } = look;
        let (bench, conditions) = (&experiment.bench, &experiment.conditions);
        let name = |field| bench.adapter().field_info(field).name.as_str();
        let mut text = format!("look {}\r\n", position + 1);
        let mut line = |keyword: &str, rest: &dyn std::fmt::Display| {
            let _ = write!(text, "{keyword} {rest}\r\n");
        };
        if !experiment.title.is_empty() {
            line("title", &printable(&experiment.title));
        }
        line("mode", &bench.mode().name);
        line("specimen", &specimen(conditions.specimen));
        line("moment", &moment(conditions.moment));
        for (field, value) in experiment.settings.iter().filter(|(field, _)| *field != experiment.over) {
            line("set", &format!("{} {value}", name(*field)));
        }
        line("over", &name(experiment.over));
        line("step", step);
        if cell != (1, 1) {
            line("cell", &format!("{} {}", cell.0, cell.1));
        }
        text
    }

    /// A number that stands for what is asked, so that answers are not read for another session.
    #[must_use]
    pub fn mark(&self, cells: &[(u32, u32)]) -> u32 {
        let heads = (0..self.looks.len()).map(|at| self.head_of(at, cells.get(at).copied().unwrap_or((1, 1))));
        crc32fast::hash((self.head() + &heads.collect::<String>()).as_bytes())
    }

    /// The answers file with nothing answered yet, to be filled in by a code.
    #[must_use]
    pub fn sheet(&self, cells: &[(u32, u32)]) -> String {
        let cell = |at: usize| cells.get(at).copied().unwrap_or((1, 1));
        let looks = (0..self.looks.len()).map(|at| self.head_of(at, cell(at)) + "saw nothing\r\n");
        let body = self.head() + &looks.collect::<String>();
        let check = crc32fast::hash(body.as_bytes());
        format!("{body}check {check:08X}\r\n")
    }
}

/// Words of a specimen in answers.
pub(crate) fn specimen(specimen: Specimen) -> &'static str {
    match specimen {
        Specimen::Suspected => "suspected",
        Specimen::Another => "another",
    }
}

/// Words of a write moment in answers.
pub(crate) fn moment(moment: WriteMoment) -> &'static str {
    match moment {
        WriteMoment::ActiveArea => "active-area",
        WriteMoment::Retrace => "retrace",
        WriteMoment::Routine => "routine",
    }
}

/// The same in characters that every machine shows, cut to a line.
pub(crate) fn printable(text: &str) -> String {
    let shown = |character: char| if matches!(character, ' '..='~') { character } else { '?' };
    let plain = text.replace('×', "x").replace(['–', '—'], "-");
    plain.chars().map(shown).take(70).collect::<String>().trim().to_string()
}
