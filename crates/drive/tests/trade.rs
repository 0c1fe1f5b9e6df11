//! Techniques of the trade, a program each, run as a prompt starts them: a right one shows what a few lines of
//! independent code say, asks for nothing that is missing, and has no hazard; its wrong twin has one, and the hazard names
//! the instruction.

mod common;

use backporch_adapter::CharacterSet;
use backporch_drive::responsible;
use backporch_hazards::Hazard;
use backporch_pc::{Folder, Machine, Model, Overrun, Stop, StuckCause, Trouble};
use backporch_raster::Frame;
use common::{Around, OF_16_BITS_LATER, OF_32_BITS, USUAL, programs, run_made};

/// What a run came to, and where the program's labels stand.
struct Ran {
    machine: Machine,
    stop: Stop,
    frames: Vec<Frame>,
    hazards: Vec<Hazard>,
    offsets: programs::Labelled,
}

/// A program on a board in its text mode, where it has one; keys at times in milliseconds.
fn run(board: &str, name: &str, definitions: &[&str], keys: &[(u64, &str)]) -> Option<Ran> {
    let keys: Vec<(u64, u64, &str)> = keys.iter().map(|(at, key)| (*at, *at, *key)).collect();
    run_on(USUAL, board, name, definitions, &Around { keys: &keys, ..Around::default() })
}

fn run_on(processor: (Model, u64), board: &str, name: &str, definitions: &[&str], around: &Around<'_>) -> Option<Ran> {
    let made = programs::labelled(name, definitions)?;
    let common::Ran { mut machine, stop, mut frames, hazards } = run_made(processor, board, &made, around);
    // The frame under way, and one that shows what the program left.
    frames.extend([machine.finish_frame(), machine.finish_frame()]);
    Some(Ran { machine, stop, frames, hazards, offsets: made })
}

/// The rows of a frame's picture, pixel value by pixel value.
fn values(frame: &Frame) -> Vec<Vec<u8>> {
    let row = |line| {
        let segments = frame.segments_of(line).iter();
        segments.flat_map(|segment| frame.values_of(segment.kind)).copied().collect()
    };
    frame.picture_lines().map(row).collect()
}

fn words(hazards: &[Hazard]) -> String {
    let one = |hazard: &Hazard| {
        let by = responsible(hazard).map_or("none".to_owned(), |by| by.to_string());
        format!("{} by {by} in frame {}, line {}: {}", hazard.kind, hazard.frame, hazard.line, hazard.what)
    };
    let lines: Vec<String> = hazards.iter().take(8).map(one).collect();
    lines.join("\n")
}

/// A right program: it ends well, and there is nothing to say.
fn right(board: &str, name: &str, definitions: &[&str]) -> Option<Vec<Frame>> {
    right_on(USUAL, board, name, definitions)
}

fn right_on(processor: (Model, u64), board: &str, name: &str, definitions: &[&str]) -> Option<Vec<Frame>> {
    well(run_on(processor, board, name, definitions, &Around::default())?, board, name, definitions)
}

/// The frames of a run that ended well, with nothing to say.
fn well(ran: Ran, board: &str, name: &str, definitions: &[&str]) -> Option<Vec<Frame>> {
    assert!(matches!(ran.stop, Stop::Exit(0)), "{name} {definitions:?} on {board}: {:?}", ran.stop);
    assert!(ran.machine.asked().is_empty(), "{name} on {board}: {:?}", ran.machine.asked());
    assert!(ran.hazards.is_empty(), "{name} {definitions:?} on {board}:\n{}", words(&ran.hazards));
    Some(ran.frames)
}

/// A wrong one: the hazard of this kind is by the instruction at this label.
fn wrong(board: &str, name: &str, definition: &str, kind: &str, label: &str) {
    wrong_on(USUAL, (board, name, definition), &Around::default(), (kind, label));
}

fn wrong_on(
    processor: (Model, u64),
    (board, name, definition): (&str, &str, &str),
    around: &Around<'_>,
    (kind, label): (&str, &str),
) {
    let Some(ran) = run_on(processor, board, name, &[definition], around) else { return };
    let at = ran.offsets.offset(label);
    let named = |hazard: &Hazard| hazard.kind.name() == kind && responsible(hazard).is_some_and(|by| by.offset == at);
    let found = ran.hazards.iter().any(named);
    assert!(found, "{name} {definition} on {board}: no {kind} at {at:04X}\n{}", words(&ran.hazards));
}

/// Frames in graphics of this size.
fn sized(frames: &[Frame], width: u32, height: u32) -> Vec<&Frame> {
    frames.iter().filter(|frame| frame.picture_size() == (width, height)).collect()
}

/// A picture by its pixels.
fn picture(width: usize, height: usize, pixel: impl Fn(usize, usize) -> usize) -> Vec<Vec<u8>> {
    (0..height).map(|y| (0..width).map(|x| pixel(x, y) as u8).collect()).collect()
}

/// Frames show one picture after another, each at least once, in order, and nothing else from the first on to the last.
fn shows_in_turn(frames: &[&Frame], wanted: &[Vec<Vec<u8>>]) {
    let shown: Vec<Vec<Vec<u8>>> = frames.iter().map(|frame| values(frame)).collect();
    let first = shown.iter().rposition(|picture| picture == &wanted[0]).expect("the first picture");
    let mut next = 0;
    for (number, picture) in shown[first..].iter().enumerate() {
        if picture != &wanted[next] {
            next += 1;
            assert!(
                next < wanted.len() && picture == &wanted[next],
                "frame {number} after the first shows no step {next}"
            );
        }
    }
    assert_eq!(next + 1, wanted.len(), "the last picture was never shown");
}

/// The 6-bit levels of a pixel value in the picture, where the whole frame shows it alike.
fn levels(frame: &Frame, value: usize) -> Option<[u8; 3]> {
    let active = frame.segments.iter().filter(|segment| segment.kind.pixel_dots().is_some());
    let mut colours = active.map(|segment| frame.palettes[usize::from(segment.palette)].colours[value]);
    let first = colours.next()?;
    colours.all(|colour| colour == first).then(|| [first[0] >> 2, first[1] >> 2, first[2] >> 2])
}

