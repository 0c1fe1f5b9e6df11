//! The machine around the processor: its end in every kind of trouble, its
//! services, keys, time, breakpoints, snapshots.

mod common;

use std::collections::BTreeSet;
use std::fs;

use backporch_pc::{Breakpoints, Far, Folder, History, Key, KeyPress, Machine, MachineSetup, Model, Stop, Trouble};
use backporch_raster::Frame;
use common::{has_assembler, machine, run, setup, slow_setup, source};

fn on_linear(text: &str) -> Machine {
    machine("linear-256", &source(text), setup(Model::P8086))
}

fn trouble(text: &str) -> (Trouble, String) {
    let strict = MachineSetup { strict: true, ..setup(Model::P8086) };
    match run(&mut machine("linear-256", &source(text), strict)).1 {
        Stop::Trouble(report) => (report.trouble.clone(), report.to_string()),
        stop => panic!("{stop:?}"),
    }
}

#[test]
fn whatever_is_not_here_ends_a_strict_run() {
    if !has_assembler() {
        return;
    }
    let (what, report) = trouble("mov dx, 201h\n in al, dx\n hlt");
    assert_eq!(what, Trouble::PortRead(0x201));
    assert!(report.contains("0810:0103") && report.contains("in al,dx") && report.contains("mov dx,201h"), "{report}");
    assert_eq!(trouble("mov al, 1\n out 0A0h, al").0, Trouble::PortWritten(0xA0, 1));
    assert_eq!(trouble("mov ah, 65h\n int 21h").0, Trouble::Service { interrupt: 0x21, ax: 0x6500 });
    assert_eq!(trouble("mov ax, 4\n int 33h").0, Trouble::Service { interrupt: 0x33, ax: 4 });
    assert_eq!(trouble("mov ax, 0012h\n int 10h").0, Trouble::Service { interrupt: 0x10, ax: 0x12 });
    assert_eq!(trouble("int 60h").0, Trouble::Interrupt(0x60));
    assert_eq!(trouble("mov bl, 0\n div bl").0, Trouble::Interrupt(0));
    assert_eq!(trouble("db 0Fh, 0FFh").0, Trouble::Undefined);
    assert_eq!(trouble("mov al, 35h\n out 43h, al").0, Trouble::PortValue(0x43, 0x35));
    assert_eq!(trouble("mov ax, 0C000h\n mov es, ax\n mov [es:5], al").0, Trouble::Written(0xC0005, 0));
    assert_eq!(trouble("cli\n hlt").0, Trouble::Asleep);
}

#[test]
fn undefined_instructions_and_protected_mode_end_the_80286_too() {
    if !has_assembler() {
        return;
    }
    for (text, wanted) in [("db 0Fh, 0FFh", Trouble::Undefined), ("mov ax, 1\n db 0Fh, 01h, 0F0h", Trouble::Protected)]
    {
        let mut machine = machine("linear-256", &source(text), setup(Model::P80286));
        let Stop::Trouble(report) = run(&mut machine).1 else { panic!() };
        assert_eq!(report.trouble, wanted);
    }
}

#[test]
fn wild_programs_end_cleanly() {
    if !has_assembler() {
        return;
    }
    // Jumps into nothing: cleared memory, the interrupt table, video memory, the firmware.
    for text in
        ["jmp 5000h:0", "jmp 0:0", "jmp 0A000h:0", "jmp 0F000h:0", "jmp 0FFFFh:0", "xor ax, ax\n push ax\n jmp 9000h"]
    {
        let (what, report) = trouble(text);
        assert_eq!(what, Trouble::Nowhere, "{text}");
        assert!(report.contains("jmp") || report.contains("ret"), "{report}");
    }
    // A stack that runs into the program.
    assert!(matches!(trouble("down: push ax\n call down").0, Trouble::StackOverrun(_)));
    // Writes everywhere, itself included.
    let everywhere =
        "xor bx, bx\n next: mov es, bx\n mov di, 0\n mov cx, 16\n mov al, 5Ah\n rep stosb\n inc bx\n jmp next";
    assert!(matches!(run(&mut on_linear(everywhere)).1, Stop::Trouble(_)));
    // Loops for ever.
    let mut forever = on_linear("jmp $");
    forever.set_deadline(500_000_000);
    let (frames, stop) = run(&mut forever);
    assert!(matches!(stop, Stop::TimeOver), "{stop:?}");
    assert_eq!(frames.len(), 35, "half a second at 70.09 frames a second");
    assert!(forever.nanoseconds() >= 500_000_000 && forever.nanoseconds() < 501_000_000);
}

