//! What is shown: pixels and where they come from, memory, signal, every class of board.

use super::*;

#[test]
fn a_pixel_leads_to_its_byte_and_back() {
    let mut session = open(ROWS_BENCH);
    session.set_active_register(1);
    session.inspect_pixel(BoardSide::Faulty, 319, 3);
    let moved = session.inspection().pixel().unwrap().provenance.clone();
    assert_ne!(moved.address, moved.plain_address);
    assert_eq!(moved.address_changes[0].quirk, "row-reload");
    let places = session.shown_at(BoardSide::Faulty, moved.address);
    assert!(places.contains(&PixelRun { x: 319, count: 1, line: 3 }), "{places:?}");
    assert!(session.shown_at(BoardSide::Plain, moved.plain_address).contains(&PixelRun { x: 319, count: 1, line: 3 }));

    session.set_active_register(0);
    assert_eq!(session.inspection().pixel().unwrap().provenance.address_changes, [], "the inspected pixel follows");
    session.inspect_pixel(BoardSide::Faulty, 320, 3);
    assert!(session.inspection().pixel().is_none());
}

#[test]
fn packed_pixels_share_their_byte() {
    let mut session = open("harbour-cg");
    session.inspect_pixel(BoardSide::Plain, 9, 1);
    let address = session.inspection().pixel().unwrap().provenance.address;
    // Odd lines lie in the second bank of 8 KiB, four pixels a byte (colour-graphics Technical Reference).
    assert_eq!(address, 0x2000 + 2);
    assert_eq!(session.shown_at(BoardSide::Plain, address), [PixelRun { x: 8, count: 4, line: 1 }]);
}

#[test]
fn the_raster_is_pointed_at_too() {
    let mut session = open("harbour-256-plain");
    session.perform(Command::RasterOrPicture);
    let canvas = session.canvas(false);
    assert_eq!((canvas.width, canvas.height), (800, 449), "VGA register documentation");
    session.inspect(&canvas, Some((21, 41)));
    let found = &session.inspection().pixel().unwrap().provenance;
    assert_eq!((found.x, found.picture_line), (10, 20));
    assert_eq!(session.on_tile(BoardSide::Faulty, 10, 20), Some((20, 40)));
    session.inspect(&canvas, Some((700, 41)));
    assert!(session.inspection().pixel().is_none(), "sync comes from no byte");
}

#[test]
fn looks_show_what_they_say() {
    let mut session = open(ROWS_BENCH);
    session.set_active_register(16);
    let faulty = session.canvas(false);
    session.perform(Command::BoardView(BoardView::Plain));
    let plain = session.canvas(false);
    assert_ne!(faulty.rgba, plain.rgba);
    session.perform(Command::BoardView(BoardView::Blink));
    assert_eq!(session.canvas(false).rgba, faulty.rgba);
    assert_eq!(session.canvas(true).rgba, plain.rgba);
    session.perform(Command::BoardView(BoardView::Beside));
    let beside = session.canvas(false);
    assert_eq!((beside.width, beside.height), (648, 200));
    assert_eq!(beside.tile_at(330), Some((beside.tiles[1], 2)));
    assert_eq!(beside.tile_at(322), None);
    session.perform(Command::BoardView(BoardView::Difference));
    let marked = session.canvas(false);
    let differing = faulty.rgba.iter().zip(&plain.rgba).filter(|(one, other)| one != other).count();
    assert_eq!(marked.rgba.iter().filter(|pixel| pixel[0] != pixel[1]).count(), differing);
}

#[test]
fn memory_is_mapped_with_what_shows_of_it() {
    let mut session = open("harbour-256-plain");
    let map = session.memory_map();
    assert_eq!((map.row_bytes, map.rows, map.byte_pixels), (320, 205, 1));
    assert_eq!(session.inspection().shown_memory().coverage().count(), 64_000);
    assert_eq!(map.place_of(321), (1, 1));
    assert_eq!(map.place_of(321), (1, 1));
    assert_eq!(session.inspection().shown_memory().newly_shown().count(), 0);
    session.set_active_register(1);
    assert_eq!(session.inspection().shown_memory().newly_shown().count(), 2, "one step shows one new word");
    session.perform(Command::ToggleMapRows);
    assert_eq!(session.memory_map().row_bytes, 256);

    let four = open("harbour-cg").memory_map();
    assert_eq!((four.byte_pixels, four.row_bytes, four.width()), (4, 80, 320));
}

