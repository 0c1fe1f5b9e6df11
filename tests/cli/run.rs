//! Programs run from the command line, assembled by nasm from our own sources.

use backporch_analysis::Damage;
use backporch_bench::Overrides;
use backporch_drive::PROGRAMS;
use backporch_pc::{Key, Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop};
use backporch_quirk::QuirkStack;
use backporch_raster::Frame;

use crate::program::Bench;
use crate::programs;
use backporch_test_tools::ROWS_BENCH;

/// A bench whose picture lies 256 pixels a row, as the programs that scroll set it.
const NARROW: [&str; 4] = ["--set", "displayed=31", "--set", "sync_position=38"];

/// A program of `assets/programs` in the scratch folder; `false` where there is no assembler.
fn assembled(bench: &Bench, name: &str, definitions: &[&str]) -> bool {
    let image = programs::assembled(&format!("{name}.asm"), definitions);
    image.map(|image| bench.write(&format!("{name}.com"), image)).is_some()
}

#[test]
fn a_program_shows_its_last_frame_and_its_trace() {
    let bench = Bench::new();
    if !assembled(&bench, "scroll", &["FRAMES=10"]) {
        return;
    }
    let answer = bench.json(&["run", "scroll.com", "--trace", "scroll.csv", "--every", "frames", "--at", "255,5"]);
    assert_eq!((answer["ended"].as_str(), answer["exit_code"].as_u64()), (Some("exit"), Some(0)), "{answer}");
    let frames = answer["frames"].as_u64().unwrap() as usize;
    assert!(frames > 11, "{answer}");
    // The frames, and the list of them.
    assert_eq!(std::fs::read_dir(bench.path("frames")).unwrap().count(), frames + 1);
    let picture = image::open(bench.path("scroll.png")).unwrap();
    assert_eq!((picture.width(), picture.height()), (256, 200));
    // The entering column: column 255 of the world from start address F2h on, line 5.
    assert_eq!(answer["pixel"]["value"].as_u64(), Some(((0xF2 * 2 + 255) % 256) ^ 5), "{answer}");
    assert!(answer["pixel"]["by"].as_str().unwrap().contains("mov [es:di],dx"), "{answer}");
    let trace = std::fs::read_to_string(bench.path("scroll.csv")).unwrap();
    assert!(trace.starts_with("dot,kind,address,value\n"));
    assert!(trace.lines().any(|line| line.ends_with(",port,0x3D4,0xF20D")), "the start address's lower byte");
}

#[test]
fn a_faulty_board_is_told_frame_by_frame() {
    let bench = Bench::new();
    if !assembled(&bench, "sweep", &["STEPS=64"]) {
        return;
    }
    let swept = bench.json(&["sweep", ROWS_BENCH, "--over", "start_address=0..64"]);
    let steps = swept["steps"].as_array().unwrap();
    let damaged = steps.iter().filter(|step| step["verdict"] != "clean").count() as u64;
    let ran = bench.run(&["run", "sweep.com", ROWS_BENCH, "--format", "json"]);
    assert_eq!(ran.status, 1, "{}", ran.err);
    let answer: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    // The last step, a damaged one, is shown in one frame more or not at all.
    let found = answer["damaged_frames"].as_u64().unwrap();
    assert!(found.abs_diff(damaged) <= 1, "{found} frames of the program, {damaged} steps of the sweep");
    let stopped = bench.json(&["run", "sweep.com", ROWS_BENCH, "--until-damaged"]);
    assert_eq!((stopped["ended"].as_str(), stopped["damaged_frames"].as_u64()), (Some("damaged"), Some(1)));
    assert_eq!(bench.run(&["run", "sweep.com", "harbour-256-plain"]).status, 0);
}

