//! Faults in the pixel values.

use super::{byte, bytes, colour_graphics, linear, stack, values, with};
use backporch_quirk::QuirkStack;

/// The first line of the 256-colour class shows the first 320 bytes of memory.
fn first_line(tap: QuirkStack) -> Vec<u8> {
    values(&linear(&[]).board(tap).run_frame(), 0)
}

#[test]
fn a_panned_line_stands_a_pixel_off() {
    assert_eq!(first_line(with("panning-off", &[("pixels", 1)])), bytes(1..321));
    let late = first_line(with("panning-off", &[("pixels", -2)]));
    assert_eq!(late, bytes([0, 0].into_iter().chain(0..318)), "the first pixel fills the gap");
}

#[test]
fn pixels_change_places_in_pairs() {
    assert_eq!(first_line(stack("pixel-pairs-swapped")), bytes((0..320).map(|x| x ^ 1)));
    // Four pixels a byte, most significant first: 0 1 2 3 are shown as 1 0 3 2.
    let setup = colour_graphics("320x200x4", &[]);
    let line = values(&setup.board(stack("pixel-pairs-swapped")).run_frame(), 0);
    let pixel = |x: u32| byte(x / 4) >> (6 - x % 4 * 2) & 3;
    assert_eq!(line, (0..320).map(|x| pixel(x ^ 1)).collect::<Vec<_>>());
}

#[test]
fn the_last_character_is_black() {
    let mut expected = bytes(0..320);
    expected[312..].fill(0);
    assert_eq!(first_line(with("last-character-cut", &[("pixels", 8)])), expected);
}

#[test]
fn the_first_character_is_doubled() {
    assert_eq!(first_line(stack("first-character-repeated")), bytes((0..8).chain(0..312)));
}

#[test]
fn lines_jitter_by_chance() {
    let tap = with("line-jitter", &[("pixels", 1), ("in_1000", 300)]);
    let frame = linear(&[]).board(tap).run_frame();
    let mut moved = [0; 3];
    for line in 0..400u32 {
        let from = line / 2 * 320;
        let shown = values(&frame, line as usize);
        let by = [-1i32, 0, 1].into_iter().find(|by| {
            let source = |x: u32| from + x.saturating_add_signed(*by);
            shown == bytes((0..320).map(source))
        });
        moved[(by.unwrap_or_else(|| panic!("line {line}")) + 1) as usize] += 1;
    }
    // Three lines in ten jitter, each way and not at all alike: 40 ± 6, 320 and 40 of 400.
    assert!((15..65).contains(&moved[0]) && (15..65).contains(&moved[2]), "{moved:?}");
}

#[test]
fn a_dead_plane_clears_its_bit() {
    let expected: Vec<u8> = (0..320).map(|x| byte(x) & !2).collect();
    assert_eq!(first_line(with("plane-dead", &[("bits", 2)])), expected);
}

#[test]
fn palette_writes_show_under_the_beam() {
    let setup = linear(&[]);
    let mut board = setup.board(with("palette-write-shows", &[("pixels", 4)]));
    board.write_port(0x3C8, 7);
    board.run_to(setup.dot(10, 5));
    board.write_port(0x3C9, 0x3F);
    let frame = board.run_frame();
    let mut dashed = bytes(1600..1920);
    dashed[40..44].fill(0x3F);
    assert_eq!(values(&frame, 10), dashed);
    assert_eq!(values(&frame, 0), bytes(0..320), "choosing an entry shows nothing");
}

#[test]
fn provenance_names_who_touched_a_pixel() {
    let setup = linear(&[]);
    let mut board = setup.board(with("last-character-cut", &[("pixels", 8)]));
    let frame = board.run_frame();
    let touches = |x: u32| board.provenance(&frame, x, 3).unwrap().value_changes;
    assert_eq!(touches(311), []);
    let touched = touches(312);
    assert_eq!((touched[0].quirk.as_str(), touched[0].does.as_str()), ("last-character-cut", "value 0 is shown"));
}
