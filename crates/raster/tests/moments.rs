//! Status bits and latch moments at beam positions computed by hand.
//!
//! 64 KiB 256-colour class: 50 characters of 16 dots, 40 shown; 449 lines, 400
//! shown; vertical sync from line 412 for 2 lines; the start address is loaded as
//! line 448 begins (reverse-engineered schematic of display controller gate
//! array 72X8300).
//! Colour-graphics class: 57 characters of 16 dots, 40 shown; 262 lines, 200
//! shown; vertical sync from row 112 (line 224) for 16 lines (MC6845 CRT
//! Controller data sheet: R7 and a pulse of 16 lines).

use std::sync::Arc;

use backporch_adapter::Adapter;
use backporch_raster::Board;

const STATUS: u16 = 0x3DA;
const DISABLED: u8 = 1;
const RETRACE: u8 = 8;

fn board(adapter: &str, mode: &str) -> Board {
    let adapter = Adapter::built_in(adapter).unwrap();
    let registers = adapter.start_up(adapter.mode(mode).unwrap());
    Board::plain(adapter, registers)
}

fn linear() -> Board {
    board("linear-256", "320x200x256")
}

fn colour_graphics() -> Board {
    board("colour-graphics", "320x200x4")
}

#[test]
fn display_enable_is_seen_at_the_character_clock() {
    for (mut board, line) in [(linear(), 800), (colour_graphics(), 912)] {
        for (dot, disabled) in [
            (0, 0),
            (39 * 16, 0),
            // The last character shown begins at dot 624; the first not shown at 640.
            (40 * 16, DISABLED),
            (line - 16, DISABLED),
            (line, 0),
            (199 * line + 16, 0),
        ] {
            board.run_to(dot);
            assert_eq!(board.read_port(STATUS) & DISABLED, disabled, "dot {dot} of {line}");
        }
    }
    let mut board = colour_graphics();
    board.run_to(200 * 912);
    assert_eq!(board.read_port(STATUS) & DISABLED, DISABLED, "below the last line shown");
}

#[test]
fn retrace_is_seen_from_its_first_to_its_last_line() {
    for (mut board, line, from, to) in [(linear(), 800, 412, 414), (colour_graphics(), 912, 224, 240)] {
        for (dot, retrace) in [(from * line - 16, 0), (from * line, RETRACE), (to * line - 16, RETRACE), (to * line, 0)]
        {
            board.run_to(dot);
            assert_eq!(board.read_port(STATUS) & RETRACE, retrace, "dot {dot}");
        }
    }
}

/// Start addresses shown by the following frames when `start` is written through the ports at `dot`.
fn shown_after(mut board: Board, dot: u64, start: u16) -> [u32; 3] {
    board.run_to(dot);
    let [low, high] = start.to_le_bytes();
    for (index, byte) in [(0x0C, high), (0x0D, low)] {
        board.write_port(0x3D4, index);
        board.write_port(0x3D5, byte);
    }
    [(); 3].map(|()| board.run_frame().lines[0].fetch.unwrap().start)
}

/// The class loads the start address 800 dots before the first line shown
/// (reverse-engineered schematic of display controller gate array 72X8300).
#[test]
fn the_256_colour_class_loads_the_start_address_before_the_frame() {
    let load = 448 * 800;
    assert_eq!(shown_after(linear(), 100 * 800, 5), [0, 5, 5], "written in the active area");
    assert_eq!(shown_after(linear(), 412 * 800, 5), [0, 5, 5], "as retrace begins");
    assert_eq!(shown_after(linear(), load - 16, 5), [0, 5, 5], "in the last character before the load");
    assert_eq!(shown_after(linear(), load, 5), [0, 0, 5], "as it is loaded: one frame late");
    assert_eq!(shown_after(linear(), load - 15, 5), [0, 0, 5], "inside that last character: it lands at the next one");
}

/// The controller loads it at the first line of a frame (MC6845 CRT Controller data sheet).
#[test]
fn the_6845_latches_at_the_first_line() {
    let frame = 262 * 912;
    assert_eq!(shown_after(colour_graphics(), frame - 16, 5), [0, 5, 5]);
    // From here on the beam is in the second frame, which goes on with what it loaded.
    assert_eq!(shown_after(colour_graphics(), frame, 5), [0, 5, 5]);
    let late = shown_after(colour_graphics(), frame + 912, 5);
    assert_eq!(late, [0, 5, 5]);
}

