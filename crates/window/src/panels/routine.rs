//! The routine that drives the boards, and the mistakes it has made.

use egui::{Label, RichText, Ui};

use super::bar::{named, panel_heading};
use super::steady::room;
use super::theme::{Colours, monospace, secondary};
use super::workspace::Workspace;
use crate::session::{RoutineView, Session};

/// Points of the room for its mistakes.
const HIGH: f32 = 150.0;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let Some(routine) = session.routine() else {
        return;
    };
    let colours = workspace.colours();
    panel_heading(workspace, ui, "ROUTINE");
    ui.add(Label::new(&routine.title).wrap());
    let on = routine.cpu.as_ref().map_or_else(|| "a write trace".to_string(), |cpu| format!("processor {cpu}"));
    ui.label(secondary(&colours, on));
    room(ui, "hazards", HIGH, |ui| hazards(ui, session, &colours, &routine));
}

/// Its mistakes by kind, and what to do about the newest.
fn hazards(ui: &mut Ui, session: &mut Session, colours: &Colours, routine: &RoutineView) {
    if routine.hazards.is_empty() {
        ui.label(RichText::new("no hazard so far").small().color(colours.clean));
    }
    for one in &routine.hazards {
        ui.horizontal(|ui| {
            ui.label(monospace(format!("{:>4}", one.count)).size(12.0).color(colours.broken));
            let go = ui.small_button(one.kind.name());
            let label =
                format!("{}: go to the newest, in frame {}, line {}", one.kind, one.newest.frame, one.newest.line);
            named(&go, &label);
            if go.clicked() {
                session.go_to_hazard(&one.newest);
            }
            ui.label(secondary(colours, format!("last in frame {}, line {}", one.newest.frame, one.newest.line)));
        })
        .response
        .on_hover_text(format!("{}\n{}", one.newest.what, one.newest.cure));
        if let Some(by) = &one.by {
            ui.add(Label::new(monospace(format!("     by {by}")).size(12.0)).truncate()).on_hover_text(by);
        }
    }
    if let Some(newest) = routine.hazards.iter().map(|one| &one.newest).max_by_key(|hazard| hazard.frame) {
        ui.add(Label::new(secondary(colours, &newest.what)).wrap());
        ui.add(Label::new(RichText::new(&newest.cure).small().color(colours.clean)).wrap());
    }
}