#[test]
fn late_and_torn_programs_are_named_with_their_instructions() {
    let bench = Bench::new();
    for (definition, kinds) in [("RIGHT", [].as_slice()), ("LATE", &["column-late"]), ("TORN", &["torn-start"])] {
        if !assembled(&bench, "scroll", &["FRAMES=30", definition]) {
            return;
        }
        let ran = bench.run(&[&["run", "scroll.com"], &NARROW[..], &["--hazards", "--format", "json"]].concat());
        let answer: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
        let found: Vec<_> = answer["hazards"].as_array().unwrap().iter().collect();
        assert_eq!(found.is_empty(), kinds.is_empty(), "{definition}: {found:?}");
        for kind in kinds {
            let hazard = found.iter().find(|hazard| hazard["kind"] == *kind);
            let by = hazard.unwrap_or_else(|| panic!("{definition}: no {kind}"))["by"].as_str().unwrap();
            let instruction = if *kind == "column-late" { "mov [es:di],dx" } else { "out dx,ax" };
            assert!(by.starts_with("0810:") && by.contains(instruction), "{definition}: {by}");
        }
    }
}

/// The program that `emit` makes for the real machine, stepped by keys on the faulty board: each step fetches what
/// `sweep` says it does, and shows what the board shows that is set to it directly.
#[test]
fn an_emitted_program_shows_the_steps_of_its_sweep() {
    const STEPS: u64 = 40;
    let scratch = Bench::new();
    let over = format!("0..{STEPS}");
    let arguments = ["emit", ROWS_BENCH, "--as", "program", "--over", &over, "--out", "steps.com"];
    assert_eq!(scratch.run(&arguments).status, 0);
    let swept = scratch.json(&["sweep", ROWS_BENCH, "--over", &format!("start_address={over}")]);
    let bench = backporch_bench::Bench::open(ROWS_BENCH, &Overrides::default()).unwrap();
    let image = ProgramImage::parse(&std::fs::read(scratch.path("steps.com")).unwrap()).unwrap();
    let setup = || MachineSetup::new(Model::P8086, ProcessorClock::new(8_000_000, 1).unwrap());
    let mut machine = Machine::new(bench.faulty(bench.registers()), &image, &bench.mode().name, setup()).unwrap();
    let mut registers = bench.registers().clone();
    for step in 0..STEPS {
        let frame = last_frame(&mut machine);
        bench.adapter().set(&mut registers, bench.adapter().start_address(), step).unwrap();
        let (mut healthy, mut faulty) = (bench.plain(&registers), bench.faulty(&registers));
        healthy.load(machine.board().memory());
        faulty.load(machine.board().memory());
        assert!(values(&frame) == values(&faulty.run_frame()), "step {step}");
        let damage = Damage::between(&healthy.run_frame(), &frame);
        assert_eq!(
            Some(u64::from(damage.damaged_lines())),
            swept["steps"][step as usize]["damaged_lines"].as_u64(),
            "step {step}"
        );
        machine.press(Key::named("space").unwrap(), 0);
    }
}

/// Runs until the program waits for a key, and two frames more.
fn last_frame(machine: &mut Machine<QuirkStack>) -> Frame {
    while let Stop::Frame(frame) = machine.run() {
        machine.recycle(*frame);
    }
    machine.finish_frame();
    machine.finish_frame()
}

/// Pixel values, line by line.
fn values(frame: &Frame) -> Vec<Vec<u8>> {
    let of = |line| frame.segments_of(line).iter().flat_map(|segment| frame.values_of(segment.kind)).copied().collect();
    frame.picture_lines().map(of).collect()
}

