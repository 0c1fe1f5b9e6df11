//! The manual sweep: the active register with its step and verdict, and below
//! it the damage map of its values, or thumbnails of what they show.

use backporch_analysis::Verdict;
use egui::{Color32, ColorImage, Rect, RichText, ScrollArea, Sense, Stroke, TextureOptions, Ui, Vec2, pos2, vec2};

use super::bar::{button, named_list};
use super::damage_map;
use super::scope;
use super::steady::slot;
use super::stops::FocusStop;
use super::theme::{mark, monospace, secondary, shape};
use super::workspace::Workspace;
use crate::command::Command;
use crate::session::{Session, Thumbnails};

/// What stands below the active register.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum StripView {
    /// A column for every value, a row for every line.
    #[default]
    DamageMap,
    /// A picture for every value.
    Thumbnails,
    /// The signal along the beam's way.
    Scope,
}

impl StripView {
    /// All of them, in turn.
    pub const ALL: [Self; 3] = [Self::DamageMap, Self::Thumbnails, Self::Scope];

    /// In a word or two.
    pub fn words(self) -> &'static str {
        match self {
            Self::DamageMap => "damage map",
            Self::Thumbnails => "thumbnails",
            Self::Scope => "waveform",
        }
    }

    /// The next one.
    pub fn next(self) -> Self {
        match self {
            Self::DamageMap => Self::Thumbnails,
            Self::Thumbnails => Self::Scope,
            Self::Scope => Self::DamageMap,
        }
    }
}

/// Points the whole takes at the bottom of the middle, and without thumbnails.
const ROOM: f32 = 154.0;
const BARE: f32 = 64.0;
/// Points the middle must have for the strip to be shown, and where it is asked for.
const TALL: f32 = 340.0;
const LEAST: f32 = 240.0;

/// Points it takes of a middle of some height.
pub(crate) fn room(workspace: &mut Workspace, height: f32) -> f32 {
    workspace.is_low = height < TALL;
    let least = if workspace.strip_asked { LEAST } else { TALL };
    if height < least { BARE } else { ROOM }
}

/// The next strip; where there is little room, the first press brings it and the one after the last takes it away.
pub(crate) fn next_strip(workspace: &mut Workspace) {
    let is_hidden = workspace.is_low && !workspace.strip_asked;
    if !is_hidden {
        workspace.strip = workspace.strip.next();
    }
    workspace.strip_asked = workspace.is_low && (is_hidden || workspace.strip != StripView::default());
}
/// Points across from which there is room for the strips to choose from, and for all of the active register.
const WIDE: f32 = 390.0;
const WIDE_ROW: f32 = 540.0;
/// Points down of its row.
const ROW: f32 = 27.0;
/// Points of a digit of the value, and the fewest it has room for.
const DIGIT: f32 = 12.5;
const LEAST_DIGITS: usize = 5;
/// Points of the list of registers, at most and at least, and of the buttons beside the value.
const LIST: f32 = 150.0;
const LEAST_LIST: f32 = 40.0;
const BUTTONS: f32 = 84.0;
/// Points of a thumbnail across and down.
const THUMB: Vec2 = vec2(80.0, 60.0);

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session, room: f32) {
    ui.add_space(6.0);
    active_row(workspace, ui, session);
    seen(workspace, ui, session, room);
    if room > BARE {
        match workspace.strip {
            StripView::DamageMap => damage_map::show(workspace, ui, session),
            StripView::Thumbnails => thumbnail_row(workspace, ui, session),
            StripView::Scope => scope::show(workspace, ui, session),
        }
    }
}

fn active_row(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    let is_wide = ui.available_width() >= WIDE_ROW;
    ui.horizontal(|ui| {
        ui.set_min_height(ROW);
        let digits = session.sweep().active().max().to_string().len().max(LEAST_DIGITS);
        // What the value and its two buttons leave.
        choose(ui, session, (ui.available_width() - digits as f32 * DIGIT - BUTTONS).clamp(LEAST_LIST, LIST));
        button(workspace, ui, "\u{2212}", "one step down", Command::StepRegister(-1));
        let active = session.sweep().active();
        let (value, step) = (active.value(), active.step());
        // As wide as the greatest value, so that the button stays under the pointer.
        let entered = slot(ui, digits as f32 * DIGIT, |ui| {
            if workspace.fields.has_value() {
                return workspace.fields.value(ui, digits as f32 * DIGIT - 9.0);
            }
            let shown = monospace(value.to_string()).size(20.0).strong().color(colours.accent);
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| ui.label(shown));
            None
        });
        if let Some(value) = entered {
            workspace.fields.refused = session.enter_value(value).err().map(|error| error.to_string());
        }
        button(workspace, ui, "+", "one step up", Command::StepRegister(1));
        if is_wide {
            slot(ui, digits as f32 * 8.0, |ui| ui.label(monospace(format!("{value:>04X}h")).color(colours.faint)));
            ui.label(secondary(&colours, "step"));
            slot(ui, (digits + 1) as f32 * 8.0, |ui| ui.label(monospace(format!("{step:+}"))));
            ui.separator();
            let verdict = session.inspection().damage().verdict();
            mark(ui, &colours, verdict, 14.0);
            ui.label(RichText::new(verdict.word()).strong().color(colours.of(verdict)));
        }
    });
}

