//! The scope: sync, display enable, address and writes along the beam's way, to be zoomed from a frame to a few dots.

use std::ops::Range;

use egui::{Align2, FontId, Rect, Sense, Shape, Stroke, Ui, pos2, vec2};

use super::stops::FocusStop;
use super::theme::{Colours, secondary};
use super::workspace::Workspace;
use crate::session::{Level, Session, WaveColumn, Waveform, WriteTarget};

/// Points down of the lanes together, without the line below them.
const HIGH: f32 = 60.0;
/// Points of the lanes' names.
const NAMES: f32 = 58.0;
/// Points of the wheel for twice as close.
const WHEEL: f32 = 120.0;
/// Fewest dots across.
const FEWEST: f64 = 32.0;
/// Share of what is seen that a step of the arrows moves by.
const STEP: f64 = 0.125;

/// What the scope looks at.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) enum Scope {
    /// All of the frame.
    #[default]
    Frame,
    /// The line of the beam inside a frame, or else that of the inspected pixel.
    Line,
    /// Some dots of the frame: the first, and how many.
    Dots(f64, f64),
}

impl Scope {
    fn window(self, waveform: &Waveform, session: &Session) -> (f64, f64) {
        let all = waveform.dots() as f64;
        match self {
            Self::Frame => (0.0, all),
            Self::Line => {
                let line = waveform.line(line_looked_at(session));
                (line.start as f64, line.end.saturating_sub(line.start).max(1) as f64)
            }
            Self::Dots(first, count) => (first.clamp(0.0, (all - count).max(0.0)), count.min(all)),
        }
    }

    /// Closer by a factor round a dot, or back below 1.
    fn closer(window: (f64, f64), factor: f64, round: f64, all: f64) -> Self {
        let count = (window.1 / factor).clamp(FEWEST, all);
        let first = round - (round - window.0) * count / window.1;
        if count >= all { Self::Frame } else { Self::Dots(first.clamp(0.0, all - count), count) }
    }

    fn moved((first, count): (f64, f64), by: f64, all: f64) -> Self {
        if count >= all { Self::Frame } else { Self::Dots((first + by).clamp(0.0, all - count), count) }
    }

    /// Moved by steps of the arrows: along the beam's way, and closer below zero.
    pub fn step(self, session: &Session, right: i32, down: i32) -> Self {
        let waveform = session.waveform();
        let (window, all) = (self.window(&waveform, session), waveform.dots() as f64);
        match (right, down) {
            (0, down) => Self::closer(window, (-f64::from(down)).exp2(), window.0 + window.1 / 2.0, all),
            (right, _) => Self::moved(window, f64::from(right) * STEP * window.1, all),
        }
    }
}