#[test]
fn random_bytes_end_cleanly() {
    // A generator of fixed start (xorshift), so that a failure can be seen again.
    let mut state = 0x2545_F491_4F6C_DD1Du64;
    for round in 0..300 {
        let bytes: Vec<u8> = (0..400)
            .map(|_| {
                state ^= state << 13;
                state ^= state >> 7;
                state ^= state << 17;
                state as u8
            })
            .collect();
        let image = backporch_pc::ProgramImage::parse(&bytes)
            .unwrap_or_else(|_| backporch_pc::ProgramImage::parse(&[0x90]).unwrap());
        let model = Model::ALL[round % 3];
        let mut machine = machine("colour-graphics", &image, setup(model));
        machine.set_deadline(50_000_000);
        run(&mut machine);
    }
}

#[test]
fn files_are_read_inside_the_folder_only() {
    if !has_assembler() {
        return;
    }
    let outer = tempfile::tempdir().unwrap();
    fs::write(outer.path().join("SECRET.TXT"), "secret").unwrap();
    fs::create_dir(outer.path().join("in")).unwrap();
    fs::write(outer.path().join("in/Note.Txt"), "harbour").unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink(outer.path().join("SECRET.TXT"), outer.path().join("in/LINK.TXT")).unwrap();
    let read = |name: &str, folder: Option<bool>, strict: bool| {
        let text = format!(
            "mov dx, name\n mov ax, 3D00h\n int 21h\n jc failed\n mov bx, ax\n mov cx, 100\n mov dx, buffer\n mov ah, 3Fh\n \
             int 21h\n mov cx, ax\n mov dx, buffer\n mov bx, 1\n mov ah, 40h\n int 21h\n mov ax, 4C00h\n int 21h\n \
             failed: mov ah, 4Ch\n int 21h\n name: db '{name}', 0\n buffer:"
        );
        let mut setup = setup(Model::P8086);
        setup.strict = strict;
        setup.folder = folder.map(|writable| Folder::new(&outer.path().join("in"), writable).unwrap());
        let mut machine = machine("linear-256", &source(&text), setup);
        let stop = run(&mut machine).1;
        (machine.printed(), stop)
    };
    let (printed, stop) = read("c:\\NOTE.TXT", Some(false), false);
    assert!(printed == "harbour" && matches!(stop, Stop::Exit(0)), "{printed} {stop:?}");
    assert!(matches!(read("NONE.TXT", Some(false), true).1, Stop::Exit(2)));
    let mut outside = vec!["..\\SECRET.TXT", "\\..\\SECRET.TXT", "D:\\SECRET.TXT"];
    if cfg!(unix) {
        outside.push("LINK.TXT");
    }
    for path in outside {
        let Stop::Trouble(report) = read(path, Some(true), true).1 else { panic!("{path}") };
        assert_eq!(report.trouble, Trouble::Outside(path.to_string()));
        assert!(matches!(read(path, Some(true), false), (printed, Stop::Exit(3)) if printed.is_empty()), "{path}");
    }
    let stop = read("NOTE.TXT", None, true).1;
    assert!(matches!(stop, Stop::Trouble(report) if matches!(report.trouble, Trouble::File(_))));
    assert!(matches!(read("NOTE.TXT", None, false).1, Stop::Exit(2)));
}

#[test]
fn files_are_written_only_where_that_was_asked_for() {
    if !has_assembler() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let text = "mov dx, name\n xor cx, cx\n mov ah, 3Ch\n int 21h\n jc failed\n mov bx, ax\n mov cx, 5\n mov dx, words\n \
                mov ah, 40h\n int 21h\n mov ax, 4C00h\n int 21h\n failed: mov ah, 4Ch\n int 21h\n name: db 'LOG.TXT', 0\n words: db 'quay!'";
    for (writable, code) in [(false, 5), (true, 0)] {
        let mut setup = setup(Model::P8086);
        setup.folder = Some(Folder::new(folder.path(), writable).unwrap());
        let stop = run(&mut machine("linear-256", &source(text), setup)).1;
        assert!(matches!(stop, Stop::Exit(found) if found == code), "{stop:?}");
        assert_eq!(folder.path().join("LOG.TXT").exists(), writable);
    }
    assert_eq!(fs::read(folder.path().join("LOG.TXT")).unwrap(), b"quay!");
}

