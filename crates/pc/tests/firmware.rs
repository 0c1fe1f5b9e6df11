//! What firmware and system do for a program on every board: modes, characters, what detection asks, what is not there.

mod common;

use backporch_adapter::CharacterSet;
use backporch_pc::{Far, Machine, MachineSetup, Model, Stop, StuckCause, Trouble};
use common::{has_assembler, machine, run, setup, source};

const BOARDS: [&str; 5] = ["monochrome", "colour-graphics", "ega", "vga", "linear-256"];

/// Runs a text to its end; the machine, and the code it ended with.
fn ended(board: &str, text: &str, setup: MachineSetup) -> (Machine, u8) {
    let mut machine = machine(board, &source(text), setup);
    match run(&mut machine).1 {
        Stop::Exit(code) => (machine, code),
        stop => panic!("{board}: {stop:?}\n{text}"),
    }
}

fn on(board: &str, text: &str) -> (Machine, u8) {
    ended(board, text, setup(Model::P8086))
}

const EXIT_AL: &str = "mov ah, 4Ch\n int 21h\n";

#[test]
fn what_is_not_here_is_noted_and_the_run_goes_on() {
    if !has_assembler() {
        return;
    }
    let text = "mov dx, 201h\n in al, dx\n mov bl, al\n mov dx, 388h\n mov al, 4\n out dx, al\n in al, dx\n and bl, al\n \
                mov ax, 4300h\n int 2Fh\n cmp al, 0\n jne bad\n mov ah, 88h\n int 15h\n jnc bad\n mov ah, 0\n int 13h\n jnc bad\n \
                mov ah, 65h\n int 21h\n jnc bad\n xor ax, ax\n int 60h\n test ax, ax\n jnz bad\n mov ax, 0C000h\n mov es, ax\n \
                mov [es:0], al\n again: mov dx, 201h\n in al, dx\n inc cx\n cmp cx, 5\n jb again\n mov al, bl\n";
    let text = format!("xor cx, cx\n{text}{EXIT_AL}bad: mov al, 1\n{EXIT_AL}");
    let (machine, code) = on("colour-graphics", &text);
    assert_eq!(code, 0xFF, "an empty bus");
    let found: Vec<_> = machine.asked().iter().map(|asked| asked.what.clone()).collect();
    let service = |interrupt, ax| Trouble::Service { interrupt, ax };
    let wanted = [
        Trouble::PortRead(0x201),
        Trouble::PortWritten(0x388, 4),
        Trouble::PortRead(0x388),
        service(0x2F, 0x4300),
        service(0x15, 0x8800),
        service(0x13, 0),
        service(0x21, 0x6500),
        Trouble::Interrupt(0x60),
        Trouble::Written(0xC0000, 0),
    ];
    // AL is what the service before left there, so the services' lower halves are not compared.
    for (found, wanted) in found.iter().zip(&wanted) {
        match (found, wanted) {
            (Trouble::Service { interrupt, ax }, Trouble::Service { interrupt: wanted, ax: service }) => {
                assert_eq!((interrupt, ax >> 8), (wanted, service >> 8));
            }
            _ => assert_eq!(found, wanted),
        }
    }
    assert_eq!(found.len(), wanted.len(), "{found:?}");
    assert_eq!(machine.asked()[0].times, 6, "once each, however often");
    assert_eq!(machine.asked()[0].at, Far::new(0x0810, 0x0105), "with the instruction");
}

/// Vectors without a handler point at IRET; others do not (common practice of detection).
#[test]
fn unused_vectors_point_at_an_iret() {
    if !has_assembler() {
        return;
    }
    for (vector, served) in [(0x60u8, false), (0x67, false), (0x10, true), (0x16, true)] {
        let text = format!("mov ax, 35{vector:02X}h\n int 21h\n mov al, [es:bx]\n{EXIT_AL}");
        assert_eq!(on("vga", &text).1 != 0xCF, served, "{vector:02X}h");
    }
}

