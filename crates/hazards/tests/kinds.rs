//! One small routine for each other kind of hazard, and what it looks like.

#[path = "../../script/tests/setup/mod.rs"]
mod setup;

use std::sync::Arc;

use backporch_hazards::{Hazard, HazardKind, Inspector, MeantLayout, Surroundings, inspect};
use backporch_raster::{Board, Plain};
use backporch_script::Replay;
use backporch_signal::Monitor;
use setup::{class, linear_board, narrow_board, runner, scroll};

fn hazards_of(text: &str, board: Board<Plain>, frames: u64) -> Vec<Hazard> {
    inspect(&mut runner(text, board, "286-8"), frames, Monitor::built_in("multi"), None)
}

fn board(name: &str, mode: &str) -> Board<Plain> {
    let (adapter, registers) = class(name, mode);
    Board::plain(adapter, registers)
}

fn kinds(hazards: &[Hazard]) -> Vec<HazardKind> {
    let mut kinds: Vec<HazardKind> = hazards.iter().map(|hazard| hazard.kind).collect();
    kinds.dedup();
    kinds
}

/// Bit 7 of register 10h protects registers 0 to 7 (reverse-engineered
/// schematic of display controller gate array 72X8300).
#[test]
fn a_protected_register_is_named() {
    let set = |unlock| {
        format!(
            "(version: 1, once: [Set(register: \"displayed\", value: 31, unlock: {unlock})], each_frame: [Wait(RetraceStart)])"
        )
    };
    let hazards = hazards_of(&set(false), linear_board(0), 4);
    assert_eq!(kinds(&hazards), [HazardKind::Protected]);
    assert!(hazards[0].what.contains("displayed") && hazards[0].cure.contains("write_protect"), "{:?}", hazards[0]);
    assert_eq!(hazards_of(&set(true), linear_board(0), 4), []);
}

#[test]
fn a_wrong_pitch_slants_the_column() {
    let column = |pitch: u32| {
        format!(
            "(version: 1, each_frame: [Wait(RetraceStart), Column(column: 40, start: 0, x: 8, bytes: 2, rows: 190, \
             pitch: {pitch})])"
        )
    };
    let hazards = hazards_of(&column(300), linear_board(0), 4);
    assert!(
        hazards.iter().any(|hazard| hazard.kind == HazardKind::Pitch && hazard.what.contains("300")),
        "{hazards:?}"
    );
    let right = hazards_of(&column(320), linear_board(0), 4);
    assert!(right.iter().all(|hazard| hazard.kind != HazardKind::Pitch), "{right:?}");
}

#[test]
fn the_layout_in_memory_is_held_against_the_registers() {
    let text = "(version: 1, once: [Wait(RetraceStart), Set(register: \"displayed\", value: 31, unlock: true)], each_frame: [Wait(RetraceStart)])";
    let layout = MeantLayout { pitch: 320, displayed: 320 };
    let hazards = inspect(&mut runner(text, linear_board(0), "286-8"), 5, None, Some(layout));
    let pitch: Vec<&Hazard> = hazards.iter().filter(|hazard| hazard.kind == HazardKind::Pitch).collect();
    assert_eq!(pitch.len(), 1);
    assert!(pitch[0].frame == 1 && pitch[0].what.contains("256"), "{:?}", pitch[0]);
}

/// 64,000 bytes from start 768 (words) end at byte 65,536 exactly; one step on they do not.
#[test]
fn a_window_that_runs_over_is_found_at_its_first_line() {
    for (start, over) in [(768, false), (769, true)] {
        let hazards = hazards_of("(version: 1, each_frame: [Wait(RetraceStart)])", linear_board(start), 4);
        let found: Vec<&Hazard> = hazards.iter().filter(|hazard| hazard.kind == HazardKind::RunsOver).collect();
        assert_eq!(found.len(), usize::from(over));
        // The last row, shown on scan lines 398 and 399.
        assert!(found.iter().all(|hazard| (hazard.frame, hazard.line) == (0, 398)), "{found:?}");
    }
}

/// 80-column text of the colour-graphics class (common practice).
#[test]
fn snow_falls_only_in_eighty_columns_and_only_while_the_beam_displays() {
    let text = |moment| format!("(version: 1, each_frame: [Wait({moment}), Fill(to: 0, bytes: 40, value: 7)])");
    let snows = |moment, mode| {
        let hazards = hazards_of(&text(moment), board("colour-graphics", mode), 4);
        hazards.iter().any(|hazard| hazard.kind == HazardKind::Snow)
    };
    assert!(snows("ActiveStart", "text-80"));
    assert!(!snows("RetraceStart", "text-80"));
    assert!(!snows("ActiveStart", "text-40"));
}

/// A horizontal total of 64 character clocks is 14.0 kHz: no monitor of the list takes it.
#[test]
fn a_signal_out_of_range_carries_the_caution() {
    let text = "(version: 1, once: [Wait(RetraceStart), Set(register: \"horizontal_total\", value: 63)], each_frame: [Wait(RetraceStart)])";
    let hazards = hazards_of(text, board("colour-graphics", "320x200x4"), 5);
    let sync: Vec<&Hazard> = hazards.iter().filter(|hazard| hazard.kind == HazardKind::Sync).collect();
    assert!(!sync.is_empty() && sync.iter().all(|hazard| hazard.cure.contains("can be damaged")), "{hazards:?}");
    assert!(sync.iter().any(|hazard| hazard.what.contains("line rate")), "{sync:?}");
}

