//! The session, tried without a display.
//!
//! Numbers of the row-reload fault are those of the model in the trade's own
//! terms: 320 bytes a line on memory rows of 256 bytes, reloaded once a line
//! (derived; see the analysis tests, which check them against strided views).

use std::fs;

use backporch_analysis::Verdict;
use backporch_bench::{Bench, Wishes};
use backporch_raster::{Picture, View};

use super::*;

fn open(name: &str) -> Session {
    Session::open(name, &Wishes::default()).unwrap()
}

/// What the `frame` command shows: the first frame of a board set up with the register.
fn frame_of(bench: &str, register: &str, value: u64) -> Picture {
    let wishes = Wishes { set: vec![(register.to_string(), value)], ..Wishes::default() };
    let bench = Bench::open(bench, &wishes).unwrap();
    bench.faulty(bench.registers()).run_frame().picture(View::Picture)
}

fn shown(session: &Session) -> Picture {
    session.frame(Side::Faulty).picture(View::Picture)
}

#[test]
fn it_opens_on_the_first_frame() {
    let session = open("harbour-256-rows");
    assert_eq!(session.frame_shown(), 0);
    assert!(!session.is_running() && !session.is_mid_frame());
    assert_eq!(shown(&session), frame_of("harbour-256-rows", "start_address", 0));
    assert_eq!(session.damage().verdict(), Verdict::Clean);
    let canvas = session.canvas(false);
    assert_eq!((canvas.width, canvas.height), (320, 200));
}

#[test]
fn a_step_by_hand_shows_what_a_fresh_board_shows() {
    let mut session = open("harbour-256-rows");
    for value in 1..=5 {
        session.perform(Command::Step(1));
        assert_eq!(session.hand().value(), value);
        assert_eq!(shown(&session), frame_of("harbour-256-rows", "start_address", u64::from(value)), "step {value}");
    }
    session.set_hand(1);
    let step = session.hand().seen(1).unwrap();
    assert_eq!((step.verdict, step.damage.damaged_lines()), (Verdict::EdgeDamaged, 50));
    assert_eq!(step.damage.x, Some(318..=319), "the last two pixels");
    assert_eq!(step.pattern.map(|pattern| (pattern.period, pattern.phase)), Some((4, 3)));
}

#[test]
fn the_period_is_found_by_hand_and_on_the_strip() {
    let mut session = open("harbour-256-rows");
    assert_eq!(session.hand().period(), None);
    for _ in 0..64 {
        session.perform(Command::Step(1));
    }
    assert_eq!(session.hand().seen_count(), 65);
    assert_eq!(session.hand().period(), Some(32));
    session.set_hand(7);
    while !session.strip().is_whole() {
        session.draw_thumbs(8);
    }
    assert_eq!(session.strip().range(), (0, 63));
    assert_eq!(session.strip().period(), Some(32));
    let clean: Vec<u32> =
        (0..64).filter(|at| session.strip().cell(*at).unwrap().step.verdict == Verdict::Clean).collect();
    assert_eq!(clean, [0, 32]);
}

#[test]
fn the_hand_stays_inside_its_register() {
    let mut session = open("harbour-256-rows");
    session.perform(Command::Step(-1));
    assert_eq!(session.hand().value(), 0);
    session.set_hand(u32::MAX);
    assert_eq!(session.hand().value(), 0xFFFF);
    session.perform(Command::Step(i32::MAX));
    assert_eq!(session.hand().value(), 0xFFFF);
    session.perform(Command::ToOrigin);
    assert_eq!((session.hand().value(), session.hand().step()), (0, 0));
}

