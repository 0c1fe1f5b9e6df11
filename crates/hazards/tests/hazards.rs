//! The four scroll routines, each with its own mistake, on the frame where it shows.

#[path = "../../script/tests/setup/mod.rs"]
mod setup;

use backporch_hazards::{Hazard, HazardKind, inspect};
use setup::{expected_pixel, scroll};

const FRAMES: u64 = 40;

fn kinds(hazards: &[Hazard]) -> Vec<HazardKind> {
    let mut kinds: Vec<HazardKind> = hazards.iter().map(|hazard| hazard.kind).collect();
    kinds.sort();
    kinds.dedup();
    kinds
}

fn frames_of(hazards: &[Hazard], kind: HazardKind) -> Vec<u64> {
    hazards.iter().filter(|hazard| hazard.kind == kind).map(|hazard| hazard.frame).collect()
}

/// Lines of a frame that differ from the picture scrolled to where it shows.
fn wrong_lines(frame: &backporch_raster::Frame) -> usize {
    let start = frame.picture_lines().next().unwrap().fetch.unwrap().start;
    let wrong = |line: &u32| (0..256).any(|x| frame.value_at(x, *line) != Some(expected_pixel(start, x, *line)));
    (0..200).filter(wrong).count()
}

#[test]
fn a_clean_scroll_has_no_hazard_and_shows_the_picture() {
    let mut runner = scroll("scroll-clean", 0);
    let hazards = inspect(&mut runner.clone(), 640, None, None);
    assert_eq!(hazards.first(), None);
    let mut starts = Vec::new();
    for _ in 0..FRAMES {
        let frame = runner.next_frame();
        assert_eq!(wrong_lines(&frame), 0, "frame {}", frame.number);
        starts.push(frame.picture_lines().next().unwrap().fetch.unwrap().start);
    }
    // The first step is written in frame 1 and shown in frame 2.
    assert_eq!(starts[..3], [0, 0, 1]);
    assert_eq!(starts[2..], (1..FRAMES as u32 - 1).collect::<Vec<_>>());
}

/// Taken over 800 dots before the first line shown (reverse-engineered
/// schematic of display controller gate array 72X8300), earlier by as much as
/// sync is, so a write on a frame's last line shows a frame late, and the
/// column drawn for it stands at the old edge meanwhile.
#[test]
fn a_late_write_is_found_on_every_frame_it_misses() {
    let mut runner = scroll("scroll-late", 0);
    let hazards = inspect(&mut runner.clone(), FRAMES, None, None);
    assert_eq!(kinds(&hazards), [HazardKind::LateStart, HazardKind::ColumnEarly]);
    let late = frames_of(&hazards, HazardKind::LateStart);
    assert_eq!(late, (1..FRAMES).collect::<Vec<_>>());
    let early = frames_of(&hazards, HazardKind::ColumnEarly);
    assert_eq!(early, (1..FRAMES - 1).collect::<Vec<_>>());
    for _ in 0..FRAMES {
        let frame = runner.next_frame();
        let shown = early.contains(&frame.number);
        assert!(!shown || wrong_lines(&frame) > 150, "frame {}: {}", frame.number, wrong_lines(&frame));
    }
}

/// Start 255 to 256 changes both bytes: between them the address is 511.
#[test]
fn a_torn_write_is_found_on_the_frame_that_shows_it() {
    let mut runner = scroll("scroll-torn", 240);
    let hazards = inspect(&mut runner.clone(), FRAMES, None, None);
    let torn: Vec<&Hazard> = hazards.iter().filter(|hazard| hazard.kind == HazardKind::TornStart).collect();
    assert_eq!(torn.len(), 1, "{hazards:?}");
    for _ in 0..FRAMES {
        let frame = runner.next_frame();
        let start = frame.picture_lines().next().unwrap().fetch.unwrap().start;
        assert_eq!(start == 511, frame.number == torn[0].frame, "frame {} starts at {start}", frame.number);
    }
}

#[test]
fn an_early_column_is_found_and_seen() {
    let mut runner = scroll("scroll-early-column", 0);
    let hazards = inspect(&mut runner.clone(), FRAMES, None, None);
    assert_eq!(kinds(&hazards), [HazardKind::ColumnEarly]);
    let early = frames_of(&hazards, HazardKind::ColumnEarly);
    for _ in 0..FRAMES - 1 {
        let frame = runner.next_frame();
        assert_eq!(wrong_lines(&frame) > 150, early.contains(&frame.number), "frame {}", frame.number);
    }
}