#[test]
fn keys_come_through_the_service_and_through_the_port() {
    if !has_assembler() {
        return;
    }
    // Echoes keys until escape.
    let echo = "next: xor ax, ax\n int 16h\n cmp al, 27\n je done\n mov dl, al\n mov ah, 2\n int 21h\n jmp next\n done: mov ax, 4C00h\n int 21h";
    let mut echoing = machine("colour-graphics", &source(echo), slow_setup());
    for (name, at) in [("h", 100), ("i", 200), ("1", 300), ("esc", 400)] {
        echoing.press(Key::named(name).unwrap(), at * 1_000_000);
    }
    let stop = run(&mut echoing).1;
    assert!(matches!(stop, Stop::Exit(0)), "{stop:?}");
    assert_eq!(echoing.printed(), "hi1");
    // The same without the last key ends where it waits.
    let mut waiting = machine("colour-graphics", &source(echo), slow_setup());
    waiting.press(Key::named("x").unwrap(), 0);
    assert!(matches!(run(&mut waiting).1, Stop::WaitsForKey));
    // A handler of its own counts presses and releases at port 60h.
    let handler = "mov ax, 2509h\n mov dx, handler\n int 21h\n wait_: cmp byte [count], 4\n jb wait_\n mov al, [last]\n mov ah, 4Ch\n int 21h\n \
                   handler: push ax\n in al, 60h\n mov [last], al\n inc byte [count]\n mov al, 20h\n out 20h, al\n pop ax\n iret\n count: db 0\n last: db 0";
    let mut handling = on_linear(handler);
    handling.press(Key::named("space").unwrap(), 1_000_000);
    handling.press(Key::named("left").unwrap(), 200_000_000);
    assert!(matches!(run(&mut handling).1, Stop::Exit(0xCB)), "the release of scan code 4Bh");
}

/// Technical References of the system boards: where the first machine's keyboard is not acknowledged through bit 7 of port
/// 61h, no second code comes; later machines need none. Bit 4 turns over at each refresh there, 15.09 us apart.
#[test]
fn port_61h_is_that_of_its_machine() {
    if !has_assembler() {
        return;
    }
    let handler = |acknowledge: &str| {
        format!(
            "mov ax, 2509h\n mov dx, handler\n int 21h\n mov ax, 2508h\n mov dx, tick\n int 21h\n \
             wait_: cmp byte [ticks], 20\n jb wait_\n mov al, [count]\n mov ah, 4Ch\n int 21h\n \
             handler: push ax\n in al, 60h\n {acknowledge}\n inc byte [count]\n mov al, 20h\n out 20h, al\n pop ax\n iret\n \
             tick: push ax\n inc byte [ticks]\n mov al, 20h\n out 20h, al\n pop ax\n iret\n count: db 0\n ticks: db 0"
        )
    };
    let acknowledged = "in al, 61h\n or al, 80h\n out 61h, al\n and al, 7Fh\n out 61h, al";
    for (model, acknowledge, codes) in
        [(Model::P8088, acknowledged, 4), (Model::P8088, "", 1), (Model::P8086, "", 4), (Model::P80286, "", 4)]
    {
        let mut pressed = machine("colour-graphics", &source(&handler(acknowledge)), setup(model));
        pressed.press(Key::named("a").unwrap(), 100_000_000);
        pressed.press(Key::named("b").unwrap(), 400_000_000);
        let stop = run(&mut pressed).1;
        assert!(matches!(stop, Stop::Exit(found) if found == codes), "{model:?} {acknowledge}: {stop:?}");
    }
    // Refreshes counted over 1193 beats of the timer: a millisecond, 66 times 18 beats and some.
    let count = "cli\n xor cx, cx\n mov al, 34h\n out 43h, al\n xor al, al\n out 40h, al\n out 40h, al\n in al, 61h\n and al, 10h\n \
                 mov ah, al\n next: in al, 61h\n and al, 10h\n cmp al, ah\n je same\n mov ah, al\n inc cx\n \
                 same: xor al, al\n out 43h, al\n in al, 40h\n mov bl, al\n in al, 40h\n mov bh, al\n neg bx\n cmp bx, 1193\n jb next\n \
                 mov al, cl\n mov ah, 4Ch\n int 21h";
    let stop = run(&mut machine("colour-graphics", &source(count), setup(Model::P80286))).1;
    assert!(matches!(stop, Stop::Exit(65..=67)), "{stop:?}");
}