#[test]
fn going_back_shows_the_earlier_frames_again() {
    let mut session = open("harbour-256-rows");
    let mut pictures = vec![shown(&session)];
    for step in 0..40 {
        if step % 3 == 0 {
            session.pending.push(Act::Turn { field: session.hand.field, value: step });
        }
        if step == 17 {
            session.rack[0].on = false;
            let act = Act::Quirks { quirks: Vec::new(), seed: 0 };
            session.pending.push(act);
        }
        session.perform(Command::FrameOn);
        let frame = session.frame_shown() as usize;
        pictures.resize(frame + 1, shown(&session));
        pictures[frame] = shown(&session);
    }
    let last = session.frame_shown();
    for frame in (0..last).rev() {
        session.perform(Command::FrameBack);
        assert_eq!(session.frame_shown(), frame);
        assert_eq!(shown(&session), pictures[frame as usize], "frame {frame}");
    }
    session.perform(Command::FrameBack);
    assert_eq!(session.frame_shown(), 0, "before the first frame there is nothing");
    assert!(session.replays());
    session.jump(last);
    while session.is_running() {
        session.tick(0.0);
    }
    assert_eq!(shown(&session), pictures[last as usize], "played again");
}

#[test]
fn something_new_in_the_past_forgets_what_came_after() {
    let mut session = open("harbour-256-rows");
    session.set_hand(9);
    let nine = session.frame_shown();
    session.perform(Command::FirstFrame);
    assert_eq!(session.hand().value(), 0);
    session.set_hand(3);
    session.perform(Command::FrameOn);
    session.jump(nine + 8);
    assert_eq!(session.hand().value(), 3);
    assert_eq!(shown(&session), frame_of("harbour-256-rows", "start_address", 3));
}

#[test]
fn a_long_past_is_kept_in_few_snapshots() {
    let mut session = open("harbour-256");
    session.set_hand(5);
    for _ in 0..1500 {
        session.tape.finish_frame(&session.bench);
    }
    session.refresh();
    session.jump(1);
    session.jump(2);
    assert_eq!(shown(&session), frame_of("harbour-256", "start_address", 5));
}

#[test]
fn lines_and_character_clocks_move_the_beam() {
    let mut session = open("harbour-256-rows");
    let start = session.beam();
    session.perform(Command::CharOn);
    assert_eq!((session.beam().char, session.beam().line_dot), (1, 16));
    assert!(session.is_mid_frame());
    session.perform(Command::LineOn);
    assert_eq!((session.beam().scan_line, session.beam().line_dot), (1, 0));
    session.step_lines(9);
    session.step_chars(7);
    assert_eq!((session.beam().scan_line, session.beam().char), (10, 7));
    session.perform(Command::CharBack);
    assert_eq!((session.beam().scan_line, session.beam().char), (10, 6));
    session.perform(Command::LineBack);
    assert_eq!((session.beam().scan_line, session.beam().char), (10, 0));
    session.perform(Command::LineBack);
    assert_eq!((session.beam().scan_line, session.beam().char), (9, 0));
    session.step_lines(-9);
    assert_eq!(session.beam(), start);
    session.perform(Command::LineBack);
    assert_eq!(session.beam(), start, "the first frame stays whole");
    session.perform(Command::FrameBack);
    assert_eq!(session.frame_shown(), 0);
}

#[test]
fn inside_a_frame_the_canvas_shows_both_frames() {
    let mut session = open("harbour-256");
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
    session.set_register(set, 1, Way::Ports).unwrap();
    assert_eq!(session.beam().scan_line, 80, "the beam stays");
    session.perform(Command::FrameOn);
    let after = shown(&session);
    let rows = |picture: &Picture, from: usize, to: usize| picture.rgba[from * 320..to * 320].to_vec();
    assert_eq!(rows(&after, 0, 80), rows(&before, 0, 80));
    assert_ne!(rows(&after, 80, 200), rows(&before, 80, 200));
}

#[test]
fn registers_are_listed_with_meaning_and_protection() {
    let session = open("harbour-256");
    let rows = session.registers();
    let row = |name: &str| rows.iter().find(|row| row.name == name).unwrap();
    let displayed = row("displayed");
    assert_eq!((displayed.stored, displayed.quantity), (39, 40), "39 shows 40 characters (common practice)");
    assert_eq!(displayed.meaning(), "40 character clocks");
    assert!(displayed.protected && !displayed.differs());
    assert!(!row("start_address").protected);
    assert_eq!(row("start_address").cells, "Crtc 0Ch, 0Dh");
}

