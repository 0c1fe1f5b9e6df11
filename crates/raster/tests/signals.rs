//! What a board tells the processor beside the beam's state: the light-pen latch, colour outputs in the status port, the
//! vertical interrupt. Sources: *CRT Controller* data sheet (R16, R17), Technical Reference of the enhanced graphics adapter
//! (registers 10h to 12h of the controller and of the attribute controller, input status), VGA register documentation.

mod common;

use backporch_raster::Board;
use common::{attribute, board, crtc, set};

const STATUS: u16 = 0x3DA;

/// The latch, as two reads of the controller give it.
fn pen(board: &mut Board, index: u16, high: u8) -> u32 {
    board.write_port(index, high);
    let upper = u32::from(board.read_port(index + 1));
    board.write_port(index, high + 1);
    upper << 8 | u32::from(board.read_port(index + 1))
}

/// In graphics a row of the colour-graphics controller is two scan lines of 40 characters of two bytes; 80-column text has
/// rows of eight lines of 80 characters. The address counts characters from the start address.
#[test]
fn the_light_pen_latches_the_character_under_the_beam() {
    for (mode, row_lines, row, char_dots) in [("320x200x4", 2, 40, 16), ("text-80", 8, 80, 8)] {
        let mut board = board("colour-graphics", mode);
        set(&mut board, &[("start_address", 0x155)]);
        board.run_frame();
        let mut at = board.beam().dot;
        for (line, column) in [(0u32, 0u32), (1, 7), (8, 39), (50, 20), (199, 39)] {
            let dot = at + u64::from(line * 912 + column * char_dots);
            board.run_to(dot);
            board.write_port(0x3DB, 0);
            assert_eq!(board.read_port(STATUS) & 2, 0, "cleared");
            board.write_port(0x3DC, 0);
            assert_eq!(board.read_port(STATUS) & 2, 2, "set");
            let latched = pen(&mut board, 0x3D4, 16);
            assert_eq!(latched, 0x155 + line / row_lines * row + column, "{mode}, line {line}, column {column}");
            board.run_to(dot + 912 * 4);
            board.read_port(0x3DC);
            assert_eq!(pen(&mut board, 0x3D4, 16), latched, "it stays until it is cleared");
            board.run_frame();
            at = board.beam().dot;
        }
    }
    let mut mono = board("monochrome", "text-80");
    mono.run_to(3 * 882 + 5 * 9);
    mono.read_port(0x3BB);
    mono.read_port(0x3B9);
    assert_eq!(pen(&mut mono, 0x3B4, 16), 5);
}

/// The picture shows bytes of one plane each; the outputs are pixel bits through the palette: two of them at a time.
#[test]
fn two_colour_outputs_show_in_the_status_port() {
    let pairs = [(0, 2), (4, 5), (1, 3), (6, 7)];
    for (adapter, mode, pixels, choices) in
        [("ega", "640x350x16", 8, 3), ("vga", "640x480x16", 8, 4), ("vga", "320x200x256", 4, 4)]
    {
        for choice in 0..choices {
            let mut board = board(adapter, mode);
            let wide = pixels == 4;
            // A character of 256 colours shows every fourth group of four bytes (address spread by doublewords).
            let values: Vec<u8> =
                (0..160u8).map(|at| if wide { at.wrapping_mul(37) } else { at.wrapping_mul(7) & 15 }).collect();
            let memory: Vec<u8> = values
                .iter()
                .flat_map(|value| (0..4u8).map(move |plane| if wide { *value } else { (*value >> plane & 1) * 0xFF }))
                .collect();
            board.load(&memory);
            for index in 0..16 {
                attribute(&mut board, index, (index * 5) & 0x3F);
            }
            attribute(&mut board, 0x12, choice << 4 | 15);
            board.run_frame();
            let start = board.beam().dot;
            for column in 0..40 {
                let value = values[if wide { column * 4 } else { column }];
                let output = if wide { value } else { (value * 5) & 0x3F };
                // A character has eight dots, and is whole by the dot after its last.
                board.run_to(start + (column as u64 + 1) * 8);
                let (low, high) = pairs[usize::from(choice)];
                let shown = board.read_port(STATUS) >> 4 & 3;
                assert_eq!(
                    shown,
                    output >> low & 1 | (output >> high & 1) << 1,
                    "{mode}, choice {choice}, column {column}"
                );
            }
        }
    }
}

/// An armed interrupt comes when vertical retrace begins, shows in bit 7 of input status 0, and goes when it is cleared.
#[test]
fn vertical_retrace_asks_for_an_interrupt() {
    for (adapter, mode, sync_line, end) in [("ega", "640x350x16", 350, 0x0F), ("vga", "640x480x16", 490, 0x0F)] {
        let mut board = board(adapter, mode);
        let timing = board.adapter().timing(board.registers());
        assert!(timing.sync_line() >= sync_line);
        crtc(&mut board, 0x11, end);
        board.run_frame();
        assert_eq!(board.read_port(0x3C2) & 0x80, 0, "not armed");
        assert_eq!(board.dots_to_interrupt(), None);
        crtc(&mut board, 0x11, 0x10 | end);
        let due = board.beam().dot + board.dots_to_interrupt().unwrap();
        board.run_to(due - 8);
        assert!(!board.interrupts() && !board.beam().vertical_sync);
        board.run_to(due + 8);
        assert!(board.interrupts() && board.beam().vertical_sync);
        assert_eq!(board.read_port(0x3C2) & 0x80, 0x80);
        crtc(&mut board, 0x11, 0x30 | end);
        assert!(!board.interrupts(), "disabled, it stays on the board");
        assert_eq!(board.read_port(0x3C2) & 0x80, 0x80);
        crtc(&mut board, 0x11, end);
        assert_eq!(board.read_port(0x3C2) & 0x80, 0, "cleared");
    }
}

/// The four switches are read one by one, as the clock select names them.
#[test]
fn switches_show_one_at_a_time() {
    let mut board = board("ega", "640x350x16");
    let read: Vec<u8> = (0..4u8)
        .map(|select| {
            board.write_port(0x3C2, 0xA3 | select << 2);
            board.read_port(0x3C2) >> 4 & 1
        })
        .collect();
    assert_eq!(read, [0, 1, 1, 0], "those of an enhanced colour monitor");
}
