//! What was done is taken back, done again, and kept beside what was done instead.

use super::*;

fn value(session: &Session) -> u32 {
    session.bench().adapter().get(session.transport().faulty_registers(), session.bench().adapter().start_address())
}

#[test]
fn steps_are_taken_back_and_done_again() {
    let mut session = open(ROWS_BENCH);
    let mut pictures = vec![shown(&session)];
    for step in [1, 5, 9] {
        session.set_active_register(step);
        pictures.push(shown(&session));
    }
    session.step_frames(7);
    for (wanted, picture) in [(5, 2), (1, 1), (0, 0)] {
        session.perform(Command::Undo);
        assert_eq!((value(&session), session.sweep().active().value()), (wanted, wanted));
        assert_eq!(shown(&session), pictures[picture]);
        assert!(!session.transport().replays(), "it is as if it had not been done");
    }
    session.perform(Command::Undo);
    assert!(session.message().unwrap().contains("nothing was done"));
    for (wanted, picture) in [(1, 1), (5, 2), (9, 3)] {
        session.perform(Command::Redo);
        assert_eq!(value(&session), wanted);
        assert_eq!(shown(&session), pictures[picture]);
    }
    session.perform(Command::Redo);
    assert!(session.message().unwrap().contains("nothing was taken back"));
    assert!(session.past().courses.is_empty(), "{:?}", session.past());
    // What comes after is as it would have been.
    session.step_frames(3);
    assert_eq!(shown(&session), pictures[3]);
}

#[test]
fn another_course_of_events_is_kept_and_gone_back_to() {
    let mut session = open(ROWS_BENCH);
    for step in [1, 2, 3] {
        session.set_active_register(step);
    }
    let third = shown(&session);
    session.step_frames(-3);
    session.set_active_register(40);
    session.perform(Command::AllQuirks);
    let other = shown(&session);
    let courses = session.past().courses;
    assert_eq!(courses.len(), 1, "{courses:?}");
    assert!(courses[0].contains("start_address"), "{courses:?}");
    session.take_course(0);
    assert_eq!((value(&session), shown(&session)), (3, third.clone()));
    assert_eq!(session.quirks().on().count(), 1, "the quirks are those of that course");
    let courses = session.past().courses;
    assert_eq!(courses.len(), 1, "{courses:?}");
    session.take_course(0);
    assert_eq!(shown(&session), other);
    assert_eq!(session.quirks().on().count(), 0);
    session.take_course(7);
    assert_eq!(shown(&session), other, "there is none of that number");
    session.take_course(0);
    assert_eq!(shown(&session), third);
}

#[test]
fn a_routine_goes_on_as_if_it_had_not_been_done() {
    let mut session = open("scroll-late");
    session.step_frames(4);
    let mut alone = open("scroll-late");
    let displayed = session.bench().field("displayed").unwrap();
    session.set_register(displayed, 31, WritePath::Ports).unwrap();
    session.step_frames(5);
    session.perform(Command::Undo);
    session.step_frames(6);
    alone.jump(session.transport().frame_shown()).unwrap();
    assert_eq!(shown(&session), shown(&alone));
    session.perform(Command::Redo);
    session.step_frames(1);
    assert_eq!(session.transport().frame(BoardSide::Faulty).picture_size().0, 256);
}

#[test]
fn a_case_is_saved_opened_and_holds_no_path_of_this_machine() {
    let folder = tempfile::tempdir().unwrap();
    let quirk = backporch_quirk::Family::built_in("row-reload").unwrap().to_ron().replace("row-reload", "my-own");
    fs::write(folder.path().join("mine.ron"), quirk).unwrap();
    let path = folder.path().join("quay.bench.ron");
    let bench = "(version: 1, adapter: \"linear-256-plain\", quirks: [(name: \"mine.ron\")], \
                 picture: (source: \"harbour\"))";
    fs::write(&path, bench).unwrap();
    let mut session = open(path.to_str().unwrap());
    session.write_to(folder.path());
    session.set_active_register(5);
    session.perform(Command::Note(Verdict::EdgeDamaged));
    session.perform(Command::SaveCase);
    let case = folder.path().join("quay-1.case.zip");
    assert!(case.exists(), "{:?}", session.message());
    assert!(session.unsaved().is_nothing(), "the sightings are in it");

    let unpacked = backporch_input::Case::open(&case).unwrap();
    for file in unpacked.files() {
        let text = String::from_utf8(unpacked.read(&file.name, 1 << 20).unwrap()).unwrap();
        assert!(!text.contains(folder.path().to_str().unwrap()), "{}: {text}", file.name);
    }
    // Elsewhere, without what lay beside the bench.
    let elsewhere = tempfile::tempdir().unwrap();
    let moved = elsewhere.path().join("quay.case.zip");
    fs::rename(&case, &moved).unwrap();
    fs::remove_file(folder.path().join("mine.ron")).unwrap();
    let mut again = open("harbour-cg");
    again.write_to(elsewhere.path());
    again.open_another(moved.to_str().unwrap());
    assert_eq!(again.files().problem().map(ToString::to_string), None);
    assert_eq!(shown(&again), shown(&session));
    assert_eq!(again.findings().notes().noted(), session.findings().notes().noted());
    assert!(again.unsaved().is_nothing());
    // And handed on once more.
    again.perform(Command::SaveCase);
    let once_more = open(elsewhere.path().join("quay-1.case.zip").to_str().unwrap());
    assert_eq!(shown(&once_more), shown(&session));
    assert_eq!(once_more.findings().notes().noted().len(), 1);
}

