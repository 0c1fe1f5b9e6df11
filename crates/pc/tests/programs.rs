//! Our own programs, run against boards and compared with boards driven directly.

mod common;

use std::path::Path;
use std::sync::Arc;

use backporch_adapter::Adapter;
use backporch_pc::{Folder, Machine, Model, ProgramImage, Stop};
use backporch_raster::{Board, Frame};
use common::{board, has_assembler, machine, program, programs, run, setup, start_of, values};

/// A picture in which every byte of 64 KiB tells its address.
fn memory() -> Vec<u8> {
    (0..65536u32).map(|at| (at ^ at >> 8) as u8).collect()
}

#[test]
fn the_sweep_shows_what_a_board_driven_directly_shows() {
    if !has_assembler() {
        return;
    }
    let image = program("sweep.asm", &["STEPS=64"]);
    for model in Model::ALL {
        let (mut swept, registers) = board("linear-256");
        swept.load(&memory());
        let mut machine = Machine::new(swept, &image, "320x200x256", setup(model)).unwrap();
        let (frames, stop) = run(&mut machine);
        assert!(matches!(stop, Stop::Exit(0)), "{stop:?}");
        let starts: Vec<u32> = frames.iter().map(start_of).collect();
        let first = starts.iter().rposition(|start| *start == 0).unwrap();
        assert_eq!(starts[first..first + 64], (0..64).collect::<Vec<u32>>(), "{}", model.name());
        for (start, frame) in frames[first..first + 64].iter().enumerate() {
            let adapter = Arc::clone(machine.board().adapter());
            let mut registers = registers.clone();
            adapter.set(&mut registers, adapter.start_address(), start as u64).unwrap();
            let mut direct = Board::plain(adapter, registers);
            direct.load(&memory());
            assert_eq!(values(frame), values(&direct.run_frame()), "start address {start}");
        }
    }
}

/// The world of `scroll.asm`, 256 pixels across: a pixel is its column xor its line.
fn world(start: u32) -> Vec<Vec<u8>> {
    (0..200).map(|y| (0..256).map(|x| ((start * 2 + x) ^ y) as u8).collect()).collect()
}

/// Frames of a scroll once it runs.
fn scrolled(image: &ProgramImage, model: Model) -> Vec<Frame> {
    let mut machine = machine("linear-256", image, setup(model));
    let (frames, stop) = run(&mut machine);
    assert!(matches!(stop, Stop::Exit(0)), "{stop:?}");
    frames.into_iter().skip_while(|frame| start_of(frame) != 0xE8).collect()
}

#[test]
fn the_smooth_scroll_shows_its_world_in_every_frame() {
    if !has_assembler() {
        return;
    }
    for model in Model::ALL {
        let frames = scrolled(&program("scroll.asm", &[]), model);
        let starts: Vec<u32> = frames.iter().map(start_of).collect();
        assert_eq!(starts[..49], (0xE8..0xE8 + 49).collect::<Vec<u32>>(), "{}", model.name());
        for frame in &frames[..49] {
            assert_eq!(values(frame), world(start_of(frame)), "{} frame {}", model.name(), frame.number);
        }
    }
}

/// The same scroll from a C compiler: slower, and right all the same.
#[test]
fn a_scroll_in_c_shows_its_world_in_every_frame_unless_it_is_late() {
    let (Some(right), Some(late)) = (programs::compiled("quay.c", &[]), programs::compiled("quay.c", &["LATE"])) else {
        return;
    };
    let frames = scrolled(&ProgramImage::parse(&right).unwrap(), Model::P8086);
    let starts: Vec<u32> = frames.iter().map(start_of).collect();
    assert_eq!(starts[..25], (0xE8..0xE8 + 25).collect::<Vec<u32>>());
    for frame in &frames[..25] {
        assert_eq!(values(frame), world(start_of(frame)), "frame {}", frame.number);
    }
    let frames = scrolled(&ProgramImage::parse(&late).unwrap(), Model::P8086);
    // Its columns are those of the next frame: every frame is wrong at the edge.
    let wrong = frames.iter().filter(|frame| values(frame) != world(start_of(frame))).count();
    assert!(wrong >= 23, "{wrong} of {}", frames.len());
}

#[test]
fn the_late_scroll_shows_old_columns_and_the_torn_one_a_wrong_start() {
    if !has_assembler() {
        return;
    }
    let late = scrolled(&program("scroll.asm", &["LATE"]), Model::P8086);
    let wrong = |frame: &&Frame| values(frame) != world(start_of(frame));
    assert!(late.iter().filter(wrong).count() >= 40, "nearly every frame is wrong");
    let columns = values(&late[10]);
    let right = world(start_of(&late[10]));
    let differing = columns.iter().zip(&right).filter(|(found, right)| found != right);
    assert!(differing.clone().all(|(found, right)| found[..254] == right[..254]), "only at the right edge");
    assert!(differing.count() > 0);

    let torn: Vec<u32> = scrolled(&program("scroll.asm", &["TORN"]), Model::P8086).iter().map(start_of).collect();
    // From 00FFh to 0100h: the upper byte is taken over a frame before the lower.
    assert!(torn.contains(&0x01FF), "{torn:X?}");
}

