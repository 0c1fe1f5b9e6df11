//! Real-mode programs that drive the boards, assembled by nasm.

#[path = "../../../../../tests/programs.rs"]
mod programs;

use std::path::Path;

use backporch_drive::Driven;
use backporch_pc::{Far, Key};

use super::*;

/// A bench with a program as its routine, on the 64 KiB class; `None` where there is no assembler.
struct Programmed {
    folder: tempfile::TempDir,
}

impl Programmed {
    /// A program of `assets/programs`, with definitions.
    fn of(name: &str, definitions: &[&str]) -> Option<Self> {
        programs::assembled(name, definitions).map(Self::running)
    }

    /// A program by its source, 8086 code at 100h.
    fn from(source: &str) -> Option<Self> {
        programs::of_source(source).map(Self::running)
    }

    fn running(image: Vec<u8>) -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("own.com"), image).unwrap();
        let bench = "(version: 1, adapter: \"linear-256\", registers: {\"displayed\": 31, \"sync_position\": 38}, picture: (source: \"harbour\"), routine: \"own.com\", \
                     machine: (clock: (crystal_hz: 8000000)))";
        fs::write(folder.path().join("own.bench.ron"), bench).unwrap();
        Self { folder }
    }

    fn name(&self) -> String {
        self.folder.path().join("own.bench.ron").display().to_string()
    }

    fn open(&self, quirks: &[&str]) -> Session {
        let quirks = quirks.iter().map(|name| name.to_string()).collect();
        Session::open(&self.name(), &Overrides { quirks, ..Overrides::default() }).unwrap()
    }

    /// What the `frame` command shows: frames of a faulty board under the program alone.
    fn alone(&self, quirks: &[&str], frames: usize) -> Vec<Picture> {
        let quirks = quirks.iter().map(|name| name.to_string()).collect();
        let bench = Bench::open(&self.name(), &Overrides { quirks, ..Overrides::default() }).unwrap();
        let mut driven = Driven::of(&bench, bench.faulty(bench.registers())).unwrap();
        (0..frames).map(|_| driven.next_frame().picture(View::Picture)).collect()
    }
}

/// Where the beam and the program are, and what is shown.
fn state(session: &Session) -> (u64, String, String, Picture) {
    let program = session.program().unwrap();
    let here = program.listing.iter().find(|line| line.here).unwrap();
    (session.transport().beam().dot, format!("{} {}", here.at, here.text), program.registers, shown(session))
}

/// Ticks until the session stands still.
fn run_to_rest(session: &mut Session) {
    let mut now = 0.0;
    while session.transport().is_running() && now < 60.0 {
        session.tick(now);
        now += 0.02;
    }
    assert!(!session.transport().is_running(), "it came to rest");
}

#[test]
fn a_program_drives_both_boards_as_it_drives_one_alone() {
    for quirks in [&[][..], &["row-reload"]] {
        let Some(own) = Programmed::of("scroll.asm", &["FRAMES=20"]) else { return };
        let wanted = own.alone(quirks, 40);
        let mut session = own.open(quirks);
        for (number, picture) in wanted.iter().enumerate() {
            assert_eq!(session.transport().frame_shown(), number as u64);
            assert!(shown(&session) == *picture, "frame {number} under {quirks:?}");
            session.perform(Command::FrameOn);
        }
        for back in [31, 5, 17] {
            session.jump(back).unwrap();
            assert!(shown(&session) == wanted[back as usize], "rewound to {back}");
        }
        // Whatever the steps, the same frames come.
        for command in [Command::LineOn, Command::CharOn, Command::InstructionOn, Command::InstructionOn] {
            session.perform(command);
        }
        session.step_frames(2);
        assert!(shown(&session) == wanted[19]);
        assert_eq!(session.program().unwrap().state, ProgramState::Runs);
        session.jump(39).unwrap();
        while !session.program().unwrap().state.is_over() {
            session.step_frames(1);
        }
        assert_eq!(session.program().unwrap().state, ProgramState::Ended(0));
        assert!(session.message().unwrap().contains("ended with code 0"));
        session.step_frames(2);
    }
}

