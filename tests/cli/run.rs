//! Programs run from the command line, assembled by nasm from our own sources.

use std::path::Path;
use std::process::{Command, Stdio};

use backporch_analysis::Damage;
use backporch_bench::Wishes;
use backporch_machine::{Image, Key, Machine, Model, ProcessorClock, Setup, Stop};
use backporch_quirk::QuirkStack;
use backporch_raster::Frame;

use crate::program::Bench;

/// A program of `assets/programs` in the scratch folder; `false` where there is no assembler.
fn assembled(bench: &Bench, name: &str, definitions: &[&str]) -> bool {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets/programs");
    let mut nasm = Command::new("nasm");
    nasm.args(["-f", "bin", "-o"]).arg(bench.path(&format!("{name}.com"))).arg("-I").arg(&folder);
    nasm.args(definitions).arg(folder.join(format!("{name}.asm"))).stderr(Stdio::null());
    let made = nasm.status().is_ok_and(|status| status.success());
    if !made {
        println!("skipped: no nasm here; tests/run installs it");
    }
    made
}

#[test]
fn a_program_shows_its_last_frame_and_its_trace() {
    let bench = Bench::new();
    if !assembled(&bench, "scroll", &["-DFRAMES=10"]) {
        return;
    }
    let told = bench.json(&["run", "scroll.com", "--trace", "scroll.csv", "--every", "frames", "--at", "319,5"]);
    assert_eq!((told["ended"].as_str(), told["exit_code"].as_u64()), (Some("exit"), Some(0)), "{told}");
    let frames = told["frames"].as_u64().unwrap() as usize;
    assert!(frames > 11, "{told}");
    assert_eq!(std::fs::read_dir(bench.path("frames")).unwrap().count(), frames);
    let picture = image::open(bench.path("scroll.png")).unwrap();
    assert_eq!((picture.width(), picture.height()), (320, 200));
    // The entering column: column 319 of the world from start address F2h on, line 5.
    assert_eq!(told["pixel"]["value"].as_u64(), Some(((0xF2 * 2 + 319) % 256) ^ 5), "{told}");
    assert!(told["pixel"]["by"].as_str().unwrap().contains("mov [es:di],dx"), "{told}");
    let trace = std::fs::read_to_string(bench.path("scroll.csv")).unwrap();
    assert!(trace.starts_with("dot,kind,address,value\n"));
    assert!(trace.lines().any(|line| line.ends_with(",port,0x3D4,0xF20D")), "the start address's lower byte");
}

#[test]
fn a_faulty_board_is_told_frame_by_frame() {
    let bench = Bench::new();
    if !assembled(&bench, "sweep", &["-DSTEPS=64"]) {
        return;
    }
    let swept = bench.json(&["sweep", "harbour-256-rows", "--over", "start_address=0..64"]);
    let steps = swept["steps"].as_array().unwrap();
    let damaged = steps.iter().filter(|step| step["verdict"] != "clean").count() as u64;
    let ran = bench.run(&["run", "sweep.com", "harbour-256-rows", "--format", "json"]);
    assert_eq!(ran.status, 1, "{}", ran.err);
    let told: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    // The last step, a damaged one, is shown in one frame more or not at all.
    let found = told["damaged_frames"].as_u64().unwrap();
    assert!(found.abs_diff(damaged) <= 1, "{found} frames of the program, {damaged} steps of the sweep");
    let stopped = bench.json(&["run", "sweep.com", "harbour-256-rows", "--until-damaged"]);
    assert_eq!((stopped["ended"].as_str(), stopped["damaged_frames"].as_u64()), (Some("damaged"), Some(1)));
    assert_eq!(bench.run(&["run", "sweep.com", "harbour-256"]).status, 0);
}

#[test]
fn late_and_torn_programs_are_named_with_their_instructions() {
    let bench = Bench::new();
    for (definition, kinds) in [("-DRIGHT", [].as_slice()), ("-DLATE", &["column-late"]), ("-DTORN", &["late-start"])] {
        if !assembled(&bench, "scroll", &["-DFRAMES=20", definition]) {
            return;
        }
        let ran = bench.run(&["run", "scroll.com", "--hazards", "--format", "json"]);
        let told: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
        // The first picture is drawn in full view: that is a tear, and no more.
        let scrolling = |hazard: &&serde_json::Value| hazard["kind"] != "tear";
        let found: Vec<_> = told["hazards"].as_array().unwrap().iter().filter(scrolling).collect();
        assert_eq!(found.is_empty(), kinds.is_empty(), "{definition}: {found:?}");
        for kind in kinds {
            let hazard = found.iter().find(|hazard| hazard["kind"] == *kind);
            let by = hazard.unwrap_or_else(|| panic!("{definition}: {found:?}"))["by"].as_str().unwrap();
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
    let arguments = ["emit", "harbour-256-rows", "--as", "program", "--over", &over, "--out", "steps.com"];
    assert_eq!(scratch.run(&arguments).status, 0);
    let swept = scratch.json(&["sweep", "harbour-256-rows", "--over", &format!("start_address={over}")]);
    let bench = backporch_bench::Bench::open("harbour-256-rows", &Wishes::default()).unwrap();
    let image = Image::parse(&std::fs::read(scratch.path("steps.com")).unwrap()).unwrap();
    let setup = || Setup::new(Model::P8086, ProcessorClock::new(8_000_000, 1).unwrap());
    let mut machine = Machine::new(bench.faulty(bench.registers()), &image, &bench.mode().name, setup()).unwrap();
    let mut registers = bench.registers().clone();
    for step in 0..STEPS {
        let frame = last_frame(&mut machine);
        bench.adapter().set(&mut registers, bench.adapter().start_address(), step).unwrap();
        let (mut healthy, mut faulty) = (bench.healthy(&registers), bench.faulty(&registers));
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
    let told = bench.json(&["run", "sweep.com", "--break-port", "0x3D4"]);
    assert_eq!(told["ended"], "breakpoint");
    assert!(told["stopped"]["next"][0].as_str().unwrap().contains("mov al,0Dh"), "{told}");
    let told = bench.json(&["run", "sweep.com", "--break-at", "0810:0100"]);
    assert!(told["stopped"]["next"][0].as_str().unwrap().starts_with("0810:0100"), "{told}");
    // mov dx, 201h; in al, dx
    bench.write("stray.com", [0xBA, 0x01, 0x02, 0xEC]);
    let ran = bench.run(&["run", "stray.com"]);
    assert_eq!(ran.status, 1);
    assert!(ran.out.contains("read port 0201h, which is not here"), "{}", ran.out);
    for (arguments, found) in [
        (vec!["run", "none.com"], "none.com"),
        (vec!["run", "sweep.com", "--key", "5=nokey"], "nokey"),
        (vec!["run", "sweep.com", "--clock", "900"], "900"),
        (vec!["run", "sweep.com", "--processor", "68000"], "68000"),
    ] {
        let ran = bench.run(&arguments);
        assert!(ran.status >= 2 && ran.err.contains(found), "{arguments:?}: {} {}", ran.status, ran.err);
    }
}
