//! A bounce that strikes now and again: found, counted, and cured.

#[path = "../../script/tests/setup/mod.rs"]
mod setup;

use std::sync::Arc;

use backporch_hazards::{FrameJudge, HazardKind, MarginSweep, PhaseSpread, Room, Surroundings, Trial, frame_dots};
use backporch_script::{CpuModel, NORMAL_SPEED, PortValue, Replay, Runner, Trace, TraceAccess};
use setup::{linear_board, panorama, program};

/// Waits for retrace by a polling loop of 70 clocks, works for most of it, and
/// writes just before the next frame's start address is taken over.
const NEAR_MISS: &str = include_str!("../../../tests/routines/near-miss.routine.ron");

fn trial(text: &str) -> Trial<backporch_raster::Plain> {
    let board = linear_board(0);
    Trial {
        program: program(text, board.adapter()),
        board,
        model: Arc::new(CpuModel::built_in("16bit-8").unwrap()),
        picture: Some(panorama()),
        monitor: None,
        layout: None,
        seed: 7,
    }
}

/// By hand, from The 8086 Family User's Manual and four wait states a port
/// cycle: a round polls for IN 8+4, TEST 4, jump 16 and 38 more, 70 clocks.
/// From the read that sees retrace to the last byte it is TEST 4, jump not
/// taken 4, the work, a counter of 10+4+4+4+10, and twice MOV 4, MOV 4, load
/// 10, OUT of a word 8+4+8: 9,083 clocks. From there to the take-over, 36
/// lines on (reverse-engineered schematic of display controller gate array
/// 72X8300), are 800 × 36 dots at 25.175 MHz, 9,151.94 clocks of 8 MHz. The
/// write is late where the read comes in the last 1.06 of the 70 clocks.
#[test]
fn one_phase_in_seventy_is_found_and_its_share_is_true() {
    let to_latch = 800.0 * 36.0 * 8e6 / 25.175e6;
    let to_write = f64::from(4 + 4 + 8_967 + (10 + 4 + 4 + 4 + 10) + 2 * (4 + 4 + 10 + 20));
    let truth = (70.0 - (to_latch - to_write)) / 70.0;
    assert!((truth - 1.06 / 70.0).abs() < 0.001, "{truth}");

    let sweep = MarginSweep { phases: 240, speeds: vec![NORMAL_SPEED], frames: 6, ..MarginSweep::default() };
    let margins = trial(NEAR_MISS).margins(&sweep, &|| {}).unwrap();
    let late = margins.kind(HazardKind::LateStart).expect("the bounce is found");
    let (low, high) = late.frames.interval();
    println!("{late:?}, interval {low:.4} to {high:.4}, truth {truth:.4}");
    assert!((low..=high).contains(&truth), "{low} to {high} holds {truth}");
    assert!(high - low < 0.02, "{low} to {high}");
    // The example can be run again as it was.
    let (start, speed) = late.found_at;
    let mut runner: Runner = trial(NEAR_MISS).runner(start, speed).unwrap();
    let hazards = backporch_hazards::inspect(&mut runner, 6, None, None);
    assert!(hazards.contains(&late.example));
}

/// A trace that writes both bytes of the start address in each frame, the second a quarter of a frame before the take-over:
/// moved later by more, they stand on either side of it.
#[test]
fn a_trace_has_room_up_to_the_take_over() {
    let board = linear_board(0);
    let dots = frame_dots(board.adapter(), board.registers());
    // The second load stands 800 dots before a frame's first line (reverse-engineered schematic of display controller gate
    // array 72X8300).
    let (before, between) = (dots / 4, 12_000);
    let mut trace = Trace::default();
    for frame in 1..12u64 {
        let second = frame * dots - 800 - before;
        for (dot, index) in [(second - between, 0x0C), (second, 0x0D)] {
            let value = u16::from_le_bytes([index, (frame % 2) as u8]);
            trace.push(dot, TraceAccess::Port(0x3D4, PortValue::Word(value)));
        }
    }
    let trace = Arc::new(trace);
    let sweep =
        MarginSweep { phases: 64, speeds: vec![NORMAL_SPEED], frames: 8, settling: 2, spread: PhaseSpread::Even };
    let judge = |dot: u64, _| {
        let adapter = Arc::clone(board.adapter());
        let around = Surroundings { dot_clock: Some(board.dot_clock()), ..Surroundings::default() };
        let mut judge = FrameJudge::new(adapter, around);
        let mut replay = Replay::new(board.clone(), Arc::clone(&trace)).later_by(dot);
        (0..8).for_each(|_| judge.see(replay.next_frame()));
        Ok::<_, std::convert::Infallible>(judge.finish(None))
    };
    let Ok(margins) = sweep.margins((dots, 7), &judge, &|| {});
    let Room { later, earlier, step, anywhere } = margins.room.expect("looked for");
    assert!(!anywhere);
    println!("{later} later, {earlier} earlier, {step} a step, {before} before");
    assert_eq!(step, dots.div_ceil(64));
    // A write that is near the take-over strikes, too: within a few scan lines.
    assert!(later <= before && before - later <= step + 8 * 800, "{later} of {before}");
    // Earlier, the bytes go by the take-over before, the first of them first.
    let room = dots - before - between;
    assert!(earlier <= room && room - earlier <= step + 8 * 800, "{earlier} of {room}");
}

#[test]
fn the_recommended_moment_holds_at_every_phase_and_speed() {
    let late = backporch_script::ROUTINES.get("scroll-late").unwrap();
    let sweep = MarginSweep { phases: 12, speeds: vec![900, NORMAL_SPEED, 1100], frames: 6, ..MarginSweep::default() };
    // 140 rows of 55 clocks, 1,300 of work and some set-up end just after the take-over, 9,152 clocks on.
    let late = late.replace("rows: 200", "rows: 140").replace("Work(1000)", "Work(1300)");
    for text in [NEAR_MISS, late.as_str()] {
        let trial = trial(text);
        assert!(!trial.margins(&sweep, &|| {}).unwrap().is_clean());
        let advice = trial.advice(&sweep, &|| {}).unwrap().expect("a moment that holds");
        assert!(advice.margins.is_clean());
        // Far from any take-over: more than ten scan lines.
        assert!(advice.margins.nearest_latch.unwrap() > 8000, "{:?}", advice.margins.nearest_latch);
        // The advised routine is a file like any other.
        let text = ron::to_string(&advice.routine).unwrap();
        let again = Trial { program: program(&text, trial.board.adapter()), ..trial };
        let other_phases = MarginSweep { phases: 17, ..sweep.clone() };
        assert!(again.margins(&other_phases, &|| {}).unwrap().is_clean());
    }
}