/// How much is damaged, where, and in which pattern; nothing of a clean frame.
fn extent(session: &Session) -> String {
    let damage = session.inspection().damage();
    if damage.verdict() == Verdict::Clean {
        return String::new();
    }
    let mut words = format!("{} lines damaged, {} visible", damage.damaged_lines(), damage.visible_lines());
    if let Some(x) = &damage.x {
        words += &format!(", pixels {} to {}", x.start(), x.end());
    }
    match damage.pattern() {
        Some(pattern) if pattern.period > 1 => words += &format!(", every {} from {}", pattern.period, pattern.phase),
        Some(_) => words += ", every line",
        None => {}
    }
    words
}

/// The list of registers to take in active.
fn choose(ui: &mut Ui, session: &mut Session, width: f32) {
    let name = session.sweep().active().name().to_string();
    let mut chosen = name.clone();
    let list = egui::ComboBox::from_id_salt("active register").width(width).truncate().selected_text(&name);
    let names: Vec<String> = session.registers().into_iter().filter(|row| !row.read_only).map(|row| row.name).collect();
    let list = list.show_ui(ui, |ui| {
        for name in names {
            ui.selectable_value(&mut chosen, name.clone(), name);
        }
    });
    named_list(&list.response, "active register", &name);
    if chosen != name && session.select_register(&chosen).is_err() {
        session.report(format!("{chosen} cannot be selected"));
    }
}

/// What was found so far, by stepping and on the strip, in a line that is cut short where there is no room.
fn seen(workspace: &mut Workspace, ui: &mut Ui, session: &Session, room: f32) {
    let colours = workspace.colours();
    let active = session.sweep().active();
    let by_hand = match active.period() {
        Some(period) => format!("{} stepped repeat every {period}", active.seen_count()),
        None => format!("{} stepped, no period yet", active.seen_count()),
    };
    let thumbnails = session.sweep().thumbnails();
    let (first, last) = thumbnails.range();
    let repeats = thumbnails.period().map(|period| format!("{first} to {last} repeat every {period}"));
    let verdict = session.inspection().damage().verdict();
    let is_missing = room <= BARE && workspace.strip_asked;
    let missing = is_missing.then(|| format!("no room for the {} in so low a window", workspace.strip.words()));
    let left_out = session.transport().writes_left_out();
    let marked = session.transport().writes().len();
    let unmarked = (left_out > 0).then(|| format!("only {marked} of {} writes marked", marked + left_out));
    let parts = [
        (missing, colours.accent),
        (unmarked, colours.accent),
        (Some(extent(session)).filter(|words| !words.is_empty()), colours.of(verdict)),
        (Some(by_hand), colours.faint),
        (repeats, colours.accent),
    ];
    let font = egui::TextStyle::Small.resolve(ui.style());
    let mut line = egui::text::LayoutJob::default();
    for (words, colour) in parts.into_iter().filter_map(|(words, colour)| Some((words?, colour))) {
        if !line.is_empty() {
            line.append(" \u{00B7} ", 0.0, egui::TextFormat::simple(font.clone(), colours.faint));
        }
        line.append(&words, 0.0, egui::TextFormat::simple(font.clone(), colour));
    }
    let words = line.text.clone();
    let is_wide = ui.available_width() >= WIDE;
    let size = vec2(ui.available_width(), 20.0);
    ui.allocate_ui_with_layout(size, egui::Layout::right_to_left(egui::Align::Center), |ui| {
        for strip in StripView::ALL.into_iter().rev().filter(|_| is_wide) {
            choose_strip(workspace, ui, strip, room > BARE);
        }
        ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
            ui.add(egui::Label::new(line).truncate()).on_hover_text(words);
        });
    });
}

