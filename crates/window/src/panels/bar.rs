//! The bar across the top: what is on the bench, and where in time; and the
//! line at the bottom: what was said.

use egui::{Align, Label, Layout, RichText, Ui};

use super::icons::Icon;
use super::keys::{KEY_BINDINGS, KeyAction, KeyBinding, KeyGroup, key_label};
use super::steady::{shortened, slot};
use super::theme::{heading, monospace, secondary};
use super::workspace::Workspace;
use crate::command::{Command, ViewCommand};
use crate::session::{BoardView, Session, StopCondition};

/// A button that asks the session for something, its key in its tooltip.
pub(crate) fn button(workspace: &mut Workspace, ui: &mut Ui, words: &str, label: &str, command: Command) {
    let response = ui.button(words);
    named(&response, label);
    if response.on_hover_text(format!("{label}  ({})", key_label(KeyAction::Session(command)))).clicked() {
        workspace.ask(command);
    }
}

/// A button with a drawn icon that asks the session for something.
fn icon_button(workspace: &mut Workspace, ui: &mut Ui, sign: Icon, label: &str, command: Command) {
    let response = sign.show(ui);
    named(&response, label);
    if response.on_hover_text(format!("{label}  ({})", key_label(KeyAction::Session(command)))).clicked() {
        workspace.ask(command);
    }
}

/// A button that asks the window for something.
pub(crate) fn view_button(workspace: &mut Workspace, ui: &mut Ui, words: &str, label: &str, command: ViewCommand) {
    let response = ui.button(words);
    named(&response, label);
    if response.on_hover_text(format!("{label}  ({})", key_label(KeyAction::View(command)))).clicked() {
        workspace.view(command);
    }
}

/// Names a list and tells what is chosen on it, for screen readers.
pub(crate) fn named_list(response: &egui::Response, label: &str, chosen: &str) {
    let info = || egui::WidgetInfo {
        current_text_value: Some(chosen.to_string()),
        ..egui::WidgetInfo::labeled(egui::WidgetType::ComboBox, true, label)
    };
    response.widget_info(info);
}

/// Names a field and tells what stands in it, for screen readers.
pub(crate) fn named_field(response: &egui::Response, label: &str, text: &str) {
    let info = || egui::WidgetInfo {
        current_text_value: Some(text.to_string()),
        ..egui::WidgetInfo::labeled(egui::WidgetType::TextEdit, true, label)
    };
    response.widget_info(info);
}

/// Names a widget for screen readers.
pub(crate) fn named(response: &egui::Response, label: &str) {
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Button, true, label));
}

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    ui.horizontal(|ui| {
        time(workspace, ui, session);
        ui.separator();
        looks(workspace, ui, session);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            view_button(workspace, ui, "H", "help: what the keys do", ViewCommand::Help);
            menu(workspace, ui);
            ui.separator();
            if let Some(recorded) = session.files().recorded() {
                ui.label(RichText::new(format!("recording, {recorded} frames")).color(colours.broken));
            }
            let room = ui.available_width();
            let bench = session.bench();
            let title = format!("{}   {} {}", session.name(), bench.adapter().name(), bench.mode().name);
            if room > 90.0 {
                ui.add(Label::new(secondary(&colours, title.clone())).truncate()).on_hover_text(title);
            }
        });
    });
}

/// Everything the keys do, in a menu.
fn menu(workspace: &mut Workspace, ui: &mut Ui) {
    let menu = ui.menu_button("menu", |ui| {
        for group in KeyGroup::ALL {
            let part = ui.menu_button(group.words(), |ui| {
                for binding in KEY_BINDINGS.iter().filter(|binding| binding.group == group) {
                    entry(workspace, ui, binding);
                }
            });
            named(&part.response, &format!("menu: {}", group.words()));
        }
    });
    named(&menu.response, "menu: all that the keys do");
}

/// An entry of a menu: what a key does.
fn entry(workspace: &mut Workspace, ui: &mut Ui, binding: &KeyBinding) {
    let response = ui.add(egui::Button::new(binding.words).shortcut_text(binding.label()));
    named(&response, &format!("menu: {}", binding.words));
    if response.clicked() {
        workspace.act(binding.action);
        // A key does not close it by itself.
        ui.close();
    }
}