/// A colour through the frames: each frame shows one, the steps come in this order.
fn fades(frames: &[&Frame], value: usize, wanted: &[[u8; 3]]) {
    let shown: Vec<Option<[u8; 3]>> = frames.iter().map(|frame| levels(frame, value)).collect();
    // All frames since the last that showed two.
    let first = shown.iter().rposition(Option::is_none).map_or(0, |last| last + 1);
    let mut steps: Vec<[u8; 3]> = shown[first..].iter().flatten().copied().collect();
    steps.dedup();
    assert!(steps.ends_with(wanted), "{steps:?} ends with {wanted:?}");
}

/// The characters of a row of text, found by their glyphs.
fn letters(frame: &Frame, row: usize, columns: usize) -> String {
    let values = values(frame);
    let set = CharacterSet::built_in();
    let line = |column: usize, line: usize| -> u8 {
        let cell = &values[row * 8 + line][column * 8..column * 8 + 8];
        cell.iter().fold(0, |bits, value| bits << 1 | u8::from(*value != 0))
    };
    let letter = |column| (32..127u8).find(|code| (0..8).all(|at| set.row(*code, at as u8) == line(column, at)));
    (0..columns).map(|column| letter(column).map_or('?', char::from)).collect()
}

#[test]
fn fades_in_retrace() {
    for board in ["vga", "linear-256"] {
        let Some(frames) = right(board, "fade-part.asm", &[]) else { return };
        let steps: Vec<[u8; 3]> = (0..10).map(|step| [63 - 7 * step; 3]).collect();
        (0..32).for_each(|entry| fades(&sized(&frames, 320, 200), entry, &steps));
    }
    wrong("vga", "fade-part.asm", "WRONG", "mid-picture", "culprit");
    let Some(frames) = right("vga", "fade-all.asm", &[]) else { return };
    let graphics = sized(&frames, 320, 200);
    [0, 63, 64, 255].into_iter().for_each(|entry| fades(&graphics, entry, &[[60; 3], [40; 3], [20; 3], [0; 3]]));
    assert!(values(graphics.last().unwrap()) == picture(320, 200, |x, y| (x + y) & 255));
    wrong("vga", "fade-all.asm", "WRONG", "mid-picture", "culprit");
    let Some(frames) = right("vga", "fade-firmware.asm", &[]) else { return };
    fades(&sized(&frames, 320, 200), 1, &[[60; 3], [50; 3], [40; 3], [30; 3], [20; 3], [10; 3], [0; 3]]);
    wrong("vga", "fade-firmware.asm", "WRONG", "mid-picture", "culprit");
}

#[test]
fn colours_go_round_in_retrace() {
    let Some(frames) = right("vga", "cycle-dac.asm", &[]) else { return };
    let step = |step: u8, entry: u8| [(step + entry) % 16 * 2, (step + entry) % 16 * 2, (step + entry) % 16 * 4];
    for entry in 0..16 {
        let steps: Vec<[u8; 3]> = (0..12).map(|at| step(at, entry)).collect();
        fades(&sized(&frames, 320, 200), 32 + usize::from(entry), &steps);
    }
    wrong("vga", "cycle-dac.asm", "WRONG", "mid-picture", "culprit");
    // The first eight colours of the palette are black, blue, green, cyan, red, magenta, brown and white (common practice).
    let colour = |code: usize| backporch_adapter::RGBI[code % 8].map(|level| level >> 2);
    for board in ["ega", "vga"] {
        let Some(frames) = right(board, "cycle-palette.asm", &[]) else { return };
        for entry in 1..4 {
            let steps: Vec<[u8; 3]> = (0..12).map(|step| colour(step + entry)[..3].try_into().unwrap()).collect();
            fades(&sized(&frames, 320, 200), entry, &steps);
        }
        wrong(board, "cycle-palette.asm", "WRONG", "mid-picture", "culprit");
        let Some(frames) = right(board, "out-of-step.asm", &[]) else { return };
        let steps: Vec<[u8; 3]> = [4, 1, 2, 3].map(|code| colour(code)[..3].try_into().unwrap()).to_vec();
        fades(&sized(&frames, 320, 200), 1, &steps);
        wrong(board, "out-of-step.asm", "WRONG", "flip-flop", "culprit");
    }
    let Some(frames) = right("colour-graphics", "colour-set.asm", &[]) else { return };
    let sets: Vec<Option<[u8; 3]>> = sized(&frames, 320, 200).iter().map(|frame| levels(frame, 1)).collect();
    assert!(sets.iter().all(Option::is_some), "one set a frame");
    assert!(sets.windows(2).filter(|pair| pair[0] != pair[1]).count() >= 11);
    wrong("colour-graphics", "colour-set.asm", "WRONG", "mid-picture", "culprit");
}

#[test]
fn planes_pan_both_ways() {
    let panned = |moved: usize| picture(320, 200, |x, y| ((x + moved) / 8 + y) % 16);
    for board in ["ega", "vga"] {
        let Some(frames) = right(board, "pan.asm", &[]) else { return };
        shows_in_turn(&sized(&frames, 320, 200), &(0..32).map(panned).collect::<Vec<_>>());
    }
    let Some(frames) = right("vga", "pan.asm", &["LEFT"]) else { return };
    shows_in_turn(&sized(&frames, 320, 200), &(0..32).rev().map(panned).collect::<Vec<_>>());
    for board in ["ega", "vga"] {
        wrong(board, "pan.asm", "LATE", "pan-pairing", "culprit");
        wrong(board, "pan.asm", "EARLY", "mid-picture", "culprit");
    }
}

#[test]
fn a_split_stands_below_what_moves() {
    let Some(frames) = right("vga", "split.asm", &[]) else { return };
    let moved = |by: usize| {
        picture(320, 200, |x, y| match y {
            0..160 if (y * 42 + (x + by) / 8).is_multiple_of(3) => 15,
            160.. if ((y - 160) * 42 + x / 8).is_multiple_of(2) && (y - 160) * 42 + x / 8 < 1600 => 15,
            _ => 0,
        })
    };
    shows_in_turn(&sized(&frames, 320, 200), &(0..16).map(moved).collect::<Vec<_>>());
    wrong("vga", "split.asm", "WRONG", "pan-below-split", "culprit");
}