#[test]
fn protected_registers_are_written_both_ways() {
    for way in [Way::Ports, Way::Past] {
        let mut session = open("harbour-256");
        let displayed = session.bench().field("displayed").unwrap();
        session.set_register(displayed, 31, way).unwrap();
        assert_eq!(session.frame(Side::Faulty).picture_size(), (256, 200), "{way:?}");
        let row = session.registers().into_iter().find(|row| row.name == "displayed").unwrap();
        assert!(row.differs() && row.protected);
        assert!(session.set_register(displayed, 256, way).is_err());
    }
}

#[test]
fn quirks_are_switched_live() {
    let mut session = open("harbour-256-rows");
    session.set_hand(16);
    assert_eq!(session.damage().damaged_lines(), 50);
    session.perform(Command::AllQuirks);
    assert_eq!(session.damage().verdict(), Verdict::Clean);
    assert!(session.bench().quirks().is_empty());
    session.perform(Command::Quirk(0));
    assert_eq!(session.damage().damaged_lines(), 50);
    session.perform(Command::Quirk(99));
}

#[test]
fn quirks_are_added_tuned_and_taken_away() {
    let mut session = open("harbour-256");
    session.add_quirk("row-reload");
    session.set_hand(1);
    assert_eq!(session.damage().damaged_lines(), 50);
    let reloads = session.rack()[0].quirk().parameters()["reloads"];
    assert_eq!(reloads, 1);
    // Two reloads a line are enough for 320 bytes on rows of 256 (derived).
    session.choose(0, "reloads", 1);
    assert_eq!(session.rack()[0].quirk().parameters()["reloads"], 2);
    assert_eq!(session.damage().verdict(), Verdict::Clean);
    assert_eq!(session.bench_file().quirks[0].parameters["reloads"], 2);
    session.choose(0, "reloads", 99);
    session.choose(9, "no_such", 0);
    session.remove_quirk(0);
    assert!(session.rack().is_empty());
    session.add_quirk("no-such-quirk");
    assert!(session.rack().is_empty());
}

#[test]
fn the_trail_remembers_verdicts_and_forgets_another_future() {
    let mut session = open("harbour-256-rows");
    session.set_hand(1);
    let damaged = session.frame_shown();
    session.step_frames(5);
    assert_eq!(session.trail().verdict(damaged), Some(Verdict::EdgeDamaged));
    assert_eq!((session.trail().verdict(0), session.trail().last()), (Some(Verdict::Clean), damaged + 5));
    session.jump(0);
    assert_eq!(session.trail().last(), damaged + 5, "looking back forgets nothing");
    session.set_hand(2);
    assert_eq!(session.trail().last(), 2);
}

#[test]
fn a_run_waits_for_damage_or_a_change() {
    let mut session = open("harbour-256-rows");
    session.run_until(Until::Damage);
    session.tick(0.0);
    session.tick(0.5);
    assert!(session.is_running(), "nothing is damaged yet");
    session.set_hand(1);
    session.tick(0.6);
    assert!(!session.is_running());
    assert_eq!(session.damage().verdict(), Verdict::EdgeDamaged);
    assert!(session.said().unwrap().contains("a damaged frame"));

    session.run_until(Until::RegisterChange);
    session.tick(1.0);
    assert!(session.is_running());
    session.set_hand(2);
    session.tick(1.1);
    assert!(!session.is_running());
}

#[test]
fn running_keeps_the_boards_rate() {
    let mut session = open("harbour-256");
    assert!((session.frame_rate_hz() - 70.09).abs() < 0.01, "VGA register documentation: 25.175 MHz / (800 * 449)");
    session.perform(Command::RunOrPause);
    for ms in 0..1000 {
        session.tick(f64::from(ms) / 1000.0);
    }
    assert!((70..=72).contains(&session.frame_shown()), "{}", session.frame_shown());
    session.perform(Command::RunOrPause);
    let frame = session.frame_shown();
    session.tick(2.0);
    assert_eq!(session.frame_shown(), frame);
}

