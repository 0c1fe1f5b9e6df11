//! What the program says on the machine, in pages of at most 24 lines of 79 characters.

use super::facts::SurveyFacts;
use crate::table::wrapped;

/// Columns of a page.
const WIDTH: usize = 76;

fn paragraph(text: &str) -> String {
    wrapped(text, WIDTH).join("\n") + "\n\n"
}

/// The first page: cautions.
pub(super) fn cautions() -> String {
    let mut page = String::from("SURVEY OF THIS MACHINE\n\n");
    page += &paragraph(
        "The program measures processor, memory, ports and the video adapter. It turns interrupts off while it does so and \
         lets the timer count by ones; the clock of the system loses that time. No register is written whose change would \
         move sync from where a mode has it. If the picture tears or the monitor whistles, switch the monitor off at once. \
         Monitors hold lethal voltage long after they are unplugged: leave them closed.",
    );
    page += &paragraph(
        "It writes one file, SURVEY.TXT, to the current drive and folder, and changes nothing else on the disk. Save your work \
         first: a machine that is not as expected may stop.",
    );
    page + "Any key goes on, Escape ends."
}

/// The second page: asks before modes are changed.
pub(super) fn modes(facts: &SurveyFacts<'_>) -> String {
    let names: Vec<&str> = facts.modes.iter().map(|mode| mode.name.as_str()).collect();
    let mut page = paragraph(&format!(
        "Made for a board of the class {}. It sets these modes one after the other, which your monitor has to take: {}. \
         Each is measured for about three seconds; what is seen meanwhile means nothing.",
        facts.adapter.name(),
        names.join(", ")
    ));
    page += "Enter sets the modes, S leaves them out (processor, memory and ports only), Escape ends.";
    page
}

/// What goes wrong, and what went right.
pub(super) const NO_MEMORY: &str = "The survey needs 128 KiB of free memory.\n";
pub(super) const WRITTEN: &str = "The survey is in ";
pub(super) const FAILED: &str = "The survey could not be written. Is the disk full, or may it not be written?\nR tries again, any other key sends it to the screen.\n\n";