/// The scan line of the beam inside a frame, or else of the inspected pixel.
fn line_looked_at(session: &Session) -> u32 {
    let inspected = session.inspection().pixel().map(|pixel| pixel.provenance.scan_line);
    if session.transport().is_mid_frame() { session.transport().beam().scan_line } else { inspected.unwrap_or(0) }
}

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    let (whole, response) = ui.allocate_exact_size(vec2(ui.available_width(), HIGH), Sense::click_and_drag());
    let rect = Rect::from_min_max(pos2(whole.left() + NAMES, whole.top()), whole.max);
    let waveform = session.waveform();
    let all = waveform.dots() as f64;
    let mut window = workspace.scope.window(&waveform, session);
    let per_point = |window: (f64, f64)| window.1 / f64::from(rect.width().max(1.0));
    let dot_at = |window: (f64, f64), x: f32| window.0 + f64::from(x - rect.left()) * per_point(window);
    if let Some(pos) = response.hover_pos() {
        let turned = ui.input(|input| input.smooth_scroll_delta.y);
        if turned != 0.0 {
            workspace.scope = Scope::closer(window, f64::from(turned / WHEEL).exp2(), dot_at(window, pos.x), all);
        }
    }
    if response.dragged() {
        workspace.scope = Scope::moved(window, -f64::from(response.drag_delta().x) * per_point(window), all);
    }
    window = workspace.scope.window(&waveform, session);
    let seen = window.0 as u64..(window.0 + window.1).ceil() as u64;
    let count = rect.width().max(1.0) as usize;
    let columns = waveform.columns(seen.clone(), count);
    let painter = ui.painter_at(whole);
    painter.rect_filled(rect, 0.0, colours.ground);
    let memory = session.transport().memory().len() as f32;
    let mut shapes = Vec::new();
    lanes(&mut shapes, rect, &columns, memory, &colours);
    painter.extend(shapes);
    for (at, name) in ["sync", "enable", "address", "writes"].into_iter().enumerate() {
        let middle = pos2(whole.left(), lane(rect, at).center().y);
        painter.text(middle, Align2::LEFT_CENTER, name, FontId::proportional(12.0), colours.faint);
    }
    let pointed = response.hover_pos().filter(|pos| pos.x >= rect.left());
    let hovered =
        pointed.map(|pos| event_words(&waveform, dot_at(window, pos.x).max(0.0) as u64, per_point(window).max(1.0)));
    let label = label(&waveform, &seen);
    let clicked = response.interact_pointer_pos().filter(|_| response.clicked());
    let gone_to = clicked.filter(|pos| pos.x >= rect.left()).map(|pos| dot_at(window, pos.x).max(0.0) as u64);
    drop(waveform);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, &label));
    workspace.note_stop(ui, FocusStop::Scope, &response);
    if let Some(dot) = gone_to {
        session.go_to_dot(dot);
    }
    let hint = "wheel and drag come closer and move along; a click puts the beam there";
    below(workspace, ui, &colours, hovered.unwrap_or_else(|| hint.to_string()));
}

/// What is looked at, and what is known of the place under the pointer.
fn below(workspace: &mut Workspace, ui: &mut Ui, colours: &Colours, words: String) {
    ui.horizontal(|ui| {
        for (scope, name, label) in
            [(Scope::Frame, "frame", "scope: all of the frame"), (Scope::Line, "line", "scope: one scan line")]
        {
            let chosen = workspace.scope == scope;
            let response = ui.add(egui::Button::new(egui::RichText::new(name).small()).selected(chosen).small());
            response.widget_info(|| egui::WidgetInfo::selected(egui::WidgetType::SelectableLabel, true, chosen, label));
            if response.clicked() {
                workspace.scope = scope;
            }
        }
        ui.add(egui::Label::new(secondary(colours, words)).truncate());
    });
}

fn label(waveform: &Waveform, seen: &Range<u64>) -> String {
    let place = |dot: u64| {
        let known = waveform.at(dot).map(|moment| moment.place);
        known.map_or_else(|| format!("dot {dot}"), |(line, dot)| format!("line {line} dot {dot}"))
    };
    let writes = waveform.writes_in(seen.clone()).count();
    format!("scope, {} to {}, {writes} writes", place(seen.start), place(seen.end.saturating_sub(1)))
}

/// What happens at a dot, and what is written within this many dots of it.
fn event_words(waveform: &Waveform, dot: u64, near: f64) -> String {
    let mut words = match waveform.at(dot) {
        Some(moment) => {
            let (line, dot) = moment.place;
            let address = moment.address.map(|address| format!(", byte {address:05X}h")).unwrap_or_default();
            format!("line {line}, dot {dot}: {}{address}", moment.draws)
        }
        None => "the beam has not come there yet".to_string(),
    };
    let reach = (near * 2.0).ceil() as u64;
    for write in waveform.writes_in(dot.saturating_sub(reach)..dot + reach + 1).take(2) {
        words += &match write.what {
            WriteTarget::Port(port) => format!("; port {port:03X}h written at dot {}", write.dot),
            WriteTarget::Memory(offset) => format!("; memory {offset:05X}h written at dot {}", write.dot),
        };
    }
    words
}