#[test]
fn a_turned_register_shows_within_two_frames() {
    let mut session = open("harbour-256-rows");
    session.perform(Command::RunOrPause);
    session.tick(0.0);
    let before = session.frame_shown();
    session.perform(Command::Step(1));
    session.tick(1.0 / 70.0);
    session.tick(2.0 / 70.0);
    assert!(session.frame_shown() <= before + 3);
    assert_eq!(shown(&session), frame_of("harbour-256-rows", "start_address", 1));
    assert!(session.hand().seen(1).is_some());
}

#[test]
fn a_broken_file_is_shown_and_the_last_good_state_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.bench.ron");
    let good = "(version: 1, adapter: \"linear-256\", picture: (source: \"harbour\", scroll: Redrawn))";
    fs::write(&path, good).unwrap();
    let mut session = open(path.to_str().unwrap());
    session.set_hand(4);
    let picture = shown(&session);

    fs::write(&path, "(version: 1,\n adapter: \"linear-257\")").unwrap();
    session.look_at_files();
    let problem = session.problem().unwrap();
    assert_eq!((problem.line(), problem.field()), (Some(2), Some("adapter")));
    assert_eq!(shown(&session), picture);
    session.perform(Command::FrameOn);
    assert!(session.problem().is_some(), "it stays until mended");

    fs::write(&path, good.replace("linear-256", "colour-graphics")).unwrap();
    session.look_at_files();
    assert!(session.problem().is_none());
    assert_eq!(session.bench().adapter().name(), "colour-graphics");
}

#[test]
fn a_bench_that_is_not_there_leaves_all_as_it_was() {
    let mut session = open("harbour-256");
    session.open_another("no-such-bench");
    assert!(session.problem().is_some());
    assert_eq!(session.name(), "harbour-256");
    session.open_another("harbour-cg");
    assert!(session.problem().is_none());
    assert_eq!(session.name(), "harbour-cg");
}

#[test]
fn what_was_set_up_comes_back_from_its_file() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = open("harbour-256-rows");
    session.write_to(folder.path());
    session.set_hand(5);
    let displayed = session.bench().field("displayed").unwrap();
    session.set_register(displayed, 37, Way::Ports).unwrap();
    session.perform(Command::SaveBench);
    let path = folder.path().join("harbour-256-rows-1.bench.ron");
    let mut again = open(path.to_str().unwrap());
    assert_eq!(shown(&again), shown(&session));
    assert_eq!(again.rack().len(), 1);
    assert_eq!(again.bench_file(), session.bench_file());

    again.write_to(folder.path());
    again.perform(Command::AllQuirks);
    again.perform(Command::SaveBench);
    assert!(folder.path().join("harbour-256-rows-1-1.bench.ron").exists());
}

#[test]
fn the_same_bench_runs_on_the_next_board() {
    let mut session = open("harbour-256-rows");
    session.set_hand(3);
    session.switch_board("colour-graphics");
    assert_eq!(session.bench().adapter().name(), "colour-graphics");
    assert_eq!(session.bench_file().adapter, "colour-graphics");
    assert_eq!(session.hand().name(), "start_address");
    session.perform(Command::AllQuirks);
    session.add_quirk("start-bits-stuck");
    session.switch_board("linear-256");
    assert_eq!(session.bench().adapter().name(), "linear-256");
    let rack: Vec<(&str, bool)> = session.rack().iter().map(|fitted| (fitted.name(), fitted.on)).collect();
    assert_eq!(rack, [("row-reload", false), ("start-bits-stuck", true)], "the rack comes along");
}

#[test]
fn a_pixel_leads_to_its_byte_and_back() {
    let mut session = open("harbour-256-rows");
    session.set_hand(1);
    session.point_at(Side::Faulty, 319, 3);
    let bent = session.finger().unwrap().provenance.clone();
    assert_ne!(bent.address, bent.healthy_address);
    assert_eq!(bent.bends[0].quirk, "row-reload");
    let places = session.shown_at(Side::Faulty, bent.address);
    assert!(places.contains(&Pixels { x: 319, count: 1, line: 3 }), "{places:?}");
    assert!(session.shown_at(Side::Healthy, bent.healthy_address).contains(&Pixels { x: 319, count: 1, line: 3 }));

    session.set_hand(0);
    assert_eq!(session.finger().unwrap().provenance.bends, [], "the finger follows");
    session.point_at(Side::Faulty, 320, 3);
    assert!(session.finger().is_none());
}