/// 18.2 ticks a second, and the user's handler behind every one (common practice).
#[test]
fn the_clock_ticks_and_calls_the_users_handler() {
    if !has_assembler() {
        return;
    }
    let text = "mov ax, 251Ch\n mov dx, handler\n int 21h\n wait_: hlt\n cmp byte [count], 18\n jb wait_\n xor ah, ah\n int 1Ah\n \
                mov al, dl\n mov ah, 4Ch\n int 21h\n handler: inc byte [cs:count]\n iret\n count: db 0";
    for setup in [slow_setup(), setup(Model::P80286)] {
        let mut machine = machine("linear-256", &source(text), setup);
        assert!(matches!(run(&mut machine).1, Stop::Exit(18)));
        let milliseconds = machine.nanoseconds() / 1_000_000;
        assert!((988..=990).contains(&milliseconds), "{milliseconds} ms for 18 ticks of 54.925 ms");
    }
}

#[test]
fn text_is_shown_on_the_board() {
    if !has_assembler() {
        return;
    }
    let text = "mov ax, 3\n int 10h\n mov dx, hello\n mov ah, 9\n int 21h\n mov ah, 3\n int 10h\n mov al, dl\n mov ah, 4Ch\n int 21h\n hello: db 'Pier', 13, 10, 'ok$'";
    let mut shown = machine("colour-graphics", &source(text), slow_setup());
    assert!(matches!(run(&mut shown).1, Stop::Exit(2)), "the cursor's column");
    assert_eq!(shown.board().memory()[..8], *b"P\x07i\x07e\x07r\x07");
    assert_eq!(shown.board().memory()[160..164], *b"o\x07k\x07");
    // The palette and pixels of the four-colour mode.
    let text = "mov ax, 4\n int 10h\n mov ax, 0B00h\n mov bx, 0100h\n int 10h\n mov ax, 0C03h\n mov cx, 319\n mov dx, 1\n int 10h\n \
                mov ah, 0Dh\n int 10h\n mov ah, 4Ch\n int 21h";
    let mut shown = machine("colour-graphics", &source(text), slow_setup());
    assert!(matches!(run(&mut shown).1, Stop::Exit(3)));
    assert_eq!(shown.board().memory()[0x2000 + 79], 3);
    // A colour of the DAC by service, and what mode 13h starts with.
    let text = "mov ax, 13h\n int 10h\n mov ax, 1010h\n mov bx, 5\n mov dx, 3F00h\n mov cx, 1020h\n int 10h\n mov ah, 0Fh\n int 10h\n mov ah, 4Ch\n int 21h";
    let mut shown = on_linear(text);
    assert!(matches!(run(&mut shown).1, Stop::Exit(0x13)));
    assert_eq!(shown.board().registers().dac(5), [0x3F, 0x10, 0x20]);
    assert_eq!(shown.board().registers().dac(15), [0x3F, 0x3F, 0x3F]);
}

#[test]
fn memory_is_handed_out_and_taken_back() {
    if !has_assembler() {
        return;
    }
    let text = "mov ah, 48h\n mov bx, 1\n int 21h\n jnc bad\n mov ah, 4Ah\n mov bx, 1000h\n int 21h\n jc bad\n mov ah, 48h\n mov bx, 100h\n int 21h\n jc bad\n \
                mov es, ax\n mov ah, 49h\n int 21h\n jc bad\n mov ax, 4C00h\n int 21h\n bad: mov ax, 4C01h\n int 21h";
    assert!(matches!(run(&mut on_linear(text)).1, Stop::Exit(0)));
}

#[test]
fn runs_stop_at_addresses_ports_and_scan_lines() {
    if !has_assembler() {
        return;
    }
    let text = "mov dx, 3C8h\n next: mov al, 7\n out dx, al\n jmp next";
    let mut stopping = on_linear(text);
    let next = Far::new(0x0810, 0x0103);
    stopping.set_breakpoints(Breakpoints { addresses: BTreeSet::from([next]), ..Breakpoints::default() });
    for _ in 0..3 {
        assert!(matches!(stopping.run(), Stop::Address(at) if at == next));
        assert_eq!(stopping.processor().registers.next(), next);
    }
    stopping.set_breakpoints(Breakpoints { ports: BTreeSet::from([0x3C8]), ..Breakpoints::default() });
    assert!(matches!(stopping.run(), Stop::Port(0x3C8)));
    assert_eq!(stopping.processor().registers.next(), Far::new(0x0810, 0x0106));
    // Always right after the write, also where a frame ends with it.
    let mut frames = 0;
    while frames < 40 {
        match stopping.run() {
            Stop::Port(0x3C8) => assert_eq!(stopping.recent(1)[0].text, "out dx,al"),
            Stop::Frame(_) => frames += 1,
            stop => panic!("{stop:?}"),
        }
    }
    stopping.set_breakpoints(Breakpoints { scan_line: Some(100), ..Breakpoints::default() });
    for _ in 0..3 {
        let stop = loop {
            match stopping.run() {
                Stop::Frame(_) => {}
                stop => break stop,
            }
        };
        assert!(matches!(stop, Stop::ScanLine(100)), "{stop:?}");
        assert_eq!(stopping.board().beam().scan_line, 100);
    }
    assert_eq!(stopping.listing(next, 2)[1].text, "out dx,al");
}