#[test]
fn bars_that_move_are_meant() {
    for board in ["vga", "linear-256"] {
        let Some(frames) = right(board, "water.asm", &[]) else { return };
        let surface = |frame: &&Frame| {
            let blue = |line| {
                let active = frame.segments_of(line).iter().find(|segment| segment.kind.pixel_dots().is_some())?;
                Some(frame.palettes[usize::from(active.palette)].colours[0][2] >> 2)
            };
            let blues: Vec<u8> = frame.lines.iter().filter_map(blue).collect();
            let at = blues.iter().position(|blue| *blue != 0)?;
            blues[at..].iter().all(|blue| *blue == 42).then_some(at)
        };
        let surfaces: Vec<usize> = sized(&frames, 320, 200).iter().filter_map(surface).collect();
        // After the last frame the colour stays.
        let moving: Vec<usize> = surfaces.into_iter().take_while(|line| *line > 0).collect();
        assert!(moving.len() == 10 && moving.windows(2).all(|pair| pair[1] == pair[0] + 2), "{board} {moving:?}");
        wrong(board, "water.asm", "WRONG", "mid-picture", "culprit");
    }
}

#[test]
fn pages_flip() {
    let page = |number: usize| picture(320, 200, move |x, y| number * usize::from((20..180).contains(&y) && x < 160));
    let lit = |number: usize| {
        let shape = page(1);
        let bits = move |x: usize| number >> (7 - x % 8) & 1;
        picture(320, 200, |x, y| usize::from(shape[y][x]) * bits(x) * 15)
    };
    for board in ["ega", "vga"] {
        let Some(frames) = right(board, "pages.asm", &[]) else { return };
        shows_in_turn(&sized(&frames, 320, 200), &(1..11).map(lit).collect::<Vec<_>>());
        wrong(board, "pages.asm", "VISIBLE", "tear", "culprit");
        wrong(board, "pages.asm", "LATE", "late-start", "late");
        let Some(frames) = right(board, "pages.c", &[]) else { return };
        let whole = |number: usize| picture(320, 200, |x, _| (number >> (7 - x % 8) & 1) * 15);
        shows_in_turn(&sized(&frames, 320, 200), &(1..11).map(whole).collect::<Vec<_>>());
        wrong(board, "pages.c", "VISIBLE", "tear", "culprit");
    }
    let Some(frames) = right("vga", "unchained.asm", &[]) else { return };
    shows_in_turn(
        &sized(&frames, 320, 240),
        &(1..6).map(|colour| picture(320, 240, |_, _| colour)).collect::<Vec<_>>(),
    );
    wrong("vga", "unchained.asm", "WRONG", "protected-register", "culprit");
    let Some(frames) = right("monochrome", "mono-pages.asm", &[]) else { return };
    let pages =
        [0usize, 1].map(|page| picture(720, 348, |x, _| if page == 0 { x / 8 % 2 } else { usize::from(x % 8 < 4) }));
    let graphics = sized(&frames, 720, 348);
    let shown: Vec<_> = graphics.iter().map(|frame| values(frame)).collect();
    assert!(shown.iter().rev().take(12).all(|shown| pages.contains(shown)), "whole pages");
    assert!(pages.iter().all(|page| shown.iter().filter(|shown| *shown == page).count() >= 5));
    wrong("monochrome", "mono-pages.asm", "WRONG", "mid-picture", "culprit");
}

#[test]
fn pages_of_text_flip() {
    let Some(frames) = right("colour-graphics", "text-pages.asm", &[]) else { return };
    let page = |frame: &&Frame| -> Vec<String> { (0..25).map(|row| letters(frame, row, 40)).collect() };
    let pages: Vec<Vec<String>> = sized(&frames, 320, 200).iter().map(page).collect();
    let first = pages.iter().position(|rows| rows[0] == "B".repeat(40)).expect("the first page");
    assert!(pages[first..].iter().all(|rows| rows.iter().all(|row| *row == rows[0])), "one page a frame");
    let mut shown: Vec<&str> = pages[first..].iter().map(|rows| &rows[0][..1]).collect();
    shown.dedup();
    assert_eq!(shown.concat(), "BCDEFGHIJK");
    wrong("colour-graphics", "text-pages.asm", "VISIBLE", "tear", "culprit");
}

#[test]
fn text_goes_up_without_snow() {
    let Some(frames) = right("colour-graphics", "text-up.asm", &[]) else { return };
    let last = frames.last().unwrap();
    let rows: Vec<String> = (17..25).map(|row| letters(last, row, 80)).collect();
    assert_eq!(rows, ('A'..='H').map(|letter| letter.to_string().repeat(80)).collect::<Vec<_>>());
    wrong("colour-graphics", "text-up.asm", "WRONG", "snow", "culprit");
    let Some(frames) = right("colour-graphics", "snow-free.asm", &[]) else { return };
    assert!((0..4).all(|row| letters(frames.last().unwrap(), row, 80) == "B".repeat(80)));
    wrong("colour-graphics", "snow-free.asm", "WRONG", "snow", "culprit");
}

#[test]
fn a_hundred_lines_of_text() {
    let Some(frames) = right("colour-graphics", "hundred.asm", &[]) else { return };
    assert!(values(frames.last().unwrap()) == picture(640, 200, |x, y| (x / 4 + y / 2) & 15));
    wrong("colour-graphics", "hundred.asm", "SNOW", "snow", "snowing");
    wrong("colour-graphics", "hundred.asm", "ENDLESS", "sync", "culprit");
    wrong("colour-graphics", "hundred.asm", "SLOW", "sync", "culprit");
}

#[test]
fn two_pictures_a_field() {
    let Some(frames) = right("colour-graphics", "restart.asm", &[]) else { return };
    let parts = |step: usize| {
        picture(320, 200, |x, y| {
            let row = if y < 100 { y / 2 } else { step + (y - 100) / 2 };
            row >> (6 - x % 4 * 2) & 3
        })
    };
    shows_in_turn(&sized(&frames, 320, 200), &(0..30).map(parts).collect::<Vec<_>>());
    wrong("colour-graphics", "restart.asm", "WRONG", "sync", "culprit");
}

