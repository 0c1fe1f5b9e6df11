//! The session, tried without a display.
//!
//! Numbers of the row-reload fault are those of the model in the trade's own
//! terms: 320 bytes a line on memory rows of 256 bytes, reloaded once a line
//! (derived; see the analysis tests, which check them against strided views).

mod driving;
mod judging;
mod keeping;
mod past;
mod program;
mod setting;
mod showing;

use std::fs;

use backporch_analysis::Verdict;
use backporch_bench::{Bench, Overrides};
use backporch_raster::{Picture, View};

use super::board_pair::BoardAction;
use super::*;
use backporch_test_tools::ROWS_BENCH;

fn open(name: &str) -> Session {
    Session::open(name, &Overrides::default()).unwrap()
}

/// What the `frame` command shows: the first frame of a board set up with the register.
fn frame_of(bench: &str, register: &str, value: u64) -> Picture {
    let overrides = Overrides { set: vec![(register.to_string(), value)], ..Overrides::default() };
    let bench = Bench::open(bench, &overrides).unwrap();
    bench.faulty(bench.registers()).run_frame().picture(View::Picture)
}

fn shown(session: &Session) -> Picture {
    session.transport().frame(BoardSide::Faulty).picture(View::Picture)
}

#[test]
fn it_opens_on_the_first_frame() {
    let session = open(ROWS_BENCH);
    assert_eq!(session.transport().frame_shown(), 0);
    assert!(!session.transport().is_running() && !session.transport().is_mid_frame());
    assert_eq!(shown(&session), frame_of(ROWS_BENCH, "start_address", 0));
    assert_eq!(session.inspection().damage().verdict(), Verdict::Clean);
    let canvas = session.canvas(false);
    assert_eq!((canvas.width, canvas.height), (320, 200));
}

#[test]
fn a_step_by_hand_shows_what_a_fresh_board_shows() {
    let mut session = open(ROWS_BENCH);
    for value in 1..=5 {
        session.perform(Command::StepRegister(1));
        assert_eq!(session.sweep().active().value(), value);
        assert_eq!(shown(&session), frame_of(ROWS_BENCH, "start_address", u64::from(value)), "step {value}");
    }
    session.set_active_register(1);
    let step = session.sweep().active().seen(1).unwrap();
    assert_eq!((step.verdict, step.damage.damaged_lines()), (Verdict::EdgeDamaged, 50));
    assert_eq!(step.damage.x, Some(318..=319), "the last two pixels");
    assert_eq!(step.pattern.map(|pattern| (pattern.period, pattern.phase)), Some((4, 3)));
}

#[test]
fn the_period_is_found_by_hand_and_on_the_strip() {
    let mut session = open(ROWS_BENCH);
    assert_eq!(session.sweep().active().period(), None);
    for _ in 0..64 {
        session.perform(Command::StepRegister(1));
    }
    assert_eq!(session.sweep().active().seen_count(), 65);
    assert_eq!(session.sweep().active().period(), Some(32));
    session.set_active_register(7);
    while !session.sweep().thumbnails().is_whole() {
        session.draw_thumbnails(8);
    }
    assert_eq!(session.sweep().thumbnails().range(), (0, 63));
    assert_eq!(session.sweep().thumbnails().period(), Some(32));
    let clean: Vec<u32> =
        (0..64).filter(|at| session.sweep().thumbnails().get(*at).unwrap().step.verdict == Verdict::Clean).collect();
    assert_eq!(clean, [0, 32]);
}

#[test]
fn the_hand_stays_inside_its_register() {
    let mut session = open(ROWS_BENCH);
    session.perform(Command::StepRegister(-1));
    assert_eq!(session.sweep().active().value(), 0);
    session.set_active_register(u32::MAX);
    assert_eq!(session.sweep().active().value(), 0xFFFF);
    session.perform(Command::StepRegister(i32::MAX));
    assert_eq!(session.sweep().active().value(), 0xFFFF);
    session.perform(Command::ResetRegister);
    assert_eq!((session.sweep().active().value(), session.sweep().active().step()), (0, 0));
}

