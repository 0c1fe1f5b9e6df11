//! Suspects that explain what was seen, each to be put on the board at a press,
//! and the probes worth making on the real one.

use backporch_analysis::Verdict;
use egui::{Label, Rect, RichText, Sense, Ui, vec2};

use super::bar::{button, named, panel_heading, progress};
use super::theme::{Colours, monospace, secondary};
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::{Diagnosis, ProbeRow, Session, SuspectRow};

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    if session.findings().notes().noted().is_empty() && session.findings().diagnosis().is_none() {
        return;
    }
    panel_heading(workspace, ui, "SUSPECTS");
    if let Some((done, all)) = session.findings().diagnosing() {
        progress(ui, &colours, "judged", done, all);
        return;
    }
    ui.horizontal(|ui| {
        button(workspace, ui, "diagnose", "diagnose: which fault explains the sightings", Command::Diagnose);
        let words = match session.findings().notes().noted().len() {
            1 => "1 sighting".to_string(),
            count => format!("{count} sightings"),
        };
        ui.label(secondary(&colours, words));
    });
    let Some(findings) = session.findings().diagnosis().cloned() else {
        return;
    };
    let summary = ui.add(Label::new(RichText::new(&findings.summary).strong()).wrap());
    // What was waited for is brought into sight.
    if workspace.findings.as_ref() != Some(&findings) {
        summary.scroll_to_me(Some(egui::Align::Center));
        workspace.findings = Some(findings.clone());
    }
    if session.findings().is_diagnosis_behind() {
        let words = "the sightings are others by now: diagnose again";
        ui.add(Label::new(RichText::new(words).small().color(colours.edge)).wrap());
    }
    list(ui, session, &colours, &findings);
}

fn list(ui: &mut Ui, session: &mut Session, colours: &Colours, findings: &Diagnosis) {
    for (at, row) in findings.suspects.iter().enumerate() {
        suspect(ui, session, colours, at, row);
    }
    for (at, row) in findings.probes.iter().enumerate() {
        probe(ui, session, colours, at, row);
    }
}

/// Name and probability, drawn as a bar too; pressed, it is put on the board.
fn suspect(ui: &mut Ui, session: &mut Session, colours: &Colours, at: usize, row: &SuspectRow) {
    let percent = format!("{:.1} %", row.probability * 100.0);
    let parameters: Vec<String> = row.parameters.iter().map(|(name, value)| format!("{name} {value}")).collect();
    let detail = format!("{}\nexplains {} sightings, contradicts {}", row.title, row.explains, row.contradicts);
    ui.horizontal(|ui| {
        let (bar, _) = ui.allocate_exact_size(vec2(34.0, 8.0), Sense::hover());
        ui.painter().rect_filled(bar, 1.0, colours.raised);
        let part = Rect::from_min_size(bar.min, vec2(bar.width() * row.probability as f32, bar.height()));
        ui.painter().rect_filled(part, 1.0, colours.accent);
        ui.label(monospace(percent).size(12.0));
        if row.fits {
            let press = ui.small_button("fit");
            named(&press, &format!("put {} on the board", row.name));
            if press.clicked() {
                session.fit_suspect(at);
            }
        }
        ui.add(Label::new(RichText::new(&row.name).small().strong()).truncate()).on_hover_text(&detail);
    });
    if !parameters.is_empty() {
        ui.add(Label::new(secondary(colours, parameters.join(", "))).wrap());
    }
}

/// What to do next at the machine, and what may be seen; pressed, the board here is set up for it.
fn probe(ui: &mut Ui, session: &mut Session, colours: &Colours, at: usize, row: &ProbeRow) {
    let outcomes = row
        .outcomes
        .iter()
        .map(|(probability, sees, whom)| format!("{:.0} %  {sees}: {}", probability * 100.0, whom.join("; ")));
    let detail: Vec<String> = outcomes.collect();
    ui.horizontal(|ui| {
        ui.label(RichText::new(format!("probe {}", at + 1)).small().color(colours.of(Verdict::Clean)));
        ui.label(monospace(format!("{:.2} bits", row.bits)).size(12.0));
        let press = ui.small_button("set up");
        named(&press, &format!("set the board up for probe {}", at + 1));
        if press.clicked() {
            session.try_probe(at);
        }
    });
    ui.add(Label::new(secondary(colours, &row.words)).wrap()).on_hover_text(detail.join("\n"));
}
