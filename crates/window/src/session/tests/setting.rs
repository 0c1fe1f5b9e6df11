//! What is set: registers, quirks, boards, workarounds.

use super::*;

#[test]
fn registers_are_listed_with_meaning_and_protection() {
    let session = open("harbour-256-plain");
    let rows = session.registers();
    let row = |name: &str| rows.iter().find(|row| row.name == name).unwrap();
    let displayed = row("displayed");
    assert_eq!((displayed.stored, displayed.quantity), (39, 40), "39 shows 40 characters (common practice)");
    assert_eq!(displayed.meaning(), "40 character clocks");
    assert!(displayed.protected && !displayed.differs());
    assert!(!row("start_address").protected);
    assert_eq!(row("start_address").cells, "CRTC 0Ch, 0Dh");
}

#[test]
fn protected_registers_are_written_both_ways() {
    for way in [WritePath::Ports, WritePath::Direct] {
        let mut session = open("harbour-256-plain");
        let displayed = session.bench().field("displayed").unwrap();
        session.set_register(displayed, 31, way).unwrap();
        assert_eq!(session.transport().frame(BoardSide::Faulty).picture_size(), (256, 200), "{way:?}");
        let row = session.registers().into_iter().find(|row| row.name == "displayed").unwrap();
        assert!(row.differs() && row.protected);
        assert!(session.set_register(displayed, 256, way).is_err());
    }
}

#[test]
fn quirks_are_switched_live() {
    let mut session = open(ROWS_BENCH);
    session.set_active_register(16);
    assert_eq!(session.inspection().damage().damaged_lines(), 50);
    session.perform(Command::AllQuirks);
    assert_eq!(session.inspection().damage().verdict(), Verdict::Clean);
    assert!(session.bench().quirks().is_empty());
    session.perform(Command::Quirk(0));
    assert_eq!(session.inspection().damage().damaged_lines(), 50);
    session.perform(Command::Quirk(99));
}

#[test]
fn the_quirks_listed_are_those_of_the_moment() {
    let mut session = open("harbour-256-plain");
    session.add_quirk("row-reload");
    session.set_active_register(1);
    let frame = session.transport().frame_shown();
    let listed = |session: &Session| (session.quirks().list().len(), session.bench().quirks().len());
    assert_eq!(listed(&session), (1, 1));
    session.jump(0).unwrap();
    assert_eq!(listed(&session), (0, 0), "it was not there yet");
    session.jump(frame).unwrap();
    assert_eq!(listed(&session), (1, 1), "played again");
    assert_eq!(session.inspection().damage().damaged_lines(), 50);
    // Something new in the past: the quirk never came.
    session.jump(0).unwrap();
    session.set_active_register(1);
    assert_eq!((listed(&session), session.inspection().damage().verdict()), ((0, 0), Verdict::Clean));
}

#[test]
fn quirks_are_added_tuned_and_taken_away() {
    let mut session = open("harbour-256-plain");
    session.add_quirk("row-reload");
    session.set_active_register(1);
    assert_eq!(session.inspection().damage().damaged_lines(), 50);
    let reloads = session.quirks().list()[0].quirk().parameters()["reloads"];
    assert_eq!(reloads, 1);
    // Two reloads a line are enough for 320 bytes on rows of 256 (derived).
    session.choose(0, "reloads", 1);
    assert_eq!(session.quirks().list()[0].quirk().parameters()["reloads"], 2);
    assert_eq!(session.inspection().damage().verdict(), Verdict::Clean);
    assert_eq!(session.bench_file().quirks[0].parameters["reloads"], 2);
    session.choose(0, "reloads", 99);
    session.choose(9, "no_such", 0);
    session.remove_quirk(0);
    assert!(session.quirks().list().is_empty());
    session.add_quirk("no-such-quirk");
    assert!(session.quirks().list().is_empty());
}

#[test]
fn the_same_bench_runs_on_the_next_board() {
    let mut session = open(ROWS_BENCH);
    session.set_active_register(3);
    session.switch_board("colour-graphics");
    assert_eq!(session.bench().adapter().name(), "colour-graphics");
    assert_eq!(session.bench_file().adapter, "colour-graphics");
    assert_eq!(session.sweep().active().name(), "start_address");
    session.perform(Command::AllQuirks);
    session.add_quirk("start-bits-stuck");
    session.switch_board("linear-256");
    assert_eq!(session.bench().adapter().name(), "linear-256");
    let fitted_quirks: Vec<(&str, bool)> =
        session.quirks().list().iter().map(|fitted| (fitted.name(), fitted.on)).collect();
    assert_eq!(fitted_quirks, [("row-reload", false), ("start-bits-stuck", true)], "the quirks come along");
}

#[test]
fn a_candidate_is_tried_whole_or_not_at_all() {
    let mut session = open(ROWS_BENCH);
    session.set_active_register(1);
    let bad = session.try_registers(&[("displayed".into(), 31), ("sync_position".into(), 999)]);
    assert_eq!(bad.unwrap_err().field(), Some("sync_position"));
    assert_eq!(session.transport().frame(BoardSide::Faulty).picture_size().0, 320);
    session.try_registers(&[("displayed".into(), 31), ("sync_position".into(), 38)]).unwrap();
    assert_eq!(session.transport().frame(BoardSide::Faulty).picture_size().0, 256);
    // 256 bytes a line never cross a second row (derived).
    assert_eq!(session.inspection().damage().verdict(), Verdict::Clean);
}