/// Both sync lines positive is not among the polarities of a monitor of the VGA class (VGA register documentation); the write
/// that made them so is named.
#[test]
fn a_polarity_the_monitor_does_not_take_is_named_with_its_write() {
    let text = "(version: 1, once: [Wait(RetraceStart), Work(1000), Set(register: \"sync_polarity\", value: 0)], each_frame: [Wait(RetraceStart)])";
    let of =
        |monitor| inspect(&mut runner(text, board("vga", "640x480x16"), "286-8"), 5, Monitor::built_in(monitor), None);
    let hazards = of("fixed-31");
    assert_eq!(kinds(&hazards), [HazardKind::Sync]);
    assert!(hazards[0].made.is_some() && hazards[0].what.contains("sync polarity"), "{hazards:?}");
    assert!(hazards[0].cure.contains("can be damaged"), "{hazards:?}");
    assert_eq!(of("multi"), []);
}

#[test]
fn too_much_work_is_counted() {
    let text = |clocks: u32| format!("(version: 1, each_frame: [Wait(RetraceStart), Work({clocks})])");
    assert_eq!(hazards_of(&text(100_000), linear_board(0), 8), []);
    let hazards = hazards_of(&text(120_000), linear_board(0), 8);
    assert_eq!(kinds(&hazards), [HazardKind::Overrun]);
    // The work, 8 to leave the wait and 10 to go round.
    assert!(hazards[0].what.contains("120010 clocks of work"), "{:?}", hazards[0]);
}

#[test]
fn a_wait_for_what_never_comes_is_told() {
    let text = "(version: 1, once: [Set(register: \"video_enable\", value: 0), Set(register: \"vertical_sync_position\", \
                value: 255, unlock: true)], each_frame: [Wait(RetraceStart)])";
    let hazards = hazards_of(text, linear_board(0), 8);
    assert!(hazards.iter().any(|hazard| hazard.kind == HazardKind::Stuck), "{hazards:?}");
}

/// A fill down the whole screen that the beam overtakes, or that overtakes the beam.
#[test]
fn a_tear_is_found_on_its_line_and_seen_there() {
    // What is drawn once in full view is no tear: it has to be drawn again and again.
    let text = "(version: 1, each_frame: [Wait(Line(100)), Fill(to: 0, bytes: 64000, value: 0, width: Word), Wait(Line(100)), \
                Fill(to: 0, bytes: 64000, value: 255, width: Word)])";
    let mut runner = runner(text, linear_board(0), "286-8");
    let hazards = inspect(&mut runner.clone(), 40, None, None);
    let tear = hazards.iter().find(|hazard| hazard.kind == HazardKind::Tear).expect("a tear");
    let frame = (0..40).map(|_| runner.next_frame()).find(|frame| frame.number == tear.frame).unwrap();
    let filled = |line: u32| (0..320).filter(|x| frame.value_at(*x, line) == Some(255)).count();
    // Above the line all is of one picture, below it of the other.
    let line = tear.line / 2;
    assert_ne!(
        filled(line - 2) > 300,
        filled(line + 2) > 300,
        "line {line}: {} {}",
        filled(line - 2),
        filled(line + 2)
    );
}

/// The take-over is at the beginning of line 448; the write falls some clocks before it.
#[test]
fn a_write_near_the_take_over_states_its_margin() {
    let text = "(version: 1, counters: {\"n\": (from: 0, to: 200)}, each_frame: [Wait(RetraceStart), Work(8950), \
                Count(\"n\"), Set(register: \"start_address\", value: \"n\")])";
    let hazards = hazards_of(text, linear_board(0), 8);
    assert_eq!(kinds(&hazards), [HazardKind::NearLatch]);
    assert!(hazards[0].what.contains(" us (") && hazards[0].what.contains(" clocks) before"), "{:?}", hazards[0]);
}

/// The redraw of the right-hand column begins when the beam is half down.
#[test]
fn a_column_behind_the_beam_is_late_for_the_lines_above() {
    let text = "(version: 1, counters: {\"n\": (from: 0, to: 200)}, each_frame: [Wait(Line(200)), \
                Column(column: \"n * 2 + 318\", start: \"n\", x: 318, bytes: 2, rows: 200, width: Word), \
                Count(\"n\"), Set(register: \"start_address\", value: \"n\")])";
    let hazards = hazards_of(text, linear_board(0), 8);
    let late: Vec<u64> =
        hazards.iter().filter(|hazard| hazard.kind == HazardKind::ColumnLate).map(|hazard| hazard.frame).collect();
    assert_eq!(late, (2..8).collect::<Vec<_>>(), "{hazards:?}");
}

/// The inspector never sees a script: the trace of a routine gives the same verdict.
#[test]
fn a_trace_is_judged_like_its_routine() {
    let mut script = scroll("scroll-early-column", 0);
    script.board_mut().keep_trace();
    let hazards = inspect(&mut script, 8, None, None);
    let trace = Arc::new(script.board().trace().unwrap().clone());
    let board = narrow_board(0);
    let mut inspector = Inspector::new(Arc::clone(board.adapter()), Surroundings::default());
    let mut replay = Replay::new(board, trace);
    for _ in 0..8 {
        inspector.see(replay.next_frame());
    }
    let early = |hazards: Vec<Hazard>| -> Vec<(u64, u32)> {
        let early = hazards.into_iter().filter(|hazard| hazard.kind == HazardKind::ColumnEarly);
        early.map(|hazard| (hazard.frame, hazard.line)).collect()
    };
    let from_trace = early(inspector.finish(None));
    assert!(!from_trace.is_empty());
    assert_eq!(from_trace, early(hazards));
}