/// Entries of a menu that hangs on a thing: what keys do to it.
pub(crate) fn entries(workspace: &mut Workspace, ui: &mut Ui, actions: &[KeyAction]) {
    for action in actions {
        if let Some(binding) = KEY_BINDINGS.iter().find(|binding| binding.action == *action) {
            entry(workspace, ui, binding);
        }
    }
}

/// An entry of such a menu that no key stands for; whether it was chosen.
pub(crate) fn own_entry(ui: &mut Ui, words: &str) -> bool {
    let response = ui.button(words);
    named(&response, &format!("menu: {words}"));
    if response.clicked() {
        ui.close();
    }
    response.clicked()
}

fn time(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    let running = session.transport().is_running();
    icon_button(workspace, ui, Icon::First, "the first frame", Command::FirstFrame);
    icon_button(workspace, ui, Icon::Back, "one frame back", Command::FrameBack);
    let (sign, label) = if running { (Icon::Pause, "pause") } else { (Icon::Run, "run") };
    icon_button(workspace, ui, sign, label, Command::RunOrPause);
    icon_button(workspace, ui, Icon::On, "one frame on", Command::FrameOn);
    let shown = session.transport().frame_number();
    let is_narrow = ui.available_width() < NARROWEST;
    if !is_narrow {
        ui.label(secondary(&colours, "frame"));
    }
    ui.label(monospace(format!("{shown:>5}")).strong().size(15.0));
    let state_width = if is_narrow { SHORT_STATE } else { STATE };
    let entered = slot(ui, state_width, |ui| {
        if workspace.fields.is_jumping() {
            return workspace.fields.jump(ui, state_width - 10.0);
        }
        let beam = session.transport().beam();
        let words = if session.transport().is_mid_frame() && !running {
            monospace(format!("line {:>3} char {:>3}", beam.scan_line, beam.char)).color(colours.accent)
        } else {
            secondary(&colours, state(session))
        };
        ui.add(Label::new(words).truncate());
        None
    });
    if let Some(frame) = entered {
        workspace.fields.refused = session.jump(frame).err().map(|error| error.to_string());
    }
}

/// Points of what tells how time goes, and of the frame to jump to in its place.
const STATE: f32 = 134.0;
const SHORT_STATE: f32 = 64.0;
/// Points right of the buttons of time below which everything is as short as it can be.
const NARROWEST: f32 = 460.0;

/// In a few words, how time goes.
fn state(session: &Session) -> String {
    if let Some(goal) = session.transport().goal() {
        return format!("on the way to {goal}");
    }
    if !session.transport().is_running() {
        return if session.transport().replays() { "paused in the past" } else { "paused" }.to_string();
    }
    let pace = session.transport().pace();
    let late = pace.lateness();
    let rate = pace.rate_hz();
    match (pace.slowness(), late.share()) {
        (1, share) if share > 0.05 => format!("late: {:.0} of {rate:.1} Hz", late.shown_hz),
        (1, _) => format!("{rate:.1} Hz"),
        (slowness, _) => format!("{rate:.1} Hz / {slowness}"),
    }
}

/// Points below which the ways to look are shown by their keys alone, and in a list.
const NARROW: f32 = 620.0;
const LISTED: f32 = 370.0;
/// Points more where a photograph is open, so that there are more of them: in words, and by keys alone.
const PHOTOGRAPH_WORDS: f32 = 330.0;
const PHOTOGRAPH_KEYS: f32 = 190.0;

fn looks(workspace: &mut Workspace, ui: &mut Ui, session: &Session) {
    let (words_more, keys_more) =
        if session.has_photograph() { (PHOTOGRAPH_WORDS, PHOTOGRAPH_KEYS) } else { (0.0, 0.0) };
    let narrow = ui.available_width() < NARROW + words_more;
    let shown = |view: &BoardView| !view.needs_photograph() || session.has_photograph();
    if ui.available_width() < LISTED + keys_more {
        let present = session.inspection().board_view();
        let list = egui::ComboBox::from_id_salt("looks").width(70.0).truncate().selected_text(present.words());
        let list = list.show_ui(ui, |ui| {
            for view in BoardView::ALL.into_iter().filter(shown) {
                if ui.selectable_label(view == present, view.words()).clicked() {
                    workspace.ask(Command::BoardView(view));
                }
            }
        });
        named_list(&list.response, "which boards are looked at", present.words());
        return;
    }
    for view in BoardView::ALL.into_iter().filter(shown) {
        let chosen = session.inspection().board_view() == view;
        let key = key_label(KeyAction::Session(Command::BoardView(view)));
        let words = if narrow { key.clone() } else { format!("{key} {}", view.words()) };
        let response = ui.add(egui::Button::new(words).selected(chosen)).on_hover_text(view.words());
        let label = format!("{key} {}", view.words());
        response.widget_info(|| egui::WidgetInfo::selected(egui::WidgetType::SelectableLabel, true, chosen, &label));
        if response.clicked() {
            workspace.ask(Command::BoardView(view));
        }
    }
}

