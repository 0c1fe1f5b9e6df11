//! Routines that drive the boards.

use std::path::Path;

use super::*;
use crate::session::live_driver::LiveDriver;

#[test]
fn a_routine_drives_both_boards_as_it_drives_one_alone() {
    // Plain: by design three steps in 128 are amiss at the right edge.
    let overrides = Overrides { plain: true, ..Overrides::default() };
    let mut session = Session::open("scroll-clean", &overrides).unwrap();
    let bench = Bench::open("scroll-clean", &overrides).unwrap();
    let mut alone = LiveDriver::of(&bench).unwrap().unwrap();
    let mut board = bench.faulty(bench.registers());
    let mut pictures = Vec::new();
    for frame in 0..12u64 {
        let whole = loop {
            let next = alone.next_until(board.beam().dot + 5000);
            if let Some(whole) = board.run_towards(next.map_or(board.beam().dot + 5000, |pending| pending.dot)) {
                break whole;
            }
            if let Some(pending) = next {
                board_pair::access_board(&mut board, pending.access);
                alone.done();
            }
        };
        assert_eq!(session.transport().frame_shown(), frame);
        assert_eq!(shown(&session), whole.picture(View::Picture), "frame {frame}");
        assert_eq!(session.inspection().damage().verdict(), Verdict::Clean, "no quirk, no damage");
        pictures.push(shown(&session));
        session.perform(Command::FrameOn);
    }
    // Two words of two bytes a frame, once the first start address is taken over.
    assert!(
        session.sweep().active().value() >= 10,
        "the active register follows: {}",
        session.sweep().active().value()
    );
    assert!(pictures[3] != pictures[4], "it scrolls");
    session.jump(4).unwrap();
    assert_eq!(shown(&session), pictures[4], "rewound");
    session.step_frames(3);
    assert_eq!(shown(&session), pictures[7], "played again");
    session.step_frames(-1);
    for _ in 0..3 {
        session.perform(Command::LineOn);
        session.perform(Command::CharOn);
    }
    session.step_frames(1);
    assert_eq!(shown(&session), pictures[7], "stepping by lines and characters changes nothing");
}

#[test]
fn a_run_stops_at_a_routines_hazard() {
    let mut session = open("scroll-late");
    session.run_until(StopCondition::Hazard);
    let mut now = 0.0;
    while session.transport().is_running() && now < 60.0 {
        session.tick(now);
        now += 0.02;
    }
    assert!(!session.transport().is_running());
    assert!(session.message().unwrap().starts_with("stopped at frame"), "{:?}", session.message());
    assert!(session.transport().frame_shown() < 6, "the first scroll is late already");
    session.step_frames(6);
    let routine = session.routine().unwrap();
    assert_eq!(routine.cpu.as_deref(), Some("16bit-8"));
    let kinds: Vec<&str> = routine.hazards.iter().map(|one| one.kind.name()).collect();
    assert!(kinds.contains(&"late-start"), "{kinds:?}");

    let mut clean = open("scroll-clean");
    // To and fro, past both turns.
    clean.step_frames(620);
    assert_eq!(clean.routine().unwrap().hazards, [], "a clean routine has none");

    let mut none = open("harbour-256-plain");
    none.run_until(StopCondition::Hazard);
    assert!(!none.transport().is_running());
    assert!(none.message().unwrap().contains("no routine"));
}

#[test]
fn a_hand_and_quirks_may_meddle_with_a_routine() {
    let mut session = open("scroll-clean");
    session.add_quirk("row-reload");
    session.step_frames(3);
    session.step_lines(100);
    let width = session.bench().field("displayed").unwrap();
    session.set_register(width, 31, WritePath::Ports).unwrap();
    session.step_frames(4);
    assert_eq!(session.transport().frame(BoardSide::Faulty).picture_size().0, 256);
    let value = session.sweep().active().value();
    session.step_frames(5);
    assert!(session.sweep().active().value() > value, "the routine goes on");
    assert!(session.transport().frame(BoardSide::Plain).picture_size().0 == 256);
}

#[test]
fn a_routine_that_cannot_run_is_told_like_any_fault_in_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.bench.ron");
    let bench = "(version: 1, adapter: \"linear-256\", picture: (source: \"harbour\"), routine: \"own.routine.ron\")";
    fs::write(&path, bench).unwrap();
    let routine = folder.path().join("own.routine.ron");
    fs::write(&routine, "(version: 1, each_frame: [Wait(Noon)])").unwrap();
    let error = Session::open(path.to_str().unwrap(), &Overrides::default()).unwrap_err();
    assert!(error.to_string().contains("own.routine.ron:1"), "{error}");
    fs::write(&routine, "(version: 1, each_frame: [Wait(RetraceStart)])").unwrap();
    let mut session = open(path.to_str().unwrap());
    session.step_frames(3);
    let saved = session.bench_file().routine.unwrap();
    assert!(Path::new(&saved).is_absolute() && saved.ends_with("own.routine.ron"), "{saved}");
    // A broken routine is reported and the last good state stays; mended, it is taken up.
    fs::write(&routine, "(version: 1, each_frame: [Wait(Noon)]) ").unwrap();
    session.look_at_files();
    assert!(session.files().problem().is_some());
    assert_eq!(session.transport().frame_shown(), 3);
    fs::write(&routine, "(version: 1, each_frame: [Wait(DisplayStart)])  ").unwrap();
    session.look_at_files();
    assert!(session.files().problem().is_none());
}

#[test]
fn a_write_trace_drives_the_boards_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.bench.ron");
    let bench = "(version: 1, adapter: \"linear-256\", picture: (source: \"harbour\"), routine: \"run.csv\")";
    fs::write(&path, bench).unwrap();
    // The start address of the class lies in cells 0Ch and 0Dh (common practice); written in the third frame.
    let trace = "dot,kind,address,value\n800000,port,0x3D4,0x050D\n2900000,memory,0x0000,0x07\n";
    fs::write(folder.path().join("run.csv"), trace).unwrap();
    let mut session = open(path.to_str().unwrap());
    assert_eq!(session.routine().unwrap().cpu, None);
    session.step_frames(2);
    assert_eq!(session.sweep().active().value(), 5, "the trace turned it");
    session.step_frames(1);
    let moved = shown(&session);
    session.jump(0).unwrap();
    assert_ne!(shown(&session), moved);
    session.step_frames(9);
    assert_eq!(session.transport().memory()[0], 7);
}
