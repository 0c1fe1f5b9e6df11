//! What a screen reader hears, and how large letters are.

use backporch_window::panels::Settings;
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

use crate::bench_window::{BenchWindow, laid};
use crate::support::{all_nodes, every_panel};

#[test]
fn what_is_heard_says_what_is_seen() {
    let mut bench_window = BenchWindow::with_row_reload(&Settings::default());
    bench_window.session.set_active_register(1);
    bench_window.session.draw_thumbnails(64);
    let mut harness = laid(bench_window, 1280.0, 800.0);
    harness.get_by_label("damage map, start_address 0 to 63, 62 values damaged, repeating every 32");
    harness.key_press(Key::Y);
    harness.run_steps(2);
    harness.get_by_label("screen, 320 by 200 pixels, frame 2: edge-damaged, 50 lines damaged");
    harness.get_by_label("memory map, 320 bytes a row, 63900 bytes shown");
    harness.get_by_label("frame timeline, frame 2 shown");
    harness.get_by_label("start_address 1: edge-damaged");
    harness.get_by_label("start_address 0: clean");
    harness.get_by_label("displayed is 39: edit");
    for label in ["run", "one frame on", "one frame back", "the first frame", "help: what the keys do"] {
        harness.get_by_label(label);
    }
}

/// What a screen reader could not tell of the controls there are.
fn unheard(harness: &Harness<BenchWindow>) -> Vec<String> {
    use egui::accesskit::Role;
    let mut missing = Vec::new();
    for node in all_nodes(harness) {
        let node = node.accesskit_node();
        let (named, valued) = match node.role() {
            Role::Button | Role::CheckBox | Role::RadioButton | Role::Link | Role::Image => (true, false),
            Role::ComboBox | Role::Slider | Role::SpinButton | Role::TextInput | Role::MultilineTextInput => {
                (true, true)
            }
            _ => (false, false),
        };
        let name = node.label().unwrap_or_default();
        if named && name.trim().is_empty() {
            missing.push(format!("{:?} at {:?} has no name", node.role(), node.bounding_box()));
        }
        if valued && node.value().is_none() && node.numeric_value().is_none() {
            missing.push(format!("{:?} {name:?} has no value", node.role()));
        }
    }
    missing
}

/// Sizes of the letters in what is drawn, the smallest first.
fn smallest_letters(harness: &Harness<BenchWindow>) -> Option<(f32, String)> {
    fn texts(shape: &egui::Shape, found: &mut Vec<(f32, String)>) {
        match shape {
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| texts(shape, found)),
            egui::Shape::Text(text) => {
                let job = &text.galley.job;
                found.extend(job.sections.iter().map(|section| (section.format.font_id.size, job.text.clone())));
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    harness.output().shapes.iter().for_each(|shape| texts(&shape.shape, &mut found));
    found.into_iter().filter(|(_, text)| !text.trim().is_empty()).min_by(|one, other| one.0.total_cmp(&other.0))
}

#[test]
fn no_control_is_without_name_role_and_value_and_no_letter_is_small() {
    for (what, harness) in every_panel((1400.0, 1600.0), &Settings::default()) {
        let missing = unheard(&harness);
        assert!(missing.is_empty(), "{what}: {missing:#?}");
        let (size, text) = smallest_letters(&harness).unwrap();
        assert!(size >= 12.0, "{what}: {text:?} in {size} points");
    }
}
