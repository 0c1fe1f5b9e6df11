//! What a screen reader hears, and how large letters are.

use std::collections::BTreeSet;

use backporch_window::panels::Settings;
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

use crate::bench_window::{BenchWindow, laid};
use crate::support::{all_nodes, every_panel, filled_panels};

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

/// Whether a role tells a screen reader that something can be done with it.
fn is_control(role: egui::accesskit::Role) -> bool {
    use egui::accesskit::Role as R;
    matches!(
        role,
        R::Button
            | R::CheckBox
            | R::RadioButton
            | R::Link
            | R::Image
            | R::ComboBox
            | R::Slider
            | R::SpinButton
            | R::TextInput
            | R::MultilineTextInput
            | R::ScrollBar
            | R::Splitter
    )
}

/// What a screen reader could not tell of the controls there are.
fn unheard(harness: &Harness<BenchWindow>) -> Vec<String> {
    use egui::accesskit::{Action, Role};
    // Words can be pressed, too, but to be selected: they are dragged over. What lies over the panels can be pressed as a
    // whole, which brings it to the front.
    let (pressed, behind) = harness.ctx.viewport(|viewport| {
        let (mut pressed, mut behind) = (BTreeSet::new(), BTreeSet::new());
        for (layer, widgets) in viewport.prev_pass.widgets.layers() {
            let clicked = widgets.iter().filter(|widget| widget.sense.senses_click() && !widget.sense.senses_drag());
            pressed.extend(clicked.map(|widget| widget.id.accesskit_id()));
            let all = widgets.iter().filter(|_| layer.order == egui::Order::Background);
            behind.extend(all.map(|widget| widget.id.accesskit_id()));
        }
        (pressed, behind)
    });
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
        let has_focus = node.data().supports_action(Action::Focus);
        let (id, _) = node.locate();
        let is_pressed = node.data().supports_action(Action::Click) && pressed.contains(&id);
        let is_whole = matches!(node.role(), Role::Unknown | Role::Window) && !behind.contains(&id);
        if (has_focus || is_pressed) && !is_control(node.role()) && !is_whole {
            let words = node.value().unwrap_or_default();
            let place = node.bounding_box();
            missing.push(format!("{:?} {name:?} {words:?} at {place:?} can be used and is no control", node.role()));
        }
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
    let (size, settings) = ((1400.0, 1600.0), Settings::default());
    let all = every_panel(size, 1.0, &settings).into_iter().chain(filled_panels(size, 1.0, &settings));
    for (what, harness) in all {
        let missing = unheard(&harness);
        assert!(missing.is_empty(), "{what}: {missing:#?}");
        let (size, text) = smallest_letters(&harness).unwrap();
        assert!(size >= 12.0, "{what}: {text:?} in {size} points");
    }
}

#[test]
fn the_slider_of_a_parameter_tells_its_value() {
    let mut bench_window = BenchWindow::of("harbour-256-plain", &Settings::default());
    bench_window.session.add_quirk("start-bits-stuck");
    let values = |harness: &Harness<BenchWindow>| {
        let parameters = harness.state().session.quirks().list()[0].quirk().parameters().clone();
        parameters.into_iter().map(|(name, value)| (name.to_string(), value)).collect::<Vec<_>>()
    };
    let mut harness = laid(bench_window, 1280.0, 800.0);
    let heard = |harness: &Harness<BenchWindow>| {
        let sliders = all_nodes(harness).into_iter().filter(|node| {
            let node = node.accesskit_node();
            node.role() == egui::accesskit::Role::Slider && node.value().is_some()
        });
        sliders
            .map(|node| {
                let node = node.accesskit_node();
                (node.label().unwrap_or_default(), node.value().unwrap_or_default(), node.numeric_value())
            })
            .collect::<Vec<_>>()
    };
    let before = values(&harness);
    for _ in 0..3 {
        let wanted: Vec<_> =
            values(&harness).into_iter().map(|(name, value)| (name, value.to_string(), Some(value as f64))).collect();
        assert_eq!(heard(&harness), wanted);
        let (name, _) = &before[0];
        harness.get_by_role_and_label(egui::accesskit::Role::Slider, name).focus();
        harness.run_steps(2);
        harness.key_press(Key::ArrowRight);
        harness.run_steps(3);
    }
    assert_ne!(values(&harness), before, "it was moved");
}