#[test]
fn palette_bars_change_between_lines() {
    if !has_assembler() {
        return;
    }
    let mut machine = machine("linear-256", &program("bars.asm", &[]), setup(Model::P80286));
    let (frames, stop) = run(&mut machine);
    assert!(matches!(stop, Stop::Exit(0)), "{stop:?}");
    let frame = &frames[frames.len() - 2];
    let blues: Vec<u8> = frame
        .lines
        .iter()
        .filter(|line| line.fetch.is_some())
        .map(|line| {
            let shown: Vec<u8> = frame
                .segments_of(line)
                .iter()
                .filter(|segment| segment.kind.pixel_dots().is_some())
                .map(|segment| frame.palettes[usize::from(segment.palette)].colours[0][2])
                .collect();
            assert_eq!(shown.len(), 1, "one colour a line");
            shown[0]
        })
        .collect();
    assert_eq!(blues.len(), 400);
    for (line, blue) in blues.iter().enumerate() {
        let level = (line / 25 * 4) as u8;
        assert_eq!(*blue, level << 2 | level >> 4, "scan line {line}");
    }
}

/// By the program's own words: above the split the colour of byte column c and row y is c + y, below c xor y; the upper
/// part moves by a pixel a frame.
#[test]
fn planes_pan_smoothly_above_a_split_that_stands() {
    if !has_assembler() {
        return;
    }
    let image = program("panning.asm", &[]);
    let adapter = Adapter::built_in("vga").unwrap();
    let registers = adapter.start_up(adapter.mode("320x200x16").unwrap());
    for model in Model::ALL {
        let board = Board::plain(Arc::clone(&adapter), registers.clone());
        let mut machine = Machine::new(board, &image, "320x200x16", setup(model)).unwrap();
        let (frames, stop) = run(&mut machine);
        assert!(matches!(stop, Stop::Exit(0)), "{stop:?}");
        let panned = |moved: usize| -> Vec<Vec<u8>> {
            let colour = |x: usize, y: usize| match y {
                0..150 => ((x + moved) / 8 + y) % 16,
                _ => (x / 8) ^ (y - 150),
            };
            (0..200).map(|y| (0..320).map(|x| colour(x, y) as u8 % 16).collect()).collect()
        };
        let first = frames.iter().position(|frame| values(frame) == panned(0)).expect("the picture at rest");
        for moved in 1..16 {
            assert!(values(&frames[first + moved]) == panned(moved), "{} moved by {moved}", model.name());
        }
    }
}

fn loaded(folder: &Path, definitions: &[&str]) -> Vec<Vec<u8>> {
    let mut setup = setup(Model::P8086);
    setup.folder = Some(Folder::new(folder, false).unwrap());
    let mut machine = machine("linear-256", &program("loader.asm", definitions), setup);
    let (frames, stop) = run(&mut machine);
    assert!(matches!(stop, Stop::WaitsForKey), "{stop:?}");
    drop(frames);
    values(&machine.finish_frame());
    values(&machine.finish_frame())
}

#[test]
fn the_loader_shows_the_file_and_breaks_at_the_edge_of_a_segment() {
    if !has_assembler() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let picture: Vec<u8> = (0..64000u32).map(|at| (at / 320) as u8).collect();
    std::fs::write(folder.path().join("picture.raw"), &picture).unwrap();
    let right: Vec<Vec<u8>> = picture.chunks(320).map(<[u8]>::to_vec).collect();
    assert_eq!(loaded(folder.path(), &[]), right);
    // From offset 2000h, 57344 bytes fit; the rest went to the segment's beginning, where nothing is read from.
    let broken = loaded(folder.path(), &["EDGE"]);
    let whole_lines = 57344 / 320;
    assert_eq!(broken[..whole_lines], right[..whole_lines]);
    assert!(broken[whole_lines + 1..].iter().flatten().all(|value| *value == 0), "{:?}", broken[199]);
}

/// What a program did to its board does the same to another board.
#[test]
fn a_record_replayed_gives_the_same_frames() {
    if !has_assembler() {
        return;
    }
    for (name, definitions) in [("scroll.asm", "FRAMES=12"), ("bars.asm", "FRAMES=3"), ("sweep.asm", "STEPS=8")] {
        let mut machine = machine("linear-256", &program(name, &[definitions]), setup(Model::P8086));
        machine.record(true);
        let (frames, _) = run(&mut machine);
        let (mut again, _) = board("linear-256");
        let mut replayed = Vec::new();
        for access in machine.recorded() {
            while let Some(frame) = again.run_towards_frame(access.dot) {
                replayed.push(frame);
            }
            access.replay(&mut again);
        }
        while let Some(frame) = again.run_towards_frame(machine.hardware().dot()) {
            replayed.push(frame);
        }
        assert_eq!(replayed.len(), frames.len(), "{name}");
        for (frame, replayed) in frames.iter().zip(&replayed) {
            assert!(frame == replayed, "{name}: frame {} differs", frame.number);
        }
    }
}

/// Running a board frame by frame up to a dot.
trait FrameByFrame {
    fn run_towards_frame(&mut self, dot: u64) -> Option<Frame>;
}

impl FrameByFrame for Board {
    fn run_towards_frame(&mut self, dot: u64) -> Option<Frame> {
        while self.beam().dot < dot {
            self.run_to(dot.min(self.beam().dot + 4096));
            if let Some(frame) = self.take_frame() {
                return Some(frame);
            }
        }
        None
    }
}