/// Function 12h and 1Ah of interrupt 10h, the equipment word, the controller's port (Technical References, firmware).
#[test]
fn boards_are_told_apart_by_service_and_data() {
    if !has_assembler() {
        return;
    }
    // BL of 1Ah (0 where AL does not come back), BH of 12h (FFh where BL does not come back), 30h of the equipment word,
    // lower byte of the controller's port.
    for (board, wanted) in [
        ("monochrome", [0, 0xFF, 0x30, 0xB4]),
        ("colour-graphics", [0, 0xFF, 0x20, 0xD4]),
        ("ega", [0, 0, 0x20, 0xD4]),
        ("linear-256", [0x0C, 0xFF, 0x20, 0xD4]),
        ("vga", [0x08, 0, 0x20, 0xD4]),
    ] {
        let ask = [
            "mov ax, 1A00h\n xor bx, bx\n int 10h\n cmp al, 1Ah\n mov al, 0\n jne done\n mov al, bl\n",
            "mov ah, 12h\n mov bx, 0FF10h\n int 10h\n mov al, bh\n",
            "int 11h\n and al, 30h\n",
            "mov ax, 40h\n mov es, ax\n mov al, [es:63h]\n",
        ];
        let found = ask.map(|ask| on(board, &format!("{ask}done: {EXIT_AL}")).1);
        assert_eq!(found, wanted, "{board}");
    }
}

/// Every mode number a board knows can be set and is reported with its columns; after mode 3 the board shows text.
#[test]
fn every_mode_is_set_and_told() {
    if !has_assembler() {
        return;
    }
    for board in BOARDS {
        let modes: Vec<(u8, u8)> = {
            let adapter = backporch_adapter::Adapter::built_in(board).unwrap();
            let firmware = adapter.profile().modes.iter().filter_map(|mode| mode.firmware.as_ref());
            firmware.flat_map(|mode| mode.numbers.iter().map(|number| (*number, mode.columns))).collect()
        };
        for (number, columns) in modes {
            let source = format!(
                "mov ax, {number}\n int 10h\n mov ah, 0Fh\n int 10h\n cmp ah, {columns}\n je same\n mov al, 0FEh\n same: {EXIT_AL}"
            );
            assert_eq!(on(board, &source).1, number, "{board}: {columns} columns");
        }
    }
    for board in ["colour-graphics", "ega", "vga"] {
        let (machine, _) = on(board, &format!("mov ax, 4\n int 10h\n mov ax, 3\n int 10h\n{EXIT_AL}"));
        let board = machine.board();
        assert!(board.adapter().format(board.adapter().format_index(board.registers())).serialise.is_text());
    }
}

/// Rows of a glyph as they must appear.
fn glyph(code: u8, height: u8) -> Vec<u8> {
    let set = CharacterSet::built_in().stretched(height);
    (0..height).map(|line| set.row(code, line)).collect()
}

/// Each character stands where it was written, in the pixels of a frame, in every graphics mode of the boards.
#[test]
fn characters_are_drawn_in_every_graphics_mode() {
    if !has_assembler() {
        return;
    }
    for (board, mode, height) in [
        ("colour-graphics", 0x04, 8),
        ("colour-graphics", 0x06, 8),
        ("ega", 0x0D, 8),
        ("ega", 0x0E, 8),
        ("ega", 0x10, 14),
        ("vga", 0x04, 8),
        ("vga", 0x06, 8),
        ("vga", 0x0D, 8),
        ("vga", 0x0E, 8),
        ("vga", 0x10, 14),
        ("vga", 0x12, 16),
        ("vga", 0x13, 8),
        ("linear-256", 0x13, 8),
    ] {
        // R at column 3, row 2, by teletype and by the service that writes characters beside it.
        let text = format!(
            "mov ax, {mode}\n int 10h\n mov ah, 2\n mov bh, 0\n mov dx, 0203h\n int 10h\n mov ax, 0E52h\n mov bx, 1\n int 10h\n \
             mov ax, 0953h\n mov bx, 1\n mov cx, 2\n int 10h\n mov ax, 800h\n mov bh, 0\n int 10h\n{EXIT_AL}"
        );
        let (mut machine, code) = on(board, &text);
        assert_eq!(code, b'S', "{board} mode {mode:02X}h reads back what it wrote");
        machine.finish_frame();
        let values = common::values(&machine.finish_frame());
        for (column, letter) in [(3usize, b'R'), (4, b'S'), (5, b'S'), (6, b' ')] {
            for (line, bits) in glyph(letter, height).into_iter().enumerate() {
                let row = &values[2 * usize::from(height) + line];
                let found =
                    row[column * 8..column * 8 + 8].iter().fold(0u8, |bits, value| bits << 1 | u8::from(*value != 0));
                assert_eq!(found, bits, "{board} mode {mode:02X}h column {column} line {line}");
            }
        }
    }
}

