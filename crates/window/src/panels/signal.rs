//! The signal panel: rates, porches, what the monitor says.

use backporch_signal::{PolarityReading, Reading, Signal, SyncPolarity};
use egui::{RichText, Ui, vec2};

use super::bar::{named_list, panel_heading};
use super::steady::at_least;
use super::theme::{Colours, monospace, secondary};
use super::workspace::Workspace;
use crate::session::{Session, SignalView};

/// Points of the rates with the line drawn to scale, and of the margins: there without a stable signal, too.
const RATES: f32 = 152.0;
const MARGINS: f32 = 98.0;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    panel_heading(workspace, ui, "SIGNAL");
    let view = session.signal();
    match &view {
        SignalView::Stable { signal, judged } => {
            at_least(ui, RATES, |ui| {
                rates(ui, &colours, signal);
                axis_bar(ui, &colours, signal);
            });
            choose_monitor(workspace, ui, session);
            at_least(ui, MARGINS, |ui| {
                if let Some((_, judged)) = judged {
                    margins(ui, &colours, &judged.readings);
                    polarity(ui, &colours, judged.polarity.as_ref());
                }
            });
        }
        SignalView::Unstable(why) => {
            at_least(ui, RATES, |ui| {
                ui.label(RichText::new("no stable signal").strong().color(colours.broken));
                ui.label(RichText::new(why).small().color(colours.broken));
            });
            choose_monitor(workspace, ui, session);
            at_least(ui, MARGINS, |_| {});
        }
    }
}

fn rates(ui: &mut Ui, colours: &Colours, signal: &Signal) {
    let row = |ui: &mut Ui, name: &str, value: String| {
        ui.label(secondary(colours, name));
        ui.label(monospace(value));
        ui.end_row();
    };
    egui::Grid::new("rates").num_columns(2).spacing([10.0, 1.0]).min_row_height(18.0).show(ui, |ui| {
        row(ui, "lines", format!("{:.3} kHz", signal.line_rate_hz() / 1e3));
        row(ui, "frames", format!("{:.3} Hz", signal.frame_rate_hz()));
        row(ui, "dots", signal.dot_clock.to_string());
        let (across, down) = (&signal.horizontal, &signal.vertical);
        let porches = |front: String, sync: String, back: String| format!("{front} \u{2502} {sync} \u{2502} {back}");
        let us = |dots| format!("{:.2}", signal.microseconds(dots));
        row(
            ui,
            "porch sync porch",
            porches(us(across.front_porch()), us(across.sync()), us(across.back_porch())) + " us",
        );
        let lines = |lines: u32| lines.to_string();
        row(ui, "in lines", porches(lines(down.front_porch()), lines(down.sync()), lines(down.back_porch())));
        row(ui, "total", format!("{} x {}", across.total(), down.total()));
        if let Some(SyncPolarity { horizontal, vertical }) = signal.polarity {
            row(ui, "sync polarity", format!("{} \u{2502} {}", horizontal.name(), vertical.name()));
        }
    });
}

/// One line drawn to scale: active, front porch, sync, back porch.
fn axis_bar(ui: &mut Ui, colours: &Colours, signal: &Signal) {
    let axis = &signal.horizontal;
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 12.0), egui::Sense::hover());
    let painter = ui.painter();
    let scale = rect.width() / axis.total() as f32;
    let mut x = rect.left();
    let parts = [
        (axis.active(), colours.accent, 10.0),
        (axis.front_porch(), colours.rule, 3.0),
        (axis.sync(), colours.broken, 10.0),
        (axis.back_porch(), colours.rule, 3.0),
    ];
    for (dots, colour, height) in parts {
        let part = egui::Rect::from_min_size(egui::pos2(x, rect.bottom() - height), vec2(dots as f32 * scale, height));
        painter.rect_filled(part, 0.0, colour);
        x += dots as f32 * scale;
    }
    let words = format!(
        "a line: {} dots active, front porch {}, sync {}, back porch {}",
        axis.active(),
        axis.front_porch(),
        axis.sync(),
        axis.back_porch()
    );
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Label, true, &words));
    response.on_hover_text(words);
}

/// The monitor and its verdict.
fn choose_monitor(workspace: &Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    let refused = session.signal().is_refused();
    let name = session.bench().monitor().map(|monitor| monitor.name.clone());
    ui.add_space(3.0);
    ui.horizontal(|ui| {
        let mut chosen = name.clone().unwrap_or_default();
        let shown = name.clone().unwrap_or_else(|| "no monitor".to_string());
        let list = egui::ComboBox::from_id_salt("monitor").selected_text(&shown).width(90.0).show_ui(ui, |ui| {
            for name in backporch_signal::MONITORS.names() {
                ui.selectable_value(&mut chosen, name.to_string(), name);
            }
        });
        named_list(&list.response, "monitor", &shown);
        if name.as_ref() != Some(&chosen) && !chosen.is_empty() {
            session.switch_monitor(&chosen);
        }
        let verdict = if refused {
            RichText::new("refuses").strong().color(colours.broken)
        } else {
            RichText::new("takes it").strong().color(colours.clean)
        };
        let verdict = if name.is_some() { verdict } else { secondary(&colours, "no monitor chosen") };
        ui.label(verdict);
    });
}

/// A polarity the monitor does not take, with those it does.
fn polarity(ui: &mut Ui, colours: &Colours, reading: Option<&PolarityReading>) {
    for reading in reading.into_iter().filter(|reading| !reading.holds()) {
        let words = RichText::new(reading.to_string()).small().color(colours.broken);
        ui.add(egui::Label::new(words).truncate());
    }
}

/// Each reading between its limits, with the margin to the nearer one.
fn margins(ui: &mut Ui, colours: &Colours, readings: &[Reading]) {
    egui::Grid::new("margins").num_columns(3).spacing([8.0, 1.0]).min_row_height(18.0).show(ui, |ui| {
        for reading in readings {
            let colour = if reading.holds() { colours.clean } else { colours.broken };
            let kilo = reading.unit == "Hz" && reading.value >= 1e4;
            let (scale, unit) = if kilo { (1e-3, "kHz") } else { (1.0, reading.unit) };
            let words = reading.to_string();
            ui.label(secondary(colours, reading.what)).on_hover_text(&words);
            ui.label(monospace(format!("{:.2} {unit}", reading.value * scale)).size(12.0)).on_hover_text(&words);
            let margin = monospace(format!("{:+.2}", reading.margin() * scale)).size(12.0).color(colour);
            ui.label(margin).on_hover_text(&words);
            ui.end_row();
        }
    });
}
