//! The program at work: where it is, in its listing; its registers, keys and words.

use egui::{Label, RichText, Sense, Ui};

use super::bar::{button, named, panel_heading, view_button};
use super::steady::{at_least, rows};
use super::theme::{monospace, secondary};
use super::workspace::Workspace;
use crate::command::{Command, ViewCommand};
use crate::session::{Listing, ProgramState, ProgramView, Session, StopCondition};

/// Points a row of the listing is high.
const ROW: f32 = 15.0;
/// Rows of the listing, of how it stands, of what it printed.
const LISTED: usize = 12;
const STATE_ROWS: usize = 2;
const PRINTED_ROWS: usize = 4;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let Some(program) = session.program() else {
        return;
    };
    let colours = workspace.colours();
    panel_heading(workspace, ui, "PROGRAM");
    let ink = match program.state {
        ProgramState::Runs => colours.ink,
        ProgramState::WaitsForKey => colours.accent,
        ProgramState::Ended(_) => colours.faint,
        ProgramState::Trouble(_) => colours.broken,
    };
    rows(ui, RichText::new(program.state.words()).color(ink), STATE_ROWS);
    ui.horizontal(|ui| {
        let (words, label) = match workspace.keyboard {
            None => ("keyboard", "give the keyboard to the program"),
            Some(_) => ("keyboard back", "take the keyboard back"),
        };
        button(workspace, ui, "one on", "one instruction on", Command::InstructionOn);
        button(workspace, ui, "one back", "one instruction back", Command::InstructionBack);
        view_button(workspace, ui, words, label, ViewCommand::Keyboard);
    });
    at_least(ui, ROW * LISTED as f32, |ui| listing(workspace, ui, &program));
    for line in program.registers.lines() {
        let parts: Vec<&str> = line.split("  ").filter(|part| !part.is_empty()).collect();
        for part in parts.chunks(4) {
            ui.add(Label::new(monospace(part.join("  ")).size(12.0).color(colours.faint)));
        }
    }
    let has_printed = !program.printed.is_empty();
    ui.label(secondary(&colours, if has_printed { "it printed" } else { "it has printed nothing" }));
    rows(ui, monospace(&program.printed).size(12.0), PRINTED_ROWS);
}

/// The instructions; a click on one runs until it comes next.
fn listing(workspace: &mut Workspace, ui: &mut Ui, program: &ProgramView) {
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        ui.spacing_mut().interact_size.y = ROW;
        for line in &program.listing {
            if row(workspace, ui, line).clicked() {
                workspace.until = StopCondition::Instruction(line.at);
                workspace.ask(Command::RunUntil(workspace.until));
            }
        }
    });
}

fn row(workspace: &Workspace, ui: &mut Ui, line: &Listing) -> egui::Response {
    let colours = workspace.colours();
    let band = if line.here { ui.visuals().faint_bg_color } else { egui::Color32::TRANSPARENT };
    let ink = if line.here {
        colours.accent
    } else if line.done {
        colours.faint
    } else {
        colours.ink
    };
    let marker = if line.here { "\u{25B8}" } else { " " };
    let text = monospace(format!("{marker}{}  {}", line.at, line.text)).size(12.0).color(ink);
    let label = Label::new(text).truncate().sense(Sense::click());
    let response = egui::Frame::new().fill(band).show(ui, |ui| ui.horizontal(|ui| ui.add(label)).inner).inner;
    let detail = if line.here { "under way" } else { "run until this comes next" };
    named(&response, &format!("{} {}: {detail}", line.at, line.text));
    response.on_hover_text(format!("{}\n{detail}", line.bytes))
}
