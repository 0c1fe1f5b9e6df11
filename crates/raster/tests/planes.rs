//! The processor's way through planes, at values computed by hand (VGA register
//! documentation).

mod common;

use backporch_raster::Board;
use common::{attribute, board, crtc, indexed};

const SEQUENCER: u16 = 0x3C4;
const GRAPHICS: u16 = 0x3CE;

/// The four planes' bytes at an address.
fn planes(board: &Board, at: usize) -> [u8; 4] {
    board.memory()[at * 4..at * 4 + 4].try_into().unwrap()
}

#[test]
fn chained_memory_takes_four_pixels_in_turn() {
    let mut board = board("vga", "320x200x256");
    for (offset, value) in [(0, 10), (1, 11), (2, 12), (3, 13), (4, 14), (320, 99), (63_999, 77)] {
        board.write_memory(offset, value);
    }
    assert_eq!(planes(&board, 0), [10, 11, 12, 13]);
    assert_eq!(planes(&board, 4), [14, 0, 0, 0], "a chained address leaves gaps of four");
    let frame = board.run_frame();
    let shown = [(0, 0), (1, 0), (3, 0), (4, 0), (0, 1), (319, 199)].map(|(x, y)| frame.value_at(x, y).unwrap());
    assert_eq!(shown, [10, 11, 13, 14, 99, 77]);
    assert_eq!(board.read_memory(320), 99);
    assert_eq!(board.peek_memory(63_999), 77);
}

#[test]
fn map_mask_chooses_planes() {
    let mut board = board("vga", "320x200x256-planar");
    for (mask, value) in [(1, 1), (2, 2), (4, 3), (8, 4), (0b1010, 9)] {
        indexed(&mut board, SEQUENCER, 2, mask);
        board.write_memory(u32::from(mask == 0b1010), value);
    }
    assert_eq!(planes(&board, 0), [1, 2, 3, 4]);
    assert_eq!(planes(&board, 1), [0, 9, 0, 9]);
    let frame = board.run_frame();
    assert_eq!([0, 1, 2, 3, 5].map(|x| frame.value_at(x, 0).unwrap()), [1, 2, 3, 4, 9]);
    indexed(&mut board, GRAPHICS, 4, 2);
    assert_eq!(board.read_memory(0), 3, "read map 2");
}

/// Write mode 0: rotate, function with the latches, bit mask, set/reset.
#[test]
fn write_mode_0() {
    let mut board = board("vga", "640x480x16");
    board.write_memory(7, 0b1100_1010);
    assert_eq!(planes(&board, 7), [0b1100_1010; 4]);
    board.read_memory(7);
    indexed(&mut board, GRAPHICS, 8, 0b0000_1111);
    board.write_memory(8, 0b0101_0101);
    assert_eq!(planes(&board, 8), [0b1100_0101; 4], "the upper half comes from the latches");
    indexed(&mut board, GRAPHICS, 8, 0xFF);
    indexed(&mut board, GRAPHICS, 3, 1);
    board.write_memory(9, 0b0000_0011);
    assert_eq!(planes(&board, 9), [0b1000_0001; 4], "rotated right by one");
    for (function, result) in [(1, 0b1100_0000), (2, 0b1111_1010), (3, 0b0011_1010)] {
        indexed(&mut board, GRAPHICS, 3, function << 3);
        board.write_memory(10, 0b1111_0000);
        assert_eq!(planes(&board, 10)[0], result, "function {function}");
    }
    indexed(&mut board, GRAPHICS, 3, 0);
    indexed(&mut board, GRAPHICS, 0, 0b0101);
    indexed(&mut board, GRAPHICS, 1, 0b0111);
    board.write_memory(11, 0x3C);
    assert_eq!(planes(&board, 11), [0xFF, 0x00, 0xFF, 0x3C]);
}

#[test]
fn write_modes_1_to_3() {
    let mut board = board("vga", "640x480x16");
    for (plane, byte) in [(1, 0x11), (2, 0x22), (4, 0x44), (8, 0x88)] {
        indexed(&mut board, SEQUENCER, 2, plane);
        board.write_memory(0, byte);
    }
    indexed(&mut board, SEQUENCER, 2, 15);
    board.read_memory(0);
    indexed(&mut board, GRAPHICS, 5, 1);
    board.write_memory(1, 0xEE);
    assert_eq!(planes(&board, 1), [0x11, 0x22, 0x44, 0x88], "mode 1 copies the latches");
    indexed(&mut board, GRAPHICS, 5, 2);
    indexed(&mut board, GRAPHICS, 8, 0xF0);
    board.write_memory(2, 0b0110);
    assert_eq!(planes(&board, 2), [0x01, 0xF2, 0xF4, 0x08], "mode 2 takes a colour");
    indexed(&mut board, GRAPHICS, 5, 3);
    indexed(&mut board, GRAPHICS, 8, 0x3F);
    indexed(&mut board, GRAPHICS, 0, 0b1001);
    board.write_memory(3, 0xF0);
    assert_eq!(planes(&board, 3), [0x31, 0x02, 0x44, 0xB8], "mode 3 masks set/reset by the byte");
}