#[test]
fn instructions_are_stepped_on_and_back() {
    let Some(own) = Programmed::of("scroll.asm", &[]) else { return };
    let mut session = own.open(&[]);
    session.step_frames(8);
    session.step_lines(30);
    let mut seen = Vec::new();
    for _ in 0..40 {
        session.perform(Command::InstructionOn);
        seen.push(state(&session));
    }
    // Every step ends another instruction, in the order the processor takes them.
    let distinct = seen.windows(2).filter(|two| two[0].1 != two[1].1).count();
    assert_eq!(distinct, 39, "{:?}", seen.iter().map(|state| &state.1).collect::<Vec<_>>());
    assert!(seen.windows(2).all(|two| two[0].0 <= two[1].0), "the beam goes on");
    for wanted in seen.iter().rev().skip(1) {
        session.perform(Command::InstructionBack);
        assert_eq!(state(&session).1, wanted.1);
    }
    // A step back stops where the instruction ends, so before the next one is taken.
    assert!(session.transport().beam().dot <= seen[1].0);
}

/// Waits for a key and shows the next start address with each.
const BY_KEY: &str = "
        xor     bx, bx
.next:  mov     ah, 0
        int     16h
        inc     bx
        mov     dx, 3D4h
        mov     al, 0Dh
        mov     ah, bl
        out     dx, ax
        cmp     bl, 5
        jb      .next
        in      al, 60h         ; there is a keyboard
        mov     dx, 201h
        in      al, dx          ; and an open bus, and no program beyond
";

#[test]
fn live_keys_reach_the_program_and_are_played_again() {
    let Some(own) = Programmed::from(BY_KEY) else { return };
    let mut session = own.open(&[]);
    session.step_frames(3);
    assert_eq!(session.program().unwrap().state, ProgramState::WaitsForKey);
    let key = Key::named("space").unwrap();
    let mut shown_then = Vec::new();
    for step in 1..=3 {
        session.press(key, true);
        session.step_frames(1);
        session.press(key, false);
        session.step_frames(2);
        assert_eq!(session.sweep().active().value(), step, "the active register follows");
        shown_then.push((session.transport().frame_shown(), shown(&session)));
    }
    assert!(shown_then[0].1 != shown_then[1].1);
    for (frame, picture) in shown_then.iter().rev() {
        session.jump(*frame).unwrap();
        assert!(shown(&session) == *picture, "frame {frame} again");
    }
    session.jump(0).unwrap();
    for (frame, picture) in &shown_then {
        session.step_frames((*frame - session.transport().frame_shown()) as i64);
        assert!(shown(&session) == *picture, "frame {frame} played again");
    }
    // Another key in the past replaces what came after, and a program that cannot go on stops the run.
    session.jump(shown_then[0].0).unwrap();
    assert_eq!(session.sweep().active().value(), 1);
    session.run(true);
    for step in 0..4 {
        session.press(key, true);
        session.next_frame();
        session.press(key, false);
        session.next_frame();
        session.next_frame();
        assert_eq!(session.transport().is_running(), step < 3);
    }
    let ProgramState::Trouble(why) = session.program().unwrap().state else { panic!("{:?}", session.message()) };
    assert!(why.contains("went to where there is no program"), "{why}");
    assert!(session.message().unwrap().contains("cannot go on"), "{:?}", session.message());
    session.step_frames(2);
}

