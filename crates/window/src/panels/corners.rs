//! The corners of the picture on a photograph of the real screen: dragged, clicked into place, or moved by the arrows.

use egui::{Color32, CursorIcon, Id, Pos2, Rect, Response, Sense, Stroke, Ui, WidgetInfo, WidgetType, vec2};

use super::canvas_layout::CanvasLayout;
use super::stops::FocusStop;
use super::workspace::Workspace;
use crate::session::{Corner, Session};

/// Points across in which a corner is taken hold of.
const HOLD: f32 = 26.0;
/// Radius of its ring, in points.
const RING: f32 = 7.0;

/// Shows the corners on the photograph, and does what is done to them.
pub(crate) fn show(
    workspace: &mut Workspace,
    ui: &Ui,
    session: &mut Session,
    screen: &Response,
    layout: &CanvasLayout,
) {
    let Some(corners) = session.photograph_corners() else { return };
    let accent = workspace.colours().accent;
    let painter = ui.painter_at(screen.rect);
    let place = |(x, y): (f64, f64)| layout.rect.min + vec2(x as f32, y as f32) * layout.pixel;
    let edge: Vec<Pos2> = session.photograph_edge().into_iter().map(place).collect();
    painter.line(edge.clone(), Stroke::new(3.0, Color32::BLACK));
    painter.line(edge, Stroke::new(1.5, accent));
    let on_photograph = |pos: Pos2| {
        let at = (pos - layout.rect.min) / layout.pixel;
        (f64::from(at.x), f64::from(at.y))
    };
    if screen.clicked()
        && let Some(pos) = screen.interact_pointer_pos()
    {
        let far = |corner: &Corner| (place(corners[*corner as usize]) - pos).length();
        let nearest = Corner::ALL.into_iter().min_by(|one, other| far(one).total_cmp(&far(other)));
        nearest.into_iter().for_each(|corner| session.put_corner(corner, on_photograph(pos)));
        session.find_from_corners();
    }
    for corner in Corner::ALL {
        let (x, y) = corners[corner as usize];
        let middle = place((x, y));
        let hold = Rect::from_center_size(middle, vec2(HOLD, HOLD));
        let response = ui.interact(hold, Id::new(("photograph corner", corner.words())), Sense::click_and_drag());
        workspace.note_stop(ui, FocusStop::Corner(corner), &response);
        response.widget_info(|| WidgetInfo {
            current_text_value: Some(format!("{x:.0} across, {y:.0} down")),
            ..WidgetInfo::labeled(
                WidgetType::Button,
                true,
                format!("{} of the picture on the photograph", corner.words()),
            )
        });
        if response.dragged()
            && let Some(pos) = response.interact_pointer_pos()
        {
            session.put_corner(corner, on_photograph(pos));
        }
        if response.drag_stopped() || response.clicked() {
            session.find_from_corners();
        }
        let width = if response.hovered() || response.dragged() { 3.0 } else { 2.0 };
        painter.circle_stroke(middle, RING, Stroke::new(width + 2.0, Color32::BLACK));
        painter.circle_stroke(middle, RING, Stroke::new(width, accent));
        response.on_hover_cursor(CursorIcon::Grab).on_hover_text(corner.words());
    }
}