#[test]
fn breakpoints_and_trouble_tell_where() {
    let bench = Bench::new();
    if !assembled(&bench, "sweep", &[]) {
        return;
    }
    let answer = bench.json(&["run", "sweep.com", "--break-port", "0x3D4"]);
    assert_eq!(answer["ended"], "breakpoint");
    assert!(answer["stopped"]["next"][0].as_str().unwrap().contains("mov al,0Dh"), "{answer}");
    let answer = bench.json(&["run", "sweep.com", "--break-at", "0810:0100"]);
    assert!(answer["stopped"]["next"][0].as_str().unwrap().starts_with("0810:0100"), "{answer}");
    // mov dx, 201h; in al, dx
    bench.write("stray.com", [0xBA, 0x01, 0x02, 0xEC]);
    let ran = bench.run(&["run", "stray.com", "--strict"]);
    assert_eq!(ran.status, 1);
    assert!(ran.out.contains("read port 0201h, which is not present"), "{}", ran.out);
    // int 20h behind it: a lenient run ends well and lists what was asked for.
    bench.write("stray.com", [0xBA, 0x01, 0x02, 0xEC, 0xCD, 0x20]);
    let answer = bench.json(&["run", "stray.com"]);
    assert_eq!((answer["ended"].as_str(), answer["exit_code"].as_u64()), (Some("exit"), Some(0)), "{answer}");
    assert_eq!(answer["asked"].as_array().unwrap().len(), 1, "{answer}");
    assert!(answer["asked"][0]["by"].as_str().unwrap().ends_with("in al,dx"), "{answer}");
    for (arguments, found) in [
        (vec!["run", "none.com"], "none.com"),
        (vec!["run", "sweep.com", "--key", "5=nokey"], "nokey"),
        (vec!["run", "sweep.com", "--key", "9..5=left"], "9..5"),
        (vec!["run", "sweep.com", "--clock", "900"], "900"),
        (vec!["run", "sweep.com", "--processor", "68000"], "68000"),
    ] {
        let ran = bench.run(&arguments);
        assert!(ran.status >= 2 && ran.err.contains(found), "{arguments:?}: {} {}", ran.status, ran.err);
    }
}

/// Those built in are what their sources say.
#[test]
fn built_in_programs_are_their_sources() {
    let sources = [("program-keys", "keys.asm", &[][..]), ("program-torn", "scroll.asm", &["TORN", "FRAMES=65535"])];
    assert!(sources.iter().map(|(name, ..)| *name).eq(PROGRAMS.names()));
    for ((name, source, definitions), (_, image)) in sources.iter().zip(PROGRAMS.entries()) {
        let Some(made) = programs::assembled(source, definitions) else { return };
        assert!(made == *image, "{name} is not what {source} makes: assemble it anew");
    }
}

#[test]
fn a_program_in_c_is_judged_by_its_instructions() {
    let bench = Bench::new();
    for (definitions, late) in [(&[][..], false), (&["LATE"], true)] {
        let Some(image) = programs::compiled("quay.c", definitions) else { return };
        bench.write("quay.com", image);
        let ran = bench
            .run(&[&["run", "quay.com"], &NARROW[..], &["--frames", "170", "--hazards", "--format", "json"]].concat());
        let answer: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
        let hazards = answer["hazards"].as_array().unwrap();
        assert_eq!(hazards.is_empty(), !late, "{hazards:?}");
        // The address comes too late, and so the columns stand at their old place meanwhile.
        for (kind, instruction) in [("late-start", "out dx,ax"), ("column-early", "mov [es:bx],ax")] {
            let named = |hazard: &&serde_json::Value| {
                hazard["kind"] == kind && hazard["by"].as_str().is_some_and(|by| by.ends_with(instruction))
            };
            assert!(!late || hazards.iter().any(|hazard| named(&hazard)), "{kind}: {hazards:?}");
        }
    }
}

