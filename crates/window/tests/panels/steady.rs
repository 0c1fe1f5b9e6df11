//! Nothing jumps: while one works, the controls that are there stay where they are.

use std::collections::BTreeMap;

use backporch_analysis::Verdict;
use backporch_window::Command;
use backporch_window::panels::Settings;
use backporch_window::session::{BoardSide, BoardView, Chip, WritePath};
use egui::accesskit::Role;
use egui::{Key, Modifiers, Rect};
use egui_kittest::Harness;
use egui_kittest::kittest::NodeT;

use crate::bench_window::{BenchWindow, laid};
use crate::support::all_nodes;

/// Sizes of windows, in points.
const SIZES: [(f32, f32); 3] = [(1024.0, 600.0), (1280.0, 800.0), (1920.0, 1080.0)];
/// Points across from which there is room for both sides.
const BOTH_SIDES: f32 = 1200.0;

/// Where controls stand, by their names, numbers in them left out; those of one name are left out, too.
fn controls(harness: &Harness<BenchWindow>) -> BTreeMap<String, Rect> {
    let mut found: BTreeMap<String, Vec<Rect>> = BTreeMap::new();
    for node in all_nodes(harness) {
        let control = node.accesskit_node();
        let is_control = matches!(
            control.role(),
            Role::Button
                | Role::CheckBox
                | Role::ComboBox
                | Role::Slider
                | Role::TextInput
                | Role::Image
                | Role::RadioButton
        );
        let name = control.label().unwrap_or_default();
        // What goes on with the program, the count of mistakes, and the map, whose rows are of another length.
        let changes = ["run until this comes next", "under way", "go to the next hazard", "bytes shown"];
        let changes = changes.iter().any(|end| name.ends_with(end));
        if is_control && !name.is_empty() && !changes {
            let name: String = name.chars().filter(|letter| !letter.is_ascii_digit()).collect();
            found.entry(format!("{:?} {name}", control.role())).or_default().push(node.rect());
        }
    }
    found.into_iter().filter_map(|(name, rects)| Some((name, *rects.first().filter(|_| rects.len() == 1)?))).collect()
}

/// A window in which nothing may jump.
struct Watched {
    harness: Harness<'static, BenchWindow>,
    size: (f32, f32),
    moved: Vec<String>,
}

impl Watched {
    fn of(bench_window: BenchWindow, size: (f32, f32)) -> Self {
        let mut harness = laid(bench_window, size.0, size.1);
        if size.0 < BOTH_SIDES {
            // Where there is room for one side only, that with most of the panels.
            harness.key_press(Key::OpenBracket);
            harness.run_steps(4);
        }
        Self { harness, size, moved: Vec::new() }
    }

    /// Does something and notes which of the controls that were there before and are there afterwards have moved.
    fn stays(&mut self, what: &str, act: impl FnOnce(&mut Harness<BenchWindow>)) {
        let before = controls(&self.harness);
        act(&mut self.harness);
        self.harness.run_steps(4);
        let after = controls(&self.harness);
        let both = before.iter().filter_map(|(name, rect)| Some((name, rect, after.get(name)?)));
        let mut compared = 0;
        for (name, rect, now) in both {
            compared += 1;
            let moved = (now.min - rect.min).abs().max((now.max - rect.max).abs()).max_elem();
            if moved > 0.6 {
                self.moved.push(format!("{:?}, {what}: {name} goes from {rect} to {now}", self.size));
            }
        }
        assert!(compared > 25, "{what}: only {compared} controls are there before and afterwards");
    }
}

impl Drop for Watched {
    fn drop(&mut self) {
        let nothing_moved = self.moved.is_empty() || std::thread::panicking();
        assert!(nothing_moved, "{}", self.moved.join("\n"));
    }
}

fn press(key: Key) -> impl FnOnce(&mut Harness<BenchWindow>) {
    move |harness| harness.key_press(key)
}

fn perform(command: Command) -> impl FnOnce(&mut Harness<BenchWindow>) {
    move |harness| harness.state_mut().session.perform(command)
}

#[test]
fn time_stepped_run_and_jumped_through() {
    for size in SIZES {
        let mut one = Watched::of(BenchWindow::with_row_reload(&Settings::default()), size);
        one.stays("a frame on", press(Key::ArrowRight));
        one.stays("a scan line on", perform(Command::LineOn));
        one.stays("character clocks on", perform(Command::CharOn));
        one.stays("running", press(Key::Space));
        one.stays("waiting for a clean frame", press(Key::U));
        one.stays("paused", press(Key::Space));
        one.stays("a frame to jump to", press(Key::J));
        one.stays("a frame that is too far", |harness| {
            harness.event(egui::Event::Text("9999999999".to_string()));
            harness.run_steps(2);
            harness.key_press(Key::Enter);
        });
        one.stays("recording", perform(Command::Record));
        for _ in 0..8 {
            one.stays("another condition", |harness| harness.key_press_modifiers(Modifiers::SHIFT, Key::U));
        }
    }
}

