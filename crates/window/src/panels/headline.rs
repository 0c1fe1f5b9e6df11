//! The headline: the verdicts of board and routine with their causes, and what was meant.

use backporch_analysis::Verdict;
use backporch_analysis::compare::Blame;
use egui::{Label, RichText, Sense, Ui};

use super::keys::{KeyAction, key_label};
use super::steady::slot;
use super::theme::{Colours, mark, secondary};
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::{Headline, RoutineVerdict, Session};

/// Points down from which there is room for what to do about a mistake.
const TALL: f32 = 200.0;

/// Points of the words that name what is judged.
const NAME: f32 = 56.0;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    let headline = session.headline();
    board(ui, &colours, &headline, session);
    if let Some(verdict) = &headline.routine {
        routine(ui, &colours, verdict, session);
        if !workspace.shown.left && ui.available_height() > TALL {
            advice(ui, &colours, session);
        }
    }
}

fn board(ui: &mut Ui, colours: &Colours, headline: &Headline, session: &Session) {
    ui.horizontal(|ui| {
        name(ui, colours, "Board");
        mark(ui, colours, headline.board, 16.0);
        let words = RichText::new(headline.board_words()).strong().size(15.0).color(colours.of(headline.board));
        ui.label(words).on_hover_text(by_design(session, headline));
        let meant = headline.meant();
        ui.add(Label::new(secondary(colours, meant)).truncate()).on_hover_text(meant);
    });
}

/// What the class does by design, where that shows.
fn by_design(session: &Session, headline: &Headline) -> String {
    let mut words = headline.meant().to_string();
    match headline.board_blame {
        Blame::Class | Blame::Adapter => {
            for design in session.bench().layers().design() {
                words += &format!("\nby design, {}: {} ({})", design.name, design.says, design.basis);
            }
        }
        Blame::None | Blame::Timing | Blame::Code => {}
    }
    words
}

fn routine(ui: &mut Ui, colours: &Colours, verdict: &RoutineVerdict, session: &mut Session) {
    ui.horizontal(|ui| {
        name(ui, colours, "Routine");
        mark(ui, colours, verdict.verdict(), 16.0);
        let ink = match verdict.verdict() {
            Verdict::Clean => colours.clean,
            Verdict::EdgeDamaged | Verdict::Broken => colours.broken,
        };
        let words = RichText::new(verdict.words()).strong().size(15.0).color(ink);
        if verdict.hazards == 0 {
            ui.label(words);
            return;
        }
        let before = key_label(KeyAction::Session(Command::PreviousHazard));
        let next = key_label(KeyAction::Session(Command::NextHazard));
        let go = ui.add(Label::new(words).sense(Sense::click()));
        let label = format!("routine: {}: go to the next hazard", verdict.words());
        go.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Button, true, &label));
        let hover = format!("go to the next hazard ({next}), or to the one before ({before})");
        if go.on_hover_text(hover).clicked() {
            session.perform(Command::NextHazard);
        }
        let kinds: Vec<&str> = verdict.kinds.iter().map(|kind| kind.name()).collect();
        ui.add(Label::new(secondary(colours, kinds.join(", "))).truncate());
    });
}

/// What the Routine panel would say of the newest hazard, where it is hidden.
fn advice(ui: &mut Ui, colours: &Colours, session: &Session) {
    let routine = session.routine();
    let newest = routine.iter().flat_map(|routine| &routine.hazards).map(|one| &one.newest);
    ui.horizontal(|ui| {
        // Its row is there before the first hazard is.
        name(ui, colours, "");
        if let Some(newest) = newest.max_by_key(|hazard| hazard.frame) {
            let words = format!("{} {}", newest.what, newest.cure);
            ui.add(Label::new(secondary(colours, &words)).truncate()).on_hover_text(words);
        }
    });
}

fn name(ui: &mut Ui, colours: &Colours, words: &str) {
    slot(ui, NAME, |ui| ui.label(secondary(colours, words)));
}