fn frames_of(machine: &mut Machine, count: usize) -> Vec<Frame> {
    let mut frames = Vec::new();
    while frames.len() < count {
        match machine.run() {
            Stop::Frame(frame) => frames.push(*frame),
            stop => panic!("{stop:?}"),
        }
    }
    frames
}

#[test]
fn a_clone_runs_on_alike_and_history_goes_back() {
    if !has_assembler() {
        return;
    }
    let text = "mov dx, 3D4h\n next: inc bx\n mov al, 0Dh\n mov ah, bl\n out dx, ax\n mov cx, 1000\n loop $\n jmp next";
    let mut running = on_linear(text);
    let mut history = History::new(4, 8);
    let mut frames = Vec::new();
    for number in 0..20 {
        history.note(number, &running);
        frames.extend(frames_of(&mut running, 1));
    }
    let mut twin = running.clone();
    assert!(frames_of(&mut running, 5) == frames_of(&mut twin, 5));
    for back in [0, 3, 4, 11, 19] {
        let mut rewound = history.rewind(back).unwrap();
        assert!(frames_of(&mut rewound, 1)[0] == frames[back as usize], "frame {back}");
    }
    assert!(history.rewind(2000).is_some_and(|machine| machine.board().frame_so_far().number == 2000));
}

/// The 64 KiB class is ready 397 ns after the command (published: reverse-engineered schematic of display controller gate
/// array 72X8300), 3.2 clocks of 8 MHz, so that a cycle waits four; a word at an even address takes a second cycle of four
/// clocks on its bus of eight bits (The 8086 Family User's Manual), which waits, too.
#[test]
fn video_memory_takes_its_wait_states() {
    if !has_assembler() {
        return;
    }
    let clocks = |segment: u16, instruction: &str| {
        let mut timed =
            on_linear(&format!("mov ax, {segment}\n mov ds, ax\n mul bl\n mov di, 2\n mul bl\n {instruction}\n nop"));
        (0..5).for_each(|_| assert!(timed.step().is_none()));
        let before = timed.hardware().clocks();
        assert!(timed.step().is_none());
        timed.hardware().clocks() - before
    };
    for (instruction, more) in [("mov [di], al", 4), ("mov [di], ax", 12), ("mov [di + 1], ax", 8), ("mov al, [di]", 4)]
    {
        let (system, video) = (clocks(0x2000, instruction), clocks(0xA000, instruction));
        assert_eq!(video - system, more, "{instruction}: {system} and {video}");
    }
}

/// Keyboards repeat a held key after half a second, ten times a second (Technical References, keyboards; from memory).
#[test]
fn a_held_key_repeats_until_it_is_let_go() {
    if !has_assembler() {
        return;
    }
    let counting = "mov ax, 2509h\n mov dx, handler\n int 21h\n wait_: cmp byte [last], 0B9h\n jne wait_\n mov al, [count]\n mov ah, 4Ch\n \
                    int 21h\n handler: push ax\n in al, 60h\n mov [last], al\n inc byte [count]\n mov al, 20h\n out 20h, al\n pop ax\n iret\n \
                    count: db 0\n last: db 0";
    for (held, codes) in [(60, 2), (490, 2), (510, 3), (1_050, 8)] {
        let mut machine = on_linear(counting);
        machine.hold(KeyPress { key: Key::named("space").unwrap(), from: 1_000_000, to: (held + 1) * 1_000_000 });
        let stop = run(&mut machine).1;
        assert!(matches!(stop, Stop::Exit(found) if found == codes), "{held} ms: {stop:?}");
    }
}