/// Rows of what is said at the bottom, and the points they take.
const SAID_ROWS: usize = 2;
const SAID: f32 = 36.0;

/// The line at the bottom, as high with a fault as without.
pub(crate) fn show_said(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let size = egui::vec2(ui.available_width(), SAID);
    ui.allocate_ui_with_layout(size, Layout::right_to_left(Align::Center), |ui| {
        ui.set_height(SAID);
        until(workspace, ui, session);
        ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
            let said = said(workspace, ui, session);
            ui.add(shortened(said, SAID_ROWS));
        });
    });
}

/// What is said: what a file was refused for, or else what was said last.
fn said(workspace: &Workspace, ui: &Ui, session: &Session) -> egui::text::LayoutJob {
    let colours = workspace.colours();
    let mut job = egui::text::LayoutJob::default();
    let font = egui::TextStyle::Body.resolve(ui.style());
    let mut say = |words: &str, colour| job.append(words, 0.0, egui::TextFormat::simple(font.clone(), colour));
    if let Some(problem) = session.files().problem() {
        say(&format!("\u{26A0} {problem}"), colours.broken);
        let help = problem.help().map(|help| format!("; {help}")).unwrap_or_default();
        say(&format!("   the last good state stays{help}"), colours.faint);
    } else if workspace.keyboard.is_some() {
        let key = key_label(KeyAction::View(ViewCommand::Keyboard));
        say(&format!("the keyboard belongs to the program; {key} takes it back"), colours.accent);
    } else if let Some(refused) = &workspace.fields.refused {
        say(refused, colours.broken);
    } else if let Some(message) = session.message() {
        say(message, colours.ink);
    } else {
        say(session.bench().title(), colours.faint);
    }
    job
}

/// Points of the button, the value and the condition to run until.
const RUN_UNTIL: f32 = 78.0;
const VALUE: f32 = 82.0;
const CONDITION: f32 = 150.0;
const SHORT_CONDITION: f32 = 80.0;

/// The condition to run until, chosen and started.
fn until(workspace: &mut Workspace, ui: &mut Ui, session: &Session) {
    let waits = session.transport().stop_condition().is_some();
    let key = key_label(KeyAction::View(ViewCommand::RunUntilChosen));
    let words = if waits { format!("waiting {key}") } else { format!("run until {key}") };
    let run = ui.add(egui::Button::new(words).min_size(egui::vec2(RUN_UNTIL, 0.0)));
    let label = "run until the chosen condition";
    named(&run, label);
    let command = Command::RunUntil(workspace.until);
    if run.on_hover_text(format!("{label}  ({})", key_label(KeyAction::Session(command)))).clicked() {
        workspace.ask(command);
    }
    let chosen = workspace.until;
    let width = if ui.available_width() < NARROWEST { SHORT_CONDITION } else { CONDITION };
    let list = egui::ComboBox::from_id_salt("until").width(width).truncate().selected_text(chosen.words());
    let list = list.show_ui(ui, |ui| {
        for until in StopCondition::ALL {
            if ui.selectable_label(until.words() == chosen.words(), until.words()).clicked() {
                workspace.until = until;
            }
        }
    });
    named_list(&list.response, "what to run until", chosen.words());
    // From right to left: the value stands before the condition, where it leaves no gap.
    if let Some(until) = slot(ui, VALUE, |ui| workspace.fields.until(ui, workspace.until)) {
        workspace.until = until;
    }
}

/// A heading with a note of its key.
pub(crate) fn panel_heading(workspace: &Workspace, ui: &mut Ui, words: &str) {
    heading(ui, &workspace.colours(), words);
}
