//! Icons for moving through time, drawn so that no font has to have them.

use egui::{Color32, Painter, Pos2, Rect, Response, Sense, Shape, Stroke, Ui, pos2, vec2};

/// A way to move through time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Icon {
    /// To the first frame.
    First,
    /// One frame back.
    Back,
    /// Run.
    Run,
    /// Pause.
    Pause,
    /// One frame on.
    On,
}

impl Icon {
    /// A button with the icon on it.
    pub(crate) fn show(self, ui: &mut Ui) -> Response {
        let (rect, response) = ui.allocate_exact_size(vec2(30.0, 24.0), Sense::click());
        let visuals = ui.style().interact(&response);
        let painter = ui.painter();
        painter.rect(rect, visuals.corner_radius, visuals.bg_fill, visuals.bg_stroke, egui::StrokeKind::Inside);
        if response.has_focus() {
            painter.rect_stroke(rect, visuals.corner_radius, ui.visuals().selection.stroke, egui::StrokeKind::Inside);
        }
        let square = Rect::from_center_size(rect.center(), vec2(12.0, 12.0));
        self.draw(painter, square, visuals.text_color());
        response
    }

    fn draw(self, painter: &Painter, square: Rect, colour: Color32) {
        let (left, right, middle) = (square.left(), square.right(), square.center().x);
        match self {
            Self::First => {
                bar(painter, square, left, colour);
                arrow(painter, square, middle, left + 2.0, colour);
                arrow(painter, square, right, middle, colour);
            }
            Self::Back => {
                arrow(painter, square, right - 3.0, left, colour);
                bar(painter, square, right - 1.0, colour);
            }
            Self::Run => arrow(painter, square, left + 1.0, right, colour),
            Self::Pause => {
                bar(painter, square, middle - 3.0, colour);
                bar(painter, square, middle + 3.0, colour);
            }
            Self::On => {
                bar(painter, square, left + 1.0, colour);
                arrow(painter, square, left + 3.0, right, colour);
            }
        }
    }
}

fn bar(painter: &Painter, square: Rect, x: f32, colour: Color32) {
    painter.vline(x, square.shrink(1.0).y_range(), Stroke::new(2.0, colour));
}

/// A triangle with its base at `from` and its tip at `to`.
fn arrow(painter: &Painter, square: Rect, from: f32, to: f32, colour: Color32) {
    let base = square.shrink(1.0);
    let corners: Vec<Pos2> = vec![pos2(from, base.top()), pos2(from, base.bottom()), pos2(to, base.center().y)];
    painter.add(Shape::convex_polygon(corners, colour, Stroke::NONE));
}