#[test]
fn packed_pixels_share_their_byte() {
    let mut session = open("harbour-cg");
    session.point_at(Side::Healthy, 9, 1);
    let address = session.finger().unwrap().provenance.address;
    // Odd lines lie in the second bank of 8 KiB, four pixels a byte (colour-graphics Technical Reference).
    assert_eq!(address, 0x2000 + 2);
    assert_eq!(session.shown_at(Side::Healthy, address), [Pixels { x: 8, count: 4, line: 1 }]);
}

#[test]
fn the_raster_is_pointed_at_too() {
    let mut session = open("harbour-256");
    session.perform(Command::RasterOrPicture);
    let canvas = session.canvas(false);
    assert_eq!((canvas.width, canvas.height), (800, 449), "VGA register documentation");
    session.point(&canvas, Some((21, 41)));
    let found = &session.finger().unwrap().provenance;
    assert_eq!((found.x, found.picture_line), (10, 20));
    assert_eq!(session.on_tile(Side::Faulty, 10, 20), Some((20, 40)));
    session.point(&canvas, Some((700, 41)));
    assert!(session.finger().is_none(), "sync comes from no byte");
}

#[test]
fn looks_show_what_they_say() {
    let mut session = open("harbour-256-rows");
    session.set_hand(16);
    let faulty = session.canvas(false);
    session.perform(Command::Look(Look::Healthy));
    let healthy = session.canvas(false);
    assert_ne!(faulty.rgba, healthy.rgba);
    session.perform(Command::Look(Look::Blink));
    assert_eq!(session.canvas(false).rgba, faulty.rgba);
    assert_eq!(session.canvas(true).rgba, healthy.rgba);
    session.perform(Command::Look(Look::Beside));
    let beside = session.canvas(false);
    assert_eq!((beside.width, beside.height), (648, 200));
    assert_eq!(beside.tile_at(330), Some((beside.tiles[1], 2)));
    assert_eq!(beside.tile_at(322), None);
    session.perform(Command::Look(Look::Difference));
    let marked = session.canvas(false);
    let differing = faulty.rgba.iter().zip(&healthy.rgba).filter(|(one, other)| one != other).count();
    assert_eq!(marked.rgba.iter().filter(|pixel| pixel[0] != pixel[1]).count(), differing);
}

#[test]
fn memory_is_mapped_with_what_shows_of_it() {
    let mut session = open("harbour-256");
    let map = session.memory_map();
    assert_eq!((map.row_bytes, map.rows, map.byte_pixels), (320, 205, 1));
    assert_eq!(session.cover().count(), 64_000);
    assert_eq!(map.place_of(321), (1, 1));
    assert_eq!(map.place_of(321), (1, 1));
    assert_eq!(session.entered().count(), 0);
    session.set_hand(1);
    assert_eq!(session.entered().count(), 2, "one step shows one new word");
    session.perform(Command::MapRows);
    assert_eq!(session.memory_map().row_bytes, 256);

    let four = open("harbour-cg").memory_map();
    assert_eq!((four.byte_pixels, four.row_bytes, four.width()), (4, 80, 320));
}

#[test]
fn the_signal_is_judged_live() {
    let mut session = open("harbour-256");
    assert!(!session.signal().is_refused());
    session.switch_monitor("fixed-15");
    assert!(session.signal().is_refused(), "31.5 kHz on a 15 kHz monitor");
    session.switch_monitor("fixed-31");
    let total = session.bench().field("horizontal_total").unwrap();
    session.set_register(total, 0, Way::Past).unwrap();
    assert!(matches!(session.signal(), SignalView::Unstable(_)));
}