#[test]
fn a_run_stops_at_an_instruction_a_port_and_a_line() {
    let Some(own) = Programmed::of("scroll.asm", &[]) else { return };
    let mut session = own.open(&[]);
    // Firmware sets the mode and the program narrows the picture; then it draws for some frames.
    session.step_frames(7);
    session.run_until(StopCondition::PortWrite(0x3D4));
    run_to_rest(&mut session);
    assert!(session.message().unwrap().starts_with("stopped in frame"), "{:?}", session.message());
    assert!(session.message().unwrap().contains("a write to port 0x3D4"));
    // The upper byte comes first, then the lower.
    let upper = session.bench().adapter().start_address();
    assert_eq!(session.bench().adapter().get(&session.transport.history.boards().intended, upper), 0);
    session.run_until(StopCondition::PortWrite(0x3D4));
    run_to_rest(&mut session);
    assert_eq!(session.bench().adapter().get(&session.transport.history.boards().intended, upper), 0xE8);
    let program = session.program().unwrap();
    let at = program.listing.iter().position(|line| line.here).unwrap();
    let done = &program.listing[at.saturating_sub(1)..=at];
    assert!(done.iter().any(|line| line.text == "out dx,ax"), "{done:?}");

    // Where that instruction lies, it stops again, before it: a frame later.
    let out = done.iter().find(|line| line.text == "out dx,ax").unwrap().at;
    let before = session.transport().beam().dot;
    session.run_until(StopCondition::Instruction(out));
    run_to_rest(&mut session);
    let program = session.program().unwrap();
    let here = program.listing.iter().find(|line| line.here).unwrap();
    assert_eq!((here.at, here.text.as_str()), (out, "out dx,ax"));
    let frame =
        session.transport.history.boards().newest.faulty.lines.iter().map(|line| u64::from(line.dots)).sum::<u64>();
    let waited = session.transport().beam().dot - before;
    assert!((frame * 9 / 10..frame * 11 / 10).contains(&waited), "{waited} of {frame} dots");
    // It has not been done yet: the next step does it.
    let start = session.bench().adapter().get(&session.transport.history.boards().intended, upper);
    session.perform(Command::InstructionOn);
    assert_eq!(session.bench().adapter().get(&session.transport.history.boards().intended, upper), start + 1);
    session.perform(Command::InstructionBack);
    session.perform(Command::CharBack);
    assert_eq!(
        session.bench().adapter().get(&session.transport.history.boards().intended, upper),
        start,
        "and it is undone"
    );

    session.run_until(StopCondition::ScanLine(123));
    run_to_rest(&mut session);
    assert_eq!((session.transport().beam().scan_line, session.transport().beam().char), (123, 0));
    session.step_frames(1);
    assert!(!session.transport().is_mid_frame());

    let mut none = open("harbour-256-plain");
    none.run_until(StopCondition::Instruction(Far::new(0x810, 0x100)));
    assert!(!none.transport().is_running() && none.message().unwrap().contains("no program"));
    none.run_until(StopCondition::ScanLine(7));
    run_to_rest(&mut none);
    assert_eq!(none.transport().beam().scan_line, 7);
}

#[test]
fn a_pixel_leads_back_to_its_instruction_and_so_does_a_hazard() {
    let Some(own) = Programmed::of("scroll.asm", &["TORN"]) else { return };
    let mut session = own.open(&[]);
    session.step_frames(40);
    // The newest column is drawn by one instruction, the first picture by another.
    for (x, text) in [(255, "mov [es:di],dx"), (3, "stosb")] {
        let canvas = session.canvas(false);
        session.inspect(&canvas, Some((x, 100)));
        let inspected = session.inspection().pixel().unwrap().clone();
        let by = session.writer(&inspected).unwrap();
        assert!(by.ends_with(text), "{by}");
    }
    let routine = session.routine().unwrap();
    assert_eq!(routine.cpu.as_deref(), Some("8086 at 8.00 MHz"));
    let late = routine.hazards.iter().find(|one| one.kind.name() == "column-early").unwrap();
    assert!(late.by.as_ref().unwrap().ends_with("mov [es:di],dx"), "{late:?}");
}