#[test]
fn banks_of_lines() {
    let blocks = picture(320, 200, |x, y| match (x / 32, x % 32, y) {
        (block, 0..16, 8..48) => ((0x55 * (block + 1)) >> (6 - x % 4 * 2)) & 3,
        _ => 0,
    });
    for board in ["colour-graphics", "vga"] {
        let Some(frames) = right(board, "blocks.asm", &[]) else { return };
        let shown = values(sized(&frames, 320, 200).last().unwrap());
        let two_bits: Vec<Vec<u8>> = shown.iter().map(|row| row.iter().map(|value| value & 3).collect()).collect();
        assert!(two_bits == blocks, "{board}");
        wrong(board, "blocks.asm", "WRONG", "pitch", "culprit");
    }
    let sprite = |step: usize| {
        picture(320, 200, |x, y| usize::from((100..116).contains(&y) && x / 4 >= 10 + step && x / 4 < 12 + step) * 3)
    };
    let Some(frames) = right("colour-graphics", "sprite-xor.asm", &[]) else { return };
    shows_in_turn(&sized(&frames, 320, 200), &(0..13).map(sprite).collect::<Vec<_>>());
    wrong("colour-graphics", "sprite-xor.asm", "WRONG", "tear", "culprit");
    let Some(frames) = right("colour-graphics", "mode-bit.asm", &[]) else { return };
    let sizes: Vec<u32> = frames.iter().map(|frame| frame.picture_size().0).collect();
    assert!(sizes.windows(2).filter(|pair| pair[0] != pair[1]).count() >= 11, "{sizes:?}");
    wrong("colour-graphics", "mode-bit.asm", "WRONG", "mid-picture", "culprit");
}

#[test]
fn sprites_over_a_picture() {
    let at = |step: usize| {
        picture(320, 200, |x, y| {
            if (40 + 3 * step..56 + 3 * step).contains(&x) && (90..106).contains(&y) { 0x28 } else { (x ^ y) & 255 }
        })
    };
    for board in ["vga", "linear-256"] {
        let Some(frames) = right(board, "sprite-under.asm", &[]) else { return };
        shows_in_turn(&sized(&frames, 320, 200), &(1..11).map(at).collect::<Vec<_>>());
        wrong(board, "sprite-under.asm", "WRONG", "tear", "culprit");
        let Some(frames) = right(board, "behind-beam.asm", &[]) else { return };
        let band = |colour: usize| picture(320, 200, |_, y| colour * usize::from((20..40).contains(&y)));
        shows_in_turn(&sized(&frames, 320, 200), &(1..10).map(band).collect::<Vec<_>>());
        wrong(board, "behind-beam.asm", "WRONG", "tear", "culprit");
    }
}

#[test]
fn rows_and_windows_move() {
    let Some(frames) = right("linear-256", "row-enters.asm", &[]) else { return };
    let up = |step: usize| picture(256, 200, |_, y| (step + y) & 255);
    shows_in_turn(&sized(&frames, 256, 200), &(0..91).map(up).collect::<Vec<_>>());
    wrong("linear-256", "row-enters.asm", "WRONG", "column-late", "culprit");
    for board in ["ega", "vga"] {
        let Some(frames) = right(board, "latch-scroll.asm", &[]) else { return };
        let scrolled = |step: usize| {
            picture(320, 200, |x, y| {
                let row = if (88..112).contains(&y) && (80..160).contains(&x) { (y + step).min(112) } else { y };
                (row >> (7 - x % 8) & 1) * 15
            })
        };
        shows_in_turn(&sized(&frames, 320, 200), &(0..11).map(scrolled).collect::<Vec<_>>());
    }
    wrong("ega", "latch-scroll.asm", "WRONG", "tear", "culprit");
    let Some(frames) = right("linear-256", "narrow.asm", &[]) else { return };
    assert!(values(frames.last().unwrap()) == picture(256, 200, |_, y| y));
    wrong("linear-256", "narrow.asm", "WRONG", "protected-register", "culprit");
}

#[test]
fn attributes_and_cursor() {
    for board in ["colour-graphics", "vga"] {
        let Some(frames) = right(board, "attributes.asm", &[]) else { return };
        let last = values(frames.last().unwrap());
        let lines = last.len() / 25;
        let in_bar = last[10 * lines..14 * lines].iter().flatten().all(|value| [0, 11].contains(value));
        let beside = last[14 * lines..].iter().flatten().all(|value| [0, 7].contains(value));
        assert!(in_bar && beside, "{board}");
    }
    wrong("colour-graphics", "attributes.asm", "WRONG", "tear", "culprit");
    let Some(frames) = right("colour-graphics", "cursor.asm", &[]) else { return };
    let cursor = |frame: &&Frame| {
        let values = values(frame);
        (0..40).position(|column| values[48..56].iter().all(|row| row[column * 8..column * 8 + 8] == [7; 8]))
    };
    let mut places: Vec<usize> = sized(&frames, 320, 200).iter().filter_map(cursor).collect();
    places.dedup();
    assert!(places.ends_with(&(11..22).collect::<Vec<_>>()), "{places:?}");
    wrong("colour-graphics", "cursor.asm", "WRONG", "torn-start", "culprit");
}

/// Memory as a frame shows it from its own start address on.
fn shows_memory(frames: &[&Frame], unit: usize, byte: impl Fn(usize) -> usize) {
    for frame in frames {
        let start = frame.picture_lines().next().unwrap().fetch.unwrap().start as usize * unit;
        assert!(values(frame) == picture(320, 200, |x, y| byte((start + y * 320 + x) & 0xFFFF)), "start {start:04X}");
    }
}

fn starts(frames: &[&Frame]) -> Vec<u32> {
    let mut starts: Vec<u32> =
        frames.iter().map(|frame| frame.picture_lines().next().unwrap().fetch.unwrap().start).collect();
    starts.dedup();
    starts
}