#[test]
fn sightings_are_noted_and_saved() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = open("harbour-256-rows");
    session.write_to(folder.path());
    session.perform(Command::SaveSightings);
    assert!(!folder.path().join("harbour-256-rows-1.sightings.ron").exists());
    session.perform(Command::Note(Verdict::Clean));
    session.perform(Command::Step(1));
    session.pick_line(7);
    session.pick_line(3);
    session.pick_line(9);
    session.pick_line(9);
    session.perform(Command::Note(Verdict::Broken));
    session.perform(Command::TakeBack);
    assert_eq!(session.notes().noted().len(), 1);
    session.pick_line(3);
    session.pick_line(7);
    session.perform(Command::Note(Verdict::EdgeDamaged));
    assert_eq!(session.notes().noted().len(), 2);
    assert!(session.notes().unsaved());
    session.perform(Command::SaveSightings);
    assert!(!session.notes().unsaved());
    let text = fs::read_to_string(folder.path().join("harbour-256-rows-1.sightings.ron")).unwrap();
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    assert!(lines.contains(&"bench: \"harbour-256-rows\","), "{text}");
    assert!(lines.contains(&"(at: 0, saw: \"clean\"),"), "{text}");
    assert!(lines.contains(&"(at: 1, saw: \"edge-damaged, lines 3 7\"),"), "{text}");
    assert_eq!(text.matches("over:").count(), 1, "one experiment: {text}");
}

#[test]
fn pictures_and_recordings_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = open("harbour-256");
    session.write_to(folder.path());
    session.perform(Command::KeepPicture);
    let kept = image::open(folder.path().join("harbour-256-1.png")).unwrap().to_rgb8();
    let wanted: Vec<u8> = shown(&session).rgba.iter().flat_map(|pixel| pixel[..3].to_vec()).collect();
    assert_eq!(kept.as_raw(), &wanted);

    session.perform(Command::Record);
    session.step_frames(3);
    assert_eq!(session.recorded(), Some(3));
    session.perform(Command::Record);
    let file = std::io::BufReader::new(fs::File::open(folder.path().join("harbour-256-2.png")).unwrap());
    let mut reader = png::Decoder::new(file).read_info().unwrap();
    assert_eq!(reader.info().animation_control().unwrap().num_frames, 3);
    let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut pixels).unwrap();
    assert_eq!(pixels, wanted);

    session.perform(Command::Record);
    session.perform(Command::Record);
    assert!(session.said().unwrap().contains("at least one frame"));
}

#[test]
fn a_candidate_is_tried_whole_or_not_at_all() {
    let mut session = open("harbour-256-rows");
    session.set_hand(1);
    let bad = session.try_registers(&[("displayed".into(), 31), ("sync_position".into(), 999)]);
    assert_eq!(bad.unwrap_err().field(), Some("sync_position"));
    assert_eq!(session.frame(Side::Faulty).picture_size().0, 320);
    session.try_registers(&[("displayed".into(), 31), ("sync_position".into(), 38)]).unwrap();
    assert_eq!(session.frame(Side::Faulty).picture_size().0, 256);
    // 256 bytes a line never cross a second row (derived).
    assert_eq!(session.damage().verdict(), Verdict::Clean);
}

#[test]
fn a_workaround_is_found_and_tried() {
    let mut session = open("harbour-256-rows");
    session.set_hand(1);
    session.perform(Command::Workarounds);
    assert!(session.searching().is_some() && session.offers().is_none());
    let began = std::time::Instant::now();
    while session.searching().is_some() {
        assert!(began.elapsed().as_secs() < 300, "a search over one register set is short");
        std::thread::sleep(std::time::Duration::from_millis(5));
        session.tick(0.0);
    }
    let offers = session.offers().unwrap().clone();
    let holding = offers.offers.iter().position(|offer| offer.holds).unwrap();
    session.try_offer(holding);
    for start in [1, 2, 31, 33, 100] {
        session.set_hand(start);
        assert_eq!(session.damage().verdict(), Verdict::Clean, "{offers:?} at {start}");
    }
    session.try_offer(999);
    session.perform(Command::AllQuirks);
    assert!(session.offers().is_none(), "other quirks, other workarounds");
}