#[test]
fn registers_stepped_typed_and_edited() {
    for size in SIZES {
        let mut one = Watched::of(BenchWindow::with_row_reload(&Settings::default()), size);
        for value in [9, 10, 100, 65535] {
            one.stays("another value", |harness| harness.state_mut().session.set_active_register(value));
        }
        one.stays("a value to type", press(Key::V));
        one.stays("a value that is refused", |harness| {
            harness.event(egui::Event::Text("70000".to_string()));
            harness.run_steps(2);
            harness.key_press(Key::Enter);
        });
        one.stays("a pixel inspected", |harness| harness.state_mut().session.inspect_pixel(BoardSide::Faulty, 310, 7));
        one.stays("rows of 256 bytes", press(Key::M));
        one.stays("another pitch", |harness| {
            let session = &mut harness.state_mut().session;
            let displayed = session.bench().field("displayed").unwrap();
            session.set_register(displayed, 31, WritePath::Ports).unwrap();
        });
        for view in [BoardView::Beside, BoardView::Difference, BoardView::Three, BoardView::Faulty] {
            one.stays(view.words(), perform(Command::BoardView(view)));
        }
        // With one side alone the registers are not there.
        let edit = |harness: &mut Harness<BenchWindow>| {
            let row = controls(harness).into_iter().find(|(name, _)| name.contains("displayed is : edit"));
            let row = row.expect("it is listed").1;
            harness.hover_at(row.center());
            harness.drag_at(row.center());
            harness.drop_at(row.center());
        };
        if size.0 >= BOTH_SIDES {
            one.stays("a register edited", edit);
        }
    }
}

#[test]
fn lines_picked_sightings_noted_and_judged() {
    for size in SIZES {
        let mut one = Watched::of(BenchWindow::with_row_reload(&Settings::default()), size);
        one.stays("a line picked", |harness| harness.state_mut().session.pick_line(3));
        one.stays("forty lines picked", |harness| {
            (40..80).for_each(|line| harness.state_mut().session.pick_line(line))
        });
        one.stays("a chip chosen", |harness| harness.state_mut().session.toggle_chip(Chip::RightEdge));
        one.stays("a sighting noted", perform(Command::Note(Verdict::EdgeDamaged)));
        one.stays("many sightings noted", |harness| {
            for start in 0..14 {
                let session = &mut harness.state_mut().session;
                session.set_active_register(start);
                session.perform(Command::Note(session.inspection().damage().verdict()));
            }
        });
        one.stays("a diagnosis under way", perform(Command::Diagnose));
        // Where it is out of sight, what was waited for is brought into sight.
        if size.1 >= 800.0 {
            one.stays("suspects", |harness| harness.state_mut().diagnose());
            one.stays("a suspect put on the board", |harness| harness.state_mut().session.fit_suspect(0));
        }
        one.stays("a sighting taken back", perform(Command::UndoNote));
    }
}

#[test]
fn quirks_fitted_workarounds_found_and_the_past_kept() {
    for size in SIZES {
        let mut one = Watched::of(BenchWindow::of("harbour-256-plain", &Settings::default()), size);
        for quirk in ["row-reload", "snow", "start-bits-stuck"] {
            one.stays(quirk, |harness| harness.state_mut().session.add_quirk(quirk));
        }
        one.stays("all off", perform(Command::AllQuirks));
        one.stays("one removed", |harness| harness.state_mut().session.remove_quirk(2));
        one.stays("taken back", perform(Command::Undo));
        one.stays("something else", perform(Command::StepRegister(3)));
        one.stays("another course of events", perform(Command::Undo));
        // Against no quirk the search is over at once; its outcome is words all the same.
        one.stays("a search", perform(Command::Workarounds));
        one.stays("what was found", |harness| {
            let began = std::time::Instant::now();
            while harness.state().session.findings().searching().is_some() {
                assert!(began.elapsed().as_secs() < 300);
                std::thread::sleep(std::time::Duration::from_millis(10));
                harness.state_mut().session.tick(0.0);
            }
        });
    }
}

#[test]
fn signals_refused_lost_and_taken_again() {
    for size in SIZES {
        let mut one = Watched::of(BenchWindow::of("harbour-256-plain", &Settings::default()), size);
        one.stays("refused", |harness| harness.state_mut().session.switch_monitor("fixed-15"));
        for key in [Key::R, Key::R, Key::F, Key::F] {
            one.stays("looked at otherwise", press(key));
        }
        one.stays("another monitor", |harness| harness.state_mut().session.switch_monitor("fixed-31"));
        one.stays("no stable signal", |harness| {
            let session = &mut harness.state_mut().session;
            let total = session.bench().field("horizontal_total").unwrap();
            session.set_register(total, 20, WritePath::Ports).unwrap();
        });
        one.stays("a signal again", perform(Command::Undo));
    }
}

#[test]
fn files_refused_and_much_said() {
    for size in SIZES {
        let mut one = Watched::of(BenchWindow::of("harbour-256-plain", &Settings::default()), size);
        one.stays("a file refused", |harness| harness.state_mut().session.open_another("no-such-bench"));
        one.stays("read again", perform(Command::Reload));
        one.stays("much said", |harness| harness.state_mut().session.report("a long story ".repeat(60)));
        one.stays("the light theme", press(Key::L));
    }
}

#[test]
fn routines_with_mistakes_and_programs_that_end() {
    for size in SIZES {
        let mut one = Watched::of(BenchWindow::of("scroll-late", &Settings::default()), size);
        for frames in [4, 40, 200] {
            one.stays("hazards", |harness| harness.state_mut().session.step_frames(frames));
        }
        one.stays("a hazard gone to", perform(Command::PreviousHazard));

        let mut one = Watched::of(BenchWindow::of("program-keys", &Settings::default()), size);
        one.stays("frames of a program", |harness| harness.state_mut().session.step_frames(20));
        one.stays("an instruction on", perform(Command::InstructionOn));
        one.stays("the keyboard given to it", press(Key::F11));
        one.stays("it ends", |harness| {
            harness.key_press(Key::Escape);
            harness.run_steps(2);
            harness.state_mut().session.step_frames(8);
        });
    }
}
