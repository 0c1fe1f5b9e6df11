//! Faults in the colours.

use std::sync::Arc;

use backporch_adapter::{Palette, RGBI};
use backporch_quirk::QuirkStack;

use super::{colour_graphics, linear, stack, with};

/// The colours of a text screen: the sixteen of an RGBI interface, border in colour 4.
fn text(tap: QuirkStack) -> Arc<Palette> {
    let setup = colour_graphics("text-80", &[("select_colour", 4)]);
    Arc::clone(&setup.board(tap).run_frame().palettes[0])
}

/// The colours of the 256-colour class with some entries loaded.
fn dac(tap: QuirkStack, entries: &[(u8, [u8; 3])]) -> Arc<Palette> {
    let mut board = linear(&[]).board(tap);
    for (index, levels) in entries {
        board.write_port(0x3C8, *index);
        levels.iter().for_each(|level| board.write_port(0x3C9, *level));
    }
    Arc::clone(board.run_frame().palettes.last().unwrap())
}

#[test]
fn missing_low_bits_make_steps() {
    let palette = dac(with("level-bits-missing", &[("bits", 0x0F)]), &[(1, [63, 1, 32])]);
    // 6-bit levels widen to FFh, 04h and 82h.
    assert_eq!(palette.colours[1], [0xF0, 0x00, 0x80, 255]);
}

#[test]
fn white_without_red_is_cyan() {
    let palette = text(stack("red-dead"));
    assert_eq!(palette.colours[15], [0, 0xFF, 0xFF, 255]);
    assert_eq!(palette.border, [0, 0, 0, 255], "a red border is black");
}

#[test]
fn red_and_blue_change_places() {
    let palette = text(stack("red-blue-swapped"));
    assert_eq!((palette.colours[1], palette.colours[4]), (RGBI[4], RGBI[1]));
    assert_eq!((palette.colours[2], palette.colours[7]), (RGBI[2], RGBI[7]));
    assert_eq!(palette.border, RGBI[1]);
}

#[test]
fn upper_entries_are_never_shown() {
    let palette = dac(with("palette-index-short", &[("bits", 0xF0)]), &[(0x0F, [63, 0, 0]), (0x1F, [0, 63, 0])]);
    assert_eq!(palette.colours[0x1F], [0xFF, 0, 0, 255]);
    assert_eq!(palette.colours[0xFF], [0xFF, 0, 0, 255]);
}

/// Colour 6 is AA5500 where its green is halved (common practice).
#[test]
fn brown_is_dark_yellow() {
    let palette = text(stack("brown-yellow"));
    assert_eq!(palette.colours[6], [0xAA, 0xAA, 0, 255]);
    assert!((0..16).filter(|colour| *colour != 6).all(|colour| palette.colours[colour] == RGBI[colour]));
}

#[test]
fn the_border_is_black() {
    let palette = text(stack("border-black"));
    assert_eq!((palette.border, palette.colours[4]), ([0, 0, 0, 255], RGBI[4]));
}
