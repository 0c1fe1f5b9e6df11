//! Techniques of the trade, a program each, run as a prompt starts them: a right one shows what a few lines of
//! independent code say, asks for nothing that is missing, and has no hazard; its wrong twin has one, and the hazard names
//! the instruction.

#[path = "../../../tests/programs.rs"]
mod programs;

use std::sync::Arc;

use backporch_adapter::Adapter;
use backporch_drive::{Watcher, responsible};
use backporch_hazards::{Hazard, Inspector, Surroundings};
use backporch_pc::{Cause, Image, Key, Machine, Model, ProcessorClock, Setup, Stop};
use backporch_raster::{Board, Frame};

/// What a run came to.
struct Ran {
    machine: Machine,
    stop: Stop,
    frames: Vec<Frame>,
    hazards: Vec<Hazard>,
    offsets: programs::Labelled,
}

/// A program on a board in its text mode, where it has one; keys at times in milliseconds.
fn run(board: &str, name: &str, definitions: &[&str], keys: &[(u64, &str)]) -> Option<Ran> {
    let made = programs::labelled(name, definitions)?;
    let adapter = Adapter::built_in(board).unwrap();
    let text = adapter.firmware_text_mode();
    let modes = &adapter.profile().modes;
    let mode = modes.iter().find(|mode| text.is_some() && mode.firmware.as_ref() == text).unwrap_or(&modes[0]).clone();
    let registers = adapter.start_up(&mode);
    let mut plain = Board::plain(Arc::clone(&adapter), registers.clone());
    plain.load(&adapter.memory_at_start(&registers));
    let around = Surroundings { dot_clock: Some(plain.dot_clock()), ..Surroundings::default() };
    let mut watcher = Watcher::new(plain.clone(), Inspector::new(adapter, around));
    let setup = Setup::new(Model::P8086, ProcessorClock::new(8_000_000, 1).unwrap());
    let mut machine = Machine::new(plain, &Image::parse(&made.bytes).unwrap(), &mode.name, setup).unwrap();
    machine.set_deadline(3_000_000_000);
    machine.record(true);
    for (milliseconds, key) in keys {
        machine.press(Key::named(key).unwrap(), milliseconds * 1_000_000);
    }
    let mut frames = Vec::new();
    let mut hazards = Vec::new();
    let stop = loop {
        let stop = machine.run();
        let (accesses, dot) = (machine.take_recorded(), machine.hardware().dot());
        hazards.extend(watcher.follow(&accesses, dot));
        match stop {
            Stop::Frame(frame) => frames.push(*frame),
            stop => break stop,
        }
    };
    hazards.extend(watcher.finish(matches!(stop, Stop::Exit(_))));
    frames.push(machine.finish_frame());
    Some(Ran { machine, stop, frames, hazards, offsets: made })
}

/// The rows of a frame's picture, pixel value by pixel value.
fn values(frame: &Frame) -> Vec<Vec<u8>> {
    let row = |line| {
        let segments = frame.segments_of(line).iter();
        segments.flat_map(|segment| frame.values_of(segment.kind)).copied().collect()
    };
    frame.picture_lines().map(row).collect()
}

fn told(hazards: &[Hazard]) -> String {
    let one = |hazard: &Hazard| {
        let by = responsible(hazard).map_or("nobody".to_owned(), |by| by.to_string());
        format!("{} by {by} in frame {}, line {}: {}", hazard.kind, hazard.frame, hazard.line, hazard.what)
    };
    let lines: Vec<String> = hazards.iter().take(8).map(one).collect();
    lines.join("\n")
}

/// A right program: it ends well, and there is nothing to say.
fn right(board: &str, name: &str, definitions: &[&str]) -> Option<Vec<Frame>> {
    let ran = run(board, name, definitions, &[])?;
    assert!(matches!(ran.stop, Stop::Exit(0)), "{name} {definitions:?} on {board}: {:?}", ran.stop);
    assert!(ran.machine.asked().is_empty(), "{name} on {board}: {:?}", ran.machine.asked());
    assert!(ran.hazards.is_empty(), "{name} {definitions:?} on {board}:\n{}", told(&ran.hazards));
    Some(ran.frames)
}

/// A wrong one: the hazard of this kind is by the instruction at this label.
fn wrong(board: &str, name: &str, definition: &str, kind: &str, label: &str) {
    let Some(ran) = run(board, name, &[definition], &[]) else { return };
    let at = ran.offsets.offset(label);
    let named = |hazard: &Hazard| hazard.kind.name() == kind && responsible(hazard).is_some_and(|by| by.offset == at);
    let found = ran.hazards.iter().any(named);
    assert!(found, "{name} {definition} on {board}: no {kind} at {at:04X}\n{}", told(&ran.hazards));
}

