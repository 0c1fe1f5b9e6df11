//! All panels laid out on the window.

use egui::{Frame, Margin, Panel, Stroke, Ui, UiBuilder, Vec2};

use super::bench_list::BenchList;
use super::theme::apply_theme;
use super::workspace::{ScreenImage, Workspace};
use super::{
    LEFT_PANELS, bar, headline, help, memory, open_dialog, pixel, quirk_dialog, registers, restore_dialog, screen,
    sweep, timeline, unsaved_dialog,
};
use crate::session::Session;

/// Points down that the screen keeps in the smallest of windows.
const LEAST_SCREEN: f32 = 40.0;

impl Workspace {
    /// Where the canvas stands, in points, and the marks on it, to be drawn over
    /// panels drawn before; `None` where they have to be laid out again.
    #[must_use]
    pub fn screen_again(&self, session: &Session) -> Option<(egui::Rect, Vec<egui::Shape>)> {
        screen::again(self, session)
    }

    /// Draws every panel and does what was asked for on them.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session, screen: ScreenImage) {
        if self.applied_theme != Some(self.theme) {
            apply_theme(ui.ctx(), self.theme);
            self.applied_theme = Some(self.theme);
        }
        self.handle_keys(ui.ctx(), session);
        self.handle_drops(ui.ctx(), session);
        self.lay_out(ui, session, screen);
        if self.menu_key.is_left() {
            session.report("what has the focus has no menu of its own");
        }
        if std::mem::take(&mut self.open_asked) {
            self.bench_list = Some(BenchList::of(session, &self.recent));
        }
        open_dialog::show(self, ui.ctx(), session);
        quirk_dialog::show(self, ui.ctx(), session);
        if self.help {
            help::show(self, ui.ctx());
        }
        unsaved_dialog::show(self, ui.ctx(), session);
        restore_dialog::show(self, ui.ctx(), session);
        self.is_overlaid = screen::is_overlaid(self, ui.ctx());
        for command in std::mem::take(&mut self.commands) {
            session.perform(command);
        }
    }

    fn lay_out(&mut self, ui: &mut Ui, session: &mut Session, screen: ScreenImage) {
        let colours = self.theme.colours();
        // What one watches is the first that Tab comes to. It is laid out where it stood before; where what
        // stands round it has another size now, all is laid out again.
        if self.middle.is_positive() {
            let mut middle = ui.new_child(UiBuilder::new().id_salt("middle").max_rect(self.middle));
            middle.set_clip_rect(self.middle);
            self.watched(&mut middle, session, screen);
        }
        let plain = |margin| Frame::new().fill(colours.panel).inner_margin(margin);
        let edge = Stroke::new(1.0, colours.rule);
        Panel::top("bar").frame(plain(Margin::symmetric(12, 6)).stroke(edge)).resizable(false).show(ui, |ui| {
            bar::show(self, ui, session);
        });
        Panel::bottom("status").frame(plain(Margin::symmetric(12, 4)).stroke(edge)).resizable(false).show(ui, |ui| {
            bar::show_said(self, ui, session);
        });
        let side = plain(Margin::symmetric(10, 4)).stroke(edge);
        let widths = 200.0..=900.0;
        self.shown = self.sides_shown(ui.available_width());
        if self.shown.left {
            let left = Panel::left("left").frame(side).default_size(self.left).size_range(widths.clone());
            let left = left.show(ui, |ui| self.left_side(ui, session));
            self.left = left.response.rect.width();
            name_edge(ui, "left");
        }
        if self.shown.right {
            let right = Panel::right("right").frame(side).default_size(self.right).size_range(widths);
            let right = right.show(ui, |ui| self.right_side(ui, session));
            self.right = right.response.rect.width();
            name_edge(ui, "right");
        }
        let middle = ui.available_rect_before_wrap();
        let moved = (middle.min - self.middle.min).abs().max((middle.max - self.middle.max).abs());
        if moved.max_elem() > 0.01 || !self.middle.is_positive() {
            self.middle = middle;
            ui.ctx().request_discard("the middle has another size");
        }
    }

    /// What one watches, in the middle.
    fn watched(&mut self, ui: &mut Ui, session: &mut Session, screen: ScreenImage) {
        let middle = Frame::new().fill(self.theme.colours().ground).inner_margin(Margin::symmetric(10, 6));
        egui::CentralPanel::no_frame().frame(middle).show(ui, |ui| {
            headline::show(self, ui, session);
            timeline::show(self, ui, session);
            let sweep = sweep::room(self, ui.available_height());
            let height = (ui.available_height() - sweep).max(LEAST_SCREEN);
            screen::show(self, ui, session, screen, height);
            sweep::show(self, ui, session, sweep);
        });
    }

    fn left_side(&mut self, ui: &mut Ui, session: &mut Session) {
        egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            LEFT_PANELS.iter().for_each(|show| show(self, ui, session));
        });
    }

    fn right_side(&mut self, ui: &mut Ui, session: &mut Session) {
        let map = memory::room(ui.available_width(), ui.available_height());
        let height = (ui.available_height() - map).max(120.0);
        ui.allocate_ui(Vec2::new(ui.available_width(), height), |ui| {
            ui.set_min_height(height);
            registers::show(self, ui, session, height - pixel::ROOM);
            pixel::show(self, ui, session);
        });
        memory::show(self, ui, session);
    }
}

/// Names the edge by which a side is made wider, for screen readers.
fn name_edge(ui: &Ui, side: &str) {
    // The panel's own name for it.
    let edge = egui::Id::new(side).with("__resize");
    ui.ctx().accesskit_node_builder(edge, |node| {
        node.set_role(egui::accesskit::Role::Splitter);
        node.set_label(format!("edge of the {side} side"));
    });
}
