//! The board and its fitted quirks: switched live, parameters moved by slider.

use backporch_quirk::Family;
use egui::{Align, Checkbox, Label, Layout, RichText, Slider, Ui};

use super::bar::{entries, named_list, own_entry, panel_heading, view_button};
use super::keys::KeyAction;
use super::steady::room;
use super::theme::{Colours, monospace, secondary};
use super::workspace::Workspace;
use crate::command::{Command, ViewCommand};
use crate::session::Session;

/// Points of the room for the fitted quirks.
const HIGH: f32 = 102.0;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    panel_heading(workspace, ui, "BOARD AND QUIRKS");
    let colours = workspace.colours();
    ui.horizontal(|ui| {
        let label = "fit a quirk from the library";
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            view_button(workspace, ui, "fit a quirk", label, ViewCommand::FitQuirk);
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| choose_board(ui, session));
        });
    });
    let mut removed = None;
    room(ui, "quirks", HIGH, |ui| {
        for at in 0..session.quirks().list().len() {
            fitted(workspace, ui, session, at, &mut removed);
        }
        if session.quirks().list().is_empty() {
            let words = "No quirk is fitted: it stands as its class is built.";
            ui.add(Label::new(secondary(&colours, words)).wrap());
        }
    });
    if let Some(at) = removed {
        session.remove_quirk(at);
    }
}

fn choose_board(ui: &mut Ui, session: &mut Session) {
    let name = session.bench().adapter().name().to_string();
    let mut chosen = name.clone();
    let list = egui::ComboBox::from_id_salt("board").selected_text(&name).width(ui.available_width() - 8.0).truncate();
    let list = list.show_ui(ui, |ui| {
        for board in backporch_adapter::ADAPTERS.names() {
            ui.selectable_value(&mut chosen, board.to_string(), board);
        }
    });
    named_list(&list.response, "class of board", &name);
    if chosen != name {
        session.switch_board(&chosen);
    }
}

fn fitted(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session, at: usize, removed: &mut Option<usize>) {
    let colours = workspace.colours();
    let Some(fitted) = session.quirks().list().get(at) else {
        return;
    };
    let (family, mut on) = (fitted.quirk().family().clone(), fitted.on);
    ui.horizontal(|ui| {
        let words = RichText::new(family.name()).strong();
        let switch = ui.add(Checkbox::new(&mut on, words)).on_hover_text(family.cause());
        if switch.changed() {
            workspace.ask(Command::Quirk(at));
        }
        switch.context_menu(|ui| {
            if own_entry(ui, "switch on this quirk alone") {
                session.switch_to_quirk(at);
            }
            if own_entry(ui, "remove this quirk") {
                *removed = Some(at);
            }
            entries(workspace, ui, &[KeyAction::Session(Command::AllQuirks)]);
        });
        let off = ui.small_button("\u{00D7}").on_hover_text("remove this quirk");
        super::bar::named(&off, &format!("remove {}", family.name()));
        if off.clicked() {
            *removed = Some(at);
        }
    });
    ui.add(Label::new(secondary(&colours, family.title())).wrap());
    parameters(ui, session, at, &family, &colours);
}

/// A slider over each parameter's values, in the order in which the family lists them.
fn parameters(ui: &mut Ui, session: &mut Session, at: usize, family: &Family, colours: &Colours) {
    let chosen = session.quirks().list()[at].quirk().parameters();
    for (name, choices) in family.parameters().iter() {
        let value = chosen.get(name).copied().unwrap_or_default();
        let mut sorted: Vec<(i64, u64)> = (0..choices.count()).filter_map(|at| Some((choices.at(at)?, at))).collect();
        sorted.sort_unstable();
        let Some(mut position) = sorted.iter().position(|(one, _)| *one == value) else {
            continue;
        };
        let before = position;
        ui.horizontal(|ui| {
            let label = ui.label(secondary(colours, name));
            let most = sorted.len().saturating_sub(1);
            let slider = Slider::new(&mut position, 0..=most).show_value(false);
            ui.add_enabled(most > 0, slider).labelled_by(label.id);
            ui.label(monospace(value.to_string()));
        });
        if position != before
            && let Some((_, listed)) = sorted.get(position)
        {
            session.choose(at, name, *listed);
        }
    }
}
