//! What holds for every family alike.

use backporch_quirk::{Condition, Family, FamilyForm, Quantity, QuirkStack, Value, quantities_known};

use super::{Setup, colour_graphics, linear, program};
use backporch_raster::{Board, Frame};

fn setups() -> [Setup; 3] {
    [
        linear(&[("start_address", 37)]),
        colour_graphics("320x200x4", &[("start_address", 37), ("select_colour", 5)]),
        colour_graphics("text-80", &[("start_address", 37), ("select_colour", 5)]),
    ]
}

/// Three frames of a routine that scrolls, loads palette entries, narrows the
/// picture and writes to memory.
fn routine(setup: &Setup, mut board: Board<QuirkStack>, stop_each: Option<u64>) -> Vec<Frame> {
    let lines = u64::from(setup.adapter.timing(&setup.registers).lines());
    let mut now = 0;
    let mut frames = Vec::new();
    let mut run = |board: &mut Board<QuirkStack>, dot: u64| {
        while let Some(step) = stop_each.filter(|step| now + step < dot) {
            now += step;
            board.run_to(now);
        }
        now = dot;
        board.run_to(dot);
    };
    for frame in 0..3u64 {
        for (line, value) in [(20, 1u8), (90, 2), (180, 3), (lines - 1, 4)] {
            run(&mut board, setup.dot(frame * lines + line, 7));
            frames.extend(board.take_frame());
            program(&mut board, 0x0D, value * 9);
            board.write_port(0x3D5, value * 9 + frame as u8);
            board.write_port_word(0x3D4, u16::from(value) << 8 | 0x0C);
            board.write_port(0x3C8, value);
            board.write_port(0x3C9, value * 20);
            board.write_memory(u32::from(value) * 100, value);
            // Protected in the first frame, and open once the protect bit is cleared.
            program(&mut board, 1, 36);
        }
        program(&mut board, 0x10, 0);
        program(&mut board, 1, 34);
    }
    frames.push(board.run_frame());
    frames
}

fn stack(family: &Family) -> QuirkStack {
    QuirkStack::new(vec![family.close_default()], 5)
}

/// Every effect of the family under one more condition.
fn under(family: &Family, condition: impl Fn(&backporch_quirk::Action<Value>) -> Condition<Value>) -> Family {
    let mut form: FamilyForm = family.form().clone();
    for effect in &mut form.effects {
        let extra = condition(&effect.does);
        effect.when = Condition::All(vec![extra, effect.when.clone()]);
    }
    Family::from_form(form).unwrap()
}

/// A condition that never holds on these boards, though nothing but running them tells.
fn off(action: &backporch_quirk::Action<Value>) -> Condition<Value> {
    let known = quantities_known(action.decides_at());
    let is = |of, value| Condition::Is { of, value: Value::Number(value) };
    match known {
        known if known.contains(&"Frame") => is(Quantity::Frame, 1_000_000),
        known if known.contains(&"Displayed") => is(Quantity::Displayed, 500),
        _ => Condition::Any(Vec::new()),
    }
}

#[test]
fn a_family_whose_condition_is_off_leaves_the_board_healthy() {
    for setup in setups() {
        let plain = routine(&setup, setup.plain(), None);
        for family in Family::all_built_in() {
            let faulty = routine(&setup, setup.board(stack(&under(&family, off))), None);
            assert!(plain == faulty, "{}", family.name());
        }
    }
}

#[test]
fn a_family_shows_on_some_board() {
    let setups = setups();
    let plain: Vec<_> = setups.iter().map(|setup| routine(setup, setup.plain(), None)).collect();
    for family in Family::all_built_in() {
        let shows = family.quirks().take(64).any(|quirk| {
            let faulty = |setup: &Setup| routine(setup, setup.board(QuirkStack::new(vec![quirk.clone()], 5)), None);
            setups.iter().zip(&plain).any(|(setup, plain)| *plain != faulty(setup))
        });
        assert!(shows, "{}", family.name());
    }
}

/// Stopping the beam at every few dots draws each character clock on its own,
/// as the plain stepper does; whole lines are drawn in spans.
#[test]
fn a_family_is_the_same_stopped_and_whole() {
    for setup in setups() {
        for family in Family::all_built_in() {
            let whole = routine(&setup, setup.board(stack(&family)), None);
            let stopped = routine(&setup, setup.board(stack(&family)), Some(16));
            let last = |frames: &[Frame]| frames.last().cloned();
            assert!(last(&whole) == last(&stopped), "{}", family.name());
        }
    }
}

#[test]
fn every_family_is_described_without_a_hole() {
    for family in Family::all_built_in() {
        let quirk = family.close_default();
        assert_eq!(family.describe().len(), family.form().effects.len());
        for words in family.describe().into_iter().chain(quirk.describe()) {
            assert!(words.ends_with('.') && !words.contains(['{', '}']), "{words}");
        }
        for (name, _) in family.parameters().iter() {
            assert!(family.describe().concat().contains(name), "{} does not tell of {name}", family.name());
        }
    }
}
