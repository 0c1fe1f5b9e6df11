//! The headline, hazards on the trail, three boards, writes against the beam, the tube.

use backporch_analysis::compare::Blame;
use backporch_hazards::HazardKind;

use super::*;

fn plain(name: &str) -> Session {
    Session::open(name, &Overrides { plain: true, ..Overrides::default() }).unwrap()
}

#[test]
fn code_timing_class_and_adapter_are_told_apart() {
    let of_board = |session: &Session| {
        let headline = session.headline();
        (headline.board, headline.board_blame, headline.blame())
    };
    let mut session = open("harbour-256-plain");
    assert_eq!(of_board(&session), (Verdict::Clean, Blame::None, Blame::None));
    assert_eq!((session.headline().routine, session.headline().board_words()), (None, "clean".to_string()));
    session.add_quirk("row-reload");
    session.set_active_register(1);
    assert_eq!(of_board(&session), (Verdict::EdgeDamaged, Blame::Adapter, Blame::Adapter));

    // One row transfer a line, by design (reverse-engineered schematic of display controller gate array 72X8300).
    let mut session = open("harbour-256");
    session.set_active_register(1);
    assert_eq!(of_board(&session), (Verdict::EdgeDamaged, Blame::Class, Blame::Class));
    assert_eq!(session.headline().board_words(), "edge-damaged: class, by design");
    // Bit 0 of the start address stuck on top of it shows the picture of start address 0.
    session.add_quirk("start-bits-stuck");
    assert_eq!(of_board(&session), (Verdict::Broken, Blame::Adapter, Blame::Adapter));

    // A healthy board under a routine with a mistake of timing: the board is clean, the whole is not.
    let mut session = plain("scroll-late");
    session.step_frames(12);
    let headline = session.headline();
    assert_eq!((headline.board, headline.board_blame), (Verdict::Clean, Blame::None));
    let routine = headline.routine.clone().unwrap();
    assert!(routine.hazards > 0 && routine.kinds.contains(&HazardKind::LateStart), "{routine:?}");
    assert_eq!((headline.blame(), routine.words()), (Blame::Timing, format!("{} hazards: timing", routine.hazards)));

    let mut session = plain("scroll-clean");
    session.step_frames(12);
    assert_eq!(session.headline().blame(), Blame::None);
    assert_eq!(session.headline().routine.unwrap().words(), "no hazard so far");
}

#[test]
fn the_board_is_shown_in_three_layers() {
    let mut session = open("harbour-256");
    session.add_quirk("start-bits-stuck");
    session.set_active_register(3);
    let bench = session.bench().clone();
    let registers = session.transport().boards().intended.clone();
    let picture = |frame: backporch_raster::Frame| frame.picture(View::Picture).rgba;
    let wanted = [
        (BoardView::Plain, picture(bench.plain(&registers).run_frame())),
        (BoardView::Built, picture(bench.by_design(&registers).run_frame())),
        (BoardView::Faulty, picture(bench.faulty(&registers).run_frame())),
    ];
    for (view, rgba) in &wanted {
        session.perform(Command::BoardView(*view));
        assert!(session.canvas(false).rgba == *rgba, "{}", view.words());
    }
    assert!(wanted[0].1 != wanted[1].1 && wanted[1].1 != wanted[2].1, "three boards, three pictures");
    session.perform(Command::BoardView(BoardView::Three));
    let canvas = session.canvas(false);
    let sides: Vec<BoardSide> = canvas.tiles.iter().map(|tile| tile.side).collect();
    assert_eq!(sides, [BoardSide::Plain, BoardSide::Built, BoardSide::Faulty]);
    let (x, y) = (canvas.tiles[1].x + 319, 3);
    assert_eq!(canvas.rgba[(y * canvas.width + x) as usize], wanted[1].1[(y * 320 + 319) as usize]);
    // A pixel of the board as built leads to the byte that board fetched.
    session.inspect(&canvas, Some((x, y)));
    let found = session.inspection().pixel().unwrap();
    assert_eq!(found.side, BoardSide::Built);
    assert_ne!(found.provenance.address, found.provenance.plain_address);

    // Pixels that differ by design have a colour of their own.
    session.perform(Command::AllQuirks);
    session.perform(Command::BoardView(BoardView::Difference));
    let coloured: std::collections::BTreeSet<_> =
        session.canvas(false).rgba.into_iter().filter(|pixel| pixel[0] != pixel[2]).collect();
    assert_eq!(coloured.len(), 1, "by design alone");
    // Where a class does nothing by design it is built as it is meant.
    let mut cg = open("harbour-cg");
    cg.set_active_register(3);
    assert_eq!(cg.transport().frame(BoardSide::Built), cg.transport().frame(BoardSide::Plain));
}

