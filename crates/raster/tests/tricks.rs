//! What raster routines do in the middle of a frame, and what comes of it,
//! computed by hand.

mod common;

use backporch_raster::{Board, SegmentKind};
use common::{attribute, board, crtc, first, indexed, noise, pixels, set, spans, variant};

fn crtc_6845(board: &mut Board, index: u8, value: u8) {
    crtc(board, index, value);
}

/// The row counter restarts after 50 rows, and the start address is loaded
/// again: two runs of the controller make one picture of the monitor.
#[test]
fn a_short_row_total_splits_a_6845_screen() {
    let mut board = board("colour-graphics", "320x200x4");
    let line = 912;
    board.run_frame();
    let begin = 262 * line;
    // Upper part: 100 lines, vertical sync out of reach.
    crtc_6845(&mut board, 4, 49);
    crtc_6845(&mut board, 5, 0);
    crtc_6845(&mut board, 7, 127);
    board.run_to(begin + 50 * line);
    crtc_6845(&mut board, 0x0C, 0x07);
    crtc_6845(&mut board, 0x0D, 0xD0);
    board.run_to(begin + 100 * line + 8);
    // Lower part: what is left of 262 lines, sync where it belongs.
    crtc_6845(&mut board, 4, 77);
    crtc_6845(&mut board, 5, 6);
    crtc_6845(&mut board, 6, 50);
    crtc_6845(&mut board, 7, 62);
    let field = board.run_frame();
    assert_eq!((field.number, field.lines.len(), field.unstable), (1, 262, false));
    assert_eq!(field.picture_size(), (320, 200));
    assert_eq!((first(&field, 0), first(&field, 98)), (0, 49 * 80));
    assert_eq!((first(&field, 100), first(&field, 102)), (0x7D0 * 2, 0x7D0 * 2 + 80));
    let picture_lines: Vec<u32> = field.lines.iter().filter_map(|line| Some(line.fetch?.picture_line)).collect();
    assert_eq!(picture_lines, Vec::from_iter(0..200));
    let whole = |line: &&backporch_raster::ScanLine| {
        field.segments_of(line).iter().all(|segment| segment.kind == SegmentKind::Sync)
    };
    assert_eq!(field.lines.iter().filter(whole).count(), 16);
    assert_eq!(board.beam().frame, 2);
}

/// Frames of one scan line each show any row on any line, and still make one picture of 262 lines a field.
#[test]
fn frames_of_one_line_make_one_picture_a_field() {
    let mut board = board("colour-graphics", "text-80");
    let line = 912;
    for field in 0..3u64 {
        let begin = field * 262 * line;
        // Sync is out of reach while 200 lines are shown one by one, each from a start address of its own.
        board.run_to(begin + 8);
        for (index, value) in [(9, 0), (4, 0), (5, 0), (6, 1), (7, 127)] {
            crtc_6845(&mut board, index, value);
        }
        for shown in 0..199 {
            board.run_to(begin + shown * line + 16);
            let start = (shown as u16 + 1) * 7;
            crtc_6845(&mut board, 0x0C, (start >> 8) as u8);
            crtc_6845(&mut board, 0x0D, start as u8);
        }
        // The last run of the controller: 63 lines, of which the first is shown, and sync after 25 of them.
        board.run_to(begin + 199 * line + 16);
        for (index, value) in [(4, 62), (7, 25), (0x0C, 0), (0x0D, 0)] {
            crtc_6845(&mut board, index, value);
        }
        let frame = board.run_frame();
        assert_eq!((frame.number, frame.lines.len()), (field, 262));
        assert_eq!(frame.picture_lines().count(), 200);
        let starts: Vec<u32> = (0..200).map(|line| first(&frame, line)).collect();
        assert_eq!(starts, Vec::from_iter((0..200).map(|line| line * 14)), "two bytes a character");
    }
}

/// Where vertical sync never comes, the picture rolls: each run of the counters is a frame by itself.
#[test]
fn without_vertical_sync_each_run_of_the_counters_is_a_frame() {
    let mut board = board("colour-graphics", "320x200x4");
    set(&mut board, &[("vertical_total", 119), ("vertical_sync_position", 125)]);
    assert_eq!(board.run_frame().lines.len(), 246);
    assert_eq!(board.run_frame().lines.len(), 246);
    // Lost in the middle of a field, it is waited for as long as a monitor would, and no longer.
    set(&mut board, &[("vertical_sync_position", 112)]);
    board.run_frame();
    set(&mut board, &[("vertical_sync_position", 125)]);
    assert_eq!(board.run_frame().lines.len(), 5 * 246, "the first restart after 1024 lines");
    assert_eq!(board.run_frame().lines.len(), 246);
}