#[test]
fn start_addresses_by_hand_and_by_the_timer() {
    let Some(frames) = right("linear-256", "start.asm", &[]) else { return };
    let graphics = sized(&frames, 320, 200);
    shows_memory(&graphics[graphics.len() - 14..], 2, |at| if at % 2 == 0 { at & 254 } else { at >> 8 });
    assert!(starts(&graphics).ends_with(&(0xFC..0x108).collect::<Vec<_>>()), "{:X?}", starts(&graphics));
    wrong("linear-256", "start.asm", "TORN", "torn-start", "culprit");
    wrong("linear-256", "start.asm", "NEAR", "near-latch", "near_it");
    let Some(frames) = right("linear-256", "timer.asm", &[]) else { return };
    let graphics: Vec<&Frame> = sized(&frames, 320, 200).into_iter().rev().take(40).collect();
    shows_memory(&graphics, 2, |at| if at % 2 == 0 { at & 255 } else { 0 });
    let counted: Vec<u32> = std::iter::successors(Some(0u32), |count| Some((count + 0xFF) & 0x1FF)).take(80).collect();
    assert!(starts(&graphics).iter().all(|start| counted.contains(start)) && starts(&graphics).len() > 30);
    wrong("linear-256", "timer.asm", "WRONG", "torn-start", "culprit");
}

#[test]
fn a_hooked_keyboard() {
    let keys = [(300, "right"), (500, "right"), (700, "right"), (900, "right")];
    let Some(ran) = run("vga", "keyboard.asm", &[], &keys) else { return };
    assert!(matches!(ran.stop, Stop::Exit(0)), "{:?} {:?}", ran.stop, ran.machine.asked());
    assert!(ran.machine.asked().is_empty(), "{:?}", ran.machine.asked());
    assert!(ran.hazards.is_empty(), "{}", words(&ran.hazards));
    let block = |step: usize| picture(320, 200, |x, y| 15 * usize::from(x / 8 == step * 2 && (100..108).contains(&y)));
    shows_in_turn(&sized(&ran.frames, 320, 200), &(0..5).map(block).collect::<Vec<_>>());
    let Some(mut ran) = run("vga", "keyboard.asm", &["WRONG"], &keys) else { return };
    let stuck = ran.machine.stuck_wait().expect("no key comes any more");
    let at = ran.offsets.offset("culprit");
    assert!(stuck.cause == StuckCause::NotEnded(1) && (at..at + 8).contains(&stuck.at.offset), "{stuck:?}");
}

#[test]
fn a_program_file_with_segments() {
    for board in ["vga", "linear-256"] {
        let Some(frames) = right(board, "box-exe.asm", &[]) else { return };
        let boxes = [(30, 20, 0x0909), (100, 60, 0x0E0C), (200, 120, 0x0A02)];
        let wanted = picture(320, 200, |x, y| {
            let inside =
                boxes.iter().find(|(left, top, _)| (*left..left + 32).contains(&x) && (*top..top + 40).contains(&y));
            inside.map_or(0, |(left, _, colours)| colours >> ((x - left) % 2 * 8) & 255)
        });
        assert!(values(frames.last().unwrap()) == wanted, "{board}");
        wrong(board, "box-exe.asm", "WRONG", "pitch", "culprit");
    }
}

#[test]
fn firmware_is_never_to_blame() {
    for board in ["colour-graphics", "vga"] {
        let Some(frames) = right(board, "firmware.asm", &[]) else { return };
        if board == "colour-graphics" {
            let line = letters(frames.last().unwrap(), 0, 17);
            assert_eq!(line, "Low water at six.");
        }
    }
    wrong("colour-graphics", "firmware.asm", "WRONG", "snow", "culprit");
}

#[test]
fn a_ring_of_rows() {
    let Some(frames) = right("colour-graphics", "ring.asm", &[]) else { return };
    let row = |number: usize| char::from(b'A' + (number % 16) as u8).to_string().repeat(40);
    let shown = |frame: &&Frame| {
        let rows: Vec<String> = (0..25).map(|at| letters(frame, at, 40)).collect();
        (0..21).find(|first| rows.iter().enumerate().all(|(at, found)| *found == row(first + at)))
    };
    let mut steps: Vec<usize> = sized(&frames, 320, 200).iter().filter_map(shown).collect();
    steps.dedup();
    // The letters come round after 16 rows.
    assert!(steps.len() >= 20 && steps.windows(2).all(|pair| pair[1] == (pair[0] + 1) % 16), "{steps:?}");
    wrong("colour-graphics", "ring.asm", "WRONG", "runs-over", "culprit");
}

/// A texture turned in fixed point by instructions of the 80386.
#[test]
fn a_texture_is_turned() {
    let wanted = picture(320, 200, |x, y| {
        let (x, y) = (x as i32, y as i32);
        let (u, v) = ((37 << 16) + 50_000 * x - 31_000 * y, (100 << 16) + 31_000 * x + 50_000 * y);
        let value = ((u >> 16 ^ v >> 16) & 0xFF) as usize;
        value + (value >> 7)
    });
    for board in ["vga", "linear-256"] {
        let Some(frames) = right_on(OF_32_BITS, board, "turned.asm", &[]) else { return };
        assert_eq!(values(frames.last().unwrap()), wanted, "{board}");
    }
}

#[test]
fn keys_are_held() {
    let keys = [(300, 600, "right"), (900, 1000, "left"), (1500, 1600, "esc")];
    let around = Around { keys: &keys, ..Around::default() };
    let block = |column: usize| picture(320, 200, |x, y| 15 * usize::from(x / 8 == column && (150..158).contains(&y)));
    for board in ["ega", "vga"] {
        let Some(ran) = run_on(USUAL, board, "held.asm", &[], &around) else { return };
        let Some(frames) = well(ran, board, "held.asm", &[]) else { return };
        let graphics = sized(&frames, 320, 200);
        let columns: Vec<usize> =
            graphics.iter().filter_map(|frame| (0..40).find(|column| values(frame) == block(*column))).collect();
        let mut steps = columns.clone();
        steps.dedup();
        // A step a frame while a key is held, from the tenth column on: right for 300 ms, then left for 100 ms.
        let rate = if board == "ega" { 59.92 } else { 70.09 };
        let turn = steps.windows(3).position(|three| three[0] == three[2]).expect("it turns round") + 1;
        let (there, back) = (turn as f64, (steps.len() - 1 - turn) as f64);
        assert!(steps.windows(2).all(|pair| pair[0].abs_diff(pair[1]) % 30 == 1), "{board} {steps:?}");
        assert!((there - 0.3 * rate).abs() < 2.0 && (back - 0.1 * rate).abs() < 2.0, "{board} {steps:?}");
    }
    let keys = [(300, 1600, "right"), (1700, 1800, "esc")];
    let around = Around { keys: &keys, ..Around::default() };
    wrong_on(USUAL, ("ega", "held.asm", "WRONG"), &around, ("tear", "culprit"));
    // Where no key is to come, the wait is one for a key, whatever ports it goes by.
    for board in ["ega", "vga", "colour-graphics"] {
        let Some(mut ran) = run(board, "held.asm", &[], &[]) else { return };
        assert!(matches!(ran.stop, Stop::TimeOver), "{board}: {:?}", ran.stop);
        assert_eq!(ran.machine.stuck_wait().map(|wait| wait.cause), Some(StuckCause::Key), "{board}");
    }
}