/// The courses of events there are, in words.
fn courses(session: &Session) -> Vec<String> {
    session.past().courses
}

#[test]
fn a_bench_read_again_keeps_what_was_done_on_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.bench.ron");
    let bench = "(version: 1, adapter: \"linear-256-plain\", picture: (source: \"harbour\"))";
    fs::write(&path, bench).unwrap();
    let name = path.to_str().unwrap();
    let mut session = open(name);
    session.add_quirk("row-reload");
    session.set_active_register(5);
    session.set_active_register(9);
    session.perform(Command::Undo);
    session.set_active_register(40);
    // Narrower from now on: every frame is another one, and every dot of it.
    fs::write(&path, bench.replace(", picture", ", registers: {\"displayed\": 31, \"horizontal_total\": 50}, picture"))
        .unwrap();
    session.perform(Command::Reload);
    assert!(session.message().unwrap().ends_with("what was done can be gone over to"), "{:?}", session.message());
    assert_eq!((value(&session), session.transport().frame_shown()), (0, 0), "it begins at its beginning");
    assert_eq!(courses(&session).len(), 2);
    let with = |start| {
        let overrides = Overrides {
            quirks: vec!["row-reload".to_string()],
            set: vec![("start_address".to_string(), start)],
            ..Overrides::default()
        };
        let bench = Bench::open(name, &overrides).unwrap();
        bench.faulty(bench.registers()).run_frame().picture(View::Picture)
    };
    // The newest course step by step: the quirk, 5, 40.
    for start in [0, 5, 40] {
        session.perform(Command::Redo);
        assert_eq!((u64::from(value(&session)), shown(&session)), (start, with(start)), "{:?}", session.message());
    }
    assert_eq!(session.quirks().on().count(), 1);
    let other = courses(&session).iter().position(|words| words.contains("start_address 9")).unwrap();
    session.take_course(other);
    assert_eq!((value(&session), shown(&session)), (9, with(9)));
    assert!(courses(&session).iter().any(|words| words.contains("start_address 40")), "{:?}", courses(&session));
    // What is played anew has a past of its own, to be gone back in.
    session.perform(Command::Undo);
    assert_eq!((value(&session), shown(&session)), (5, with(5)));
}

#[test]
fn what_lies_far_ahead_is_played_anew_in_turns() {
    let mut session = open(ROWS_BENCH);
    session.set_active_register(3);
    session.step_frames(200);
    session.set_active_register(7);
    let seventh = shown(&session);
    session.perform(Command::Reload);
    session.take_course(0);
    assert!(session.transport().goal().is_some() && value(&session) == 0, "it is on its way");
    let mut now = 0.0;
    while session.transport().goal().is_some() {
        now += 0.01;
        session.tick(now);
    }
    assert_eq!((value(&session), shown(&session)), (7, seventh));
    assert!(session.transport().frame_shown() > 200 && !session.transport().is_running());
    // Anything else that is done meanwhile takes its place.
    session.perform(Command::Reload);
    session.take_course(0);
    session.perform(Command::FrameOn);
    assert_eq!((session.transport().goal(), value(&session)), (None, 0));
    assert_eq!(courses(&session).len(), 1, "nothing is lost");
}

#[test]
fn another_board_and_back_keeps_the_past_of_each() {
    let mut session = open("harbour-256-plain");
    session.set_active_register(6);
    let sixth = shown(&session);
    session.switch_board("colour-graphics");
    assert!(courses(&session).is_empty(), "what was done on another board is none of this one's");
    session.switch_board("linear-256-plain");
    session.take_course(0);
    assert_eq!((value(&session), shown(&session)), (6, sixth.clone()));
    // And so does another bench.
    session.open_another("harbour-cg");
    session.open_another("harbour-256-plain");
    session.perform(Command::Redo);
    assert!(session.past().courses.iter().chain(&session.past().done).any(|words| words.contains("start_address 6")));
}

#[test]
fn what_makes_no_sense_any_more_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("keys.bench.ron");
    let source = backporch_bench::source_of("program-keys").unwrap().text().to_string();
    fs::write(&path, &source).unwrap();
    let mut session = open(path.to_str().unwrap());
    session.press(backporch_pc::Key::named("right").unwrap(), true);
    session.step_frames(2);
    let still: Vec<&str> = source.lines().filter(|line| !line.trim_start().starts_with("routine")).collect();
    fs::write(&path, still.join("\n")).unwrap();
    session.perform(Command::Reload);
    let said = session.message().unwrap();
    assert!(said.ends_with("; a course of events is lost: no program hears its keys"), "{said}");
    assert!(courses(&session).is_empty());
}

#[test]
fn saving_leaves_everything_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = open(ROWS_BENCH);
    session.write_to(folder.path());
    session.set_active_register(4);
    session.set_active_register(8);
    session.perform(Command::Undo);
    let before = (value(&session), session.transport().frame_shown(), session.past());
    for command in [Command::SaveBench, Command::SavePicture, Command::SaveCase] {
        session.perform(command);
        session.look_at_files();
        assert_eq!((value(&session), session.transport().frame_shown(), session.past()), before);
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 3);
}