/// A bench file names the program; every command on it runs it.
#[test]
fn a_bench_file_names_a_program_as_its_routine() {
    let bench = Bench::new();
    if !assembled(&bench, "scroll", &["FRAMES=20", "TORN"]) {
        return;
    }
    bench.write(
        "torn.bench.ron",
        r#"(version: 1, adapter: "linear-256-plain", registers: {"displayed": 31, "sync_position": 38}, routine: "scroll.com", machine: (clock: (crystal_hz: 8000000)))"#,
    );
    let answer = bench.json(&["run", "torn.bench.ron", "--hazards", "--trace", "torn.csv", "--every", "frames"]);
    assert_eq!((answer["processor"].as_str(), answer["ended"].as_str()), (Some("8086"), Some("exit")), "{answer}");
    let frames = answer["frames"].as_u64().unwrap();
    let late = |answer: &serde_json::Value| -> Vec<(u64, String)> {
        // Beyond the frames that both look at, the run tells what the program left on the screen.
        let all = answer["hazards"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|hazard| hazard["kind"] == "column-early" && hazard["frame"].as_u64().unwrap() + 3 < frames);
        all.map(|hazard| (hazard["frame"].as_u64().unwrap(), hazard["by"].as_str().unwrap_or("").to_string())).collect()
    };
    // The same mistakes by both ways, with the same instructions.
    let arguments = ["hazards", "torn.bench.ron", "--frames", &frames.to_string(), "--phases", "0"];
    let judged = bench.json(&arguments);
    assert_eq!(late(&judged), late(&answer));
    assert!(!late(&answer).is_empty() && late(&answer).iter().all(|(_, by)| by.contains("mov [es:di],dx")), "{answer}");
    // The program and its trace show the same frames, one by one.
    let record = |arguments: &[&str], folder: &str| {
        let count = frames.to_string();
        let fixed = ["--frames", &count, "--scale", "1", "--square", "--as", "png", "--out", folder];
        let ran = bench.run(&[&["record"], arguments, &fixed].concat());
        assert_eq!(ran.status, 0, "{}", ran.err);
    };
    record(&["torn.bench.ron"], "program");
    record(&["torn.bench.ron", "--routine", "torn.csv"], "replay");
    let pictures = |folder: &str| {
        let mut files: Vec<_> =
            std::fs::read_dir(bench.path(folder)).unwrap().map(|file| file.unwrap().path()).collect();
        files.retain(|path| path.extension().is_some_and(|ending| ending == "png"));
        files.sort();
        files.iter().map(|path| image::open(path).unwrap().to_rgb8()).collect::<Vec<_>>()
    };
    let (ran, program, replay) = (pictures("frames"), pictures("program"), pictures("replay"));
    assert_eq!(ran.len() as u64, frames);
    // A recording has one size for all its frames, that of the wider ones before the program narrows its rows.
    let within = |wide: &image::RgbImage, frame: &image::RgbImage| {
        image::imageops::crop_imm(wide, 0, 0, frame.width(), frame.height()).to_image()
    };
    for (number, frame) in ran.iter().enumerate() {
        let shown = |recorded: &[image::RgbImage]| *frame == within(&recorded[number], frame);
        assert!(shown(&program) && shown(&replay), "frame {number}");
    }
    assert_eq!(bench.run(&["frame", "torn.bench.ron", "--frame", "9", "--out", "nine.png"]).status, 0);
    assert!(image::open(bench.path("nine.png")).unwrap().to_rgb8() == ran[9]);
    // Another processor on the command line goes before the bench's.
    let other = bench.json(&["run", "torn.bench.ron", "--processor", "80286", "--clock", "12"]);
    assert_eq!((other["processor"].as_str(), other["clock_hz"].as_f64()), (Some("80286"), Some(12e6)));
    let ran = bench.run(&["run", "harbour-256-plain"]);
    assert!(ran.status == 2 && ran.err.contains("routine: found none, allowed a .COM or .EXE program"), "{}", ran.err);
}

/// Start phases and speeds of a program: the right scroll holds at all of them, the torn one does not.
#[test]
fn a_program_is_swept_over_phases_and_speeds() {
    let bench = Bench::new();
    for (definition, holds) in [("RIGHT", true), ("TORN", false)] {
        if !assembled(&bench, "scroll", &["FRAMES=80", definition]) {
            return;
        }
        let sweep = ["--phases", "3", "--speeds", "95..=105/5", "--settling", "45", "--frames-each", "10"];
        let answer = bench.json(&[&["hazards", "harbour-256-plain", "--routine", "scroll.com"], &sweep[..]].concat());
        assert_eq!(answer["margins"]["runs"], 9);
        assert_eq!(
            answer["margins"]["kinds"].as_array().unwrap().is_empty(),
            holds,
            "{definition}: {}",
            answer["margins"]
        );
    }
}