#[test]
fn the_signal_is_judged_live() {
    let mut session = open("harbour-256-plain");
    assert!(!session.signal().is_refused());
    session.switch_monitor("fixed-15");
    assert!(session.signal().is_refused(), "31.5 kHz on a 15 kHz monitor");
    session.switch_monitor("fixed-31");
    let total = session.bench().field("horizontal_total").unwrap();
    session.set_register(total, 0, WritePath::Direct).unwrap();
    assert!(matches!(session.signal(), SignalView::Unstable(_)));
}

#[test]
fn every_class_of_board_opens_and_draws() {
    for board in backporch_adapter::ADAPTERS.names() {
        let overrides = Overrides { board: Some(board.to_string()), ..Overrides::default() };
        let mut session =
            Session::open("harbour-256-plain", &overrides).unwrap_or_else(|error| panic!("{board}: {error}"));
        session.step_frames(2);
        let picture = shown(&session);
        let mut colours = picture.rgba.clone();
        colours.sort_unstable();
        colours.dedup();
        assert!(picture.width >= 160 && colours.len() >= 2, "{board}: {} colours", colours.len());
        assert!(session.memory_map().rows > 0, "{board}");
        assert!(matches!(session.signal(), SignalView::Stable { .. }), "{board}");
        session.perform(Command::StepRegister(1));
        session.draw_thumbnails(4);
        session.inspect_pixel(BoardSide::Faulty, 100, 100);
        assert!(session.registers().len() > 10, "{board}");
    }
}

#[test]
fn planes_are_mapped_in_the_colours_of_the_screen() {
    for board in ["ega", "vga"] {
        let bench = if board == "vga" { "harbour-vga" } else { "harbour-256-plain" };
        let overrides = Overrides { board: Some(board.to_string()), ..Overrides::default() };
        let session = Session::open(bench, &overrides).unwrap();
        let (map, picture) = (session.memory_map(), shown(&session));
        let width = map.width().min(picture.width) as usize;
        assert!(width >= 320, "{board}");
        for line in [0, 50, 120] {
            let on_screen = &picture.rgba[line * picture.width as usize..][..width];
            assert_eq!(&map.rgba[line * map.width() as usize..][..width], on_screen, "{board}, line {line}");
        }
    }
}

#[test]
fn the_memory_map_is_of_one_time() {
    let mut session = open("harbour-256-plain");
    let width = session.bench().field("displayed").unwrap();
    let before = (session.memory_map(), session.inspection().memory_revision());
    session.set_register(width, 31, WritePath::Ports).unwrap();
    let after = session.memory_map();
    // The pitch of this class follows the width: 32 character clocks of 8 bytes (common practice).
    assert_eq!((before.0.row_bytes, after.row_bytes), (320, 256));
    let frames = session.transport().frame_shown();
    session.jump(0).unwrap();
    assert_eq!(session.memory_map(), before.0, "back at the start");
    // Played again, frame by frame: whenever the map is another one, its revision is, too.
    let mut last = (session.memory_map(), session.inspection().memory_revision());
    for _ in 0..frames {
        session.perform(Command::FrameOn);
        let now = (session.memory_map(), session.inspection().memory_revision());
        assert!(now.0 == last.0 || now.1 != last.1, "frame {}", session.transport().frame_shown());
        last = now;
    }
    assert_eq!(last.0, after);
}

#[test]
fn inside_a_frame_there_is_one_frame_number() {
    let mut session = open("harbour-256-plain");
    session.step_frames(3);
    assert_eq!(session.transport().frame_number(), 3);
    session.step_lines(10);
    assert_eq!(session.transport().frame_number(), session.transport().beam().frame);
    session.run_until(StopCondition::ScanLine(40));
    session.tick(0.0);
    let frame = session.transport().frame_number();
    assert_eq!(frame, session.transport().beam().frame);
    assert_eq!(session.message(), Some(format!("stopped in frame {frame}, line 40: scan line 40").as_str()));
}
