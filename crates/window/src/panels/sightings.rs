//! The sightings noted of the real board.

use backporch_analysis::Verdict;
use egui::{RichText, Ui};

use super::bar::{button, panel_heading};
use super::theme::{mark, secondary};
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::Session;

/// Sightings listed, the newest first.
const MOST_NOTES: usize = 5;

/// The sightings noted so far.
pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    panel_heading(workspace, ui, "SIGHTINGS");
    ui.horizontal(|ui| {
        for (verdict, word) in [(Verdict::Clean, "C"), (Verdict::EdgeDamaged, "E"), (Verdict::Broken, "B")] {
            mark(ui, &colours, verdict, 12.0);
            button(workspace, ui, word, &format!("note a sighting: {}", verdict.word()), Command::Note(verdict));
        }
        if session.findings().notes().unsaved() {
            button(workspace, ui, "save", "save the sightings", Command::SaveSightings);
        }
    });
    if !session.findings().notes().picked().is_empty() {
        let picked: Vec<String> = session.findings().notes().picked().iter().map(ToString::to_string).collect();
        ui.label(RichText::new(format!("picked lines {}", picked.join(" "))).small().color(colours.edge));
    }
    if session.findings().notes().noted().is_empty() {
        ui.label(secondary(&colours, "What the real board shows at this setting: note it with C, E or B."));
    }
    for sighting in session.findings().notes().noted().iter().rev().take(MOST_NOTES) {
        ui.horizontal(|ui| {
            ui.set_max_height(16.0);
            if let Some(verdict) = sighting.verdict() {
                mark(ui, &colours, verdict, 11.0);
            }
            let words = format!("{}: {}", sighting.place(), sighting.saw);
            ui.add(egui::Label::new(RichText::new(&words).small()).truncate()).on_hover_text(words);
        });
    }
    let more = session.findings().notes().noted().len().saturating_sub(MOST_NOTES);
    if more > 0 {
        ui.label(secondary(&colours, format!("and {more} before them")));
    }
}