#[test]
fn a_run_goes_back_by_frames() {
    let bench = Bench::new();
    if !assembled(&bench, "scroll", &["FRAMES=200"]) {
        return;
    }
    let all = bench.json(&["run", "scroll.com", "--frames", "60", "--every", "frames"]);
    assert_eq!(all["frames"], 60);
    for back in [1, 7, 40] {
        let answer = bench.json(&["run", "scroll.com", "--frames", "60", "--back", &back.to_string()]);
        assert_eq!(answer["ended"], "gone-back");
        let why = answer["stopped"]["why"].as_str().unwrap();
        assert!(why.contains(&format!("the beginning of frame {}", 60 - back)), "{why}");
        assert!(!answer["stopped"]["next"].as_array().unwrap().is_empty());
        let shown = image::open(bench.path("scroll.png")).unwrap().to_rgb8();
        let before = bench.path(&format!("frames/{:06}.png", 59 - back));
        assert!(shown == image::open(before).unwrap().to_rgb8(), "{back} frames back");
    }
}

/// Programs by their bytes: each ends with a clear word, in bounded time.
#[test]
fn wild_programs_end_with_a_clear_word() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("files")).unwrap();
    bench.write("secret.txt", "secret");
    #[cfg(unix)]
    std::os::unix::fs::symlink(bench.path("secret.txt"), bench.path("files/link.txt")).unwrap();
    // mov ax,3D00h; mov dx,10Ch; int 21h; mov ah,4Ch; int 21h; the path
    let open = |path: &str| {
        [&[0xB8, 0, 0x3D, 0xBA, 0x0C, 1, 0xCD, 0x21, 0xB4, 0x4C, 0xCD, 0x21], path.as_bytes(), &[0]].concat()
    };
    let programs: [(&str, Vec<u8>, &str); 7] = [
        ("jmp $", vec![0xEB, 0xFE], "the program runs on"),
        ("jmp 9000:0000", vec![0xEA, 0, 0, 0, 0x90], "no program"),
        ("push ax; jmp -3", vec![0x50, 0xEB, 0xFD], "stack"),
        // xor ax,ax; mov es,ax; xor di,di; mov cx,8000h; rep stosw; add ax,1000h; jmp to mov es,ax
        (
            "write everywhere",
            vec![0x31, 0xC0, 0x8E, 0xC0, 0x31, 0xFF, 0xB9, 0, 0x80, 0xF3, 0xAB, 5, 0, 0x10, 0xEB, 0xF2],
            "the program cannot go on",
        ),
        ("open ..", open("..\\secret.txt"), "secret.txt"),
        ("open a link", open("link.txt"), "link.txt"),
        ("hlt", vec![0xFA, 0xF4], "halted"),
    ];
    for (name, bytes, says) in programs {
        bench.write("wild.com", bytes);
        let ran = bench.run(&["run", "wild.com", "--folder", "files", "--frames", "30"]);
        // Files outside the folder are an error for the program, which goes on.
        let fine = if says == "the program runs on" || name.starts_with("open") { 0 } else { 1 };
        assert!(ran.status == fine && ran.out.contains(says), "{name}: {} {} {}", ran.status, ran.out, ran.err);
        assert!(!ran.out.contains("panicked") && !ran.err.contains("panicked"));
    }
}