#[test]
fn a_program_may_be_met_with_quirks_and_registers_by_hand() {
    let Some(own) = Programmed::of("scroll.asm", &[]) else { return };
    let mut session = own.open(&[]);
    session.step_frames(8);
    session.step_lines(100);
    session.add_quirk("row-reload");
    let width = session.bench().field("displayed").unwrap();
    session.set_register(width, 31, WritePath::Ports).unwrap();
    session.step_frames(4);
    assert_eq!(session.transport().frame(BoardSide::Faulty).picture_size().0, 256);
    let (frame, picture) = (session.transport().frame_shown(), shown(&session));
    session.step_frames(9);
    session.jump(2).unwrap();
    session.step_frames((frame - 2) as i64);
    assert!(shown(&session) == picture, "the same again from the past");
    let saved = session.bench_file().routine.unwrap();
    assert!(Path::new(&saved).is_absolute() && saved.ends_with("own.com"), "{saved}");

    // Any bench may be given the program.
    let path = own.folder.path().join("own.com").display().to_string();
    let mut other = open("harbour-vga");
    other.open_another(&path);
    assert!(other.program().is_some(), "{:?}", other.files().problem());
    assert_eq!(other.bench_file().routine, Some(path));
}

#[test]
fn a_program_that_cannot_go_on_is_told_from_the_start() {
    let Some(own) = Programmed::from("mov dx, 201h\n in al, dx") else { return };
    let mut session = own.open(&[]);
    assert_eq!(
        session.message().unwrap(),
        "the program cannot go on: at 0810:0104 it went to where there is no program"
    );
    session.perform(Command::InstructionOn);
    assert!(session.message().unwrap().contains("no instruction to come"), "{:?}", session.message());
    session.step_frames(2);
}

/// A made-up sequence of things done, by a simple generator.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }
}

/// Whatever is done in whatever steps, the past plays again as it was: frames shown on the way
/// come back, by jumps and by frame after frame.
#[test]
fn the_past_plays_again_whatever_was_done() {
    let rounds = std::env::var("BACKPORCH_ROUNDS").ok().and_then(|rounds| rounds.parse().ok()).unwrap_or(2);
    for bench in ["program-keys", "program-torn", "scroll-late"] {
        for seed in 0..rounds {
            let mut dice = Dice(seed);
            let mut session = open(bench);
            session.add_quirk("row-reload");
            let mut seen = std::collections::BTreeMap::new();
            let keys = ["right", "left", "space"].map(|name| Key::named(name).unwrap());
            let width = session.bench().field("displayed").unwrap();
            for _ in 0..60 {
                match dice.roll(10) {
                    0..=2 => session.perform(Command::FrameOn),
                    3 => session.perform(Command::LineOn),
                    4 => session.perform(Command::CharOn),
                    5 => session.perform(Command::InstructionOn),
                    6 => session.press(keys[dice.roll(3) as usize], dice.roll(2) == 0),
                    7 => session.set_register(width, 28 + dice.roll(12), WritePath::Ports).unwrap(),
                    8 => session.perform(Command::Quirk(0)),
                    _ => {
                        // Into the past: what came after is forgotten once something is done there.
                        let frame = session.transport().frame_shown();
                        session.jump(frame.saturating_sub(dice.roll(4))).unwrap();
                        session.press(keys[0], true);
                        session.perform(Command::CharOn);
                        seen.retain(|known, _| *known <= session.transport().frame_shown());
                    }
                }
                seen.insert(session.transport().frame_shown(), shown(&session));
            }
            session.perform(Command::FrameOn);
            let last = session.transport().frame_shown();
            for _ in 0..8 {
                let frame = dice.roll(last);
                session.jump(frame).unwrap();
                // Far ahead it goes by and by.
                while session.transport().goal().is_some() {
                    session.tick(0.0);
                }
                if let Some(picture) = seen.get(&frame) {
                    assert!(shown(&session) == *picture, "{bench}, seed {seed}: frame {frame} by a jump");
                }
            }
            session.jump(0).unwrap();
            while session.transport().frame_shown() < last {
                if let Some(picture) = seen.get(&session.transport().frame_shown()) {
                    let frame = session.transport().frame_shown();
                    assert!(shown(&session) == *picture, "{bench}, seed {seed}: frame {frame} by steps");
                }
                session.perform(Command::FrameOn);
            }
        }
    }
}

