//! What the program says on the machine, in pages of at most 24 lines of 79 characters.

use backporch_analysis::Specimen;
use backporch_evidence::{SessionLook, TestSession};
use backporch_signal::SYNC_CAUTION;

use crate::table::wrapped;

/// Columns of a page.
const WIDTH: usize = 76;

/// What stands under a page that waits.
const GO_ON: &str = "\nAny key goes on, Escape ends.";

/// Characters that every machine shows.
pub(super) fn plain(text: &str) -> String {
    text.replace('×', "x").replace(['–', '—'], "-").chars().filter(|c| matches!(c, ' '..='~' | '\n')).collect()
}

fn paragraph(text: &str) -> String {
    wrapped(&plain(text), WIDTH).join("\n") + "\n"
}

/// The pages before the first look: cautions first.
pub(super) fn opening(session: &TestSession, changes_signal: bool) -> Vec<String> {
    let mut pages = Vec::new();
    let mut first = String::from("TEST SESSION\n\n");
    if changes_signal {
        first += &paragraph(SYNC_CAUTION);
    } else {
        first += &paragraph(
            "The session sets modes that your monitor has to take, and no register that moves sync from where those modes \
             have it. If the picture tears or the set whistles, switch the monitor off at once.",
        );
    }
    first += "\n";
    first += &paragraph(
        "It writes one file, ANSWERS.TXT, to the current drive and folder, and changes nothing else on the disk. The \
         adapter gets its text mode back at the end.",
    );
    first += GO_ON;
    pages.push(first);
    let title = if session.title.is_empty() { "without a title" } else { &session.title };
    let mut second = paragraph(&format!("Session: {title}."));
    second += &paragraph(&format!(
        "Board: {}. Looks: {}. For each you see a test card: numbers of columns and lines on an even ground, and a slanting \
         line. Say by a key what you see; nothing has to be counted.",
        session.bench().adapter().name(),
        session.looks().len()
    ));
    second += "\n";
    second += KEYS;
    second += GO_ON;
    pages.push(second);
    pages
}

/// The keys, explained before the first look and on demand.
pub(super) const KEYS: &str = "While the card is shown:
  1 clean                   2 damaged in right halves only (edge)
  3 damaged (broken)        4 shapes right, colours wrong
  5 picture stands elsewhere            6 single wrong dots
  7 no stable picture       8 flickers (on and off)
  9 damaged, no matter how  0 could not tell
  Arrows, Page Up, Page Down, Home, End   move the marker: a line and a column
  Put it on the damage, then
  T first damaged line   S second damaged line   B last damaged line
  E so on to the last, all lines at that distance
  L first damaged column R last damaged column   X takes the marks back
  F here a number belongs, G here it stands (numbers beside their place)
  C colours: R G B gone (0), too little (-), too much (+), all DarK, all BRight
  N narrower: lines end early, black beside them
  M marker on and off    W words of your own     H these keys
  Enter next look        Backspace look before   Escape ends
At the top left: look, answer, * flickers, the marker's line and column, marks.
";

/// The page on demand.
pub(super) fn help() -> String {
    format!("{KEYS}\nAny key goes back to the card.")
}

/// The page before a look whose mode or registers are others than before.
pub(super) fn before(look: &SessionLook, number: usize, of: usize) -> String {
    let experiment = &look.experiment;
    let adapter = experiment.bench.adapter();
    let mut page = format!("Look {number} of {of}\n\n");
    if !experiment.title.is_empty() {
        page += &paragraph(&experiment.title);
    }
    if experiment.conditions.specimen == Specimen::Another {
        page += &paragraph(
            "For this look ANOTHER board of the same class has to be in the machine. If it is not, answer 0.",
        );
    }
    page += &paragraph(&format!("Mode: {}", experiment.bench.mode().title));
    let name = |field| adapter.field_info(field).name.clone();
    let set = experiment.settings.iter().filter(|(field, _)| *field != experiment.over);
    let set: Vec<String> = set.map(|(field, value)| format!("{} = {value}", name(*field))).collect();
    let step = format!("{} = {}", name(experiment.over), look.step);
    page += &paragraph(&format!("Set: {}", set.into_iter().chain([step]).collect::<Vec<_>>().join(", ")));
    page + GO_ON
}

/// The page at the end.
pub(super) const END: &str = "Enter writes the answers and ends; any other key goes back to the look.";
/// The page for words.
pub(super) const WORDS: &str = "Words of your own for this look, at most 50; Enter ends them:\n";
/// What goes wrong.
pub(super) const NO_MEMORY: &str = "The session needs more free memory.\n";
pub(super) const NO_DATA: &str = "The session's data file is not in this folder.\n";
pub(super) const BAD_DATA: &str = "The session's data file could not be read.\n";
pub(super) const WRITTEN: &str = "The answers are in ";
pub(super) const FAILED: &str = "The answers could not be written. Is the disk full, or may it not be written?\nR tries again, any other key shows a code to copy down.\n\n";
pub(super) const CODE: &str =
    "Copy this code down; diagnose takes it with --code, together with the session's\nsheet:\n\n";

#[cfg(test)]
mod tests {
    use super::*;

    /// A text screen has 80 columns; a line that fills them all takes two.
    #[test]
    fn the_keys_fit_their_screen() {
        let help = help();
        assert!(help.lines().count() <= 24, "{}", help.lines().count());
        for line in help.lines().chain(END.lines()) {
            assert!(line.len() < 80, "{line}");
        }
    }
}