/// A wrong program that waits for ever, near a label, for this cause.
fn stuck(board: &str, name: &str, cause: &StuckCause) {
    let Some(mut ran) = run(board, name, &["WRONG"], &[]) else { return };
    let stuck = ran.machine.stuck_wait().expect("nothing comes any more");
    let at = ran.offsets.offset("culprit");
    assert!(
        stuck.cause == *cause && (at.saturating_sub(1)..at + 8).contains(&stuck.at.offset),
        "{name} {at:04X} {stuck:?}"
    );
}

#[test]
fn interrupts_are_chained_and_ended() {
    for board in ["vga", "linear-256"] {
        let Some(frames) = right(board, "chained.asm", &[]) else { return };
        // 4096 beats a tick: in a frame of the 400-line modes 4.2 of them.
        let counts: Vec<u8> =
            sized(&frames, 320, 200).iter().rev().skip(2).take(36).map(|frame| values(frame)[10][0]).collect();
        assert!(counts.windows(2).all(|pair| (4..=9).contains(&(pair[0].wrapping_sub(pair[1])))), "{board} {counts:?}");
    }
    stuck("vga", "chained.asm", &StuckCause::NotEnded(0));
    let lit = |bytes: usize| picture(320, 200, |x, y| 15 * usize::from(y == 0 && x / 8 < bytes));
    for board in ["ega", "vga"] {
        let Some(frames) = right(board, "retrace-interrupt.asm", &[]) else { return };
        shows_in_turn(&sized(&frames, 320, 200), &(1..21).map(lit).collect::<Vec<_>>());
        stuck(board, "retrace-interrupt.asm", &StuckCause::NotEnded(2));
    }
}

#[test]
fn tiles_and_masked_sprites() {
    let tiles = |step: usize| {
        picture(320, 200, |x, y| {
            let x = x + step % 4;
            if y < 192 { (y / 16 + x / 16 + step) % 4 * 16 + x % 16 + 16 } else { 0 }
        })
    };
    let Some(frames) = right("vga", "tiles.asm", &[]) else { return };
    // Every fourth step looks like the first.
    shows_in_turn(&sized(&frames, 320, 200), &(0..4).map(tiles).collect::<Vec<_>>());
    wrong("vga", "tiles.asm", "VISIBLE", "tear", "culprit");
    let shape = [0x18, 0x3C, 0x7E, 0xFF, 0xFF, 0x7E, 0x3C, 0x18];
    let sprite = |step: usize| {
        picture(320, 200, |x, y| {
            let inside = (190..198).contains(&y) && (step..step + 8).contains(&x);
            let covers = inside && shape[y - 190] >> (7 - (x - step)) & 1 != 0;
            if covers { 14 } else { 4 * usize::from(x % 2 == 0) }
        })
    };
    for board in ["ega", "vga"] {
        let Some(frames) = right(board, "masked.asm", &[]) else { return };
        shows_in_turn(&sized(&frames, 320, 200), &(0..21).map(sprite).collect::<Vec<_>>());
    }
    wrong("ega", "masked.asm", "WRONG", "tear", "culprit");
}

#[test]
fn text_goes_up_by_scan_lines() {
    for (board, width, height) in [("ega", 640, 14), ("vga", 720, 16)] {
        let Some(frames) = right(board, "text-smooth.asm", &[]) else { return };
        let set = CharacterSet::built_in().stretched(height as u8);
        let shown = |frame: &&Frame| {
            let values = values(frame);
            let lit = |line: &[u8]| line[..8].iter().fold(0, |bits, value| bits << 1 | u8::from(*value != 0));
            let wanted = |line: usize| set.row(b'A' + (line / height) as u8, (line % height) as u8);
            (0..70).find(|first| values.iter().enumerate().all(|(y, line)| lit(line) == wanted(first + y)))
        };
        let lines = frames.iter().filter(|frame| frame.picture_size().0 == width).filter_map(|frame| shown(&frame));
        let mut lines: Vec<usize> = lines.collect();
        lines.dedup();
        assert!(lines.ends_with(&(0..60).collect::<Vec<_>>()), "{board} {lines:?}");
        wrong(board, "text-smooth.asm", "LATE", "pan-pairing", "culprit");
    }
}