/// Cells of text as the processor sees them.
fn cells(machine: &Machine, segment: u16, count: u16) -> Vec<(u8, u8)> {
    let at = |offset: u16| machine.hardware().peek(Far::new(segment, offset).linear());
    (0..count).map(|cell| (at(cell * 2), at(cell * 2 + 1))).collect()
}

#[test]
fn text_is_printed_and_scrolls_on_every_board_that_shows_it() {
    if !has_assembler() {
        return;
    }
    for (board, mode, segment) in [
        ("monochrome", 7, 0xB000),
        ("colour-graphics", 3, 0xB800),
        ("ega", 3, 0xB800),
        ("vga", 3, 0xB800),
        ("vga", 1, 0xB800),
    ] {
        let columns: u16 = if mode == 1 { 40 } else { 80 };
        // 26 lines of one letter each: the first has gone.
        let text = format!(
            "mov ax, {mode}\n int 10h\n mov dl, 'a'\n next: mov ah, 2\n int 21h\n push dx\n mov dx, feed\n mov ah, 9\n int 21h\n pop dx\n \
             inc dx\n cmp dl, 'z'\n jbe next\n mov ax, 4C00h\n int 21h\n feed: db 13, 10, '$'"
        );
        let (machine, _) = on(board, &text);
        let found = cells(&machine, segment, columns * 25);
        let first: Vec<u8> = found.chunks(usize::from(columns)).map(|row| row[0].0).collect();
        let wanted: Vec<u8> = (b'c'..=b'z').chain([b' ']).collect();
        assert_eq!(first, wanted, "{board} mode {mode}");
        assert!(found.iter().all(|(_, attribute)| *attribute == 7), "{board} mode {mode}");
    }
}

/// The area moves, the rest stays, what comes in is blank in the attribute given: text, packed pixels and planes.
#[test]
fn an_area_scrolls_down_and_up() {
    if !has_assembler() {
        return;
    }
    for (board, mode) in [("vga", 0x03), ("vga", 0x12), ("vga", 0x13), ("ega", 0x0D), ("colour-graphics", 0x06)] {
        // A at 2,2 and B at 2,9; the area of columns 1 to 4, rows 1 to 5, goes down by two, A with it.
        let text = format!(
            "mov ax, {mode}\n int 10h\n mov bx, 1\n mov cx, 1\n mov dx, 0202h\n mov ax, 0941h\n call put\n mov dx, 0209h\n mov ax, 0942h\n call put\n \
             mov ax, 0702h\n mov bh, 0\n mov cx, 0101h\n mov dx, 0504h\n int 10h\n mov dx, 0402h\n call get\n cmp al, 'A'\n jne bad\n \
             mov dx, 0209h\n call get\n cmp al, 'B'\n jne bad\n mov dx, 0202h\n call get\n cmp al, 'A'\n je bad\n mov al, 0\n mov ah, 4Ch\n int 21h\n \
             bad: mov ax, 4C01h\n int 21h\n put: push ax\n mov ah, 2\n int 10h\n pop ax\n int 10h\n ret\n \
             get: mov bh, 0\n mov ah, 2\n int 10h\n mov ah, 8\n int 10h\n ret"
        );
        assert_eq!(on(board, &text).1, 0, "{board} mode {mode:02X}h");
    }
}

#[test]
fn pixels_are_written_and_read_in_planes() {
    if !has_assembler() {
        return;
    }
    let text = format!(
        "mov ax, 12h\n int 10h\n mov ax, 0C0Bh\n mov bh, 0\n mov cx, 333\n mov dx, 201\n int 10h\n mov ax, 0C86h\n int 10h\n mov ah, 0Dh\n int 10h\n{EXIT_AL}"
    );
    let (mut machine, code) = on("vga", &text);
    assert_eq!(code, 0x0B ^ 0x06, "written, mixed in, read");
    machine.finish_frame();
    let values = common::values(&machine.finish_frame());
    let lit: Vec<_> =
        (0..480).flat_map(|y| (0..640).map(move |x| (x, y))).filter(|(x, y)| values[*y][*x] != 0).collect();
    assert_eq!((lit, values[201][333]), (vec![(333, 201)], 0x0D));
}

/// Eight lines a character: 50 rows on the later board, 43 on the earlier one (common practice).
#[test]
fn a_small_set_gives_more_rows() {
    if !has_assembler() {
        return;
    }
    for (board, rows, lines) in [("vga", 50, 400), ("ega", 43, 344)] {
        let text = format!(
            "mov ax, 3\n int 10h\n mov ax, 1112h\n mov bl, 0\n int 10h\n mov ax, 1130h\n mov bh, 3\n int 10h\n mov al, dl\n cmp cx, 8\n je same\n mov al, 0\n same: {EXIT_AL}"
        );
        let (mut machine, code) = on(board, &text);
        assert_eq!(code, rows - 1, "{board}");
        machine.finish_frame();
        assert_eq!(machine.finish_frame().picture_size().1, lines, "{board}");
    }
}

