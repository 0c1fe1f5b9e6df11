//! The screen: the canvas in its place, the beam on it, and the inspected.

use std::collections::BTreeMap;

use backporch_analysis::Verdict;
use backporch_raster::View;
use egui::{Color32, CornerRadius, Rect, Sense, Shape, Stroke, Ui, pos2, vec2};

use super::bar::{entries, own_entry};
use super::canvas_layout::CanvasLayout;
use super::keys::KeyAction;
use super::settings::PictureFit;
use super::stops::FocusStop;
use super::workspace::{ScreenImage, Workspace};
use super::{corners, magnifier, tube};
use crate::command::{Command, ViewCommand};
use crate::session::{BoardSide, BoardView, InspectedPixel, PixelRun, Session, Tile, WriteTarget};

/// Points down that a picture keeps above the caution.
const LEAST_ROOM: f32 = 60.0;

/// Points of the wheel for twice as close.
const WHEEL: f32 = 120.0;

/// Where the canvas last stood, in points, and what is drawn on it.
///
/// `None` where the canvas has another size now, or was not laid out yet.
pub(crate) fn again(workspace: &Workspace, session: &Session) -> Option<(Rect, Vec<Shape>)> {
    if workspace.is_unlocked || workspace.is_overlaid || workspace.closer_look.is_closer() || has_corners(session) {
        return None;
    }
    let layout = workspace.canvas_layout?;
    if workspace.caution.is_some_and(|caution| caution.intersects(layout.rect)) {
        return None;
    }
    let canvas = workspace.canvas();
    (layout.size == (canvas.width, canvas.height)).then(|| (layout.rect, marks(workspace, session, &layout)))
}

/// Whether a photograph is shown as it was taken, with the corners of the picture on it.
fn has_corners(session: &Session) -> bool {
    session.inspection().board_view() == BoardView::PhotographCorners && session.has_photograph()
}

/// Whether something that is open lies over the canvas: a dialog, a menu, words under the pointer.
pub(crate) fn is_overlaid(workspace: &Workspace, ctx: &egui::Context) -> bool {
    let Some(layout) = workspace.canvas_layout else {
        return false;
    };
    ctx.memory(|memory| {
        let covers = |layer: &egui::LayerId| {
            let rect = memory.area_rect(layer.id).filter(|_| layer.order != egui::Order::Background);
            rect.is_some_and(|rect| rect.intersects(layout.rect))
        };
        memory.areas().visible_layer_ids().iter().any(covers)
    })
}

/// Beam, inspected pixel and other marks on the canvas.
fn marks(workspace: &Workspace, session: &Session, layout: &CanvasLayout) -> Vec<Shape> {
    let mut shapes = Vec::new();
    workspace.canvas().tiles.iter().for_each(|tile| draw_on(workspace, session, &mut shapes, layout, tile));
    if let Some(at) = workspace.pointed.filter(|_| workspace.magnifier) {
        let seen = layout.rect.intersect(workspace.seen);
        shapes.extend(magnifier::shapes(workspace.canvas(), layout, seen, at, &workspace.colours()));
    }
    shapes
}

