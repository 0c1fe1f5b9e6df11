//! A twin of a window: without a display, laid out at the same size, it does the same and tells where on the display
//! the control of a name stands.

use std::path::Path;

use backporch_window::panels::Settings;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

use crate::bench_window::{BenchWindow, laid};
use crate::display::SIZE;

/// The twin of a window.
pub struct Twin(Harness<'static, BenchWindow>);

impl Twin {
    /// Of one that opens a bench and writes into a folder.
    pub fn of(bench: &str, folder: &Path) -> Self {
        let mut bench_window = BenchWindow::of(bench, &Settings::default());
        bench_window.session.write_to(folder);
        let (width, height) = SIZE;
        Self(laid(bench_window, f32::from(width), f32::from(height)))
    }

    fn settle(&mut self) {
        self.0.run_steps(4);
    }

    /// Where the control stands that is called so, or else the one in whose name the words are.
    pub fn rect(&self, name: &str) -> egui::Rect {
        let named = self.0.query_by_label(name);
        named.unwrap_or_else(|| self.0.get_by_label_contains(name)).rect()
    }

    /// The middle of it.
    pub fn place(&self, name: &str) -> egui::Pos2 {
        self.rect(name).center()
    }

    pub fn point(&mut self, at: egui::Pos2) {
        self.0.hover_at(at);
        self.settle();
    }

    pub fn click(&mut self, at: egui::Pos2) {
        self.point(at);
        // Together: between two steps so much time goes by that it would be no click.
        self.0.drag_at(at);
        self.0.drop_at(at);
        self.settle();
    }

    /// Name of the control that has the focus.
    pub fn focused(&self) -> Option<String> {
        let focused = self.0.root().children_recursive().find(|node| node.accesskit_node().is_focused());
        focused.and_then(|node| node.accesskit_node().label())
    }

    pub fn press(&mut self, held: egui::Modifiers, key: egui::Key) {
        self.0.key_press_modifiers(held, key);
        self.settle();
    }

    pub fn type_in(&mut self, words: &str) {
        self.0.event(egui::Event::Text(words.to_string()));
        self.settle();
    }
}
