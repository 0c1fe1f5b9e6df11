//! The pixel pointed at: where it comes from, and which quirk changed that.

use egui::{RichText, Ui};

use super::bar::panel_heading;
use super::theme::{monospace, secondary};
use super::workspace::Workspace;
use crate::session::{Session, Side};

/// Points it takes.
pub(crate) const ROOM: f32 = 160.0;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &Session) {
    let colours = workspace.colours();
    panel_heading(workspace, ui, "PIXEL");
    let Some(inspected) = session.inspection().pixel() else {
        ui.label(secondary(&colours, "Point at the screen: here stands where the pixel comes from."));
        ui.label(secondary(&colours, "Point at memory: on the screen it is outlined where the byte shows."));
        ui.label(secondary(&colours, "A click on the screen picks its line for the next sighting."));
        return;
    };
    let found = &inspected.provenance;
    let board = if inspected.side == Side::Healthy { "healthy" } else { "faulty" };
    let position = format!("x {:>3}  line {:>3}  value {:>3}", found.x, found.picture_line, found.value);
    ui.horizontal(|ui| {
        ui.label(monospace(position));
        ui.label(secondary(&colours, board));
    });
    let (row, scan) = found.row;
    ui.label(secondary(
        &colours,
        format!("scan line {}, character clock {}, row {row} line {scan}", found.scan_line, found.char),
    ));
    ui.horizontal(|ui| {
        ui.label(secondary(&colours, "fetched from"));
        ui.label(monospace(format!("{:05X}h", found.address)).color(colours.accent));
        if found.address == found.plain_address {
            ui.label(secondary(&colours, "as a healthy board does"));
        } else {
            ui.label(RichText::new(format!("healthy: {:05X}h", found.plain_address)).color(colours.clean));
        }
    });
    if let Some(by) = session.writer(inspected) {
        let words = format!("written by {by}");
        ui.add(egui::Label::new(monospace(words.clone()).size(11.0)).truncate()).on_hover_text(words);
    }
    for bend in found.address_changes.iter().take(2) {
        let words = format!("{}: {:05X}h became {:05X}h", bend.quirk, bend.before, bend.after);
        ui.label(RichText::new(words).small().color(colours.broken));
    }
    let decided: Vec<String> = found.decided_by.iter().map(|(name, value)| format!("{name} {value}")).collect();
    let crossings = if found.crossings == 1 { "crossing" } else { "crossings" };
    let words = format!("pitch {}, {} {crossings}; {}", found.pitch, found.crossings, decided.join(", "));
    ui.add(egui::Label::new(secondary(&colours, words.clone())).truncate()).on_hover_text(words);
}