pub(crate) fn show(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session, screen: ScreenImage, height: f32) {
    let colours = workspace.colours();
    let (well, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click_and_drag());
    let painter = ui.painter_at(well);
    workspace.note_stop(ui, FocusStop::Screen, &response);
    workspace.seen = well;
    workspace.is_unlocked = false;
    let (width, height) = (workspace.canvas().width, workspace.canvas().height);
    if width == 0 || height == 0 {
        painter.rect_filled(well, CornerRadius::ZERO, colours.well);
        let words = "these registers show nothing: the active area is empty";
        painter.text(
            well.center(),
            egui::Align2::CENTER_CENTER,
            words,
            egui::FontId::proportional(14.0),
            colours.broken,
        );
        workspace.canvas_layout = None;
        return;
    }
    let scale = ui.ctx().pixels_per_point();
    let is_refused = session.signal().is_refused();
    workspace.caution = is_refused.then(|| tube::caution_place(ui, well));
    let mut room = well.shrink(10.0);
    let has_tube = workspace.fit == PictureFit::Shape
        && workspace.canvas().tiles.len() == 1
        && session.inspection().view() == View::Picture;
    let (layout, tube) = if has_tube {
        let (layout, tube) = CanvasLayout::on_tube(room, (width, height), session.tube_place(), scale);
        (layout, Some(tube))
    } else {
        // The caution covers nothing of what it is about.
        let free = workspace.caution.map_or(room.bottom(), |caution| caution.top() - 6.0);
        room.max.y = free.max(room.top() + LEAST_ROOM).min(room.bottom());
        let aspect = if has_corners(session) { 1.0 } else { session.pixel_aspect() as f32 };
        (CanvasLayout::within(room, (width, height), aspect, workspace.fit, scale), None)
    };
    if let Some(tube) = tube.filter(|_| is_refused) {
        workspace.is_unlocked = true;
        workspace.canvas_layout = None;
        workspace.pointed = None;
        painter.rect_filled(well, CornerRadius::ZERO, colours.well);
        tube::unlocked(&painter, tube, session, &colours);
        response
            .widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, tube::unlocked_words(session)));
        caution(workspace, ui);
        return;
    }
    if !is_programs(workspace, session) {
        look_closer(workspace, ui, &response, room);
    }
    let layout = workspace.closer_look.apply(layout, room);
    let tube = tube.filter(|_| !workspace.closer_look.is_closer());
    workspace.canvas_layout = Some(layout);
    // Repeated up to the display's pixels and then smoothed, a pixel keeps its edges at any size.
    workspace.magnify = match workspace.fit {
        PictureFit::Whole => 1,
        PictureFit::Shape => (layout.pixel.y * scale).ceil().clamp(1.0, 3.0) as u32,
    };
    response.widget_info(|| egui::WidgetInfo::labeled(egui::WidgetType::Image, true, description(session)));
    let at = response.hover_pos().and_then(|pos| layout.pixel_at(pos));
    workspace.pointed = at;
    if is_programs(workspace, session) {
        point(workspace, ui, session, &response, &layout);
    } else if let Some(at) = at {
        session.inspect(workspace.canvas(), Some(at));
        if response.clicked()
            && let Some(inspected) = session.inspection().pixel()
        {
            let line = inspected.provenance.picture_line;
            session.pick_line(line);
        }
    }
    if !is_programs(workspace, session) {
        let inspected = session.inspection().pixel().and_then(|pixel| {
            let tile = workspace.canvas().tiles.iter().find(|tile| tile.side == pixel.side)?;
            let (x, y) = session.on_tile(pixel.side, pixel.provenance.x, pixel.provenance.picture_line)?;
            Some(layout.of(tile, x, y, 1, 1).center())
        });
        let at = inspected.filter(|at| well.contains(*at)).unwrap_or(well.center());
        workspace.context_menu(&response, at, |workspace, ui| menu(workspace, ui, session));
    }
    around(&painter, well, layout.rect, colours.well);
    if let Some(tube) = tube {
        around(&painter, tube, layout.rect.intersect(tube), tube::border(session));
        painter.rect_stroke(tube, CornerRadius::same(3), Stroke::new(1.0, ON_WELL), egui::StrokeKind::Outside);
    }
    let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
    painter.image(screen.texture, layout.rect, whole, Color32::WHITE);
    painter.extend(marks(workspace, session, &layout));
    captions(workspace, &painter, &layout);
    if has_corners(session) {
        corners::show(workspace, ui, session, &response, &layout);
    }
    caution(workspace, ui);
}

/// Whether the pointer over the screen is the program's mouse: while it has the keyboard and runs.
fn is_programs(workspace: &Workspace, session: &Session) -> bool {
    workspace.keyboard.is_some() && session.transport().is_running()
}

/// The program's mouse goes where the pointer stands over the board's picture.
fn point(workspace: &Workspace, ui: &Ui, session: &mut Session, response: &egui::Response, layout: &CanvasLayout) {
    let tile = workspace.canvas().tiles.iter().find(|tile| tile.side == BoardSide::Faulty && !tile.is_photograph);
    let place = |pos: egui::Pos2| {
        let part = (pos - layout.of(tile?, 0, 0, 0, 0).min) / layout.of(tile?, 0, 0, tile?.width, tile?.height).size();
        ((0.0..=1.0).contains(&part.x) && (0.0..=1.0).contains(&part.y)).then_some([part.x, part.y])
    };
    let place = response.hover_pos().filter(|_| session.inspection().view() == View::Picture).and_then(place);
    let [left, right] = ui.input(|input| [input.pointer.primary_down(), input.pointer.secondary_down()]);
    let buttons = place.map_or(0, |_| u8::from(left) | u8::from(right) << 1);
    session.point(place, buttons);
}

