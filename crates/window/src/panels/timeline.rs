//! The frame timeline: a tick for every frame shown lately, as tall and as
//! coloured as its verdict, to be clicked on.

use egui::{Align2, FontId, Pos2, Rect, Sense, Stroke, Ui, pos2, vec2};

use super::workspace::Workspace;
use crate::session::Session;
use backporch_analysis::Verdict;

/// Points from one frame's tick to the next.
const STEP: f32 = 6.0;
/// Points down.
const HEIGHT: f32 = 34.0;

/// Points a frame's number takes to either side.
const LABEL: f32 = 12.0;

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    let colours = workspace.colours();
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::click_and_drag());
    let shown = session.transport().frame_number();
    let fits = (rect.width() / STEP) as u64;
    // The frame shown stands still at three quarters, once there is so much past.
    let first = shown.saturating_sub(fits * 3 / 4);
    let x_of = |frame: u64| rect.left() + (frame - first) as f32 * STEP + STEP / 2.0;
    let painter = ui.painter_at(rect);
    let base = rect.bottom() - 12.0;
    painter.hline(rect.x_range(), base, Stroke::new(1.0, colours.rule));
    for frame in first..first + fits {
        let x = x_of(frame);
        let font = FontId::monospace(9.0);
        if frame % 20 == 0 && x + LABEL <= rect.right() {
            let align = if x - LABEL < rect.left() { Align2::LEFT_BOTTOM } else { Align2::CENTER_BOTTOM };
            painter.text(pos2(x, rect.bottom()), align, frame.to_string(), font, colours.faint);
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
    let here =
        Rect::from_min_max(pos2(x_of(shown) - STEP / 2.0, rect.top()), pos2(x_of(shown) + STEP / 2.0, base + 2.0));
    painter.rect_stroke(here, 2.0, Stroke::new(1.5, colours.accent), egui::StrokeKind::Outside);

    let frame_at = |at: Pos2| first + ((at.x - rect.left()) / STEP).clamp(0.0, fits as f32 - 1.0) as u64;
    if let Some(at) = response.interact_pointer_pos().filter(|_| response.clicked() || response.dragged()) {
        let frame = frame_at(at).min(session.inspection().timeline().last().max(shown));
        if frame != shown {
            // A frame of the timeline is never too far.
            let _ = session.jump(frame);
        }
    }
    let label = format!("frame timeline, frame {shown} shown");
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Slider, true, &label));
    if let Some(at) = response.hover_pos() {
        let frame = frame_at(at);
        let words = session.inspection().timeline().verdict(frame).map_or("not shown yet", Verdict::word);
        response.on_hover_text(format!("frame {frame}: {words}"));
    }
}
