//! The bar across the top: what is on the bench, where in time, and the
//! verdict; and the line at the bottom: what was said.

use egui::{Align, Label, Layout, RichText, Ui};

use super::desk::Desk;
use super::keys::{Does, cap_of};
use super::look::{faint, figures, heading, mark};
use super::sign::Sign;
use crate::command::{Command, ViewCommand};
use crate::session::{Look, Session, Until};

/// A button that asks the session for something, its key in its tooltip.
pub(crate) fn button(desk: &mut Desk, ui: &mut Ui, words: &str, label: &str, command: Command) {
    let response = ui.button(words);
    named(&response, label);
    if response.on_hover_text(format!("{label}  ({})", cap_of(Does::Session(command)))).clicked() {
        desk.ask(command);
    }
}

/// A button with a drawn sign that asks the session for something.
fn sign_button(desk: &mut Desk, ui: &mut Ui, sign: Sign, label: &str, command: Command) {
    let response = sign.show(ui);
    named(&response, label);
    if response.on_hover_text(format!("{label}  ({})", cap_of(Does::Session(command)))).clicked() {
        desk.ask(command);
    }
}

/// A button that asks the window for something.
pub(crate) fn view_button(desk: &mut Desk, ui: &mut Ui, words: &str, label: &str, command: ViewCommand) {
    let response = ui.button(words);
    named(&response, label);
    if response.on_hover_text(format!("{label}  ({})", cap_of(Does::View(command)))).clicked() {
        desk.view(command);
    }
}

/// Names a widget for those who hear it.
pub(crate) fn named(response: &egui::Response, label: &str) {
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Button, true, label));
}

pub(crate) fn show(desk: &mut Desk, ui: &mut Ui, session: &mut Session) {
    let colours = desk.colours();
    ui.horizontal(|ui| {
        time(desk, ui, session);
        ui.separator();
        looks(desk, ui, session);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            view_button(desk, ui, "H", "help: what the keys do", ViewCommand::Help);
            ui.separator();
            let damage = session.damage();
            let verdict = damage.verdict();
            ui.label(RichText::new(verdict.word()).strong().size(15.0).color(colours.of(verdict)));
            mark(ui, &colours, verdict, 18.0);
            if let Some(recorded) = session.recorded() {
                ui.label(RichText::new(format!("recording, {recorded} frames")).color(colours.broken));
            }
            let room = ui.available_width();
            let bench = session.bench();
            let title = format!("{}   {} {}", session.name(), bench.adapter().name(), bench.mode().name);
            if room > 90.0 {
                ui.add(Label::new(faint(&colours, title.clone())).truncate()).on_hover_text(title);
            }
        });
    });
}

fn time(desk: &mut Desk, ui: &mut Ui, session: &mut Session) {
    let colours = desk.colours();
    let running = session.is_running();
    sign_button(desk, ui, Sign::First, "the first frame", Command::FirstFrame);
    sign_button(desk, ui, Sign::Back, "one frame back", Command::FrameBack);
    let (sign, label) = if running { (Sign::Pause, "pause") } else { (Sign::Run, "run") };
    sign_button(desk, ui, sign, label, Command::RunOrPause);
    sign_button(desk, ui, Sign::On, "one frame on", Command::FrameOn);
    let shown = session.frame_shown();
    ui.label(faint(&colours, "frame"));
    ui.label(figures(format!("{shown:>5}")).strong().size(15.0));
    let beam = session.beam();
    match session.is_mid_frame() && !running {
        true => ui.label(figures(format!("line {:>3} char {:>3}", beam.scan_line, beam.char)).color(colours.accent)),
        false => ui.label(faint(&colours, state(session))),
    };
    if let Some(frame) = desk.fields.jump(ui, &colours) {
        session.jump(frame);
    }
}

/// In a few words, how time goes.
fn state(session: &Session) -> String {
    if let Some(goal) = session.goal() {
        return format!("on the way to {goal}");
    }
    if !session.is_running() {
        return if session.replays() { "paused in the past" } else { "paused" }.to_string();
    }
    let pace = session.pace();
    let late = pace.lateness();
    let rate = pace.rate_hz();
    match (pace.slowness(), late.share()) {
        (1, share) if share > 0.05 => format!("cannot keep up: {:.0} of {rate:.1} Hz shown", late.shown_hz),
        (1, _) => format!("{rate:.1} Hz"),
        (slowness, _) => format!("{rate:.1} Hz / {slowness}"),
    }
}

/// Points below which the ways to look are shown by their keys alone.
const NARROW: f32 = 620.0;

fn looks(desk: &mut Desk, ui: &mut Ui, session: &Session) {
    let narrow = ui.available_width() < NARROW;
    for look in Look::ALL {
        let chosen = session.look() == look;
        let key = cap_of(Does::Session(Command::Look(look)));
        let words = if narrow { key.clone() } else { format!("{key} {}", look.words()) };
        let response = ui.selectable_label(chosen, words).on_hover_text(look.words());
        let label = format!("{key} {}", look.words());
        response.widget_info(|| egui::WidgetInfo::selected(egui::WidgetType::SelectableLabel, true, chosen, &label));
        if response.clicked() {
            desk.ask(Command::Look(look));
        }
    }
}

/// The line at the bottom.
pub(crate) fn show_said(desk: &mut Desk, ui: &mut Ui, session: &mut Session) {
    let colours = desk.colours();
    if let Some(problem) = session.problem() {
        let words = problem.to_string();
        let help = problem.help().map(|help| format!("   {help}")).unwrap_or_default();
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new("\u{26A0}").color(colours.broken));
            ui.label(RichText::new(words).color(colours.broken).strong());
            ui.label(faint(&colours, format!("the last good state stays{help}")));
        });
    }
    ui.horizontal(|ui| {
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            until(desk, ui, session);
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| said(desk, ui, session));
        });
    });
}

/// What was said last.
fn said(desk: &Desk, ui: &mut Ui, session: &Session) {
    let colours = desk.colours();
    if desk.keyboard.is_some() {
        let words =
            format!("the keyboard belongs to the program; {} takes it back", cap_of(Does::View(ViewCommand::Keyboard)));
        ui.add(Label::new(RichText::new(words).color(colours.accent)).truncate());
        return;
    }
    let refused = desk.fields.refused.clone();
    match (refused, session.said()) {
        (Some(refused), _) => ui.add(Label::new(RichText::new(refused).color(colours.broken)).truncate()),
        (None, Some(said)) => ui.add(Label::new(said).truncate()),
        (None, None) => ui.add(Label::new(faint(&colours, session.bench().title())).truncate()),
    };
}

/// The condition to run until, chosen and started.
fn until(desk: &mut Desk, ui: &mut Ui, session: &Session) {
    let colours = desk.colours();
    let waits = session.waits_for().is_some();
    let words = if waits { "waiting" } else { "run until" };
    button(desk, ui, words, "run until the chosen condition", Command::RunUntil(desk.until));
    // From right to left: the value stands after the condition.
    if let Some(until) = desk.fields.until(ui, desk.until) {
        desk.until = until;
    }
    let chosen = desk.until;
    egui::ComboBox::from_id_salt("until").selected_text(chosen.words()).show_ui(ui, |ui| {
        for until in Until::ALL {
            if ui.selectable_label(until.words() == chosen.words(), until.words()).clicked() {
                desk.until = until;
            }
        }
    });
    ui.label(faint(&colours, cap_of(Does::View(ViewCommand::RunUntilChosen))));
}

/// A heading with a note of its key.
pub(crate) fn headed(desk: &Desk, ui: &mut Ui, words: &str) {
    heading(ui, &desk.colours(), words);
}
