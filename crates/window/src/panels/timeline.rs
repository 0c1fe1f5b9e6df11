//! The frame timeline: a tick for every frame shown lately, as tall and as
//! coloured as its verdict, over it a triangle for every frame that shows a
//! mistake of the routine; all of them to be clicked on.

use egui::{Align2, FontId, Pos2, Rect, Sense, Stroke, Ui, pos2, vec2};

use std::sync::Arc;

use super::bar::entries;
use super::keys::KeyAction;
use super::stops::FocusStop;
use super::workspace::Workspace;
use crate::command::{Command, ViewCommand};
use crate::session::Session;
use backporch_analysis::Verdict;
use backporch_hazards::Hazard;

/// Points from one frame's tick to the next.
const STEP: f32 = 6.0;
/// Points down: hazards, ticks, frame numbers.
const HEIGHT: f32 = 46.0;
/// Points down of the row of hazards at the top.
const HAZARDS: f32 = 11.0;

/// Points a frame's number takes to either side.
const LABEL: f32 = 16.0;

/// Hazards of a frame listed under the pointer at most.
const MOST_TOLD: usize = 6;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::click_and_drag());
    let shown = session.transport().frame_number();
    let fits = (rect.width() / STEP) as u64;
    // The frame shown stands still at three quarters, once there is so much past.
    let first = shown.saturating_sub(fits * 3 / 4);
    let x_of = |frame: u64| rect.left() + (frame - first) as f32 * STEP + STEP / 2.0;
    let painter = ui.painter_at(rect);
    let base = rect.bottom() - 14.0;
    painter.hline(rect.x_range(), base, Stroke::new(1.0, colours.rule));
    for frame in first..first + fits {
        let x = x_of(frame);
        let font = FontId::monospace(12.0);
        if frame % 20 == 0 && x + LABEL <= rect.right() {
            let align = if x - LABEL < rect.left() { Align2::LEFT_BOTTOM } else { Align2::CENTER_BOTTOM };
            painter.text(pos2(x, rect.bottom()), align, frame.to_string(), font, colours.faint);
        }
        if session.inspection().hazards().of_frame(frame).next().is_some() {
            hazard_mark(&painter, pos2(x, rect.top() + HAZARDS / 2.0), colours.broken);
        }
        let Some(verdict) = session.inspection().timeline().verdict(frame) else {
            continue;
        };
        let tall = match verdict {
            Verdict::Clean => 7.0,
            Verdict::EdgeDamaged => 13.0,
            Verdict::Broken => 19.0,
        };
        let colour = colours.of(verdict);
        let colour = if frame > shown { colour.gamma_multiply(0.45) } else { colour };
        painter.vline(x, base - tall..=base, Stroke::new(STEP - 3.0, colour));
    }
    let here = Rect::from_min_max(
        pos2(x_of(shown) - STEP / 2.0, rect.top() + HAZARDS),
        pos2(x_of(shown) + STEP / 2.0, base + 2.0),
    );
    painter.rect_stroke(here, 2.0, Stroke::new(1.5, colours.accent), egui::StrokeKind::Outside);

    let frame_at = |at: Pos2| first + ((at.x - rect.left()) / STEP).clamp(0.0, fits as f32 - 1.0) as u64;
    let over_hazards = |at: Pos2| at.y < rect.top() + HAZARDS;
    let pressed = response.interact_pointer_pos().filter(|_| response.clicked() || response.dragged());
    let marked = pressed.filter(|at| over_hazards(*at)).and_then(|at| hazard_at(session, frame_at(at)));
    if let Some(hazard) = marked {
        if response.clicked() {
            session.go_to_hazard(&hazard);
        }
    } else if let Some(at) = pressed {
        let frame = frame_at(at).min(session.inspection().timeline().last().max(shown));
        if frame != shown {
            // A frame of the timeline is never too far.
            let _ = session.jump(frame);
        }
    }
    workspace.note_stop(ui, FocusStop::Timeline, &response);
    let label = format!("frame timeline, frame {shown} shown");
    response.widget_info(|| egui::WidgetInfo::slider(true, shown as f64, &label));
    workspace.context_menu(&response, here.center_bottom(), |workspace, ui| {
        let hazards = [Command::NextHazard, Command::PreviousHazard].map(KeyAction::Session);
        entries(workspace, ui, &[KeyAction::Session(Command::FirstFrame), KeyAction::View(ViewCommand::Jump)]);
        entries(workspace, ui, &hazards);
        entries(workspace, ui, &[Command::Undo, Command::Redo].map(KeyAction::Session));
    });
    if let Some(at) = response.hover_pos() {
        let frame = frame_at(at);
        let words = session.inspection().timeline().verdict(frame).map_or("not shown yet", Verdict::word);
        let hazards: Vec<String> = session
            .inspection()
            .hazards()
            .of_frame(frame)
            .take(MOST_TOLD)
            .map(|one| format!("\n{} in line {}", one.kind, one.line))
            .collect();
        response.on_hover_text(format!("frame {frame}: {words}{}", hazards.concat()));
    }
}

/// The hazard of a frame to go to: the one after that at which the beam stands, or the first.
fn hazard_at(session: &Session, frame: u64) -> Option<Arc<Hazard>> {
    let trail = session.inspection().hazards();
    let after = session.standing_at().filter(|hazard| hazard.frame == frame);
    let next = trail.next(after, frame).filter(|hazard| hazard.frame == frame);
    next.or_else(|| trail.of_frame(frame).next()).cloned()
}

fn hazard_mark(painter: &egui::Painter, middle: Pos2, colour: egui::Color32) {
    let corners = vec![middle + vec2(-3.0, -4.0), middle + vec2(3.0, -4.0), middle + vec2(0.0, 4.0)];
    painter.add(egui::Shape::convex_polygon(corners, colour, Stroke::NONE));
}
