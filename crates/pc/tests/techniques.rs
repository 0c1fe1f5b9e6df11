//! Techniques of the trade, a program each: what it shows is what a few lines of independent code say, and nothing it asks
//! for is missing.

mod common;

use backporch_adapter::{Adapter, CharacterSet};
use backporch_pc::{Folder, Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop, StuckCause};
use backporch_raster::{Board, Frame};
use common::{has_assembler, program, programs, run, setup, values};

/// A board as a prompt leaves it: in its text mode, where it has one.
fn at_prompt(board: &str, image: &ProgramImage, setup: MachineSetup) -> Machine {
    let adapter = Adapter::built_in(board).unwrap();
    let text = adapter.firmware_text_mode();
    let modes = &adapter.profile().modes;
    let mode = modes.iter().find(|mode| text.is_some() && mode.firmware.as_ref() == text).unwrap_or(&modes[0]).clone();
    let registers = adapter.start_up(&mode);
    let mut board = Board::plain(adapter.clone(), registers.clone());
    board.load(&adapter.memory_at_start(&registers));
    let mut machine = Machine::new(board, image, &mode.name, setup).unwrap();
    machine.set_deadline(20_000_000_000);
    machine
}

/// All frames of a program that ends well and asks for nothing that is not present; then the picture it leaves.
fn shown(board: &str, image: &ProgramImage, setup: MachineSetup) -> (Vec<Frame>, Frame) {
    let mut machine = at_prompt(board, image, setup);
    let (frames, stop) = run(&mut machine);
    assert!(matches!(stop, Stop::Exit(0)), "{board}: {stop:?}");
    assert!(machine.asked().is_empty(), "{board}: {:?}", machine.asked());
    machine.finish_frame();
    let last = machine.finish_frame();
    (frames, last)
}

/// A picture by its pixels.
fn picture(width: usize, height: usize, pixel: impl Fn(usize, usize) -> usize) -> Vec<Vec<u8>> {
    (0..height).map(|y| (0..width).map(|x| pixel(x, y) as u8).collect()).collect()
}

/// A still picture of a program, on every processor.
fn shows(name: &str, boards: &[&str], wanted: &[Vec<u8>]) {
    if !has_assembler() {
        return;
    }
    let image = program(name, &[]);
    for board in boards {
        for model in Model::ALL {
            let (_, last) = shown(board, &image, setup(model));
            assert!(values(&last) == wanted, "{name} on {board} with {}", model.name());
        }
    }
}

#[test]
fn a_byte_a_pixel() {
    shows("texture.asm", &["linear-256", "vga"], &picture(320, 200, |x, y| (x ^ y) & 255));
}

#[test]
fn unchained_planes_of_240_lines() {
    shows("unchained.asm", &["vga"], &picture(320, 240, |x, y| (x + y) & 255));
}

#[test]
fn tiles_through_the_latches() {
    shows("latches.asm", &["ega", "vga"], &picture(320, 200, |x, y| (x ^ y) & 7));
}

#[test]
fn single_pixels_by_set_reset_and_bit_mask() {
    shows("diagonal.asm", &["vga"], &picture(640, 480, |x, y| if x == y { 14 } else { 0 }));
}

#[test]
fn four_colours_in_two_banks() {
    let wanted = picture(320, 200, |x, y| (x / 4 + y) & 3);
    shows("banks.asm", &["colour-graphics"], &wanted);
    if !has_assembler() {
        return;
    }
    // The upper two planes hold what text left there, and take no part in the colour.
    let (_, last) = shown("vga", &program("banks.asm", &[]), setup(Model::P8086));
    let found = values(&last).into_iter().map(|line| line.into_iter().map(|value| value & 3).collect::<Vec<u8>>());
    assert!(found.eq(wanted));
}

#[test]
fn monochrome_graphics_in_four_banks() {
    shows("mono.asm", &["monochrome"], &picture(720, 348, |x, y| usize::from(((x / 8) ^ y) & 1 == 0)));
}

#[test]
fn sixteen_colours_out_of_text() {
    shows("blocks.asm", &["colour-graphics"], &picture(640, 200, |x, y| (x / 4 + y / 2) & 15));
}

#[test]
fn glyphs_of_its_own_in_fifty_rows() {
    shows(
        "glyphs.asm",
        &["vga"],
        &picture(720, 400, |x, y| match x % 9 {
            8 => 0,
            dot if (dot + y) % 2 == 0 => 15,
            _ => 0,
        }),
    );
}

/// What the program loads into memory of its own draws.
#[test]
fn a_part_loaded_and_called_far() {
    let Some(part) = programs::assembled("part.asm", &[]) else { return };
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("part.bin"), part).unwrap();
    for board in ["linear-256", "vga"] {
        let mut setup = setup(Model::P8086);
        setup.folder = Some(Folder::new(folder.path(), false).unwrap());
        let (_, last) = shown(board, &program("overlay.asm", &[]), setup);
        assert!(values(&last) == picture(320, 200, |_, _| 9), "{board}");
    }
}

/// The value all pixels of a frame have, where they have one.
fn one_value(frame: &Frame) -> Option<u8> {
    let values = values(frame);
    let first = *values.first()?.first()?;
    values.iter().flatten().all(|value| *value == first).then_some(first)
}

