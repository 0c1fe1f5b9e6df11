//! The fault of memory rows reloaded once a line, against the table of what
//! is seen on real boards of the 64 KiB 256-colour class (derived from one
//! model: rows of 256 bytes, one reload a line; 200 lines, pitch = width).

use backporch_adapter::Adapter;
use backporch_quirk::{Family, QuirkStack};
use backporch_raster::{Plain, QuietFrame, Span};

/// Addresses of a line's bytes.
fn addresses(spans: &[Span]) -> Vec<u32> {
    spans.iter().flat_map(|span| span.address..span.address + span.len).collect()
}

/// For each damaged line: its number and the pixels between which it is damaged.
fn damaged(start: u64, characters: u64) -> Vec<(u32, u32, u32)> {
    let adapter = Adapter::built_in("linear-256").unwrap();
    let mut registers = adapter.start_up(adapter.default_mode());
    for (name, value) in [("start_address", start), ("displayed", characters - 1)] {
        adapter.set(&mut registers, adapter.field(name).unwrap(), value).unwrap();
    }
    let stack = QuirkStack::new(vec![Family::built_in("row-reload").unwrap().close_default()], 0);
    let quiet = QuietFrame::new(&adapter, &registers, &stack);
    let (faulty, plain) = (quiet.plan(&stack), quiet.plan(&Plain));
    assert_eq!(faulty.lines.len(), 200);
    let pairs = faulty.rows().zip(plain.rows()).map(|(one, two)| (addresses(one), addresses(two)));
    let differing = pairs.enumerate().filter_map(|(line, (one, two))| {
        let mut places = (0..one.len()).filter(|at| one[*at] != two[*at]);
        let first = places.next()?;
        let last = places.next_back().unwrap_or(first);
        Some((line as u32, first as u32, last as u32))
    });
    differing.collect()
}

#[test]
fn steps_of_a_whole_period_are_clean() {
    for start in [0, 32, 64] {
        assert_eq!(damaged(start, 40), [], "start {start}");
    }
}

#[test]
fn every_fourth_line_is_damaged_from_the_right() {
    for (start, phase, pixels) in [(1, 3, 2), (16, 3, 32), (31, 3, 62), (33, 2, 2)] {
        let lines = damaged(start, 40);
        assert_eq!(lines.len(), 50, "start {start}");
        for (line, first, last) in lines {
            assert_eq!((line % 4, first, last), (phase, 320 - pixels, 319), "start {start} line {line}");
        }
    }
}

#[test]
fn some_widths_show_damage_at_start_0() {
    let table = [(39, 37), (38, 25), (37, 25), (36, 0), (35, 12), (34, 0), (33, 0), (32, 0)];
    for (characters, lines) in table {
        assert_eq!(damaged(0, characters).len(), lines, "{characters} characters");
    }
}

#[test]
fn lines_of_256_bytes_are_clean_at_every_start() {
    for start in 0..=255 {
        assert_eq!(damaged(start, 32), [], "start {start}");
    }
}