#[test]
fn going_back_shows_the_earlier_frames_again() {
    let mut session = open(ROWS_BENCH);
    let mut pictures = vec![shown(&session)];
    for step in 0..40 {
        if step % 3 == 0 {
            session.transport.pending.push(BoardAction::WritePorts { field: session.sweep.active.field, value: step });
        }
        if step == 17 {
            session.quirks.toggle(0);
            let fitted = std::sync::Arc::new(session.quirks.clone());
            let action = BoardAction::FitQuirks { fitted, stack: session.bench().with_quirks(Vec::new()).stack() };
            session.transport.pending.push(action);
        }
        session.perform(Command::FrameOn);
        let frame = session.transport().frame_shown() as usize;
        pictures.resize(frame + 1, shown(&session));
        pictures[frame] = shown(&session);
    }
    let last = session.transport().frame_shown();
    for frame in (0..last).rev() {
        session.perform(Command::FrameBack);
        assert_eq!(session.transport().frame_shown(), frame);
        assert_eq!(shown(&session), pictures[frame as usize], "frame {frame}");
    }
    session.perform(Command::FrameBack);
    assert_eq!(session.transport().frame_shown(), 0, "before the first frame there is nothing");
    assert!(session.transport().replays());
    session.jump(last).unwrap();
    while session.transport().is_running() {
        session.tick(0.0);
    }
    assert_eq!(shown(&session), pictures[last as usize], "played again");
}

#[test]
fn something_new_in_the_past_forgets_what_came_after() {
    let mut session = open(ROWS_BENCH);
    session.set_active_register(9);
    let nine = session.transport().frame_shown();
    session.perform(Command::FirstFrame);
    assert_eq!(session.sweep().active().value(), 0);
    session.set_active_register(3);
    session.perform(Command::FrameOn);
    session.jump(nine + 8).unwrap();
    assert_eq!(session.sweep().active().value(), 3);
    assert_eq!(shown(&session), frame_of(ROWS_BENCH, "start_address", 3));
}

#[test]
fn a_long_past_is_kept_in_few_snapshots() {
    let mut session = open("harbour-256-plain");
    session.set_active_register(5);
    for _ in 0..1500 {
        session.transport.history.finish_frame(&session.setup.bench);
    }
    session.refresh();
    session.jump(1).unwrap();
    session.jump(2).unwrap();
    assert_eq!(shown(&session), frame_of("harbour-256-plain", "start_address", 5));
}

#[test]
fn lines_and_character_clocks_move_the_beam() {
    let mut session = open(ROWS_BENCH);
    let start = session.transport().beam();
    session.perform(Command::CharOn);
    assert_eq!((session.transport().beam().char, session.transport().beam().line_dot), (1, 16));
    assert!(session.transport().is_mid_frame());
    session.perform(Command::LineOn);
    assert_eq!((session.transport().beam().scan_line, session.transport().beam().line_dot), (1, 0));
    session.step_lines(9);
    session.step_chars(7);
    assert_eq!((session.transport().beam().scan_line, session.transport().beam().char), (10, 7));
    session.perform(Command::CharBack);
    assert_eq!((session.transport().beam().scan_line, session.transport().beam().char), (10, 6));
    session.perform(Command::LineBack);
    assert_eq!((session.transport().beam().scan_line, session.transport().beam().char), (10, 0));
    session.perform(Command::LineBack);
    assert_eq!((session.transport().beam().scan_line, session.transport().beam().char), (9, 0));
    session.step_lines(-9);
    assert_eq!(session.transport().beam(), start);
    session.perform(Command::LineBack);
    assert_eq!(session.transport().beam(), start, "the first frame stays whole");
    session.perform(Command::FrameBack);
    assert_eq!(session.transport().frame_shown(), 0);
}