fn quick() {}

#[test]
fn sweep_everything() {
    let rights: &[(&str, &str, &[&str])] = &[
        ("vga", "fade-part.asm", &[]),
        ("linear-256", "fade-part.asm", &[]),
        ("vga", "fade-all.asm", &[]),
        ("vga", "cycle-dac.asm", &[]),
        ("ega", "cycle-palette.asm", &[]),
        ("vga", "cycle-palette.asm", &[]),
        ("ega", "out-of-step.asm", &[]),
        ("vga", "out-of-step.asm", &[]),
        ("vga", "pan.asm", &[]),
        ("vga", "pan.asm", &["LEFT"]),
        ("ega", "pan.asm", &[]),
        ("vga", "split.asm", &[]),
        ("vga", "water.asm", &[]),
        ("linear-256", "water.asm", &[]),
        ("ega", "pages.asm", &[]),
        ("vga", "pages.asm", &[]),
        ("colour-graphics", "text-pages.asm", &[]),
        ("colour-graphics", "text-up.asm", &[]),
        ("colour-graphics", "snow-free.asm", &[]),
        ("colour-graphics", "hundred.asm", &[]),
        ("colour-graphics", "blocks.asm", &[]),
        ("vga", "blocks.asm", &[]),
        ("colour-graphics", "sprite-xor.asm", &[]),
        ("vga", "sprite-under.asm", &[]),
        ("linear-256", "sprite-under.asm", &[]),
        ("vga", "behind-beam.asm", &[]),
        ("linear-256", "behind-beam.asm", &[]),
        ("linear-256", "row-enters.asm", &[]),
        ("ega", "latch-scroll.asm", &[]),
        ("vga", "latch-scroll.asm", &[]),
        ("vga", "unchained.asm", &[]),
        ("linear-256", "narrow.asm", &[]),
        ("colour-graphics", "attributes.asm", &[]),
        ("vga", "attributes.asm", &[]),
        ("colour-graphics", "cursor.asm", &[]),
        ("linear-256", "start.asm", &[]),
        ("linear-256", "timer.asm", &[]),
        ("vga", "timer.asm", &[]),
        ("vga", "box-exe.asm", &[]),
        ("monochrome", "mono-pages.asm", &[]),
        ("colour-graphics", "colour-set.asm", &[]),
        ("colour-graphics", "mode-bit.asm", &[]),
        ("colour-graphics", "firmware.asm", &[]),
        ("vga", "firmware.asm", &[]),
        ("ega", "firmware.asm", &[]),
        ("colour-graphics", "ring.asm", &[]),
        ("vga", "fade-firmware.asm", &[]),
        ("ega", "pages.c", &[]),
        ("vga", "pages.c", &[]),
    ];
    let mut bad = 0;
    for (board, name, definitions) in rights {
        let t = std::time::Instant::now();
        let Some(ran) = run(board, name, definitions, &[]) else { return };
        if !matches!(ran.stop, Stop::Exit(0)) || !ran.machine.asked().is_empty() || !ran.hazards.is_empty() {
            bad += 1;
            println!(
                "RIGHT {name} {definitions:?} on {board}: {:?} {:?} frames {} of {:?}\n{}",
                ran.stop,
                ran.machine.asked(),
                ran.frames.len(),
                t.elapsed(),
                told(&ran.hazards)
            );
        } else {
            println!("ok {name} {board} {} frames {:?}", ran.frames.len(), t.elapsed());
        }
    }
    let wrongs: &[(&str, &str, &str, &str, &str)] = &[
        ("vga", "fade-part.asm", "WRONG", "mid-picture", "culprit"),
        ("vga", "fade-all.asm", "WRONG", "mid-picture", "culprit"),
        ("vga", "cycle-dac.asm", "WRONG", "mid-picture", "culprit"),
        ("ega", "cycle-palette.asm", "WRONG", "mid-picture", "culprit"),
        ("ega", "out-of-step.asm", "WRONG", "flip-flop", "culprit"),
        ("vga", "pan.asm", "LATE", "pan-pairing", "culprit"),
        ("vga", "pan.asm", "EARLY", "mid-picture", "culprit"),
        ("vga", "split.asm", "WRONG", "pan-below-split", "culprit"),
        ("vga", "water.asm", "WRONG", "mid-picture", "culprit"),
        ("vga", "pages.asm", "VISIBLE", "tear", "culprit"),
        ("vga", "pages.asm", "LATE", "late-start", "late"),
        ("colour-graphics", "text-pages.asm", "VISIBLE", "tear", "culprit"),
        ("colour-graphics", "text-up.asm", "WRONG", "snow", "culprit"),
        ("colour-graphics", "snow-free.asm", "WRONG", "snow", "culprit"),
        ("colour-graphics", "hundred.asm", "SNOW", "snow", "snowing"),
        ("colour-graphics", "hundred.asm", "ENDLESS", "sync", "culprit"),
        ("colour-graphics", "blocks.asm", "WRONG", "pitch", "culprit"),
        ("colour-graphics", "sprite-xor.asm", "WRONG", "tear", "culprit"),
        ("vga", "sprite-under.asm", "WRONG", "tear", "culprit"),
        ("vga", "behind-beam.asm", "WRONG", "tear", "culprit"),
        ("linear-256", "row-enters.asm", "WRONG", "column-late", "culprit"),
        ("ega", "latch-scroll.asm", "WRONG", "tear", "culprit"),
        ("vga", "unchained.asm", "WRONG", "protected-register", "culprit"),
        ("linear-256", "narrow.asm", "WRONG", "protected-register", "culprit"),
        ("colour-graphics", "attributes.asm", "WRONG", "tear", "culprit"),
        ("colour-graphics", "cursor.asm", "WRONG", "torn-start", "culprit"),
        ("linear-256", "start.asm", "TORN", "torn-start", "culprit"),
        ("linear-256", "start.asm", "NEAR", "near-latch", "near_it"),
        ("linear-256", "timer.asm", "WRONG", "torn-start", "culprit"),
        ("vga", "box-exe.asm", "WRONG", "pitch", "culprit"),
        ("monochrome", "mono-pages.asm", "WRONG", "mid-picture", "culprit"),
        ("colour-graphics", "colour-set.asm", "WRONG", "mid-picture", "culprit"),
        ("colour-graphics", "mode-bit.asm", "WRONG", "mid-picture", "culprit"),
        ("colour-graphics", "firmware.asm", "WRONG", "snow", "culprit"),
        ("colour-graphics", "ring.asm", "WRONG", "runs-over", "culprit"),
        ("vga", "fade-firmware.asm", "WRONG", "mid-picture", "culprit"),
        ("vga", "pages.c", "VISIBLE", "tear", "culprit"),
    ];
    for (board, name, definition, kind, label) in wrongs {
        let Some(ran) = run(board, name, &[definition], &[]) else { return };
        let at = ran.offsets.offset(label);
        let named =
            |hazard: &Hazard| hazard.kind.name() == *kind && responsible(hazard).is_some_and(|by| by.offset == at);
        if ran.hazards.iter().any(named) {
            let mut kinds: Vec<String> =
                ran.hazards.iter().map(|h| format!("{}@{}", h.kind, responsible(h).map_or(0, |f| f.offset))).collect();
            kinds.sort();
            kinds.dedup();
            println!("named {name} {definition} {kinds:?} want {at}");
        } else {
            bad += 1;
            println!(
                "WRONG {name} {definition} on {board}: no {kind} at {at:04X} {:?} frames {}\n{}",
                ran.stop,
                ran.frames.len(),
                told(&ran.hazards)
            );
        }
    }
    assert_eq!(bad, 0);
    let _ = (values, right, wrong, quick, Cause::Nothing);
}

