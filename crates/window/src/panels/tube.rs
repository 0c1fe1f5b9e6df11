//! The tube round the picture: its border, and what it shows where the monitor does not lock.

use backporch_signal::SYNC_CAUTION;
use egui::{
    Align2, Color32, CornerRadius, FontId, Label, Painter, Rect, RichText, Shape, Stroke, StrokeKind, TextStyle, Ui,
    UiBuilder, pos2, vec2,
};

use super::keys::{KeyAction, key_label};
use super::theme::Colours;
use crate::command::Command;
use crate::session::{BoardSide, Session, SignalView};

/// Stripes of a picture that runs through, and how far each is torn from the one above, in widths.
const STRIPES: usize = 24;
const TORN: f32 = 0.17;

/// Points round the caution, outside its frame and inside, and the most it is wide.
const OUTSIDE: f32 = 8.0;
const INSIDE: f32 = 6.0;
const WIDEST: f32 = 720.0;

/// Where the caution stands on a screen: at its bottom, as high as its words.
pub(crate) fn caution_place(ui: &Ui, well: Rect) -> Rect {
    let across = (well.width() - 2.0 * OUTSIDE).min(WIDEST);
    let font = TextStyle::Small.resolve(ui.style());
    let words = SYNC_CAUTION.to_string();
    let galley = ui.painter().layout(words, font, Color32::WHITE, across - 2.0 * INSIDE);
    let size = vec2(across, galley.size().y + 2.0 * INSIDE);
    Align2::CENTER_BOTTOM.anchor_size(well.center_bottom() - vec2(0.0, OUTSIDE), size)
}

/// The caution, at its place.
pub(crate) fn caution(ui: &mut Ui, place: Rect, colours: &Colours) {
    ui.painter().rect_filled(place, CornerRadius::same(3), colours.panel);
    ui.painter().rect_stroke(place, CornerRadius::same(3), Stroke::new(1.5, colours.broken), StrokeKind::Inside);
    let mut inside = ui.new_child(UiBuilder::new().id_salt("caution").max_rect(place.shrink(INSIDE)));
    inside.add(Label::new(RichText::new(SYNC_CAUTION).small()).wrap());
}

/// The colour round the active area.
pub(crate) fn border(session: &Session) -> Color32 {
    let palette = session.transport().frame(BoardSide::Faulty).palettes.last();
    palette.map_or(Color32::BLACK, |palette| {
        let [red, green, blue, _] = palette.border;
        Color32::from_rgb(red, green, blue)
    })
}

/// Why there is no picture.
pub(crate) fn unlocked_words(session: &Session) -> String {
    let why = match session.signal() {
        SignalView::Stable { judged: Some((name, _)), .. } => format!("the monitor {name} refuses this signal"),
        SignalView::Stable { judged: None, .. } => "the monitor refuses this signal".to_string(),
        SignalView::Unstable(why) => why,
    };
    format!("no lock: {why}")
}

/// A tube on which the picture runs through, and why.
pub(crate) fn unlocked(painter: &Painter, tube: Rect, session: &Session, colours: &Colours) {
    painter.rect_filled(tube, CornerRadius::same(3), Color32::BLACK);
    let high = tube.height() / STRIPES as f32;
    let inside = painter.with_clip_rect(tube.intersect(painter.clip_rect()));
    for stripe in 0..STRIPES {
        let top = tube.top() + stripe as f32 * high;
        let from = tube.left() + (stripe as f32 * TORN).fract() * tube.width();
        let corner = |along: f32, down: f32| pos2(from + (along + down * TORN) * tube.width(), top + down * high);
        for begins in [-1.0, 0.0] {
            let corners =
                vec![corner(begins, 0.0), corner(begins + 0.55, 0.0), corner(begins + 0.55, 1.0), corner(begins, 1.0)];
            inside.add(Shape::convex_polygon(corners, Color32::from_gray(34), Stroke::NONE));
        }
    }
    painter.rect_stroke(tube, CornerRadius::same(3), Stroke::new(1.0, colours.broken), egui::StrokeKind::Outside);
    let raster = key_label(KeyAction::Session(Command::RasterOrPicture));
    let lines = [unlocked_words(session), format!("{raster} shows the raster all the same")];
    for (at, (words, size)) in lines.into_iter().zip([16.0, 13.0]).enumerate() {
        let place = tube.center() + vec2(0.0, at as f32 * 24.0 - 12.0);
        let galley = painter.layout(words, FontId::proportional(size), Color32::WHITE, tube.width() * 0.9);
        let rect = Align2::CENTER_CENTER.anchor_size(place, galley.size());
        painter.rect_filled(rect.expand2(vec2(8.0, 2.0)), CornerRadius::same(2), Color32::BLACK);
        painter.galley(rect.min, galley, Color32::WHITE);
    }
}
