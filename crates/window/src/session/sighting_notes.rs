//! Sightings noted by key while watching, and the file they are saved in.

use std::collections::BTreeMap;

use backporch_analysis::Verdict;
use backporch_input::quoted;

/// One sighting: under which registers, and what was seen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sighting {
    /// Another class of board than the bench's own.
    pub board: Option<String>,
    /// Registers that differ from the bench's, but for the one stepped.
    pub registers: BTreeMap<String, u64>,
    /// The register stepped.
    pub over: String,
    /// Stored value of the register stepped.
    pub at: u32,
    /// The verdict of the observer.
    pub seen: Verdict,
    /// Lines picked on the screen, from the top, where any were.
    pub lines: Vec<u32>,
}

/// Sightings of one board, in the order in which they were noted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SightingNotes {
    noted: Vec<Sighting>,
    picked: Vec<u32>,
    saved: usize,
}

impl SightingNotes {
    /// The sightings, oldest first.
    #[must_use]
    pub fn noted(&self) -> &[Sighting] {
        &self.noted
    }

    /// Lines picked for the next sighting, from the top.
    #[must_use]
    pub fn picked(&self) -> &[u32] {
        &self.picked
    }

    /// Whether there are sightings that no file has.
    #[must_use]
    pub fn unsaved(&self) -> bool {
        self.saved != self.noted.len()
    }

    /// Picks a line for the next sighting, or lets it go.
    pub(crate) fn pick(&mut self, line: u32) {
        match self.picked.binary_search(&line) {
            Ok(at) => {
                self.picked.remove(at);
            }
            Err(at) => self.picked.insert(at, line),
        }
    }

    /// SightingNotes what was seen, with the lines picked; the same setting seen again
    /// replaces what was noted of it.
    pub(crate) fn note(&mut self, sighting: Sighting) {
        let lines = std::mem::take(&mut self.picked);
        self.noted.retain(|noted| !(noted.same_experiment(&sighting) && noted.at == sighting.at));
        self.noted.push(Sighting { lines, ..sighting });
        self.saved = usize::MAX;
    }

    /// Takes the newest sighting back.
    pub(crate) fn undo(&mut self) -> Option<Sighting> {
        self.saved = usize::MAX;
        self.noted.pop()
    }

    pub(crate) fn saved(&mut self) {
        self.saved = self.noted.len();
    }

    /// The file's text: a sighting a line, those of one experiment together.
    #[must_use]
    pub fn text(&self, title: &str, bench: &str) -> String {
        let mut text = format!("(\n    version: 1,\n    title: {},\n    bench: {},\n", quoted(title), quoted(bench));
        text += "    experiments: [\n";
        let mut left: Vec<&Sighting> = self.noted.iter().collect();
        while let Some(first) = left.first().copied() {
            let (these, others) = left.into_iter().partition(|sighting| sighting.same_experiment(first));
            left = others;
            text += &experiment(first, these);
        }
        text + "    ],\n)\n"
    }
}

fn experiment(first: &Sighting, mut sightings: Vec<&Sighting>) -> String {
    sightings.sort_by_key(|sighting| sighting.at);
    let mut text = String::from("        (\n");
    if let Some(board) = &first.board {
        text += &format!("            board: {},\n", quoted(board));
    }
    if !first.registers.is_empty() {
        let one = |(name, value): (&String, &u64)| format!("{}: {value}", quoted(name));
        let registers: Vec<String> = first.registers.iter().map(one).collect();
        text += &format!("            registers: {{{}}},\n", registers.join(", "));
    }
    text += &format!("            over: {},\n            seen: [\n", quoted(&first.over));
    for sighting in sightings {
        text += &format!("                (at: {}, saw: {}),\n", sighting.at, quoted(&sighting.saw()));
    }
    text + "            ],\n        ),\n"
}

impl Sighting {
    /// Whether two sightings differ in nothing but the step and what was seen.
    fn same_experiment(&self, other: &Self) -> bool {
        (&self.board, &self.registers, &self.over) == (&other.board, &other.registers, &other.over)
    }

    /// What was seen, in the words of the file form.
    #[must_use]
    pub fn saw(&self) -> String {
        let verdict = self.seen.word();
        let listed = self.lines.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
        // Whoever clicks a few lines has not said that there are no others.
        match self.lines.as_slice() {
            [] => verdict.to_string(),
            _ => format!("{verdict}, for example lines {listed}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(lines: &[u32]) -> String {
        let (registers, lines) = (BTreeMap::new(), lines.to_vec());
        let over = "start_address".to_string();
        Sighting { board: None, registers, over, at: 0, seen: Verdict::EdgeDamaged, lines }.saw()
    }

    #[test]
    fn picked_lines_are_examples_and_not_all_there_are() {
        assert_eq!(seen(&[]), "edge-damaged");
        assert_eq!(seen(&[3]), "edge-damaged, for example lines 3");
        assert_eq!(seen(&[3, 7, 11]), "edge-damaged, for example lines 3 7 11");
    }
}