/// On the kind that loads the start address at each line of the first row, a
/// tall first row shows any line anywhere.
#[test]
fn a_kind_that_reloads_in_the_first_row_shows_any_line() {
    let mut board = variant("colour-graphics", "text-80", "start_load: FrameStart", "start_load: EachLineOfFirstRow");
    let line = 912;
    for row in 1..8u8 {
        board.run_to(u64::from(row) * line - 8);
        crtc(&mut board, 0x0D, row * 10);
    }
    let frame = board.run_frame();
    let starts: Vec<u32> = (0..8).map(|line| first(&frame, line)).collect();
    assert_eq!(starts, [0, 20, 40, 60, 80, 100, 120, 140]);
    assert_eq!(first(&frame, 8), 140 + 160, "the second row goes on from the last");
}

/// Comparisons are for equality (MC6845 CRT Controller data sheet): a total
/// written below the running count is met only after the counter has wrapped.
#[test]
fn a_total_below_the_count_runs_on_to_the_counters_end() {
    let mut board = board("colour-graphics", "text-80");
    board.run_to(60 * 8);
    crtc(&mut board, 0, 40);
    let frame = board.run_frame();
    assert_eq!(frame.lines[0].dots, (256 + 41) * 8);
    assert_eq!(frame.lines[1].dots, 41 * 8);
}

/// The same down the frame: the adjust counter has 5 bits.
#[test]
fn an_adjust_below_the_count_runs_on_to_the_counters_end() {
    let mut board = board("colour-graphics", "text-80");
    board.run_to((256 + 3) * 912);
    crtc(&mut board, 5, 2);
    assert_eq!(board.run_frame().lines.len(), 256 + 32 + 2);
}

/// Sync width 0 is 16 on some makes and none on others.
#[test]
fn sync_width_0_differs_by_make() {
    let pulse = |mut board: Board| {
        set(&mut board, &[("sync_width", 0)]);
        let frame = board.run_frame();
        let segments = frame.segments_of(&frame.lines[0]).iter();
        segments.filter(|segment| segment.kind == SegmentKind::Sync).map(|segment| segment.dots / 8).sum::<u32>()
    };
    assert_eq!(pulse(board("colour-graphics", "text-80")), 16);
    let none = variant("colour-graphics", "text-80", "sync_width_zero: Sixteen", "sync_width_zero: NoPulse");
    assert_eq!(pulse(none), 0);
}

/// Totals of one or two character clocks freeze the counters of one make.
#[test]
fn tiny_totals_freeze_one_make() {
    let freezing = "blank_lines_after_sync: 4, frozen_below: 3";
    let mut board = variant("colour-graphics", "text-80", "blank_lines_after_sync: 4", freezing);
    set(&mut board, &[("horizontal_total", 1)]);
    let frame = board.run_frame();
    assert!(frame.unstable);
    assert!(frame.lines.iter().all(|line| line.fetch.is_none_or(|fetch| fetch.row_address == 0)));
    assert!(board.adapter().signal(board.registers()).is_err());
}

/// After the line compare the address restarts at 0 (VGA register documentation).
#[test]
fn line_compare_splits_a_vga_screen() {
    let mut board = board("vga", "320x200x256");
    set(&mut board, &[("start_address", 4000), ("line_compare", 299)]);
    board.run_frame();
    let frame = board.run_frame();
    let at = |line: usize| frame.lines[line].fetch.unwrap();
    assert_eq!((at(299).linear, at(299).row), (4000 * 4 + 149 * 320, 149));
    assert_eq!((at(300).linear, at(300).row, at(302).linear), (0, 0, 320));
    assert_eq!(frame.picture_size(), (320, 200));
}

/// Written in the middle of a frame, the line compare acts in that frame.
#[test]
fn line_compare_acts_at_once() {
    let mut board = board("vga", "640x480x16");
    board.run_to(800 * 100);
    crtc(&mut board, 0x11, 0x0C);
    crtc(&mut board, 0x18, 200);
    crtc(&mut board, 0x07, 0x2E);
    crtc(&mut board, 0x09, 0x00);
    let frame = board.run_frame();
    assert_eq!((first(&frame, 200), first(&frame, 201), first(&frame, 202)), (200 * 320, 0, 320));
}