/// The caution over the screen, where the monitor refuses the signal.
fn caution(workspace: &Workspace, ui: &mut Ui) {
    if let Some(place) = workspace.caution {
        tube::caution(ui, place, &workspace.colours());
    }
}

/// What can be done with the pixel that was pointed at, and with the picture.
fn menu(workspace: &mut Workspace, ui: &mut Ui, session: &mut Session) {
    use Command as C;
    use KeyAction::{Session as S, View as V};
    if session.inspection().pixel().is_some() {
        if own_entry(ui, "put the beam at this pixel") {
            session.beam_to_inspected();
        }
        entries(workspace, ui, &[S(C::PickLine)]);
    }
    let notes = [Verdict::Clean, Verdict::EdgeDamaged, Verdict::Broken].map(|verdict| S(C::Note(verdict)));
    entries(workspace, ui, &notes);
    ui.separator();
    let looks = [
        V(ViewCommand::Magnifier),
        V(ViewCommand::Closer),
        V(ViewCommand::Farther),
        S(C::RasterOrPicture),
        V(ViewCommand::Fit),
    ];
    entries(workspace, ui, &looks);
    ui.separator();
    entries(workspace, ui, &[S(C::SavePicture), S(C::Record)]);
}

/// Comes closer or goes back by the wheel, and moves a closer look by dragging.
fn look_closer(workspace: &mut Workspace, ui: &Ui, response: &egui::Response, room: Rect) {
    if let Some(pos) = response.hover_pos() {
        let turned = ui.input(|input| input.smooth_scroll_delta.y);
        if turned != 0.0 {
            workspace.closer_look.closer((turned / WHEEL).exp2(), pos - room.center());
        }
    }
    if response.dragged() {
        workspace.closer_look.move_by(response.drag_delta());
    }
}

/// Fills what of `outer` lies outside `inner`, which lies in it: large fills are dear without a graphics card.
fn around(painter: &egui::Painter, outer: Rect, inner: Rect, colour: Color32) {
    let inner = inner.intersect(outer);
    let parts = [
        Rect::from_min_max(outer.min, pos2(outer.right(), inner.top())),
        Rect::from_min_max(pos2(outer.left(), inner.bottom()), outer.max),
        Rect::from_min_max(pos2(outer.left(), inner.top()), inner.left_bottom()),
        Rect::from_min_max(inner.right_top(), pos2(outer.right(), inner.bottom())),
    ];
    parts.into_iter().filter(Rect::is_positive).for_each(|part| {
        painter.rect_filled(part, CornerRadius::ZERO, colour);
    });
}

/// What the picture shows, for screen readers.
fn description(session: &Session) -> String {
    if let Some(name) = session.photograph_name().filter(|_| has_corners(session)) {
        return format!("screen, the photograph {name} as it was taken, with the corners of the picture");
    }
    let damage = session.inspection().damage();
    let (width, height) = session.transport().frame(BoardSide::Faulty).picture_size();
    format!(
        "screen, {} by {height} pixels, frame {}: {}, {} lines damaged",
        width,
        session.transport().frame_number(),
        damage.verdict().word(),
        damage.damaged_lines()
    )
}

/// Ticks beside a tile where ports and memory were written, by scan line; on the raster each write
/// has its place as well.
fn writes(workspace: &Workspace, session: &Session, shapes: &mut Vec<Shape>, layout: &CanvasLayout, tile: &Tile) {
    let colours = workspace.colours();
    let all = layout.of(tile, 0, 0, tile.width, tile.height);
    let is_raster = session.inspection().view() == View::Raster;
    let mut lines: BTreeMap<u32, (bool, bool)> = BTreeMap::new();
    for write in session.transport().writes() {
        let line = lines.entry(write.line).or_default();
        match write.what {
            WriteTarget::Port(_) => line.0 = true,
            WriteTarget::Memory(_) => line.1 = true,
        }
        if is_raster {
            let place = layout.of(tile, write.dot, write.line, 1, 1).center();
            let (high, wide, colour) = match write.what {
                WriteTarget::Port(_) => (4.0, 1.5, colours.accent),
                WriteTarget::Memory(_) => (2.5, 1.0, colours.clean),
            };
            shapes.push(Shape::vline(place.x, place.y - high..=place.y + high, Stroke::new(wide, colour)));
        }
    }
    for (line, (port, memory)) in lines {
        let y = session
            .tile_row(tile.side, line)
            .map_or(all.bottom() + 4.0, |row| all.top() + (row + 0.5) * layout.pixel.y);
        let y = y.clamp(all.top() - 4.0, all.bottom() + 4.0);
        let from = all.right() + 1.0;
        if memory {
            shapes.push(Shape::hline(from..=from + 5.0, y, Stroke::new(1.0, colours.clean)));
        }
        if port {
            shapes.push(Shape::hline(from..=from + 8.0, y, Stroke::new(1.5, colours.accent)));
        }
    }
}