#[test]
fn a_routine_drives_both_boards_as_it_drives_one_alone() {
    let mut session = open("scroll-clean");
    let bench = Bench::open("scroll-clean", &Wishes::default()).unwrap();
    let mut alone = Drive::of(&bench, Path::new("")).unwrap().unwrap();
    let mut board = bench.faulty(bench.registers());
    let mut pictures = Vec::new();
    for frame in 0..12u64 {
        let whole = loop {
            let next = alone.next_until(board.beam().dot + 5000);
            if let Some(whole) = board.run_towards(next.map_or(board.beam().dot + 5000, |(dot, _)| dot)) {
                break whole;
            }
            if let Some((_, access)) = next {
                pair::access_board(&mut board, access);
                alone.done();
            }
        };
        assert_eq!(session.frame_shown(), frame);
        assert_eq!(shown(&session), whole.picture(View::Picture), "frame {frame}");
        assert_eq!(session.damage().verdict(), Verdict::Clean, "no quirk, no damage");
        pictures.push(shown(&session));
        session.perform(Command::FrameOn);
    }
    // Two words of two bytes a frame, once the first start address is taken over.
    assert!(session.hand().value() >= 10, "the register in hand follows: {}", session.hand().value());
    assert!(pictures[3] != pictures[4], "it scrolls");
    session.jump(4);
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
    session.run_until(Until::Hazard);
    let mut now = 0.0;
    while session.is_running() && now < 60.0 {
        session.tick(now);
        now += 0.02;
    }
    assert!(!session.is_running());
    assert!(session.said().unwrap().starts_with("stopped at frame"), "{:?}", session.said());
    assert!(session.frame_shown() < 6, "the first scroll is late already");
    session.step_frames(6);
    let routine = session.routine().unwrap();
    assert_eq!(routine.cpu, "16bit-8");
    let kinds: Vec<&str> = routine.hazards.iter().map(|one| one.kind.name()).collect();
    assert!(kinds.contains(&"late-start"), "{kinds:?}");

    let mut clean = open("scroll-clean");
    // To and fro, past both turns.
    clean.step_frames(620);
    assert_eq!(clean.routine().unwrap().hazards, [], "a clean routine has none");

    let mut none = open("harbour-256");
    none.run_until(Until::Hazard);
    assert!(!none.is_running());
    assert!(none.said().unwrap().contains("no routine"));
}

#[test]
fn a_hand_and_quirks_may_meddle_with_a_routine() {
    let mut session = open("scroll-clean");
    session.add_quirk("row-reload");
    session.step_frames(3);
    session.step_lines(100);
    let width = session.bench().field("displayed").unwrap();
    session.set_register(width, 31, Way::Ports).unwrap();
    session.step_frames(4);
    assert_eq!(session.frame(Side::Faulty).picture_size().0, 256);
    let value = session.hand().value();
    session.step_frames(5);
    assert!(session.hand().value() > value, "the routine goes on");
    assert!(session.frame(Side::Healthy).picture_size().0 == 256);
}

#[test]
fn a_routine_that_cannot_run_is_told_like_any_fault_in_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.bench.ron");
    let bench = "(version: 1, adapter: \"linear-256\", picture: (source: \"harbour\"), routine: \"own.routine.ron\")";
    fs::write(&path, bench).unwrap();
    let routine = folder.path().join("own.routine.ron");
    fs::write(&routine, "(version: 1, each_frame: [Wait(Noon)])").unwrap();
    let error = Session::open(path.to_str().unwrap(), &Wishes::default()).unwrap_err();
    assert!(error.to_string().contains("own.routine.ron:1"), "{error}");
    fs::write(&routine, "(version: 1, each_frame: [Wait(RetraceStart)])").unwrap();
    let mut session = open(path.to_str().unwrap());
    session.step_frames(3);
    let saved = session.bench_file().routine.unwrap();
    assert!(Path::new(&saved).is_absolute() && saved.ends_with("own.routine.ron"), "{saved}");
    // A broken routine is told and the last good state stays; mended, it is taken up.
    fs::write(&routine, "(version: 1, each_frame: [Wait(Noon)]) ").unwrap();
    session.look_at_files();
    assert!(session.problem().is_some());
    assert_eq!(session.frame_shown(), 3);
    fs::write(&routine, "(version: 1, each_frame: [Wait(DisplayStart)])  ").unwrap();
    session.look_at_files();
    assert!(session.problem().is_none());
}