/// With panning above the split only, the lower part stands still.
#[test]
fn panning_can_stop_at_the_split() {
    let mut board = board("vga", "640x480x16");
    set(&mut board, &[("line_compare", 99), ("pixel_panning", 3), ("panning_above_split", 1)]);
    noise(&mut board);
    let frame = board.run_frame();
    assert_eq!((frame.lines[99].fetch.unwrap().pan, frame.lines[100].fetch.unwrap().pan), (3, 0));
    let pan = pixels(&frame, 0);
    set(&mut board, &[("pixel_panning", 0)]);
    board.run_frame();
    let still = pixels(&board.run_frame(), 0);
    assert_eq!(pan[..637], still[3..640], "panned to the left by three");
}

/// Panning by pixel with start address: pixel x shows pixel 8 s + p + x of the row.
#[test]
fn start_address_and_panning_scroll_by_pixel() {
    let mut board = board("ega", "320x200x16");
    noise(&mut board);
    set(&mut board, &[("offset", 25)]);
    let wide = |board: &mut Board, start: u64, pan: u8| {
        set(board, &[("start_address", start)]);
        board.run_frame();
        attribute(board, 0x13, pan);
        board.run_frame();
        pixels(&board.run_frame(), 7)
    };
    let still: Vec<u8> = [wide(&mut board, 0, 0), wide(&mut board, 40, 0)].concat();
    for (start, pan) in [(0, 5), (3, 0), (9, 7)] {
        let shown = wide(&mut board, start, pan);
        let from = start as usize * 8 + usize::from(pan);
        assert_eq!(shown, still[from..from + 320], "start {start}, panning {pan}");
    }
}

/// Four pixels an address and two panning steps a pixel (unchained 256 colours).
#[test]
fn unchained_256_colours_pan_by_half_pixels() {
    let mut board = board("vga", "320x200x256-planar");
    noise(&mut board);
    let still = pixels(&board.run_frame(), 5);
    attribute(&mut board, 0x13, 6);
    board.run_frame();
    let panned = pixels(&board.run_frame(), 5);
    assert_eq!(panned[..317], still[3..]);
    let memory = board.memory();
    assert_eq!(still, memory[5 * 320..6 * 320], "byte 4 a + p is pixel p of address a");
}

/// Smooth vertical scroll: a preset row scan begins the frame inside its row.
#[test]
fn preset_row_scan_scrolls_text_by_scan_line() {
    let mut board = board("vga", "720x400-text");
    set(&mut board, &[("preset_row_scan", 5)]);
    board.run_frame();
    let frame = board.run_frame();
    let at = |line: usize| (frame.lines[line].fetch.unwrap().row, frame.lines[line].fetch.unwrap().row_address);
    assert_eq!([at(0), at(10), at(11), at(27)], [(0, 5), (0, 15), (1, 0), (2, 0)]);
    assert_eq!(first(&frame, 11) / 4, 160, "80 words on");
}

/// By scan line on a 6845: the row of a line shorter than a row is made by a
/// taller last row and an earlier start of the frame's first (here: fewer scan
/// lines in the first row).
#[test]
fn a_shorter_first_row_scrolls_6845_text_by_scan_line() {
    let mut board = board("colour-graphics", "text-80");
    crtc(&mut board, 9, 4);
    board.run_to(4 * 912 + 8);
    crtc(&mut board, 9, 4);
    board.run_to(5 * 912);
    crtc(&mut board, 9, 7);
    let frame = board.run_frame();
    assert_eq!((first(&frame, 4), first(&frame, 5), first(&frame, 13)), (0, 160, 320));
}

/// A colour written on each line shows from that line on.
#[test]
fn a_palette_write_on_each_line_makes_bars() {
    let mut board = board("vga", "320x200x256");
    for line in 0..400u64 {
        board.run_to(line * 800);
        board.write_port(0x3C8, 0);
        for level in [line % 64, line / 64, 0] {
            board.write_port(0x3C9, level as u8);
        }
    }
    let frame = board.run_frame();
    for line in [0usize, 1, 63, 64, 399] {
        let segment = frame.segments_of(&frame.lines[line])[0];
        let level = |level: usize| (level << 2 | level >> 4) as u8;
        let colour = frame.palettes[usize::from(segment.palette)].colours[0];
        assert_eq!(colour, [level(line % 64), level(line / 64), 0, 255], "line {line}");
    }
}

/// Taller and wider geometries show all their pixels. Their rows (common
/// practice) have a vertical total of 20Dh, so 527 lines.
#[test]
fn taller_and_wider_geometries() {
    for (mode, size, lines) in [("320x240x256-planar", (320, 240), 527), ("360x480x256-planar", (360, 480), 527)] {
        let mut board = board("vga", mode);
        noise(&mut board);
        let frame = board.run_frame();
        assert_eq!((frame.picture_size(), frame.lines.len()), (size, lines), "{mode}");
        let width = size.0 as usize;
        assert_eq!(pixels(&frame, size.1 - 1), board.memory()[(size.1 as usize - 1) * width..][..width]);
    }
}