#[test]
fn pages_flip_without_a_mixed_frame() {
    if !has_assembler() {
        return;
    }
    for board in ["ega", "vga"] {
        let (frames, last) = shown(board, &program("flip.asm", &[]), setup(Model::P80286));
        let graphics = frames.iter().chain([&last]).filter(|frame| frame.picture_size() == (320, 200));
        let colours: Vec<Option<u8>> = graphics.map(one_value).skip_while(|colour| *colour != Some(1)).collect();
        let mut seen: Vec<u8> = colours.iter().map(|colour| colour.expect("one colour a frame")).collect();
        seen.dedup();
        assert_eq!(seen, (1..9).collect::<Vec<u8>>(), "{board}");
        // Its wrong twin draws on the page that is shown: where the beam and it meet, a frame has two colours.
        let mixed = |model| {
            let (frames, _) = shown(board, &program("flip.asm", &["VISIBLE"]), setup(model));
            frames.iter().any(|frame| frame.picture_size() == (320, 200) && one_value(frame).is_none())
        };
        assert!([Model::P8088, Model::P8086, Model::P80286].into_iter().any(mixed), "{board}");
    }
}

#[test]
fn text_rolls_up_by_a_row_a_frame() {
    if !has_assembler() {
        return;
    }
    let (frames, last) = shown("colour-graphics", &program("rows.asm", &[]), setup(Model::P8086));
    let set = CharacterSet::built_in();
    let letter = |frame: &Frame| {
        let values = values(frame);
        let rows: Vec<u8> = (0..8)
            .map(|line| values[line][640 - 8..].iter().fold(0, |bits, value| bits << 1 | u8::from(*value != 0)))
            .collect();
        (b'A'..b'i').find(|code| (0..8).all(|line| set.row(*code, line as u8) == rows[line]))
    };
    let seen: Vec<u8> = frames.iter().chain([&last]).filter_map(letter).collect();
    let from = seen.iter().rposition(|code| *code == b'A').expect("the first row");
    assert_eq!(seen[from..from + 16], (b'A'..b'Q').collect::<Vec<u8>>());
}

#[test]
fn a_fade_goes_down_a_step_a_frame() {
    if !has_assembler() {
        return;
    }
    for board in ["linear-256", "vga"] {
        let (frames, last) = shown(board, &program("fade.asm", &[]), setup(Model::P8086));
        let brightness = |frame: &Frame| {
            let line = frame.picture_lines().nth(100)?;
            let segment = frame.segments_of(line).iter().find(|segment| segment.kind.pixel_dots().is_some())?;
            Some(frame.palettes[usize::from(segment.palette)].colours[15][0] >> 2)
        };
        let levels: Vec<u8> = frames.iter().filter_map(brightness).collect();
        let steps: Vec<u8> = levels.iter().copied().skip_while(|level| *level != 62).take(62).collect();
        assert_eq!(steps, (1..63).rev().collect::<Vec<u8>>(), "{board}: {levels:?}");
        assert_eq!(brightness(&last), Some(0), "{board}");
    }
}

#[test]
fn a_hook_of_the_tick_draws_and_the_program_ends_in_text() {
    if !has_assembler() {
        return;
    }
    let (frames, _) = shown("vga", &program("ticks.asm", &[]), setup(Model::P8086));
    let wanted = picture(320, 200, |_, y| if y < 64 { y / 8 + 1 } else { 0 });
    // The eighth bar is drawn, and the mode changes, within a frame; the frames before show seven.
    let seven = picture(320, 200, |_, y| if y < 56 { y / 8 + 1 } else { 0 });
    assert!(frames.iter().any(|frame| values(frame) == seven || values(frame) == wanted));
    assert!(frames.len() >= 27, "eight ticks of 54.9 ms at 70 frames a second: {}", frames.len());
    let mut masked = at_prompt("vga", &program("ticks.asm", &["MASKED"]), setup(Model::P8086));
    masked.set_deadline(200_000_000);
    run(&mut masked);
    assert!(matches!(masked.stuck_wait().map(|wait| wait.cause), Some(StuckCause::Masked(0xFF))));
}

/// The program's own words for what it found.
#[test]
fn detection_is_right_on_every_board_and_processor() {
    if !has_assembler() {
        return;
    }
    let image = program("detect.asm", &[]);
    let boards = [
        ("monochrome", "Monochrome"),
        ("colour-graphics", "CGA"),
        ("ega", "EGA"),
        ("linear-256", "MCGA"),
        ("vga", "VGA"),
    ];
    for (number, (board, name)) in boards.into_iter().enumerate() {
        for (processor, model) in Model::ALL.into_iter().enumerate() {
            for clock in [ProcessorClock::new(8_000_000, 1).unwrap(), setup(model).clock] {
                let mut machine = at_prompt(board, &image, MachineSetup::new(model, clock));
                let stop = run(&mut machine).1;
                let wanted = format!("{name}, {}, no mouse, timer\r\n", model.name());
                assert_eq!(machine.printed(), wanted);
                let code = number as u8 | (processor as u8) << 3 | 0x80;
                assert!(matches!(stop, Stop::Exit(found) if found == code), "{board} {stop:?}");
            }
        }
    }
}