#[test]
fn a_palette_by_string_output_and_a_timed_split() {
    for board in ["vga", "linear-256"] {
        let Some(frames) = right_on(OF_16_BITS_LATER, board, "outs.asm", &[]) else { return };
        let graphics = sized(&frames, 320, 200);
        for entry in [0, 21, 63, 64, 191] {
            let level = |component: usize, step: usize| (((3 * entry + component) & 63).saturating_sub(8 * step)) as u8;
            let mut steps: Vec<[u8; 3]> = (0..8).map(|step| [0, 1, 2].map(|at| level(at, step))).collect();
            steps.dedup();
            fades(&graphics, entry, &steps);
        }
        let wrong_one = (board, "outs.asm", "WRONG");
        wrong_on(OF_16_BITS_LATER, wrong_one, &Around::default(), ("mid-picture", "culprit"));
        let Some(frames) = right(board, "timed-split.asm", &[]) else { return };
        let green = |frame: &&Frame| {
            let shade = |line| {
                let active = frame.segments_of(line).iter().find(|segment| segment.kind.pixel_dots().is_some())?;
                Some(frame.palettes[usize::from(active.palette)].colours[0][1] >> 2)
            };
            let shades: Vec<u8> = frame.lines.iter().filter_map(shade).collect();
            let at = shades.iter().position(|shade| *shade == 63)?;
            (at > 0 && shades[at..].iter().all(|shade| *shade == 63)).then_some(at)
        };
        let graphics = sized(&frames, 320, 200);
        let splits: Vec<usize> = graphics.iter().filter_map(green).collect();
        let (least, most) = (splits.iter().min().unwrap(), splits.iter().max().unwrap());
        assert!(splits.len() >= 18 && most - least <= 2, "{board} {splits:?}");
        wrong(board, "timed-split.asm", "WRONG", "mid-picture", "culprit");
    }
}

#[test]
fn lines_on_monochrome_pages() {
    let Some(frames) = right("monochrome", "lines-mono.asm", &[]) else { return };
    let line = |step: usize| picture(720, 348, |x, y| usize::from(x < 600 && y == x / 2 + 2 * step));
    shows_in_turn(&sized(&frames, 720, 348), &(0..8).map(line).collect::<Vec<_>>());
    wrong("monochrome", "lines-mono.asm", "VISIBLE", "tear", "culprit");
}

#[test]
fn stacks_and_code_of_their_own_making() {
    let band = picture(320, 200, |x, y| match y {
        0..50 => ((x / 2 * 0x202) >> (x % 2 * 8)) & 255,
        70..100 => 14,
        _ => 0,
    });
    let copies = picture(320, 200, |x, y| if y < 8 { y * 8 + x % 16 / 2 } else { 0 });
    for board in ["vga", "linear-256"] {
        let Some(frames) = right(board, "stacks.asm", &[]) else { return };
        assert!(values(frames.last().unwrap()) == band, "{board}");
        let Some(frames) = right(board, "own-code.asm", &[]) else { return };
        assert!(values(frames.last().unwrap()) == copies, "{board}");
    }
    overran("stacks.asm", "INTO", &Around::default(), |overrun| matches!(overrun, Overrun::Code { .. }));
    overran("own-code.asm", "WRONG", &Around::default(), |overrun| matches!(overrun, Overrun::Code { .. }));
}

/// A program whose stack destroys what is needed ends with the instruction at its label that pushed.
fn overran(name: &str, definition: &str, around: &Around<'_>, is_it: fn(&Overrun) -> bool) {
    let Some(ran) = run_on(USUAL, "vga", name, &[definition], around) else { return };
    let Stop::Trouble(report) = &ran.stop else { panic!("{name}: {:?}", ran.stop) };
    let Trouble::StackOverrun(overrun) = &report.trouble else { panic!("{name}: {report}") };
    assert!(is_it(overrun) && report.at.offset == ran.offsets.offset("culprit"), "{name}: {report}");
}

/// A folder with these files.
fn folder(files: &[(&str, &[u8])]) -> (tempfile::TempDir, Folder) {
    let place = tempfile::tempdir().unwrap();
    files.iter().for_each(|(name, bytes)| std::fs::write(place.path().join(name), bytes).unwrap());
    let folder = Folder::new(place.path(), false).unwrap();
    (place, folder)
}

#[test]
fn files_and_programs_that_start_others() {
    let pixel = |x: usize, y: usize| (3 * x + y) & 255;
    let file: Vec<u8> = picture(320, 200, pixel).concat();
    let (_place, pier) = folder(&[("PIER.RAW", &file)]);
    let around = Around { folder: Some(pier), tail: "pier.raw", ..Around::default() };
    for board in ["vga", "linear-256"] {
        let Some(ran) = run_on(USUAL, board, "pieces.asm", &[], &around) else { return };
        let Some(frames) = well(ran, board, "pieces.asm", &[]) else { return };
        let wanted = picture(320, 200, |x, y| match y {
            0..3 => pixel(x, 100 + y),
            100.. => pixel(x, y - 100),
            _ => pixel(x, y),
        });
        assert!(values(frames.last().unwrap()) == wanted, "{board}");
        wrong_on(USUAL, (board, "pieces.asm", "WRONG"), &around, ("pitch", "culprit"));
    }
    let Some(parent) = programs::labelled("parent.asm", &[]) else { return };
    let colours: Vec<u8> = (1..17).collect();
    let (_place, programs) = folder(&[("PARENT.COM", &parent.bytes), ("COLOURS.OVL", &colours)]);
    let around = Around { folder: Some(programs), ..Around::default() };
    for board in ["vga", "linear-256"] {
        let Some(ran) = run_on(USUAL, board, "parent.asm", &[], &around) else { return };
        let Some(frames) = well(ran, board, "parent.asm", &[]) else { return };
        let wanted = picture(320, 200, |x, y| match y {
            0..3 => y + 2,
            3 if x < 16 => x + 1,
            _ => 0,
        });
        assert!(values(frames.last().unwrap()) == wanted, "{board}");
    }
    let Some(parent) = programs::labelled("parent.asm", &["WRONG"]) else { return };
    let (_place, programs) = folder(&[("PARENT.COM", &parent.bytes), ("COLOURS.OVL", &colours)]);
    let around = Around { folder: Some(programs), ..Around::default() };
    overran("parent.asm", "WRONG", &around, |overrun| matches!(overrun, Overrun::Another { .. }));
}

