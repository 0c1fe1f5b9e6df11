//! The pixel pointed at: where it comes from, and which quirk changed that.

use backporch_raster::Layer;
use egui::{RichText, Ui};

use super::bar::panel_heading;
use super::theme::{Colours, monospace, secondary};
use super::workspace::Workspace;
use crate::session::Session;

/// Changes listed at most.
const MOST_CHANGES: usize = 2;

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
    let board = inspected.side.words();
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
            ui.label(secondary(&colours, "as counted plainly"));
        } else {
            ui.label(RichText::new(format!("plain: {:05X}h", found.plain_address)).color(colours.clean));
        }
    });
    if let Some(by) = session.writer(inspected) {
        let words = format!("written by {by}");
        ui.add(egui::Label::new(monospace(words.clone()).size(12.0)).truncate()).on_hover_text(words);
    }
    let of_address = found.address_changes.iter().map(|change| Change::new(&change.quirk, &change.layer, &change.does));
    let of_value = found.value_changes.iter().map(|change| Change::new(&change.quirk, &change.layer, &change.does));
    of_address.chain(of_value).take(MOST_CHANGES).for_each(|change| change.show(ui, &colours));
    let decided: Vec<String> = found.decided_by.iter().map(|(name, value)| format!("{name} {value}")).collect();
    let crossings = if found.crossings == 1 { "crossing" } else { "crossings" };
    let words = format!("pitch {}, {} {crossings}; {}", found.pitch, found.crossings, decided.join(", "));
    ui.add(egui::Label::new(secondary(&colours, words.clone())).truncate()).on_hover_text(words);
}

/// What changed the pixel on its way, and on which layer.
struct Change<'a> {
    quirk: &'a str,
    layer: &'a Layer,
    does: &'a str,
}

impl<'a> Change<'a> {
    fn new(quirk: &'a str, layer: &'a Layer, does: &'a str) -> Self {
        Self { quirk, layer, does }
    }

    fn show(&self, ui: &mut Ui, colours: &Colours) {
        let (words, colour) = match self.layer {
            Layer::Design { .. } => (format!("{}, as every board of this class does", self.does), colours.edge),
            Layer::Fault => (format!("{}: {}", self.quirk, self.does), colours.broken),
        };
        let detail = format!("{words}\n{}: {}", self.quirk, self.layer);
        ui.add(egui::Label::new(RichText::new(words).small().color(colour)).truncate()).on_hover_text(detail);
    }
}
