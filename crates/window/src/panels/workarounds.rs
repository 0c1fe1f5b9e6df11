//! Workarounds: settings that hold against the quirks switched on.

use backporch_analysis::Verdict;
use backporch_signal::SYNC_CAUTION;
use egui::{Label, RichText, Ui};

use super::bar::{button, named, panel_heading};
use super::steady::{progress, room};
use super::theme::{Colours, mark, secondary};
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::{LiveWorkarounds, Session};

/// Points of the room for them.
const HIGH: f32 = 120.0;

/// Settings that hold according to the search, each to be tried at a press.
pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    panel_heading(workspace, ui, "WORKAROUNDS");
    ui.horizontal(|ui| {
        let label = "search for settings that hold";
        ui.add_enabled_ui(session.findings().searching().is_none(), |ui| {
            button(workspace, ui, "search", label, Command::Workarounds);
        });
        let found = session.findings().workarounds().map(|workarounds| workarounds.summary.clone());
        let words = found.unwrap_or_else(|| "for settings that hold".to_string());
        ui.add(Label::new(secondary(&colours, &words)).truncate()).on_hover_text(words);
    });
    room(ui, "workarounds", HIGH, |ui| {
        if let Some((done, all)) = session.findings().searching() {
            progress(ui, &colours, "settings judged", done, all);
        } else if let Some(workarounds) = session.findings().workarounds().cloned() {
            list(ui, session, &colours, &workarounds);
        }
    });
}

fn list(ui: &mut Ui, session: &mut Session, colours: &Colours, workarounds: &LiveWorkarounds) {
    if workarounds.list.iter().any(|workaround| workaround.moves_sync) {
        ui.add(Label::new(RichText::new(SYNC_CAUTION).small().color(colours.edge)).wrap());
    }
    for (at, workaround) in workarounds.list.iter().enumerate() {
        ui.horizontal(|ui| {
            let verdict = if workaround.holds { Verdict::Clean } else { Verdict::EdgeDamaged };
            mark(ui, colours, verdict, 11.0);
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
}