/// A program of planes: its split screen is no window that runs over, its rows have the pitch it sets, its pixels lead
/// back to their instruction, and its trace shows the same frames.
#[test]
fn a_program_of_planes_is_judged_traced_and_replayed() {
    let bench = Bench::new();
    if !assembled(&bench, "panning", &[]) {
        return;
    }
    bench.write("planes.bench.ron", r#"(version: 1, adapter: "vga", mode: "320x200x16", routine: "panning.com")"#);
    let answer = bench.json(&[
        "run",
        "planes.bench.ron",
        "--hazards",
        "--trace",
        "pan.csv",
        "--every",
        "frames",
        "--at",
        "100,20",
    ]);
    assert!(answer["pixel"]["by"].as_str().unwrap().contains("stosb"), "{}", answer["pixel"]);
    // It draws in full view at first, and sets its pitch only then: no mistake.
    assert_eq!(answer["hazards"].as_array().unwrap().len(), 0, "{}", answer["hazards"]);
    let frames = answer["frames"].as_u64().unwrap();
    for number in [1, frames / 2, frames - 1] {
        let arguments = ["frame", "planes.bench.ron", "--routine", "pan.csv", "--out", "replay.png", "--frame"];
        assert_eq!(bench.run(&[&arguments[..], &[&number.to_string()]].concat()).status, 0);
        let replay = image::open(bench.path("replay.png")).unwrap().to_rgb8();
        let ran = image::open(bench.path(&format!("frames/{number:06}.png"))).unwrap().to_rgb8();
        assert!(replay == ran, "frame {number}");
    }
}

/// A program by itself starts as a prompt leaves the board, and shows what it drew after it has gone back to text.
#[test]
fn a_program_starts_in_text_and_shows_its_graphics() {
    let bench = Bench::new();
    if !assembled(&bench, "ticks", &[]) || !assembled(&bench, "detect", &[]) {
        return;
    }
    let answer = bench.json(&["run", "detect.com", "--board", "vga"]);
    assert_eq!((answer["mode"].as_str(), answer["exit_code"].as_u64()), (Some("720x400-text"), Some(0x8C)), "{answer}");
    assert_eq!(answer["printed"], "VGA, 8086, no mouse, timer\r\n");
    let answer = bench.json(&["run", "ticks.com", "--board", "vga"]);
    assert_eq!(
        (answer["ended"].as_str(), answer["graphics_file"].as_str()),
        (Some("exit"), Some("ticks.graphics.png"))
    );
    let picture = image::open(bench.path("ticks.graphics.png")).unwrap();
    assert_eq!((picture.width(), picture.height()), (320, 200));
    let mode = bench.json(&["run", "detect.com", "--board", "vga", "--mode", "320x200x16"]);
    assert_eq!(mode["mode"], "320x200x16");
    assert!(assembled(&bench, "ticks", &["MASKED"]));
    let ran = bench.run(&["run", "ticks.com", "--board", "vga", "--frames", "20"]);
    assert!(ran.out.contains("stuck-wait at 0810:") && ran.out.contains("masked"), "{}", ran.out);
}

/// What a program has drawn before it waits for a key stands on the screen while it does: mode 11h, two colours, and one pixel
/// (functions 00h and 0Ch of interrupt 10h).
#[test]
fn what_stands_while_a_program_waits_is_shown() {
    let bench = Bench::new();
    // mov ax,11h; int 10h; mov ax,0C01h; xor bx,bx; mov cx,100; mov dx,300; int 10h; xor ah,ah; int 16h; ret
    let program = [
        0xB8, 0x11, 0x00, 0xCD, 0x10, 0xB8, 0x01, 0x0C, 0x31, 0xDB, 0xB9, 100, 0, 0xBA, 0x2C, 0x01, 0xCD, 0x10, 0x30,
        0xE4, 0xCD, 0x16, 0xC3,
    ];
    bench.write("pixel.com", program);
    let ran = bench.run(&["run", "pixel.com", "--board", "vga"]);
    assert!(ran.out.contains("waits for a key"), "{} {}", ran.out, ran.err);
    let picture = image::open(bench.path("pixel.png")).unwrap().to_rgb8();
    assert_eq!((picture.width(), picture.height()), (640, 480));
    let lit: Vec<(u32, u32)> =
        picture.enumerate_pixels().filter(|(_, _, pixel)| pixel.0 != [0; 3]).map(|(x, y, _)| (x, y)).collect();
    assert_eq!(lit, [(100, 300)]);
}