#[test]
fn inside_a_frame_the_canvas_shows_both_frames() {
    let mut session = open("harbour-256-plain");
    let whole = session.canvas(false);
    // Each line is shown twice: scan line 100 begins picture line 50.
    session.step_lines(100);
    session.step_chars(20);
    let canvas = session.canvas(false);
    let row = |canvas: &Canvas, y: usize| canvas.rgba[y * 320..(y + 1) * 320].to_vec();
    assert_eq!(row(&canvas, 49), row(&whole, 49));
    assert_eq!(row(&canvas, 50)[..160], row(&whole, 50)[..160]);
    assert_ne!(row(&canvas, 50)[160..], row(&whole, 50)[160..], "dimmed");
    assert_ne!(row(&canvas, 51), row(&whole, 51), "dimmed");
    assert_eq!(session.beam_on_tile(), Some((160, 50)));
}

#[test]
fn inside_a_frame_a_register_is_written_at_the_beam() {
    let mut session = open("harbour-cg");
    let before = shown(&session);
    session.step_lines(80);
    let set = session.bench().field("select_set").unwrap();
    session.set_register(set, 1, WritePath::Ports).unwrap();
    assert_eq!(session.transport().beam().scan_line, 80, "the beam stays");
    session.perform(Command::FrameOn);
    let after = shown(&session);
    let rows = |picture: &Picture, from: usize, to: usize| picture.rgba[from * 320..to * 320].to_vec();
    assert_eq!(rows(&after, 0, 80), rows(&before, 0, 80));
    assert_ne!(rows(&after, 80, 200), rows(&before, 80, 200));
}

#[test]
fn the_trail_remembers_verdicts_and_forgets_another_future() {
    let mut session = open(ROWS_BENCH);
    session.set_active_register(1);
    let damaged = session.transport().frame_shown();
    session.step_frames(5);
    assert_eq!(session.inspection().timeline().verdict(damaged), Some(Verdict::EdgeDamaged));
    assert_eq!(
        (session.inspection().timeline().verdict(0), session.inspection().timeline().last()),
        (Some(Verdict::Clean), damaged + 5)
    );
    session.jump(0).unwrap();
    assert_eq!(session.inspection().timeline().last(), damaged + 5, "looking back forgets nothing");
    session.set_active_register(2);
    assert_eq!(session.inspection().timeline().last(), 2);
}

#[test]
fn a_run_waits_for_damage_or_a_change() {
    let mut session = open(ROWS_BENCH);
    session.run_until(StopCondition::Damage);
    session.tick(0.0);
    session.tick(0.5);
    assert!(session.transport().is_running(), "nothing is damaged yet");
    session.set_active_register(1);
    session.tick(0.6);
    assert!(!session.transport().is_running());
    assert_eq!(session.inspection().damage().verdict(), Verdict::EdgeDamaged);
    assert!(session.message().unwrap().contains("a damaged frame"));

    session.run_until(StopCondition::RegisterChange);
    session.tick(1.0);
    assert!(session.transport().is_running());
    session.set_active_register(2);
    session.tick(1.1);
    assert!(!session.transport().is_running());
}

#[test]
fn running_keeps_the_boards_rate() {
    let mut session = open("harbour-256-plain");
    assert!((session.frame_rate_hz() - 70.09).abs() < 0.01, "VGA register documentation: 25.175 MHz / (800 * 449)");
    session.perform(Command::RunOrPause);
    for ms in 0..1000 {
        session.tick(f64::from(ms) / 1000.0);
    }
    assert!((70..=72).contains(&session.transport().frame_shown()), "{}", session.transport().frame_shown());
    session.perform(Command::RunOrPause);
    let frame = session.transport().frame_shown();
    session.tick(2.0);
    assert_eq!(session.transport().frame_shown(), frame);
}

#[test]
fn a_turned_register_shows_within_two_frames() {
    let mut session = open(ROWS_BENCH);
    session.perform(Command::RunOrPause);
    session.tick(0.0);
    let before = session.transport().frame_shown();
    session.perform(Command::StepRegister(1));
    session.tick(1.0 / 70.0);
    session.tick(2.0 / 70.0);
    assert!(session.transport().frame_shown() <= before + 3);
    assert_eq!(shown(&session), frame_of(ROWS_BENCH, "start_address", 1));
    assert!(session.sweep().active().seen(1).is_some());
}