/// A latch between the two bytes shows one frame at a torn address.
#[test]
fn a_latch_between_two_bytes_tears_the_address() {
    let mut board = linear();
    let write = |board: &mut Board, index, byte| {
        board.write_port(0x3D4, index);
        board.write_port(0x3D5, byte);
    };
    write(&mut board, 0x0D, 0xFF);
    board.run_to(448 * 800 - 16);
    write(&mut board, 0x0C, 0x01);
    board.run_to(448 * 800);
    write(&mut board, 0x0D, 0x00);
    let shown = [(); 3].map(|()| board.run_frame().lines[0].fetch.unwrap().start);
    assert_eq!(shown, [0, 0x1FF, 0x100]);
}

/// Register 10h protects 00h to 07h, and must be cleared first (reverse-engineered
/// schematic of display controller gate array 72X8300).
#[test]
fn protected_registers_take_no_write() {
    let mut board = linear();
    let displayed = |board: &mut Board| board.run_frame().picture_size().0;
    let write =
        |board: &mut Board, index: u8, byte: u8| board.write_port_word(0x3D4, u16::from_le_bytes([index, byte]));
    write(&mut board, 0x01, 31);
    assert_eq!(displayed(&mut board), 320);
    write(&mut board, 0x10, 0x00);
    write(&mut board, 0x01, 31);
    displayed(&mut board);
    assert_eq!(displayed(&mut board), 256);
}

/// Memory repeats inside a larger window: 16 KiB at B8000h to BFFFFh.
#[test]
fn memory_repeats_inside_its_window() {
    let mut board = colour_graphics();
    board.write_memory(0x4123, 77);
    assert_eq!(board.read_memory(0x0123), 77);
    assert_eq!(board.read_memory(0x4123), 77);
}

/// The counter wraps: the byte after the last of 64 KiB is the first, and in a
/// bank of the colour-graphics class byte 2000h is byte 0 of the same bank.
#[test]
fn a_scroll_past_the_end_of_memory_wraps() {
    for (mut board, name, wrap) in
        [(linear(), "linear-256", 0x10000u32), (colour_graphics(), "colour-graphics", 0x2000)]
    {
        let adapter: Arc<Adapter> = Adapter::built_in(name).unwrap();
        let start = wrap / 2 - 1;
        board.set(adapter.start_address(), u64::from(start)).unwrap();
        board.run_frame();
        let frame = board.run_frame();
        let spans: Vec<(u32, u32)> =
            frame.spans_of(&frame.lines[0]).iter().map(|span| (span.address, span.len)).collect();
        assert_eq!(spans[0], (wrap - 2, 2), "{name}");
        assert_eq!(spans[1].0, 0, "{name}");
    }
}

/// The data sheet's 80 × 24 screen: 102 character clocks a line, 25 rows of 12
/// lines and 10 more, vertical sync at row 24; row r, character c shows word
/// start + 80 r + c (MC6845 CRT Controller data sheet, refresh memory addressing;
/// the register values from memory).
#[test]
fn the_80_by_24_screen_of_the_data_sheet() {
    let adapter = Adapter::built_in("colour-graphics").unwrap();
    let mut registers = adapter.start_up(adapter.mode("text-80").unwrap());
    for (name, value) in [
        ("horizontal_total", 101),
        ("displayed", 80),
        ("sync_position", 86),
        ("sync_width", 9),
        ("vertical_total", 24),
        ("vertical_adjust", 10),
        ("vertical_displayed", 24),
        ("vertical_sync_position", 24),
        ("max_scan_line", 11),
        ("start_address", 128),
    ] {
        adapter.set(&mut registers, adapter.field(name).unwrap(), value).unwrap();
    }
    let frame = Board::plain(Arc::clone(&adapter), registers.clone()).run_frame();
    assert_eq!(frame.lines.len(), 310);
    assert!(frame.lines.iter().all(|line| line.dots == 102 * 8));
    let shown: Vec<_> = frame.lines.iter().filter_map(|line| line.fetch.map(|fetch| (line, fetch))).collect();
    assert_eq!(shown.len(), 24 * 12);
    for (line, fetch) in shown {
        let word = 128 + 80 * (fetch.scan_line / 12);
        assert_eq!(
            frame.spans_of(line).iter().map(|span| (span.address, span.len)).collect::<Vec<_>>(),
            [(word * 2, 160)]
        );
    }
    let signal = adapter.signal(&registers).unwrap();
    assert_eq!((signal.vertical.active(), signal.vertical.front_porch(), signal.vertical.total()), (288, 0, 310));
}