/// Keys typed at odd moments are saved with the bench, and pressed again where they were: the same frames come, on a clock
/// whose time is no whole number of nanoseconds, too, and in a case.
#[test]
fn keys_typed_by_hand_are_saved_and_pressed_again() {
    let rounds = std::env::var("BACKPORCH_ROUNDS").ok().and_then(|rounds| rounds.parse().ok()).unwrap_or(3);
    let built_in = backporch_bench::source_of("program-keys").unwrap().text().to_string();
    for (clock, seed) in
        ["8000000", "14318180, divide: 3"].into_iter().flat_map(|clock| (0..rounds).map(move |seed| (clock, seed)))
    {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("typed.bench.ron");
        fs::write(&path, built_in.replace("crystal_hz: 8000000", &format!("crystal_hz: {clock}"))).unwrap();
        let mut session = open(path.to_str().unwrap());
        session.write_to(folder.path());
        let keys = ["right", "left"].map(|name| Key::named(name).unwrap());
        let mut dice = Dice(seed);
        for _ in 0..50 {
            match dice.roll(5) {
                0 => session.perform(Command::LineOn),
                1 => session.perform(Command::InstructionOn),
                2 => session.step_frames(1),
                _ => session.press(keys[dice.roll(2) as usize], dice.roll(2) == 0),
            }
        }
        // What is taken back was not pressed.
        session.press(keys[0], true);
        session.perform(Command::Undo);
        session.step_frames(1);
        for command in [Command::SaveBench, Command::SaveCase] {
            session.perform(command);
        }
        let last = session.transport().frame_shown();
        assert!(last > 3, "seed {seed}");
        let pressed = &session.bench_file().machine.keys;
        assert!(!pressed.is_empty(), "seed {seed}");
        for saved in ["typed-1.bench.ron", "typed-1.case.zip"] {
            let mut again = open(folder.path().join(saved).to_str().unwrap());
            assert_eq!(&again.bench_file().machine.keys, pressed, "{saved}");
            session.jump(0).unwrap();
            for frame in 0..last {
                assert_eq!(again.transport().frame_shown(), frame);
                assert!(shown(&again) == shown(&session), "{clock}, seed {seed}, {saved}: frame {frame}");
                again.step_frames(1);
                session.step_frames(1);
            }
        }
    }
}

/// Mode 13h; then, for ever, a pixel where the mouse is, its colour by the buttons held.
const POINTER: [u8; 39] = [
    0xB8, 0x13, 0x00, 0xCD, 0x10, 0x31, 0xC0, 0xCD, 0x33, 0xB8, 0x00, 0xA0, 0x8E, 0xC0, 0xB8, 0x03, 0x00, 0xCD, 0x33,
    0xD1, 0xE9, 0xB8, 0x40, 0x01, 0xF7, 0xE2, 0x01, 0xC8, 0x89, 0xC7, 0x88, 0xD8, 0x04, 0x0F, 0x26, 0x88, 0x05, 0xEB,
    0xE7,
];