#[test]
fn sightings_lead_to_their_suspect_and_a_probe() {
    let mut session = open("harbour-256-rows");
    session.perform(Command::Diagnose);
    assert!(session.diagnosing().is_none(), "nothing is noted");
    // What the faulty board shows stands for the real one.
    for start in 0..9 {
        session.set_hand(start);
        session.perform(Command::Note(session.damage().verdict()));
    }
    session.perform(Command::Diagnose);
    let began = std::time::Instant::now();
    while session.diagnosing().is_some() {
        assert!(began.elapsed().as_secs() < 300, "nine sightings are judged in seconds");
        std::thread::sleep(std::time::Duration::from_millis(5));
        session.tick(0.0);
    }
    let findings = session.findings().unwrap().clone();
    let rank = findings.suspects.iter().position(|row| row.name == "row-reload");
    assert!(rank.is_some_and(|rank| rank < 3), "{findings:?}");
    let total: f64 = findings.suspects.iter().map(|row| row.probability).sum();
    assert!(total <= 1.0 + 1e-9);

    session.perform(Command::AllQuirks);
    assert_eq!(session.damage().verdict(), Verdict::Clean);
    session.fit_suspect(rank.unwrap());
    let on: Vec<&str> = session.rack().iter().filter(|fitted| fitted.on).map(Fitted::name).collect();
    assert_eq!(on, ["row-reload"]);
    assert_eq!(session.damage().verdict(), Verdict::EdgeDamaged, "the suspect does what was seen");
    session.perform(Command::NextSuspect);
    if let Some(probe) = findings.probes.first() {
        session.try_probe(0);
        for (name, value) in &probe.registers {
            let field = session.bench().field(name).unwrap();
            let found = session.bench().adapter().get(session.faulty_registers(), field);
            assert_eq!(u64::from(found), *value, "{name}");
        }
    }
}

#[test]
fn sightings_say_what_the_bench_alone_does_not() {
    let wishes = Wishes { set: vec![("displayed".into(), 31)], ..Wishes::default() };
    let mut session = Session::open("harbour-256-rows", &wishes).unwrap();
    session.perform(Command::Note(Verdict::Clean));
    assert!(session.sightings_text().contains("\"displayed\": 31"), "{}", session.sightings_text());
}

#[test]
fn every_class_of_board_opens_and_draws() {
    for board in backporch_bench::adapter_names() {
        let wishes = Wishes { board: Some(board.to_string()), ..Wishes::default() };
        let mut session = Session::open("harbour-256", &wishes).unwrap_or_else(|error| panic!("{board}: {error}"));
        session.step_frames(2);
        let picture = shown(&session);
        let mut colours = picture.rgba.clone();
        colours.sort_unstable();
        colours.dedup();
        assert!(picture.width >= 160 && colours.len() >= 2, "{board}: {} colours", colours.len());
        assert!(session.memory_map().rows > 0, "{board}");
        assert!(matches!(session.signal(), SignalView::Stable { .. }), "{board}");
        session.perform(Command::Step(1));
        session.draw_thumbs(4);
        session.point_at(Side::Faulty, 100, 100);
        assert!(session.registers().len() > 10, "{board}");
    }
}

#[test]
fn planes_are_mapped_in_the_colours_of_the_screen() {
    for board in ["ega", "vga"] {
        let bench = if board == "vga" { "harbour-vga" } else { "harbour-256" };
        let wishes = Wishes { board: Some(board.to_string()), ..Wishes::default() };
        let session = Session::open(bench, &wishes).unwrap();
        let (map, picture) = (session.memory_map(), shown(&session));
        let width = map.width().min(picture.width) as usize;
        assert!(width >= 320, "{board}");
        for line in [0, 50, 120] {
            let on_screen = &picture.rgba[line * picture.width as usize..][..width];
            assert_eq!(&map.rgba[line * map.width() as usize..][..width], on_screen, "{board}, line {line}");
        }
    }
}