#[test]
fn three_boards_go_back_together() {
    let mut session = open("harbour-256");
    session.add_quirk("start-bits-stuck");
    let mut seen = Vec::new();
    for start in 0..6 {
        session.set_active_register(start);
        let frames =
            [BoardSide::Plain, BoardSide::Built, BoardSide::Faulty].map(|side| session.transport().frame(side).clone());
        seen.push((session.transport().frame_shown(), frames));
    }
    for (frame, wanted) in seen.into_iter().rev() {
        session.jump(frame).unwrap();
        let frames =
            [BoardSide::Plain, BoardSide::Built, BoardSide::Faulty].map(|side| session.transport().frame(side).clone());
        assert_eq!(frames, wanted, "frame {frame}");
    }
}

#[test]
fn hazards_are_gone_to_frame_and_beam() {
    let mut session = plain("scroll-late");
    session.perform(Command::NextHazard);
    assert_eq!(session.message(), Some("no hazard is known from here on: run further"));
    session.step_frames(20);
    let all: Vec<_> = (0..=session.transport().frame_shown())
        .flat_map(|frame| session.inspection().hazards().of_frame(frame).cloned().collect::<Vec<_>>())
        .collect();
    assert_eq!(all.len(), session.headline().routine.unwrap().hazards, "every one of them is on the trail");
    session.perform(Command::FirstFrame);
    assert_eq!(session.headline().routine.unwrap().hazards, all.len(), "it is still known what comes");
    // The first frame stays whole: what was made in it is looked at where it ends.
    let first_end = 800 * 449;
    for hazard in all.iter().take(4) {
        session.perform(Command::NextHazard);
        assert_eq!(session.standing_at(), Some(hazard.as_ref()));
        let made = hazard.made.unwrap().max(first_end);
        let beam = session.transport().beam();
        assert!((made..made + 32).contains(&beam.dot), "made at {made}, the beam stands at {}", beam.dot);
        // The line of a late write is that of the write itself.
        if hazard.kind == HazardKind::LateStart && made > first_end {
            assert_eq!(beam.scan_line, hazard.line, "{hazard:?}");
        }
        assert!(session.message().unwrap().starts_with(&format!("{} in frame {}", hazard.kind, hazard.frame)));
    }
    session.perform(Command::PreviousHazard);
    assert_eq!(session.standing_at(), Some(all[2].as_ref()));
    // Something new in the past: hazards that came after are no longer known.
    session.jump(1).unwrap();
    let width = session.bench().field("displayed").unwrap();
    session.set_register(width, 31, WritePath::Ports).unwrap();
    let last = session.transport().frame_shown();
    assert!((last + 1..last + 20).all(|frame| session.inspection().hazards().of_frame(frame).next().is_none()));
}

#[test]
fn writes_stand_where_the_beam_was() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.bench.ron");
    let bench = "(version: 1, adapter: \"linear-256\", picture: (source: \"harbour\"), routine: \"run.csv\")";
    fs::write(&path, bench).unwrap();
    // Frames have 449 lines of 800 dots (VGA register documentation): dot 800 000 begins line 102 of frame 2.
    let trace = "dot,kind,address,value\n800000,port,0x3D4,0x050D\n800400,memory,0x0010,0x07\n";
    fs::write(folder.path().join("run.csv"), trace).unwrap();
    let mut session = open(path.to_str().unwrap());
    let write = |dot, what| BusWrite { line: 102, dot, what };
    session.step_frames(1);
    assert_eq!(session.transport().writes(), []);
    session.step_frames(1);
    let both = [write(0, WriteTarget::Port(0x3D4)), write(400, WriteTarget::Memory(0x10))];
    assert_eq!(session.transport().writes(), both);
    // Inside the frame only what the beam has passed.
    session.jump(1).unwrap();
    session.step_lines(102);
    session.step_chars(3);
    assert_eq!(session.transport().writes(), &both[..1]);
}

#[test]
fn a_narrow_picture_is_narrow_on_its_tube() {
    let mut session = open("harbour-256-plain");
    assert_eq!(session.tube_place(), TubePlace::WHOLE);
    session.try_registers(&[("displayed".into(), 31)]).unwrap();
    let place = session.tube_place();
    // 256 of 320 pixels, sync where it was.
    assert!((place.width - 0.8).abs() < 1e-6 && place.x.abs() < 1e-6 && place.height == 1.0, "{place:?}");
    session.try_registers(&[("sync_position".into(), 38)]).unwrap();
    assert!(session.tube_place().x > 0.0, "an earlier sync moves it to the right");
}