/// A text without its end takes its time, frame by frame, and stops at a segment; what is recorded has an end.
#[test]
fn an_endless_text_is_bounded() {
    if !has_assembler() {
        return;
    }
    let text = "mov ax, 3\n int 10h\n mov dx, 0\n mov ah, 9\n mov bx, ds\n add bx, 2000h\n mov ds, bx\n int 21h\n mov ax, 4C00h\n int 21h";
    let mut machine = machine("colour-graphics", &source(text), setup(Model::P8086));
    machine.record(true);
    machine.set_deadline(2_000_000_000);
    let (frames, stop) = run(&mut machine);
    assert!(frames.len() > 100 && matches!(stop, Stop::TimeOver), "{stop:?}");
    assert!(machine.recorded().len() < 2_000_000, "{}", machine.recorded().len());
}

/// A mode set in a loop costs what its bytes cost: several are not done within one frame.
#[test]
fn setting_modes_in_a_loop_takes_frames() {
    if !has_assembler() {
        return;
    }
    let mut machine = machine(
        "vga",
        &source("next: mov ax, 13h\n int 10h\n inc word [count]\n jmp next\n count: dw 0"),
        setup(Model::P8086),
    );
    machine.set_deadline(1_000_000_000);
    let (frames, _) = run(&mut machine);
    let count = machine.hardware().peek(Far::new(0x0810, 0x010B).linear());
    assert!(frames.len() > 50 && (1..30).contains(&count), "{count} modes in {} frames", frames.len());
}

#[test]
fn stacks_may_stand_anywhere_of_the_programs_own() {
    if !has_assembler() {
        return;
    }
    // Inside the image, at the end of the segment, in another segment, to the first word.
    for text in [
        "mov sp, top\n mov cx, 16\n next: push cx\n loop next\n mov ax, 4C00h\n int 21h\n times 128 db 0\n top:",
        "mov ax, 7000h\n mov ss, ax\n xor sp, sp\n push ax\n pop ax\n mov ax, 4C00h\n int 21h",
        "mov ax, 7000h\n mov ss, ax\n mov sp, 64\n mov cx, 6\n next: push ax\n loop next\n mov ax, 4C00h\n int 21h",
    ] {
        assert_eq!(on("linear-256", text).1, 0, "{text}");
    }
    for text in [
        "down: push ax\n call down",
        "down: sub sp, 100\n call down",
        "mov ax, 50h\n mov ss, ax\n mov sp, 100h\n push ax\n jmp $",
    ] {
        let mut machine = machine("linear-256", &source(text), setup(Model::P8086));
        let stop = run(&mut machine).1;
        assert!(
            matches!(&stop, Stop::Trouble(report) if matches!(report.trouble, Trouble::StackOverrun(_))),
            "{text}: {stop:?}"
        );
    }
}

#[test]
fn the_system_tells_space_country_and_strategy() {
    if !has_assembler() {
        return;
    }
    let text = "mov ah, 36h\n mov dl, 0\n int 21h\n cmp ax, 0FFFFh\n je bad\n mov ax, 3800h\n mov dx, buffer\n int 21h\n jc bad\n cmp byte [buffer + 9], '.'\n jne bad\n \
                mov ax, 5801h\n mov bx, 2\n int 21h\n jc bad\n mov ax, 5800h\n int 21h\n cmp ax, 2\n jne bad\n mov ax, 3107h\n mov dx, 100h\n int 21h\n \
                bad: mov ax, 4C01h\n int 21h\n buffer: times 40 db 0";
    assert_eq!(on("vga", text).1, 7, "it stays resident, with its code");
}

