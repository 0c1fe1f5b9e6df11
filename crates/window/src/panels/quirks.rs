//! The board and its fitted quirks: switched live, parameters moved by slider.

use backporch_quirk::Family;
use egui::accesskit::{Action, ActionData};
use egui::{Align, Checkbox, Label, Layout, Response, RichText, Slider, Ui};

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
        workspace.context_menu(&switch, switch.rect.left_bottom(), |workspace, ui| {
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
            let slider = ui.add_enabled(most > 0, slider).labelled_by(label.id);
            if let Some(asked) = asked_for(ui, &slider, &sorted) {
                position = asked;
            }
            tell_value(&slider, &sorted, position);
            ui.label(monospace(value.to_string()));
        });
        if position != before
            && let Some((_, listed)) = sorted.get(position)
        {
            session.choose(at, name, *listed);
        }
    }
}

/// Tells a screen reader the parameter's value: the slider itself slides over places in the list of values.
fn tell_value(slider: &Response, sorted: &[(i64, u64)], position: usize) {
    let (Some((value, _)), Some((least, _)), Some((most, _))) = (sorted.get(position), sorted.first(), sorted.last())
    else {
        return;
    };
    slider.ctx.accesskit_node_builder(slider.id, |node| {
        node.set_value(value.to_string());
        node.set_numeric_value(*value as f64);
        node.set_min_numeric_value(*least as f64);
        node.set_max_numeric_value(*most as f64);
        node.clear_numeric_value_step();
    });
}

/// The place of the value nearest to one that a screen reader sets.
fn asked_for(ui: &Ui, slider: &Response, sorted: &[(i64, u64)]) -> Option<usize> {
    let asked = ui.input(|input| {
        let requests = input.accesskit_action_requests(slider.id, Action::SetValue);
        requests
            .filter_map(|request| match request.data {
                Some(ActionData::NumericValue(value)) => Some(value),
                _ => None,
            })
            .last()
    })?;
    let far = |at: &usize| (sorted[*at].0 as f64 - asked).abs();
    (0..sorted.len()).min_by(|one, other| far(one).total_cmp(&far(other)))
}