#[test]
fn look_at_one() {
    for (board, name) in [("ega", "latch-scroll.asm")] {
        let made = programs::labelled(name, &["WRONG"]).unwrap();
        let adapter = Adapter::built_in(board).unwrap();
        let mode = adapter.default_mode().clone();
        let registers = adapter.start_up(&mode);
        let plain = Board::plain(Arc::clone(&adapter), registers.clone());
        let setup = Setup::new(Model::P8086, ProcessorClock::new(8_000_000, 1).unwrap());
        let mut follower = backporch_drive::Follower::new(plain.clone());
        let mut machine = Machine::new(plain, &Image::parse(&made.bytes).unwrap(), &mode.name, setup).unwrap();
        machine.record(true);
        for n in 0..26 {
            if let Stop::Frame(_) = machine.run() {}
            follower.follow(&machine.take_recorded());
            while let Some(record) = follower.take() {
                if n < 12 { continue; }
                let lines: Vec<String> = record.events.iter().filter_map(|e| match e { backporch_script::Event::Memory(w) => Some(format!("{}:{:X}{}", w.at.line, w.offset, if w.old == w.new {"="} else {""})), backporch_script::Event::Waited(w) => Some(format!("W{}", w.until.line)), _ => None }).collect();
                println!("{name} frame {} start {:?} {}", record.frame.number, record.start(), lines.iter().step_by(20).take(60).cloned().collect::<Vec<_>>().join(" "));
            }
        }
    }
}
