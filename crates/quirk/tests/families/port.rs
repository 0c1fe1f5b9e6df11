//! Faults on the way from the bus to the registers.

use super::{linear, program, stack, stored, with};

#[test]
fn the_upper_half_of_a_word_is_lost() {
    let setup = linear(&[]);
    let (mut plain, mut faulty) = (setup.plain(), setup.board(stack("port-upper-half-lost")));
    for board in [&mut plain, &mut faulty] {
        board.write_port_word(0x3D4, 0x120D);
    }
    assert_eq!((stored(&plain, "start_address"), stored(&faulty, "start_address")), (0x12, 0));
    faulty.write_port(0x3D5, 0x34);
    assert_eq!(stored(&faulty, "start_address"), 0x34, "the lower half chose the register");
}

#[test]
fn the_second_of_two_quick_writes_is_lost() {
    let mut board = linear(&[]).board(with("port-slow", &[("dots", 32)]));
    board.write_port(0x3D4, 0x0D);
    board.run_to(16);
    board.write_port(0x3D5, 5);
    assert_eq!(stored(&board, "start_address"), 0, "16 dots are too few");
    board.run_to(32);
    board.write_port(0x3D5, 7);
    assert_eq!(stored(&board, "start_address"), 7, "32 dots after the last write that arrived");
}

#[test]
fn a_register_takes_one_value_an_index() {
    let mut board = linear(&[]).board(stack("port-index-forgotten"));
    program(&mut board, 0x0D, 1);
    board.write_port(0x3D5, 2);
    assert_eq!(stored(&board, "start_address"), 1);
    program(&mut board, 0x0D, 3);
    assert_eq!(stored(&board, "start_address"), 3);
}

#[test]
fn a_dead_data_line_clears_its_bit() {
    let mut board = linear(&[]).board(with("port-data-bit-stuck", &[("bits", 4)]));
    program(&mut board, 0x0D, 0x0F);
    assert_eq!(stored(&board, "start_address"), 0x0B, "the index 0Dh arrives whole, the data do not");
}

#[test]
fn a_dead_register_keeps_its_value() {
    let mut board = linear(&[]).board(with("port-register-dead", &[("index", 12)]));
    program(&mut board, 0x0C, 1);
    program(&mut board, 0x0D, 2);
    assert_eq!(stored(&board, "start_address"), 2);
}

#[test]
fn the_protect_bit_protects_nothing_or_for_ever() {
    let setup = linear(&[]);
    let mut open = setup.board(stack("port-protect-open"));
    program(&mut open, 1, 31);
    assert_eq!(stored(&open, "displayed"), 31, "though protected at start-up");
    let mut shut = setup.board(stack("port-protect-shut"));
    program(&mut shut, 0x10, 0);
    program(&mut shut, 1, 31);
    assert_eq!((stored(&shut, "write_protect"), stored(&shut, "displayed")), (0, 39));
}

/// The take-over of this class comes as line 448 begins (reverse-engineered
/// schematic of display controller gate array 72X8300).
#[test]
fn writes_just_before_the_take_over_are_lost() {
    let setup = linear(&[]);
    let latch = 448;
    for (line, arrives) in [(latch - 2, true), (latch - 1, false), (latch, false), (latch + 1, true)] {
        let mut board = setup.board(with("port-start-near-latch-lost", &[("lines", 1)]));
        board.run_to(setup.dot(line, 3));
        program(&mut board, 0x0D, 9);
        assert_eq!(stored(&board, "start_address"), if arrives { 9 } else { 0 }, "line {line}");
        program(&mut board, 0x0F, 8);
        assert_eq!(stored(&board, "cursor_address"), 8, "other registers take their writes");
    }
}
