//! Faults in the bytes fetched.

use super::{byte, bytes, linear, stack, values, with};
use backporch_quirk::QuirkStack;

/// The first line of the 256-colour class shows the first 320 bytes of memory.
fn first_line(tap: QuirkStack) -> Vec<u8> {
    values(&linear(&[]).board(tap).run_frame(), 0)
}

#[test]
fn a_dead_data_line_clears_its_bit() {
    let expected: Vec<u8> = (0..320).map(|at| byte(at) & !0x10).collect();
    assert_eq!(first_line(with("data-bit-stuck", &[("bits", 0x10)])), expected);
}

#[test]
fn the_byte_after_a_pause_is_the_one_before() {
    let stale = |at: u32| if at > 0 && at.is_multiple_of(64) { at - 1 } else { at };
    assert_eq!(first_line(with("byte-stale-after-pause", &[("count", 64)])), bytes((0..320).map(stale)));
}

#[test]
fn bytes_after_a_crossing_come_from_before_it() {
    let tap = with("byte-stale-at-crossing", &[("row_bytes", 256), ("last", 1)]);
    let stale = |at: u32| if (256..258).contains(&at) { at - 4 } else { at };
    assert_eq!(first_line(tap.clone()), bytes((0..320).map(stale)));
    // The line after begins in the middle of a row: nothing is stale at its first byte.
    let second = values(&linear(&[]).board(tap).run_frame(), 2);
    let stale = |at: u32| if (512..514).contains(&at) { at - 4 } else { at };
    assert_eq!(second, bytes((320..640).map(stale)));
}

#[test]
fn an_empty_line_buffer_holds_its_last_byte() {
    assert_eq!(first_line(with("line-buffer-underrun", &[("from", 256)])), bytes((0..320).map(|at: u32| at.min(255))));
}

#[test]
fn a_short_line_buffer_comes_round() {
    assert_eq!(first_line(with("line-buffer-short", &[("from", 128)])), bytes((0..320).map(|at| at % 128)));
}

#[test]
fn bytes_change_places_in_pairs() {
    assert_eq!(first_line(stack("byte-pairs-swapped")), bytes((0..320).map(|at| at ^ 1)));
}

#[test]
fn a_write_shows_as_snow_under_the_beam() {
    let setup = linear(&[]);
    let mut board = setup.board(with("snow", &[("bytes", 2)]));
    board.run_to(setup.dot(10, 5));
    board.write_memory(60_000, 0xAA);
    let frame = board.run_frame();
    // Scan line 10 shows line 5, from byte 1600 on; character 5 begins 40 bytes along.
    let mut snowy = bytes(1600..1920);
    snowy[40..42].fill(0xAA);
    assert_eq!(values(&frame, 10), snowy);
    assert_eq!(values(&frame, 11), bytes(1600..1920), "the same line once more is clean");
    assert_eq!(values(&frame, 9), bytes(1280..1600));
    board.run_to(frame.first_dot + setup.dot(449, 0) + setup.dot(420, 5));
    board.write_memory(60_001, 0xAA);
    let frame = board.run_frame();
    assert_eq!(values(&frame, 10), bytes(1600..1920), "a write in retrace shows nowhere");
}

#[test]
fn reads_fail_by_chance() {
    let setup = linear(&[]);
    let wrong = |seed: u64| {
        let quirk = stack("data-noise").quirks()[0].clone();
        let mut board = setup.board(QuirkStack::new(vec![quirk], seed));
        let frame = board.run_frame();
        let differs = |line: usize| {
            let plain = bytes((0..320).map(|at| at + line as u32 / 2 * 320));
            values(&frame, line).into_iter().zip(plain).map(|(one, other)| one != other).collect::<Vec<_>>()
        };
        (0..400).flat_map(differs).collect::<Vec<bool>>()
    };
    let (one, other) = (wrong(1), wrong(2));
    let count = one.iter().filter(|wrong| **wrong).count();
    // 2 in 1000 of 128000 bytes, of which one in 256 stays right by chance: 255 ± 16.
    assert!((175..335).contains(&count), "{count} bytes");
    assert_eq!(one, wrong(1), "the same seed, the same noise");
    assert_ne!(one, other);
    assert_ne!(one[..320], one[320..640], "a line shown twice is misread in two ways");
}
