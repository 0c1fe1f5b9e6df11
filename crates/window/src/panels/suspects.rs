//! Suspects that explain what was seen, each to be put on the board at a press,
//! and the probes worth making on the real one.

use backporch_analysis::Verdict;
use egui::{Label, Rect, RichText, Sense, Ui, vec2};

use super::bar::{button, named, panel_heading};
use super::steady::{progress, room};
use super::theme::{Colours, monospace, secondary};
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::{LiveDiagnosis, ProbeRow, Session, SuspectRow};

/// Points of the room for them.
const HIGH: f32 = 170.0;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    panel_heading(workspace, ui, "SUSPECTS");
    let noted = session.findings().notes().noted().len();
    let row = ui.horizontal(|ui| {
        let is_under_way = session.findings().diagnosing().is_some();
        ui.add_enabled_ui(noted > 0 && !is_under_way, |ui| {
            button(workspace, ui, "diagnose", "diagnose: which fault explains the sightings", Command::Diagnose);
        });
        let words = match noted {
            0 => "no sighting yet".to_string(),
            1 => "1 sighting".to_string(),
            count => format!("{count} sightings"),
        };
        ui.label(secondary(&colours, words));
    });
    // What was waited for is brought into sight, by no more than it has to move.
    let found = session.findings().diagnosis();
    if found.is_some() && workspace.findings.as_ref() != found {
        let place = row.response.rect;
        let place = place.with_max_y(place.bottom() + HIGH);
        row.response.with_new_rect(place).scroll_to_me(None);
        workspace.findings = found.cloned();
    }
    room(ui, "suspects", HIGH, |ui| found_so_far(ui, session, &colours));
}

/// The suspects, or how far the diagnosis is.
fn found_so_far(ui: &mut Ui, session: &mut Session, colours: &Colours) {
    if let Some((done, all)) = session.findings().diagnosing() {
        progress(ui, colours, "judged", done, all);
        return;
    }
    let Some(findings) = session.findings().diagnosis().cloned() else {
        ui.add(Label::new(secondary(colours, "What explains the sightings, likeliest first.")).wrap());
        return;
    };
    ui.add(Label::new(RichText::new(&findings.summary).strong()).wrap());
    if session.findings().is_diagnosis_behind() {
        let words = "the sightings are others by now: diagnose again";
        ui.add(Label::new(RichText::new(words).small().color(colours.edge)).wrap());
    }
    list(ui, session, colours, &findings);
}

fn list(ui: &mut Ui, session: &mut Session, colours: &Colours, findings: &LiveDiagnosis) {
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