#[test]
fn waits_that_cannot_end_are_named_with_their_cause() {
    if !has_assembler() {
        return;
    }
    let stuck = |text: &str| {
        let mut machine = machine("vga", &source(text), setup(Model::P8086));
        machine.set_deadline(100_000_000);
        run(&mut machine);
        machine.set_deadline(u64::MAX);
        machine.stuck_wait().map(|wait| (wait.at.offset, wait.cause))
    };
    assert_eq!(stuck("cli\n hlt"), Some((0x101, StuckCause::HaltedWithInterruptsOff)));
    assert_eq!(stuck("cli\n jmp $"), Some((0x101, StuckCause::InterruptsOff)));
    assert_eq!(
        stuck("cli\n wait_: cmp byte [flag], 0\n je wait_\n flag: db 0").map(|(_, cause)| cause),
        Some(StuckCause::InterruptsOff)
    );
    assert_eq!(
        stuck("mov al, 0FFh\n out 21h, al\n again: hlt\n jmp again").map(|(_, cause)| cause),
        Some(StuckCause::Masked(0xFF))
    );
    // A handler of its own that forgets to end the interrupt.
    let forgot = "mov ax, 2508h\n mov dx, handler\n int 21h\n wait_: cmp byte [count], 3\n jb wait_\n int 20h\n handler: inc byte [cs:count]\n iret\n count: db 0";
    assert_eq!(stuck(forgot).map(|(_, cause)| cause), Some(StuckCause::NotEnded(0)));
    // The status port of the other kind of board.
    let wrong = "mov dx, 3BAh\n wait_: in al, dx\n test al, 8\n jnz wait_\n int 20h";
    assert_eq!(stuck(wrong).map(|(_, cause)| cause), Some(StuckCause::Port { port: 0x3BA, value: 0xFF }));
    // Retraces that come, ticks that are counted, pictures that change: no waits without an end.
    for moving in [
        "next: mov dx, 3DAh\n wait_: in al, dx\n test al, 8\n jz wait_\n on_: in al, dx\n test al, 8\n jnz on_\n inc bx\n jmp next",
        "mov ax, 40h\n mov es, ax\n wait_: cmp byte [es:6Eh], 9\n jne wait_\n jmp $",
        "mov ax, 0A000h\n mov es, ax\n next: inc byte [es:0]\n jmp next",
    ] {
        let looks_at_ticks = moving.contains("6Eh");
        // The upper half of the ticks changes in an hour only.
        assert_eq!(stuck(moving).is_some(), looks_at_ticks, "{moving}");
    }
}

/// Function 1Bh, from what the class has: its modes by bit, the firmware's data in one row, characters, lines, memory
/// (Technical References, firmware of the boards with a DAC; layout of block and table from memory). Boards without a DAC
/// do not have the function.
#[test]
fn functionality_and_state_are_told() {
    if !has_assembler() {
        return;
    }
    let text = "mov ax, 3\n int 10h\n push cs\n pop es\n mov di, block\n xor bx, bx\n mov ah, 1Bh\n int 10h\n";
    let text = format!("{text}{EXIT_AL}align 16\nblock: times 64 db 0EEh\n");
    let bytes = |machine: &Machine, at: Far, count: u16| -> Vec<u8> {
        (0..count).map(|offset| machine.hardware().peek(at.plus(offset).linear())).collect()
    };
    // Modes 0 to 7 and Dh to 13h: what the profile sets. 200, 350 and 400 lines of text, eight sets, two at once.
    let table = [0xFF, 0xE0, 0x0F, 0, 0, 0, 0, 7, 8, 2, 0xF6, 0x0C];
    let (machine, code) = on("vga", &text);
    assert_eq!(code, 0x1B);
    let at = Far::new(0x0810, 0x0120);
    let block = bytes(&machine, at, 64);
    let word = |at: usize| u16::from_le_bytes([block[at], block[at + 1]]);
    assert_eq!(bytes(&machine, Far::new(word(2), word(0)), 12), table);
    assert_eq!(block[4..34], bytes(&machine, Far::new(0x40, 0x49), 30));
    assert_eq!((block[4], word(5), word(0x1E)), (3, 80, 0x3D4));
    assert_eq!((block[0x22], word(0x23), block[0x25], word(0x27)), (25, 16, 0x08, 16));
    assert_eq!((block[0x29], block[0x2A], block[0x2D], block[0x31]), (8, 2, 0x30, 3));
    assert!(block[0x33..].iter().all(|byte| *byte == 0));
    let (machine, code) = on("linear-256", &text);
    assert_eq!(code, 0x1B);
    assert_eq!(machine.hardware().peek(at.linear() + 0x25), 0x0C);
    for board in ["monochrome", "colour-graphics", "ega"] {
        let (machine, code) = on(board, &text);
        assert_ne!(code, 0x1B, "{board}");
        assert_eq!(machine.hardware().peek(at.linear()), 0xEE, "{board}");
    }
}