#[test]
fn monochrome_modes_move_the_ports() {
    let Some(frames) = right("vga", "mono-modes.asm", &[]) else { return };
    // Palette registers 7, 15 and 0 with 7 lead to the levels that a monochrome display shows as lit, bright and reversed.
    let text = frames.iter().filter(|frame| frame.picture_size() == (720, 400));
    let set = CharacterSet::built_in().stretched(16);
    let lit = |values: &[Vec<u8>], row: usize, code: u8| {
        (0..16).all(|line| {
            (0..8).all(|x| (values[row * 16 + line][x] != 0) == (set.row(code, line as u8) >> (7 - x) & 1 != 0))
        })
    };
    let third = text.into_iter().filter(|frame| {
        let values = values(frame);
        // The third row is shown first, and below it nothing.
        !lit(&values, 0, b'C') && values[0][0] == 7 && lit(&values, 1, b' ') && lit(&values, 2, b' ')
    });
    assert!(third.count() >= 2, "the start address was written at 3B4h");
    let planes = picture(640, 350, |x, y| usize::from(y < 100 && x % 8 < 4) + 4 * usize::from((50..100).contains(&y)));
    let high = sized(&frames, 640, 350);
    assert!(high.iter().filter(|frame| values(frame) == planes).count() >= 2);
    let dark = [[0; 3], [0x2A; 3], [0x3F; 3], [0x3F; 3]];
    let shown = high.iter().rfind(|frame| values(frame) == planes).unwrap();
    let colours = [0, 1, 4, 5].map(|value| levels(shown, value).unwrap());
    assert_eq!(colours, dark);
    stuck("vga", "mono-modes.asm", &StuckCause::Port { port: 0x3DA, value: 0xFF });
}

#[test]
fn modes_of_the_graphics_controller() {
    let stripes = |x: usize| usize::from(x % 8 >= 4);
    let boxed = |step: usize| {
        picture(320, 200, |x, y| if (185..197).contains(&y) && x <= step && x < 24 { 12 } else { stripes(x) })
    };
    // The box leaves its colour behind.
    let Some(frames) = right("vga", "mode-three.asm", &[]) else { return };
    shows_in_turn(&sized(&frames, 320, 200), &(0..24).map(boxed).collect::<Vec<_>>());
    wrong("vga", "mode-three.asm", "WRONG", "tear", "culprit");
    // Bresenham's line: of 24 points each step aside goes down where the error has come round.
    let line = |rise: i32| {
        let mut lit = vec![];
        let (mut y, mut error) = (180, 12);
        for x in 60..84 {
            lit.push((x, y));
            error -= rise;
            if error < 0 {
                error += 24;
                y += 1;
            }
        }
        picture(320, 200, move |x, y| if lit.contains(&(x as i32, y as i32)) { 10 } else { 0 })
    };
    for board in ["ega", "vga"] {
        let Some(frames) = right(board, "lines-xor.asm", &[]) else { return };
        shows_in_turn(
            &sized(&frames, 320, 200),
            &(0..7).map(|step| line(3 * step)).chain([picture(320, 200, |_, _| 0)]).collect::<Vec<_>>(),
        );
    }
    wrong("vga", "lines-xor.asm", "WRONG", "tear", "culprit");
    for board in ["ega", "vga"] {
        let Some(frames) = right(board, "mode-two.asm", &[]) else { return };
        let ramp = picture(640, 350, |x, y| if x < 64 && y < 40 { (x + y) & 15 } else { 0 });
        assert!(values(frames.last().unwrap()) == ramp, "{board}");
        wrong(board, "mode-two.asm", "WRONG", "pitch", "culprit");
        let Some(frames) = right(board, "compare-colour.asm", &[]) else { return };
        let bars = picture(320, 200, |x, y| match y {
            0..16 if x < 8 * y && x % 8 < 5 => 5,
            0..16 => 1,
            100..116 if x < 5 * (y - 100) => 15,
            _ => 0,
        });
        assert!(values(frames.last().unwrap()) == bars, "{board}");
        let Some(frames) = right(board, "set-reset.asm", &[]) else { return };
        let checks = picture(320, 200, |x, y| if y < 100 { 4 + 3 * ((x + x / 8 + y) % 2) } else { 0 });
        assert!(values(frames.last().unwrap()) == checks, "{board}");
        wrong(board, "set-reset.asm", "WRONG", "pitch", "culprit");
    }
    wrong("vga", "compare-colour.asm", "WRONG", "tear", "culprit");
}

#[test]
fn a_sprite_on_two_unchained_pages() {
    let Some(frames) = right("vga", "buffers.asm", &[]) else { return };
    let at = |step: usize| {
        picture(320, 200, |x, y| {
            if (60..68).contains(&y) && (3 * step..3 * step + 8).contains(&x) { 40 + x - 3 * step } else { 0 }
        })
    };
    shows_in_turn(&sized(&frames, 320, 200), &(0..14).map(at).collect::<Vec<_>>());
    wrong("vga", "buffers.asm", "WRONG", "tear", "culprit");
}

#[test]
fn text_without_blinking_and_with_glyphs_that_move() {
    for (board, width) in [("ega", 640), ("vga", 720)] {
        let Some(frames) = right(board, "backgrounds.asm", &[]) else { return };
        let text: Vec<&Frame> = frames.iter().filter(|frame| frame.picture_size().0 == width).collect();
        let column = width as usize / 16;
        let shown = |frame: &&Frame| {
            values(frame).iter().all(|row| (0..width as usize).all(|x| usize::from(row[x]) == x / column))
        };
        assert!(text.iter().filter(|frame| shown(frame)).count() >= 5, "{board}: sixteen backgrounds");
        wrong(board, "backgrounds.asm", "WRONG", "mid-picture", "culprit");
        let Some(frames) = right(board, "glyph-ram.asm", &[]) else { return };
        let cell = width as usize / 80;
        let bar = |step: usize| {
            picture(width as usize, 25 * if board == "ega" { 14 } else { 16 }, |x, _| {
                // The ninth column of these characters repeats the eighth.
                if (x % cell).min(7) == step % 8 { 15 } else { 0 }
            })
        };
        let text: Vec<&Frame> = frames.iter().filter(|frame| frame.picture_size().0 == width).collect();
        shows_in_turn(&text, &(0..8).map(bar).collect::<Vec<_>>());
    }
}

#[test]
fn a_mode_set_by_ports_alone() {
    let Some(frames) = right("vga", "by-ports.asm", &[]) else { return };
    let ramp = picture(320, 200, |x, _| x / 8 % 16);
    let last = frames.last().unwrap();
    assert_eq!(last.picture_size(), (320, 200));
    assert!(values(last) == ramp);
    wrong("vga", "by-ports.asm", "WRONG", "protected-register", "culprit");
}