/// Beam, inspected pixel, lines picked, and where the byte pointed at shows.
fn draw_on(workspace: &Workspace, session: &Session, shapes: &mut Vec<Shape>, layout: &CanvasLayout, tile: &Tile) {
    let colours = workspace.colours();
    for line in session.findings().notes().picked() {
        if let Some((_, y)) = session.on_tile(tile.side, 0, *line) {
            let rect = layout.of(tile, 0, y, tile.width, 1);
            let tab = Rect::from_min_max(rect.left_top() - vec2(6.0, 0.0), rect.left_bottom());
            shapes.push(Shape::rect_filled(tab, 0.0, colours.edge));
            shapes.push(outline(rect, 0.0, 1.0, colours.edge));
        }
    }
    if !session.transport().is_running() && session.transport().is_mid_frame() && tile.side == BoardSide::Faulty {
        beam(workspace, session, shapes, layout, tile);
    }
    if tile.side == BoardSide::Faulty {
        writes(workspace, session, shapes, layout, tile);
    }
    if let Some(byte) = workspace.byte {
        for PixelRun { x, count, line } in session.shown_at(tile.side, byte) {
            if let Some((x, y)) = session.on_tile(tile.side, x, line) {
                shapes.push(outline(layout.of(tile, x, y, count, 1).expand(3.0), 2.0, 2.0, colours.accent));
            }
        }
    }
    if let Some(InspectedPixel { side, provenance }) = session.inspection().pixel()
        && *side == tile.side
        && let Some((x, y)) = session.on_tile(*side, provenance.x, provenance.picture_line)
    {
        let rect = layout.of(tile, x, y, 1, 1).expand(1.0);
        shapes.push(outline(rect, 0.0, 1.0, Color32::BLACK));
        shapes.push(outline(rect.expand(1.0), 0.0, 1.5, Color32::WHITE));
    }
}

fn outline(rect: Rect, corner: f32, width: f32, colour: Color32) -> Shape {
    Shape::rect_stroke(rect, corner, Stroke::new(width, colour), egui::StrokeKind::Outside)
}

fn beam(workspace: &Workspace, session: &Session, shapes: &mut Vec<Shape>, layout: &CanvasLayout, tile: &Tile) {
    let colours = workspace.colours();
    let Some((x, y)) = session.beam_on_tile() else {
        return;
    };
    let rect = layout.of(tile, x.min(tile.width), y.min(tile.height), 1, 1);
    let row = layout.of(tile, 0, y.min(tile.height), tile.width, 1);
    shapes.push(Shape::hline(row.x_range(), rect.bottom(), Stroke::new(1.0, colours.accent)));
    let here = rect.top() - 7.0..=rect.bottom() + 7.0;
    shapes.push(Shape::vline(rect.left(), here, Stroke::new(2.0, colours.accent)));
    let tip = pos2(row.left() - 3.0, rect.center().y);
    let arrow = vec![tip, tip + vec2(-7.0, -5.0), tip + vec2(-7.0, 5.0)];
    shapes.push(Shape::convex_polygon(arrow, colours.accent, Stroke::NONE));
}

/// Lettering on the ground behind pictures, which is dark in both themes.
const ON_WELL: Color32 = Color32::from_gray(190);

/// The boards' names over several tiles.
fn captions(workspace: &Workspace, painter: &egui::Painter, layout: &CanvasLayout) {
    let canvas = workspace.canvas();
    if canvas.tiles.len() < 2 {
        return;
    }
    for tile in &canvas.tiles {
        let words = if tile.is_photograph { "photograph" } else { tile.side.words() };
        let at = layout.of(tile, 0, 0, 1, 1).left_top() - vec2(0.0, 4.0);
        let font = egui::FontId::proportional(12.0);
        painter.text(at, egui::Align2::LEFT_BOTTOM, words, font, ON_WELL);
    }
}
