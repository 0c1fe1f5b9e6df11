//! Faults in the address of each byte. The fault of memory rows has a file of its own.

use backporch_quirk::QuirkStack;

use super::{colour_graphics, linear, stack, with};

#[test]
fn the_tail_is_damaged_and_from_some_step_on_the_line_is_shifted() {
    let tap = with("row-reload-then-shift", &[("row_bytes", 256), ("from_bytes", 10), ("bytes", 2)]);
    // Line 3 ought to cross its second row 2 × start bytes before its end.
    let line = |start: u64| linear(&[("start_address", start)]).spans(&tap, 3);
    assert_eq!(line(0), [(960, 320)]);
    assert_eq!(line(4), [(968, 312), (1024, 8)], "8 bytes are in the wrong row");
    assert_eq!(line(5), [(972, 320)], "10 bytes would be: the whole line is shifted by 2");
    assert_eq!(linear(&[("start_address", 5)]).spans(&tap, 2), [(650, 320)], "other lines are sound");
}

#[test]
fn a_carry_lost_along_the_line_repeats_its_block() {
    let setup = linear(&[]);
    let tap = with("carry-broken", &[("bit", 8)]);
    assert_eq!(setup.spans(&tap, 0), [(0, 256), (0, 64)]);
    assert_eq!(setup.spans(&tap, 1), [(320, 192), (256, 128)]);
}

#[test]
fn a_carry_lost_in_the_row_adder_moves_whole_lines() {
    let setup = linear(&[]);
    let tap = with("row-carry-broken", &[("bit", 8)]);
    // 320 is 140h: the low bytes add up to 100h at line 4, and the carry is lost.
    for (line, address) in [(0, 0), (1, 320), (3, 960), (4, 1024), (5, 1344), (8, 2560 - 512)] {
        assert_eq!(setup.spans(&tap, line), [(address, 320)], "line {line}");
    }
}

#[test]
fn a_dead_address_bit_is_0() {
    let tap = with("address-bit-stuck", &[("bits", 0x40)]);
    let spans = linear(&[]).spans(&tap, 0);
    assert_eq!(spans, [(0, 64), (0, 64), (128, 64), (128, 64), (256, 64)]);
}

#[test]
fn blocks_change_places_with_their_address_bits() {
    let tap = with("address-bits-swapped", &[("one", 7), ("other", 8)]);
    assert_eq!(linear(&[]).spans(&tap, 0), [(0, 128), (256, 128), (128, 64)]);
}

#[test]
fn memory_begins_again_too_early() {
    let tap = with("address-wrap", &[("bytes", 0x8000)]);
    let setup = linear(&[("start_address", 0x3FF8)]);
    assert_eq!(setup.spans(&tap, 0), [(0x7FF0, 16), (0, 304)]);
    let odd = with("address-wrap", &[("bytes", 0xFA00)]);
    assert_eq!(linear(&[("start_address", 0x7D00 - 4)]).spans(&odd, 0), [(0xFA00 - 8, 8), (0, 312)]);
}

#[test]
fn a_rounded_pitch_makes_the_picture_lean() {
    let tap = with("pitch-rounded", &[("to", 16)]);
    // 37 characters are 296 bytes, rounded down to 288.
    let setup = linear(&[("displayed", 36)]);
    assert_eq!(setup.spans(&tap, 1), [(288, 296)]);
    assert_eq!(setup.spans(&tap, 10), [(2880, 296)]);
    assert_eq!(linear(&[]).spans(&tap, 10), [(3200, 320)], "320 is a multiple of 16");
}

#[test]
fn the_first_character_comes_from_its_neighbour() {
    let tap = with("first-character-off", &[("bytes", -2)]);
    assert_eq!(linear(&[("start_address", 100)]).spans(&tap, 0), [(198, 8), (208, 312)]);
}

#[test]
fn groups_of_lines_are_moved() {
    let tap = with("line-group-off", &[("lines", 8), ("bytes", 2)]);
    let setup = linear(&[]);
    for (line, moved) in [(7, 0), (8, 2), (15, 2), (16, 0), (24, 2)] {
        assert_eq!(setup.spans(&tap, line), [(line as u32 * 320 + moved, 320)]);
    }
}

#[test]
fn the_banks_of_some_rows_change_places() {
    let setup = colour_graphics("320x200x4", &[]);
    let tap = with("bank-wrong", &[("count", 4)]);
    for (line, address) in [(0, 0x2000), (1, 0), (2, 80), (3, 0x2050), (8, 0x2000 + 320), (9, 320)] {
        assert_eq!(setup.spans(&tap, line), [(address, 80)], "line {line}");
    }
    let frame = setup.board(tap).run_frame();
    assert_eq!(frame.spans_of(&frame.lines[0])[0].address, 0x2000, "the board fetches what the plan says");
}

#[test]
fn rows_are_shown_again() {
    let setup = linear(&[]);
    let tap = with("row-shown-again", &[("count", 8)]);
    for (line, shown) in [(0, 0), (1, 0), (2, 2), (8, 8), (9, 8), (10, 10)] {
        assert_eq!(setup.spans(&tap, line), [(shown * 320, 320)], "line {line}");
    }
}

#[test]
fn provenance_names_who_bent_an_address() {
    let setup = linear(&[("start_address", 1)]);
    let mut board = setup.board(stack("row-reload"));
    let frame = board.run_frame();
    let found = board.provenance(&frame, 319, 3).unwrap();
    assert_eq!((found.address, found.plain_address), (1025, 1281));
    let address_changes: Vec<_> =
        found.address_changes.iter().map(|bend| (bend.quirk.as_str(), bend.before, bend.after)).collect();
    assert_eq!(address_changes, [("row-reload", 1281, 1025)]);
    assert_eq!(board.provenance(&frame, 317, 3).unwrap().address_changes, [], "two pixels before all is well");
}

#[test]
fn an_empty_stack_is_healthy() {
    let setup = linear(&[("start_address", 1)]);
    assert_eq!(setup.spans(&QuirkStack::default(), 3), [(962, 320)]);
}