/// Four banks by the two low bits of the row address, and a second page above
/// them (common practice of the monochrome graphics form).
#[test]
fn monochrome_graphics_have_four_banks_in_two_pages() {
    let mut board = board("monochrome", "720x348x2");
    let frame = board.run_frame();
    assert_eq!(frame.picture_size(), (720, 348));
    for (line, address) in [(0, 0), (1, 0x2000), (2, 0x4000), (3, 0x6000), (4, 90), (347, 0x6000 + 86 * 90)] {
        assert_eq!(spans(&frame, line), [(address, 90)], "line {line}");
    }
    board.write_port(0x3B8, 0x8A);
    board.run_frame();
    let frame = board.run_frame();
    assert_eq!((first(&frame, 0), first(&frame, 1)), (0x8000, 0xA000));
}

/// Sixteen-colour double-scanned and two-bank modes: spans by hand.
#[test]
fn standard_modes_fetch_where_their_registers_say() {
    let words = |mode: &str, line: usize| {
        let frame = board("vga", mode).run_frame();
        (first(&frame, line), frame.picture_size())
    };
    assert_eq!(words("320x200x16", 3), (40 * 4, (320, 200)), "double scan: line 3 is row 1");
    assert_eq!(words("640x350x16", 349), (349 * 320, (640, 350)));
    // Two banks: row address bit 0 takes the place of address bit 13 of each plane.
    assert_eq!(words("320x200x4", 2), (0x2000 * 4, (320, 200)));
    assert_eq!(words("320x200x4", 4), (80 * 4, (320, 200)));
    assert_eq!(words("640x200x2", 6), (0x2000 * 4 + 80 * 4, (640, 200)));
}

/// The cursor fills its cell between its lines and blinks once in 16 frames
/// where its field says so (MC6845 CRT Controller data sheet).
#[test]
fn the_text_cursor_blinks() {
    let mut board = board("colour-graphics", "text-80");
    for cell in 0..2000 {
        board.write_memory(cell * 2, b' ');
        board.write_memory(cell * 2 + 1, 0x0E);
    }
    set(&mut board, &[("cursor_address", 81), ("cursor_blink", 2)]);
    let lit = |board: &mut Board| {
        let frame = board.run_frame();
        let lit = |y: u32| pixels(&frame, y).iter().filter(|value| **value == 14).count();
        (lit(8 + 5), lit(8 + 6), lit(8 + 7))
    };
    let seen: Vec<_> = (0..17).map(|_| lit(&mut board)).collect();
    assert_eq!(
        (seen[0], seen[7], seen[8], seen[15], seen[16]),
        ((0, 8, 8), (0, 8, 8), (0, 0, 0), (0, 0, 0), (0, 8, 8))
    );
    assert_eq!(board.run_frame().value_at(8, 8 + 7), Some(14), "in column 1");
}

/// An access of the processor while 80-column text is shown takes the place of
/// the fetch; in retrace it does no harm (common practice).
#[test]
fn accesses_in_the_active_area_of_80_column_text_snow() {
    let snow = |dot: u64, mode: &str| {
        let mut board = board("colour-graphics", mode);
        set(&mut board, &[("cursor_blink", 1)]);
        board.run_to(dot);
        board.write_memory(8000, 0xDB);
        let frame = board.run_frame();
        frame.lines[..200].iter().any(|line| {
            frame.segments_of(line).iter().any(|segment| frame.values_of(segment.kind).iter().any(|value| *value != 0))
        })
    };
    assert!(snow(912 * 50 + 8 * 40, "text-80"));
    assert!(!snow(912 * 50 + 8 * 90, "text-80"), "in horizontal retrace");
    assert!(!snow(912 * 230, "text-80"), "in vertical retrace");
    assert!(!snow(912 * 50 + 8 * 40, "text-40"));
}

/// A board can be copied at any dot and the copy runs on to the same bytes.
#[test]
fn snapshots_replay_to_the_same_frames() {
    let mut board = board("vga", "640x480x16");
    noise(&mut board);
    board.run_to(123_456);
    let snapshot = board.clone();
    let drive = |mut board: Board| {
        let mut frames = Vec::new();
        for step in 0..40u64 {
            board.run_to(123_456 + step * 9_999);
            attribute(&mut board, 0x13, step as u8 & 7);
            indexed(&mut board, 0x3CE, 8, step as u8);
            board.write_memory(step as u32 * 77, step as u8);
        }
        frames.push(board.run_frame());
        frames
    };
    assert_eq!(drive(board), drive(snapshot));
}