/// The rectangle of a lane, counted from the top.
fn lane(rect: Rect, at: usize) -> Rect {
    let high = rect.height() / 4.0;
    Rect::from_min_size(pos2(rect.left(), rect.top() + high * at as f32), vec2(rect.width(), high))
        .shrink2(vec2(0.0, 2.0))
}

fn lanes(shapes: &mut Vec<Shape>, rect: Rect, columns: &[WaveColumn], memory: f32, colours: &Colours) {
    let wide = rect.width() / columns.len().max(1) as f32;
    let x = |at: usize| rect.left() + at as f32 * wide;
    digital(shapes, lane(rect, 0), columns.iter().map(|column| column.sync), wide, colours.edge);
    digital(shapes, lane(rect, 1), columns.iter().map(|column| column.enable), wide, colours.clean);
    let addresses = lane(rect, 2);
    let y = |address: u32| addresses.bottom() - address as f32 / memory.max(1.0) * addresses.height();
    let writes = lane(rect, 3);
    for (at, column) in columns.iter().enumerate() {
        if let Some((least, most)) = column.address {
            let (low, high) = (y(least), y(most).min(y(least) - 1.0));
            shapes.push(Shape::vline(x(at) + wide / 2.0, high..=low, Stroke::new(wide.max(1.0), colours.accent)));
        }
        if column.memory {
            shapes.push(Shape::vline(x(at), writes.center().y..=writes.bottom(), Stroke::new(1.0, colours.clean)));
        }
        if column.port {
            shapes.push(Shape::vline(x(at), writes.y_range(), Stroke::new(1.5, colours.accent)));
        }
    }
}

/// A line that is low or high: alike columns in one stroke, a band where it is both.
fn digital(shapes: &mut Vec<Shape>, lane: Rect, levels: impl Iterator<Item = Level>, wide: f32, colour: egui::Color32) {
    let levels: Vec<Level> = levels.collect();
    let stroke = Stroke::new(1.5, colour);
    let mut first = 0;
    for alike in levels.chunk_by(|one, other| one == other) {
        let (from, to) = (lane.left() + first as f32 * wide, lane.left() + (first + alike.len()) as f32 * wide);
        match alike[0] {
            Level { low: true, high: true } => {
                let band = Rect::from_x_y_ranges(from..=to, lane.y_range());
                shapes.push(Shape::rect_filled(band, 0.0, colour.gamma_multiply(0.6)));
            }
            Level { high: true, .. } => shapes.push(Shape::hline(from..=to, lane.top(), stroke)),
            Level { low: true, .. } => shapes.push(Shape::hline(from..=to, lane.bottom(), stroke)),
            Level { .. } => {}
        }
        let is_edge = first > 0 && alike[0] != Level::default() && levels[first - 1] != Level::default();
        if is_edge {
            shapes.push(Shape::vline(from, lane.y_range(), stroke));
        }
        first += alike.len();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_comes_closer_round_a_dot_and_goes_back_to_the_whole_frame() {
        let all = 359_200.0;
        let closer = Scope::closer((0.0, all), 4.0, 100_000.0, all);
        let Scope::Dots(first, count) = closer else { panic!("{closer:?}") };
        assert!((count - all / 4.0).abs() < 1e-6 && (first - 75_000.0).abs() < 1e-6);
        assert_eq!(Scope::closer((first, count), 0.25, 100_000.0, all), Scope::Frame);
        assert_eq!(Scope::closer((0.0, all), 1e9, 0.0, all), Scope::Dots(0.0, FEWEST));
        assert_eq!(Scope::moved((0.0, 100.0), -50.0, all), Scope::Dots(0.0, 100.0));
        assert_eq!(Scope::moved((0.0, 100.0), 1e9, all), Scope::Dots(all - 100.0, 100.0));
    }
}
