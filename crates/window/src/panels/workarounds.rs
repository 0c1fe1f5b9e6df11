//! Workarounds: settings that hold against the quirks switched on.

use backporch_analysis::Verdict;
use backporch_signal::SYNC_CAUTION;
use egui::{Label, RichText, Ui};

use super::bar::{button, named, panel_heading, progress};
use super::theme::{mark, secondary};
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::Session;

/// Settings that hold according to the search, each to be tried at a press.
pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    panel_heading(workspace, ui, "WORKAROUNDS");
    let Some(workarounds) = session.findings().workarounds().cloned() else {
        match session.findings().searching() {
            Some((done, all)) => progress(ui, &colours, "settings judged", done, all),
            None => {
                ui.horizontal(|ui| {
                    let label = "search for settings that hold";
                    button(workspace, ui, "search", label, Command::Workarounds);
                    ui.label(secondary(&colours, "for settings that hold"));
                });
            }
        }
        return;
    };
    ui.add(Label::new(secondary(&colours, &workarounds.summary)).wrap());
    for (at, workaround) in workarounds.list.iter().enumerate() {
        ui.horizontal(|ui| {
            let verdict = if workaround.holds { Verdict::Clean } else { Verdict::EdgeDamaged };
            mark(ui, &colours, verdict, 11.0);
            let press = ui.small_button("try");
            named(&press, &format!("try {}", workaround.words));
            if press.clicked() {
                session.try_workaround(at);
            }
            let registers: Vec<String> =
                workaround.registers.iter().map(|(name, value)| format!("{name} {value}")).collect();
            let words = RichText::new(&workaround.words).small();
            ui.add(Label::new(words).truncate()).on_hover_text(format!(
                "{}\n{}",
                registers.join(", "),
                workaround.cost
            ));
        });
    }
    if workarounds.list.iter().any(|workaround| workaround.moves_sync) {
        ui.add(Label::new(RichText::new(SYNC_CAUTION).small().color(colours.edge)).wrap());
    }
}