#[test]
fn a_workaround_is_found_and_tried() {
    let mut session = open(ROWS_BENCH);
    session.set_active_register(1);
    session.perform(Command::Workarounds);
    assert!(session.findings().searching().is_some() && session.findings().workarounds().is_none());
    search_to_the_end(&mut session);
    let workarounds = session.findings().workarounds().unwrap().clone();
    let holding = workarounds.list.iter().position(|workaround| workaround.holds).unwrap();
    session.try_workaround(holding);
    for start in [1, 2, 31, 33, 100] {
        session.set_active_register(start);
        assert_eq!(session.inspection().damage().verdict(), Verdict::Clean, "{workarounds:?} at {start}");
    }
    session.try_workaround(999);
    session.perform(Command::AllQuirks);
    assert!(session.findings().workarounds().is_none(), "other quirks, other workarounds");
}

fn search_to_the_end(session: &mut Session) {
    let began = std::time::Instant::now();
    while session.findings().searching().is_some() {
        assert!(began.elapsed().as_secs() < 300, "a search over one register set is short");
        std::thread::sleep(std::time::Duration::from_millis(5));
        session.tick(0.0);
    }
}

/// On the class as it is built no setting scrolls by two pixels, and tables do: two copies of 127 lines among them (derived from
/// the schematic of the class's controller). Each can be tried where the bench's own picture stands.
#[test]
fn tables_are_listed_after_settings() {
    let mut session = open("harbour-256");
    session.perform(Command::Workarounds);
    search_to_the_end(&mut session);
    let found = session.findings().workarounds().unwrap().clone();
    let tables: Vec<usize> = (0..found.list.len()).filter(|at| found.list[*at].words.contains("by table")).collect();
    assert!(tables.len() >= 2 && found.summary.contains("tables of starts"), "{}", found.summary);
    assert!(
        tables
            .iter()
            .any(|at| found.list[*at].words.starts_with("256 x 127") && found.list[*at].cost.contains("2 copies"))
    );
    for at in tables.into_iter().filter(|at| found.list[*at].holds) {
        session.try_workaround(at);
        assert_eq!(session.inspection().damage().verdict(), Verdict::Clean, "{}", found.list[at].words);
    }
}

/// A table's scroller runs in the machine beside the boards: with two copies every frame is its art, a pixel being its column
/// xor its line, two pixels on from the frame before; the list stays, with its filmstrips.
#[test]
fn the_scroller_of_a_table_runs_live() {
    let mut session = open("harbour-256");
    session.perform(Command::Workarounds);
    search_to_the_end(&mut session);
    let found = session.findings().workarounds().unwrap().clone();
    let copies = found.list.iter().position(|one| one.words.starts_with("256 x 127")).unwrap();
    let setting = found.list.iter().position(|one| one.program.is_none()).unwrap();
    assert!(found.list[copies].film.iter().all(|step| step.rgba.len() == (step.width * step.height) as usize));
    assert!(!found.list[copies].film.is_empty() && found.list[setting].film.is_empty());
    session.run_workaround(setting);
    assert!(session.routine().is_none(), "a setting has no scroller");
    session.run_workaround(copies);
    assert_eq!(session.routine().map(|routine| routine.title), Some("scroller.com".to_string()));
    assert_eq!(session.findings().workarounds(), Some(&found));
    let column = |session: &Session| {
        let frame = session.transport().frame(BoardSide::Faulty);
        let first = frame.value_at(0, 0)?;
        let meant = |x: u32, y: u32| first.wrapping_add(x as u8) ^ y as u8;
        let wide = frame.picture_size().0 == 256;
        let all = (0..127).all(|y| (0..256).all(|x| frame.value_at(x, y) == Some(meant(x, y))));
        (wide && all && frame.value_at(1, 0) == Some(first.wrapping_add(1))).then_some(first)
    };
    let begins = (0..200).find_map(|_| {
        session.perform(Command::FrameOn);
        column(&session)
    });
    let mut last = begins.expect("the scroll begins");
    let mut moved = 0;
    for _ in 0..30 {
        session.perform(Command::FrameOn);
        let now = column(&session).expect("every frame shows the art");
        moved += now.wrapping_sub(last) / 2;
        assert!(matches!(now.wrapping_sub(last), 0 | 2), "from {last} to {now}");
        last = now;
    }
    assert!(moved >= 28, "{moved}");
    session.perform(Command::Reload);
    assert!(session.routine().is_none(), "the bench is as it was");
}

#[test]
fn a_typed_value_that_does_not_fit_is_refused() {
    let mut session = open(ROWS_BENCH);
    session.set_active_register(3);
    let refused = session.enter_value(70_000).unwrap_err();
    assert_eq!((refused.found, refused.max), (70_000, 0xFFFF));
    assert_eq!(session.sweep().active().value(), 3, "it stays as it was");
    session.enter_value(0xFFFF).unwrap();
    assert_eq!(session.sweep().active().value(), 0xFFFF);
    let frame = session.transport().frame_shown();
    assert!(session.jump(2_000_000).is_err(), "too far");
    assert_eq!(session.transport().frame_shown(), frame);
}

#[test]
fn what_was_said_of_other_quirks_goes_with_them() {
    let mut session = open(ROWS_BENCH);
    session.report("trying 264 x 200");
    session.perform(Command::AllQuirks);
    assert_eq!(session.message(), Some("no quirk is switched on"));
    session.perform(Command::Quirk(0));
    assert_eq!(session.message(), Some("quirks: row-reload"));
}