fn choose_strip(workspace: &mut Workspace, ui: &mut Ui, strip: StripView, is_shown: bool) {
    let chosen = is_shown && workspace.strip == strip;
    let response = ui.add(egui::Button::new(RichText::new(strip.words()).small()).selected(chosen).small());
    let label = format!("strip: {}", strip.words());
    response.widget_info(|| egui::WidgetInfo::selected(egui::WidgetType::SelectableLabel, true, chosen, &label));
    if response.clicked() {
        workspace.strip = strip;
        // Where there is little room, a second press takes it away.
        workspace.strip_asked = workspace.is_low && !chosen;
    }
}

fn thumbnail_row(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    refresh(workspace, ui.ctx(), session.sweep().thumbnails());
    let (first, last) = session.sweep().thumbnails().range();
    let value = session.sweep().active().value();
    let moved = ui.data(|data| data.get_temp::<u32>(egui::Id::new("thumbnail shown last"))) != Some(value);
    ui.data_mut(|data| data.insert_temp(egui::Id::new("thumbnail shown last"), value));
    let had_focus = workspace.stops.of(ui.memory(|memory| memory.focused())) == Some(FocusStop::Strip);
    let mut clicked = None;
    ScrollArea::horizontal().auto_shrink(false).show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 5.0;
            for at in first..=last {
                let response = cell(workspace, ui, session, at);
                if at == value {
                    if moved {
                        response.scroll_to_me(Some(egui::Align::Center));
                        // The focus moves along.
                        if had_focus {
                            response.request_focus();
                        }
                    }
                    workspace.note_stop(ui, FocusStop::Strip, &response);
                }
                if response.clicked() {
                    clicked = Some(at);
                }
            }
        });
    });
    if let Some(at) = clicked {
        session.set_active_register(at);
    }
}

fn cell(workspace: &Workspace, ui: &mut Ui, session: &Session, at: u32) -> egui::Response {
    let colours = workspace.colours();
    let size = THUMB + vec2(0.0, 18.0);
    // All of them are one stop of the keyboard: the one of the value shown.
    let sense = if at == session.sweep().active().value() { Sense::click() } else { Sense::CLICK };
    let (rect, response) = ui.allocate_exact_size(size, sense);
    let picture = Rect::from_min_size(rect.min, THUMB);
    let drawn = session.sweep().thumbnails().get(at);
    let verdict = drawn.map(|cell| cell.step.verdict);
    if ui.is_rect_visible(rect) {
        let painter = ui.painter();
        match workspace.textures.thumbs.get(&at) {
            Some(texture) => {
                let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
                painter.image(texture.id(), picture, whole, Color32::WHITE);
            }
            None => {
                painter.rect_filled(picture, 2.0, colours.well);
            }
        }
        let here = at == session.sweep().active().value();
        if here {
            painter.rect_stroke(picture, 0.0, Stroke::new(2.5, colours.accent), egui::StrokeKind::Outside);
        }
        let below = rect.bottom() - 8.0;
        let ink = if here { colours.accent } else { colours.faint };
        let font = egui::FontId::monospace(12.0);
        painter.text(pos2(rect.left() + 2.0, below), egui::Align2::LEFT_CENTER, at.to_string(), font, ink);
        if let Some(verdict) = verdict {
            let square = Rect::from_center_size(pos2(rect.right() - 8.0, below), Vec2::splat(11.0));
            shape(painter, square, verdict, colours.of(verdict));
        }
    }
    let words = verdict.map_or("not drawn yet", Verdict::word);
    let label = format!("{} {at}: {words}", session.sweep().active().name());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Button, true, &label));
    response
}

/// Brings new thumbnails to the painter.
fn refresh(workspace: &mut Workspace, ctx: &egui::Context, thumbnails: &Thumbnails) {
    let textures = &mut workspace.textures;
    if textures.thumbs_revision == Some(thumbnails.revision()) {
        return;
    }
    textures.thumbs_revision = Some(thumbnails.revision());
    let (first, last) = thumbnails.range();
    let generation = thumbnails.generation();
    textures.thumbs.retain(|at, texture| {
        (first..=last).contains(at) && thumbnails.get(*at).is_some() && texture.name() == name(generation, *at)
    });
    for at in first..=last {
        let Some(cell) = thumbnails.get(at).filter(|cell| !cell.rgba.is_empty()) else {
            continue;
        };
        textures.thumbs.entry(at).or_insert_with(|| {
            let size = [cell.width as usize, cell.height as usize];
            let image = ColorImage::from_rgba_unmultiplied(size, cell.rgba.as_flattened());
            ctx.load_texture(name(generation, at), image, TextureOptions::LINEAR)
        });
    }
}

fn name(generation: u64, at: u32) -> String {
    format!("thumbnail {generation} {at}")
}
