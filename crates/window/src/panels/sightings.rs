//! The sightings noted of the real board: what is seen is put together from chips and noted with a verdict.

use backporch_analysis::Verdict;
use egui::{Label, RichText, Ui, WidgetInfo, WidgetType};

use super::bar::{button, named, panel_heading};
use super::keys::{KeyAction, key_label};
use super::steady::{room, rows};
use super::theme::{mark, secondary};
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::{Chip, Session};

/// Sightings listed, the newest first.
const MOST_NOTES: usize = 12;
/// Points of the room for them.
const HIGH: f32 = 72.0;

/// The sightings noted so far.
pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    panel_heading(workspace, ui, "SIGHTINGS");
    chips(workspace, ui, session);
    ui.horizontal_wrapped(|ui| {
        for verdict in [Verdict::Clean, Verdict::EdgeDamaged, Verdict::Broken] {
            mark(ui, &colours, verdict, 12.0);
            let key = key_label(KeyAction::Session(Command::Note(verdict)));
            let label = format!("note a sighting: {}", verdict.word());
            button(workspace, ui, &key, &label, Command::Note(verdict));
        }
        let key = key_label(KeyAction::Session(Command::NoteUntold));
        button(workspace, ui, &format!("unsure {key}"), "note a sighting: could not tell", Command::NoteUntold);
        let unsaved = session.findings().notes().unsaved();
        ui.add_enabled_ui(unsaved, |ui| {
            button(workspace, ui, "save", "save the sightings", Command::SaveSightings);
        });
    });
    let notes = session.findings().notes();
    let picked: Vec<String> = notes.picked().iter().map(ToString::to_string).collect();
    let examples = if picked.is_empty() {
        secondary(&colours, "no line picked as an example")
    } else {
        RichText::new(format!("for example lines {}", picked.join(" "))).small().color(colours.edge)
    };
    rows(ui, examples, 1);
    room(ui, "sightings", HIGH, |ui| {
        if session.findings().notes().noted().is_empty() {
            let words = "What the real board shows at this setting: choose what holds, then note it by its verdict.";
            ui.add(Label::new(secondary(&colours, words)).wrap());
        }
        listed(workspace, ui, session);
    });
}

/// What can be said beside the verdict, each at a press.
fn chips(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        let nth = workspace.nth_line;
        let (least, most) = Chip::PERIODS.into_inner();
        for (words, label, by, possible) in [
            ("\u{2212}", "bad lines closer together", -1, nth > least),
            ("+", "bad lines farther apart", 1, nth < most),
        ] {
            if by > 0 {
                chip(ui, session, Chip::EveryNth(nth), &Chip::EveryNth(nth).words());
            }
            let press = ui.add_enabled(possible, egui::Button::new(words).small());
            named(&press, label);
            if press.clicked() {
                let was_chosen = session.findings().notes().has_chip(Chip::EveryNth(nth));
                workspace.nth_line = nth.saturating_add_signed(by).clamp(least, most);
                if was_chosen {
                    session.toggle_chip(Chip::EveryNth(workspace.nth_line));
                }
            }
        }
        for (one, words) in [
            (Chip::FewLines, "few lines"),
            (Chip::MostLines, "most lines"),
            (Chip::LeftEdge, "left edge"),
            (Chip::Across, "across"),
            (Chip::RightEdge, "right edge"),
            (Chip::NowAndThen, "now and then"),
        ] {
            chip(ui, session, one, words);
        }
    });
}

fn chip(ui: &mut Ui, session: &mut Session, chip: Chip, words: &str) {
    let chosen = session.findings().notes().has_chip(chip);
    let response = ui.add(egui::Button::new(RichText::new(words).small()).selected(chosen));
    let label = format!("seen: {}", chip.words());
    response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, chosen, &label));
    if response.clicked() {
        session.toggle_chip(chip);
    }
}

/// The newest notes, and beside each what the leading suspect shows there.
fn listed(workspace: &Workspace, ui: &mut Ui, session: &Session) {
    let colours = workspace.colours();
    let notes = session.findings().notes();
    let diagnosis = session.findings().diagnosis().filter(|_| !session.findings().is_diagnosis_behind());
    let leading = diagnosis.and_then(|diagnosis| Some((diagnosis, diagnosis.suspects.first()?)));
    for (at, sighting) in notes.noted().iter().enumerate().rev().take(MOST_NOTES) {
        ui.horizontal(|ui| {
            ui.set_max_height(16.0);
            if let Some(verdict) = sighting.verdict() {
                mark(ui, &colours, verdict, 11.0);
            }
            let words = format!("{}: {}", sighting.place(), sighting.saw);
            ui.add(Label::new(RichText::new(&words).small()).truncate()).on_hover_text(words);
        });
        if let Some((diagnosis, suspect)) = leading
            && let Some(shows) = diagnosis.predicted.get(at).cloned().flatten()
        {
            let words = format!("   {} shows: {shows}", suspect.name);
            ui.add(Label::new(secondary(&colours, &words)).truncate()).on_hover_text(words.trim_start());
        }
    }
    let more = notes.noted().len().saturating_sub(MOST_NOTES);
    if more > 0 {
        ui.label(secondary(&colours, format!("and {more} before them")));
    }
}
