//! The pixel pointed at: where it comes from, and who bent it.

use egui::{RichText, Ui};

use super::bar::headed;
use super::desk::Desk;
use super::look::{faint, figures};
use crate::session::{Session, Side};

/// Points it takes.
pub(crate) const ROOM: f32 = 160.0;

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui, session: &Session) {
    let colours = desk.colours();
    headed(desk, ui, "PIXEL");
    let Some(finger) = session.finger() else {
        ui.label(faint(&colours, "Point at the screen: here stands where the pixel comes from."));
        ui.label(faint(&colours, "Point at memory: on the screen it is outlined where the byte shows."));
        ui.label(faint(&colours, "A click on the screen picks its line for the next sighting."));
        return;
    };
    let found = &finger.provenance;
    let board = if finger.side == Side::Healthy { "healthy" } else { "faulty" };
    let place = format!("x {:>3}  line {:>3}  value {:>3}", found.x, found.picture_line, found.value);
    ui.horizontal(|ui| {
        ui.label(figures(place));
        ui.label(faint(&colours, board));
    });
    let (row, scan) = found.row;
    ui.label(faint(
        &colours,
        format!("scan line {}, character clock {}, row {row} line {scan}", found.scan_line, found.char),
    ));
    ui.horizontal(|ui| {
        ui.label(faint(&colours, "fetched from"));
        ui.label(figures(format!("{:05X}h", found.address)).color(colours.accent));
        match found.address == found.healthy_address {
            true => ui.label(faint(&colours, "as a healthy board does")),
            false => ui.label(RichText::new(format!("healthy: {:05X}h", found.healthy_address)).color(colours.clean)),
        };
    });
    if let Some(by) = session.writer(finger) {
        let words = format!("written by {by}");
        ui.add(egui::Label::new(figures(words.clone()).size(11.0)).truncate()).on_hover_text(words);
    }
    for bend in found.bends.iter().take(2) {
        let words = format!("{}: {:05X}h became {:05X}h", bend.quirk, bend.before, bend.after);
        ui.label(RichText::new(words).small().color(colours.broken));
    }
    let decided: Vec<String> = found.decided_by.iter().map(|(name, value)| format!("{name} {value}")).collect();
    let crossings = if found.crossings == 1 { "crossing" } else { "crossings" };
    let words = format!("pitch {}, {} {crossings}; {}", found.pitch, found.crossings, decided.join(", "));
    ui.add(egui::Label::new(faint(&colours, words.clone())).truncate()).on_hover_text(words);
}
