//! What the class's row transfer does to pictures, held against plain counting.
//! The numbers are the simulation's, for 200 lines with pitch = width.

use backporch_raster::{Board, Layer, Plain, QuietFrame, Span};

use super::{adapter, layers, registers};

fn addresses(spans: &[Span]) -> Vec<u32> {
    spans.iter().flat_map(|span| span.address..span.address + span.len).collect()
}

/// For each damaged line its number, and the first and last pixel damaged on it.
fn damaged(start: u16, characters: u8) -> Vec<(usize, usize, usize)> {
    let [high, low] = start.to_be_bytes();
    let registers = registers(&[(0x01, characters - 1), (0x0C, high), (0x0D, low)]);
    let tap = layers().by_design();
    let quiet = QuietFrame::new(&adapter(), &registers, &tap);
    let (built, plain) = (quiet.plan(&tap), quiet.plan(&Plain));
    assert_eq!(plain.lines.len(), 200);
    let pairs = built.rows().zip(plain.rows()).map(|(one, other)| (addresses(one), addresses(other)));
    let damaged = pairs.enumerate().filter_map(|(line, (one, other))| {
        let mut places = (0..one.len()).filter(|at| one[*at] != other[*at]);
        let first = places.next()?;
        Some((line, first, places.next_back().unwrap_or(first)))
    });
    damaged.collect()
}

#[test]
fn pictures_of_320_pixels_have_three_regimes_in_32_steps() {
    for start in [0, 32, 64] {
        assert_eq!(damaged(start, 40), [], "step {start}");
    }
    let regimes = [
        (1, 3, 318, 319),
        (2, 3, 316, 319),
        (3, 3, 314, 319),
        (4, 3, 56, 311),
        (16, 3, 32, 287),
        (31, 3, 2, 257),
        (33, 2, 318, 319),
    ];
    for (start, phase, first, last) in regimes {
        let lines = damaged(start, 40);
        assert_eq!(lines.len(), 50, "step {start}");
        assert!(
            lines.iter().all(|line| (line.0 % 4, line.1, line.2) == (phase, first, last)),
            "step {start}: {lines:?}"
        );
    }
}

#[test]
fn some_widths_show_damage_at_start_0() {
    for (characters, lines) in [(39, 37), (38, 25), (37, 25), (36, 0), (35, 12), (34, 0), (33, 6), (32, 0)] {
        assert_eq!(damaged(0, characters).len(), lines, "{characters} characters");
    }
}

#[test]
fn pictures_of_256_pixels_bounce_for_four_steps_in_128() {
    for start in 0..=256 {
        let edges = match start % 128 {
            1..=3 => Some((256 - 2 * (start % 128), 255)),
            124..=127 => Some((2 * (128 - start % 128), 255)),
            _ => None,
        };
        let lines = damaged(start, 32);
        let Some((first, last)) = edges else {
            assert_eq!(lines, [], "step {start}");
            continue;
        };
        assert_eq!(lines.len(), 200, "step {start}");
        let wanted = (usize::from(first), last);
        assert!(lines.iter().all(|line| (line.1, line.2) == wanted), "step {start}: {lines:?}");
    }
}

/// A change says what happened, by what, and on which layer.
#[test]
fn a_change_names_its_layer_and_source() {
    let mut board = Board::new(adapter(), registers(&[(0x0D, 4)]), layers().by_design());
    let frame = board.run_frame();
    let found = board.provenance(&frame, 56, 3).unwrap();
    let [change] = &found.address_changes[..] else { panic!("{:?}", found.address_changes) };
    assert_eq!(change.quirk, "row-transfer");
    assert_eq!(change.does, "row 4h was due here; the line's one transfer loaded row 5h at byte 56");
    let Layer::Design { source } = &change.layer else { panic!("{:?}", change.layer) };
    assert!(source.contains("72X8300"), "{source}");
    assert_eq!(board.provenance(&frame, 55, 3).unwrap().address_changes, []);
}
