//! Workarounds: settings that hold against the quirks switched on.

use backporch_analysis::Verdict;
use backporch_signal::SYNC_CAUTION;
use egui::{ColorImage, Image, Label, RichText, TextureHandle, TextureOptions, Ui, Vec2};

use super::bar::{button, named, panel_heading};
use super::steady::{progress, room};
use super::theme::{mark, secondary};
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::{LiveFilmStep, LiveWorkarounds, Session};

/// Points of the room for them.
const HIGH: f32 = 260.0;
/// Points of a step of a filmstrip.
const FILM: Vec2 = Vec2::new(56.0, 42.0);

/// Settings that hold according to the search, each to be tried at a press.
pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    panel_heading(workspace, ui, "WORKAROUNDS");
    ui.horizontal(|ui| {
        let label = "search for settings that hold";
        ui.add_enabled_ui(session.findings().searching().is_none(), |ui| {
            button(workspace, ui, "search", label, Command::Workarounds);
        });
        let found = session.findings().workarounds().map(|workarounds| workarounds.summary.clone());
        let words = found.unwrap_or_else(|| "for settings that hold".to_string());
        ui.add(Label::new(secondary(&colours, &words)).truncate()).on_hover_text(words);
    });
    room(ui, "workarounds", HIGH, |ui| {
        if let Some((done, all)) = session.findings().searching() {
            progress(ui, &colours, "settings judged", done, all);
        } else if let Some(workarounds) = session.findings().workarounds().cloned() {
            list(workspace, ui, session, &workarounds);
        }
    });
}

/// The filmstrips as the painter knows them, one for each workaround.
fn films(workspace: &mut Workspace, ui: &Ui, workarounds: &LiveWorkarounds) -> Vec<Vec<TextureHandle>> {
    match &workspace.textures.film {
        Some((drawn, film)) if drawn == workarounds => film.clone(),
        _ => {
            let texture = |step: &LiveFilmStep| {
                let size = [step.width as usize, step.height as usize];
                let image = ColorImage::from_rgba_unmultiplied(size, step.rgba.as_flattened());
                ui.ctx().load_texture(&step.says, image, TextureOptions::LINEAR)
            };
            let film: Vec<Vec<TextureHandle>> =
                workarounds.list.iter().map(|one| one.film.iter().map(texture).collect()).collect();
            workspace.textures.film = Some((workarounds.clone(), film.clone()));
            film
        }
    }
}

fn list(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session, workarounds: &LiveWorkarounds) {
    let colours = &workspace.colours();
    let film = films(workspace, ui, workarounds);
    if workarounds.list.iter().any(|workaround| workaround.moves_sync) {
        ui.add(Label::new(RichText::new(SYNC_CAUTION).small().color(colours.edge)).wrap());
    }
    for (at, workaround) in workarounds.list.iter().enumerate() {
        ui.horizontal(|ui| {
            let verdict = if workaround.holds { Verdict::Clean } else { Verdict::EdgeDamaged };
            mark(ui, colours, verdict, 11.0);
            let press = ui.small_button("try");
            named(&press, &format!("try {}", workaround.words));
            if press.clicked() {
                session.try_workaround(at);
            }
            if workaround.program.is_some() {
                let press = ui.small_button("run").on_hover_text("its scroller drives the boards, live");
                named(&press, &format!("run the scroller of {}", workaround.words));
                if press.clicked() {
                    session.run_workaround(at);
                }
            }
            let registers: Vec<String> =
                workaround.registers.iter().map(|(name, value)| format!("{name} {value}")).collect();
            let words = RichText::new(&workaround.words).small();
            ui.add(Label::new(words).truncate()).on_hover_text(format!(
                "{}\n{}",
                registers.join(", "),
                workaround.cost
            ));
        });
        ui.add(Label::new(secondary(colours, &workaround.cost).small()).truncate()).on_hover_text(&workaround.cost);
        if !workaround.film.is_empty() {
            ui.horizontal(|ui| {
                for (step, texture) in workaround.film.iter().zip(film.get(at).into_iter().flatten()) {
                    // Four steps have to go beside one another.
                    let shown = ui.add(Image::new(texture).fit_to_exact_size(FILM));
                    named(&shown, &step.says);
                    shown.on_hover_text(&step.says);
                }
            });
        }
    }
}
