//! The boards and the rack of quirks: switched live, parameters moved by slider.

use backporch_quirk::Family;
use egui::{Checkbox, Label, RichText, Slider, Ui};

use super::bar::headed;
use super::desk::Desk;
use super::look::{Colours, faint, figures};
use crate::command::Command;
use crate::session::Session;

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui, session: &mut Session) {
    headed(desk, ui, "BOARD AND QUIRKS");
    choose_board(ui, session);
    let colours = desk.colours();
    let mut removed = None;
    for at in 0..session.rack().len() {
        fitted(desk, ui, session, at, &mut removed);
    }
    if session.rack().is_empty() {
        ui.label(faint(&colours, "No quirk is fitted: the board is healthy."));
    }
    if let Some(at) = removed {
        session.remove_quirk(at);
    }
    add(ui, session);
}

fn choose_board(ui: &mut Ui, session: &mut Session) {
    let name = session.bench().adapter().name().to_string();
    let mut chosen = name.clone();
    let list = egui::ComboBox::from_id_salt("board").selected_text(&name).width(ui.available_width() - 12.0);
    list.show_ui(ui, |ui| {
        for board in backporch_bench::adapter_names() {
            ui.selectable_value(&mut chosen, board.to_string(), board);
        }
    });
    if chosen != name {
        session.switch_board(&chosen);
    }
}

fn fitted(desk: &mut Desk, ui: &mut Ui, session: &mut Session, at: usize, removed: &mut Option<usize>) {
    let colours = desk.colours();
    let Some(fitted) = session.rack().get(at) else {
        return;
    };
    let (family, mut on) = (fitted.quirk().family().clone(), fitted.on);
    ui.horizontal(|ui| {
        let words = RichText::new(family.name()).strong();
        let switch = ui.add(Checkbox::new(&mut on, words)).on_hover_text(family.cause());
        if switch.changed() {
            desk.ask(Command::Quirk(at));
        }
        let off = ui.small_button("\u{00D7}").on_hover_text("take it off the rack");
        super::bar::named(&off, &format!("take {} off the rack", family.name()));
        if off.clicked() {
            *removed = Some(at);
        }
    });
    ui.add(Label::new(faint(&colours, family.title())).wrap());
    parameters(ui, session, at, &family, &colours);
}

/// A slider over each parameter's values, in the order in which the family lists them.
fn parameters(ui: &mut Ui, session: &mut Session, at: usize, family: &Family, colours: &Colours) {
    let chosen = session.rack()[at].quirk().parameters();
    for (name, choices) in family.parameters().iter() {
        let value = chosen.get(name).copied().unwrap_or_default();
        let mut sorted: Vec<(i64, u64)> = (0..choices.count()).filter_map(|at| Some((choices.at(at)?, at))).collect();
        sorted.sort_unstable();
        let Some(mut place) = sorted.iter().position(|(one, _)| *one == value) else {
            continue;
        };
        let before = place;
        ui.horizontal(|ui| {
            let label = ui.label(faint(colours, name));
            let most = sorted.len().saturating_sub(1);
            let slider = Slider::new(&mut place, 0..=most).show_value(false);
            ui.add_enabled(most > 0, slider).labelled_by(label.id);
            ui.label(figures(value.to_string()));
        });
        if place != before
            && let Some((_, position)) = sorted.get(place)
        {
            session.choose(at, name, *position);
        }
    }
}

/// A list of built-in quirks to fit.
fn add(ui: &mut Ui, session: &mut Session) {
    let mut chosen = None;
    let list =
        egui::ComboBox::from_id_salt("fit a quirk").selected_text("fit a quirk").width(ui.available_width() - 12.0);
    list.show_ui(ui, |ui| {
        for name in Family::built_in_names() {
            if ui.selectable_label(false, name).clicked() {
                chosen = Some(name);
            }
        }
    });
    if let Some(name) = chosen {
        session.add_quirk(name);
    }
}