/// The mouse of a program follows the pointer, is saved with the bench, and moves again where it did: the same frames come.
#[test]
fn a_mouse_moved_by_hand_is_saved_and_moves_again() {
    for (clock, seed) in ["8000000", "14318180, divide: 3"].into_iter().zip(0..) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("pointer.bench.ron");
        fs::write(folder.path().join("pointer.com"), POINTER).unwrap();
        let text = format!(
            "(version: 1, adapter: \"vga\", mode: \"320x200x256\", routine: \"pointer.com\", machine: (clock: (crystal_hz: {clock})))"
        );
        fs::write(&path, text).unwrap();
        let mut session = open(path.to_str().unwrap());
        session.write_to(folder.path());
        // Firmware clears memory first.
        session.step_frames(12);
        let lit = |session: &Session, x: u32, y: u32| {
            let frame = session.transport().frame(BoardSide::Faulty);
            let line = frame.picture_lines().nth(y as usize).unwrap();
            let segments = frame.segments_of(line).iter();
            let values: Vec<u8> = segments.flat_map(|segment| frame.values_of(segment.kind)).copied().collect();
            values[x as usize]
        };
        // A quarter across and half down, the left button held: of 640 by 200 places the middle of pixel 80, line 100.
        session.point(Some([0.25, 0.5]), 1);
        session.step_frames(3);
        assert_eq!((lit(&session, 80, 100), lit(&session, 160, 100)), (16, 15), "{clock}");
        let mut dice = Dice(seed);
        for _ in 0..40 {
            match dice.roll(4) {
                0 => session.perform(Command::LineOn),
                1 => session.step_frames(1),
                _ => {
                    let place = [dice.roll(100), dice.roll(100)].map(|part| part as f32 / 100.0);
                    session.point(Some(place), dice.roll(4) as u8);
                }
            }
        }
        // A whole movement is taken back at once.
        let before = session.bench_file().machine.mouse.len();
        session.point(None, 0);
        session.step_frames(1);
        for part in [0.1, 0.2, 0.3] {
            session.point(Some([part, 0.1]), 0);
            session.perform(Command::LineOn);
        }
        session.perform(Command::Undo);
        assert!(session.bench_file().machine.mouse.len() <= before + 1, "{clock}");
        session.step_frames(1);
        for command in [Command::SaveBench, Command::SaveCase] {
            session.perform(command);
        }
        let last = session.transport().frame_shown();
        let moved = &session.bench_file().machine.mouse;
        assert!(moved.len() > 5, "{clock}: {moved:?}");
        for saved in ["pointer-1.bench.ron", "pointer-1.case.zip"] {
            let mut again = open(folder.path().join(saved).to_str().unwrap());
            assert_eq!(&again.bench_file().machine.mouse, moved, "{saved}");
            session.jump(0).unwrap();
            for frame in 0..last {
                assert!(shown(&again) == shown(&session), "{clock}, {saved}: frame {frame}");
                again.step_frames(1);
                session.step_frames(1);
            }
        }
    }
}

/// A program that asked for the mouse finds it again where its bench was saved, moved or not; one that did not gets none.
#[test]
fn a_mouse_that_was_asked_for_stays_with_the_bench() {
    for (bytes, wanted) in [(&POINTER[..], 1), (&[0xEB, 0xFE][..], 0)] {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("own.com"), bytes).unwrap();
        let bench = folder.path().join("own.bench.ron");
        fs::write(&bench, r#"(version: 1, adapter: "vga", mode: "320x200x256", routine: "own.com")"#).unwrap();
        let mut session = open(bench.to_str().unwrap());
        session.step_frames(12);
        assert_eq!(session.bench_file().machine.mouse.len(), wanted);
    }
}

/// Thumbnails of a driven board show memory as the program left it, and no older one.
#[test]
fn the_strip_shows_what_the_program_drew() {
    let mut session = open("program-torn");
    session.step_frames(30);
    session.draw_thumbnails(64);
    let value = session.sweep().active().value();
    let cell = session.sweep().thumbnails().get(value).unwrap();
    assert_eq!(cell.step.verdict, Verdict::Clean);
    let lit = cell.rgba.iter().filter(|pixel| pixel[..3] != [0, 0, 0]).count();
    assert!(lit > cell.rgba.len() / 2, "{lit} of {}", cell.rgba.len());
    session.step_frames(1);
    session.draw_thumbnails(1);
    assert!(session.sweep().thumbnails().get(value).is_none(), "memory has changed");
}