#[test]
fn read_mode_1_compares_colours() {
    let mut board = board("vga", "640x480x16");
    for (plane, byte) in [(1, 0b1010_0000), (2, 0b1100_0000), (4, 0), (8, 0)] {
        indexed(&mut board, SEQUENCER, 2, plane);
        board.write_memory(0, byte);
    }
    indexed(&mut board, GRAPHICS, 5, 8);
    indexed(&mut board, GRAPHICS, 2, 0b0011);
    assert_eq!(board.read_memory(0), 0b1000_0000, "where both planes are set");
    indexed(&mut board, GRAPHICS, 7, 0b0001);
    assert_eq!(board.read_memory(0), 0b1010_0000, "planes that do not matter");
}

/// Text puts codes into plane 0 and attributes into plane 1; the window is B8000h.
#[test]
fn text_memory_is_odd_and_even() {
    let mut board = board("vga", "720x400-text");
    let window = 0x18000;
    board.write_memory(window, b'A');
    board.write_memory(window + 1, 0x1F);
    board.write_memory(0, 0xEE);
    assert_eq!(&planes(&board, 0)[..2], &[b'A', 0x1F], "nothing is mapped at A0000h");
    assert_eq!((board.peek_memory(window), board.peek_memory(window + 1), board.peek_memory(0)), (b'A', 0x1F, 0xFF));
    crtc(&mut board, 0x0A, 0x20);
    let frame = board.run_frame();
    let cell: Vec<u8> = (0..9).map(|x| frame.value_at(x, 4).unwrap()).collect();
    assert!(cell.contains(&15) && cell.contains(&1), "a letter in white on blue: {cell:?}");
    assert_eq!(frame.picture_size(), (720, 400));
}

#[test]
fn the_attribute_port_takes_index_and_data_in_turn() {
    let mut board = board("vga", "640x480x16");
    attribute(&mut board, 3, 0x2A);
    assert_eq!(board.read_port(0x3C1), 0x2A);
    board.read_port(0x3DA);
    board.write_port(0x3C0, 0x24);
    board.read_port(0x3DA);
    board.write_port(0x3C0, 0x23);
    assert_eq!(board.read_port(0x3C1), 0x2A, "the status read made the second byte an index");
    board.read_port(0x3DA);
    board.write_port(0x3C0, 0x03);
    let frame = board.run_frame();
    let border = frame.palettes[0].border;
    assert!(frame.palettes[0].colours.iter().all(|colour| *colour == border), "the palette is out of sight");
}

#[test]
fn the_dac_counts_on_and_the_mask_hides_bits() {
    let mut board = board("vga", "320x200x256");
    board.write_port(0x3C8, 200);
    for level in [1, 2, 3, 61, 62, 63] {
        board.write_port(0x3C9, level);
    }
    board.write_port(0x3C7, 200);
    let read: Vec<u8> = (0..6).map(|_| board.read_port(0x3C9)).collect();
    assert_eq!(read, [1, 2, 3, 61, 62, 63]);
    let colours = board.run_frame().palettes[0].colours;
    assert_eq!((colours[200], colours[201]), ([4, 8, 12, 255], [247, 251, 255, 255]));
    board.write_port(0x3C6, 0xFE);
    board.run_frame();
    let colours = board.run_frame().palettes[0].colours;
    assert_eq!(colours[201], colours[200]);
}

/// 00h to 07h are protected by bit 7 of 11h, but for bit 4 of 07h.
#[test]
fn write_protection_spares_the_line_compare() {
    let mut board = board("vga", "320x200x256");
    crtc(&mut board, 0x01, 63);
    crtc(&mut board, 0x07, 0x00);
    let read = |board: &mut Board, index| {
        board.write_port(0x3D4, index);
        board.read_port(0x3D5)
    };
    assert_eq!(read(&mut board, 0x01), 0x4F);
    assert_eq!(read(&mut board, 0x07), 0x0F);
    crtc(&mut board, 0x11, 0x0E);
    crtc(&mut board, 0x01, 63);
    assert_eq!(read(&mut board, 0x01), 63);
}
