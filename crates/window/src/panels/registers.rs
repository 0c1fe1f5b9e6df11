//! Registers by name: value, what it means now, protection, and what differs
//! from start-up; a click on a name makes it the active one, a click on a value edits it.

use egui::{Response, RichText, ScrollArea, Sense, TextEdit, Ui};

use super::bar::{named, named_field, own_entry, panel_heading};
use super::fields::RegisterEdit;
use super::register_filter;
use super::theme::{Colours, monospace, secondary};
use super::workspace::Workspace;
use crate::session::{NamedRegister, Session, WritePath};

/// Points for a register's name.
const NAME: f32 = 140.0;
/// Points from which there is room to filter.
const TALL: f32 = 150.0;
/// Fewest points of the list itself.
const LEAST: f32 = 60.0;
/// Points a row is high, and those round a value that is edited in it.
const ROW: f32 = 18.0;
const EDIT_MARGIN: egui::Margin = egui::Margin::symmetric(4, 1);

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session, height: f32) {
    panel_heading(workspace, ui, "REGISTERS");
    let has_filter = height >= TALL || register_filter::is_wanted(workspace, ui.ctx());
    let filter = if has_filter { register_filter::show(workspace, ui) } else { 0.0 };
    let all = session.registers();
    let rows: Vec<NamedRegister> = all.into_iter().filter(|row| workspace.register_filter.shows(row)).collect();
    let active = session.sweep().active().name().to_string();
    ScrollArea::vertical()
        .id_salt("registers")
        .max_height((height - 30.0 - filter).max(LEAST))
        .auto_shrink(false)
        .show(ui, |ui| {
            if rows.is_empty() {
                ui.label(secondary(&workspace.colours(), "No register is as looked for."));
            }
            ui.spacing_mut().item_spacing.y = 1.0;
            ui.spacing_mut().interact_size.y = ROW;
            for (at, row) in rows.iter().enumerate() {
                let band = if at % 2 == 1 { ui.visuals().faint_bg_color } else { egui::Color32::TRANSPARENT };
                egui::Frame::new().fill(band).inner_margin(egui::Margin::symmetric(2, 0)).show(ui, |ui| {
                    ui.horizontal(|ui| {
                        name(workspace, ui, session, row, row.name == active);
                        value(workspace, ui, session, row);
                        ui.add(egui::Label::new(RichText::new(row.meaning()).small()).truncate());
                    });
                });
            }
        });
}

/// The name: pressed, it takes the register in active.
fn name(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session, row: &NamedRegister, is_active: bool) {
    let colours = workspace.colours();
    let ink = if is_active {
        colours.accent
    } else if row.differs() {
        colours.edge
    } else {
        colours.ink
    };
    let lock = if row.read_only {
        " \u{2298}"
    } else if row.protected {
        " \u{1F512}"
    } else {
        ""
    };
    let text = RichText::new(format!("{}{lock}", row.name)).color(ink);
    let width = NAME.min(ui.available_width() * 0.46);
    // The keyboard's one stop in a row is its value.
    let label = egui::Label::new(text).truncate().sense(Sense::CLICK);
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    let response = ui.allocate_ui_with_layout(egui::vec2(width, 18.0), layout, |ui| {
        ui.set_width(width);
        ui.add(label)
    });
    let response = response.inner;
    named(&response, &format!("{}: make it the active register", row.name));
    let protection = if row.protected { "\nprotected: a routine has to lift the protection first" } else { "" };
    let response = response.on_hover_text(format!(
        "{}\n{}; start-up {} ({:X}h){protection}",
        row.means, row.cells, row.start_up, row.start_up
    ));
    let pressed = response.clicked();
    hang_menu(workspace, session, row, &response, pressed);
}

/// The menu of a register; it becomes the active one where the menu says so, or something else did.
fn hang_menu(
    workspace: &mut Workspace,
    session: &mut Session,
    row: &NamedRegister,
    thing: &Response,
    mut selects: bool,
) {
    workspace.context_menu(thing, thing.rect.left_bottom(), |workspace, ui| {
        selects |= menu(workspace, ui, session, row);
    });
    if selects && session.select_register(&row.name).is_err() {
        session.report(format!("{} cannot be selected", row.name));
    }
}

/// What can be done with a register; whether it is to be the active one.
fn menu(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session, row: &NamedRegister) -> bool {
    let selects = own_entry(ui, "make it the active register");
    if row.differs() && !row.read_only && own_entry(ui, &format!("back to its start-up value, {}", row.start_up)) {
        // A start-up value fits its register.
        let _ = session.set_register(row.field, u64::from(row.start_up), WritePath::Ports);
    }
    if !row.read_only && own_entry(ui, "type a value that is written past its ports") {
        workspace.fields.register = Some(RegisterEdit::of(row, WritePath::Direct));
    }
    selects
}

impl RegisterEdit {
    fn of(row: &NamedRegister, path: WritePath) -> Self {
        Self { name: row.name.clone(), text: row.stored.to_string(), path }
    }
}

/// The stored value: pressed, it is edited; Enter writes through the ports, Ctrl Enter past them.
fn value(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session, row: &NamedRegister) {
    let colours = workspace.colours();
    let editing = workspace.fields.register.as_ref().is_some_and(|edit| edit.name == row.name);
    if !editing {
        let text = monospace(format!("{:>5} {:>5}", row.stored, format!("{:X}h", row.stored))).size(12.0);
        let text = if row.differs() { text.color(colours.edge) } else { text };
        let response = ui.add(egui::Label::new(text).sense(Sense::click()));
        // Whoever comes to it by keys sees it.
        if response.gained_focus() {
            response.scroll_to_me(None);
        }
        let label = format!("{} is {}: edit", row.name, row.stored);
        response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Button, true, &label));
        hang_menu(workspace, session, row, &response, false);
        if response.clicked() && !row.read_only {
            workspace.fields.register = Some(RegisterEdit::of(row, WritePath::Ports));
        }
        return;
    }
    edit(workspace, ui, session, row, &colours);
}

fn edit(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session, row: &NamedRegister, colours: &Colours) {
    let Some(RegisterEdit { text, path, .. }) = workspace.fields.register.as_mut() else {
        return;
    };
    // The field itself knows Enter alone: with Ctrl it would do nothing there.
    let past = ui.input_mut(|input| input.consume_key(egui::Modifiers::CTRL, egui::Key::Enter));
    let response =
        ui.add(TextEdit::singleline(text).desired_width(78.0).margin(EDIT_MARGIN).text_color(colours.accent));
    named_field(&response, &format!("value of {}", row.name), text);
    let path = if past { WritePath::Direct } else { *path };
    let enter = match path {
        WritePath::Ports => "Enter writes it through its ports, Ctrl Enter past them",
        WritePath::Direct => "Enter writes it past its ports",
    };
    let hint = format!("0 to {}; {enter}", row.max);
    let entered = past || ui.input(|input| input.key_pressed(egui::Key::Enter));
    if past || response.lost_focus() {
        // The value that stands in its place has its name: with the focus it would pass for a field.
        response.surrender_focus();
        let text = workspace.fields.register.take().map(|edit| edit.text).filter(|_| entered);
        let Some(value) = text.and_then(|text| workspace.fields.read(&text)) else {
            return;
        };
        workspace.fields.refused = session.set_register(row.field, value, path).err().map(|error| error.to_string());
    } else if !response.has_focus() {
        response.request_focus();
    } else {
        response.on_hover_text(hint);
    }
}
