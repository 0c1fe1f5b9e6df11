//! The workaround search against the facts of the trade and against pictures.
//!
//! The row-crossing fault, its widths and steps are the derived table of the
//! 64 KiB class's known fault: memory rows of 256 bytes, one reload a line.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::{Duration, Instant};

use backporch_adapter::Role;
use backporch_analysis::{Damage, Verdict};
use backporch_bench::{Bench, Overrides};
use backporch_quirk::QuirkStack;
use backporch_raster::{Board, Tap};
use backporch_test_tools::ROWS_BENCH;
use backporch_workaround::{
    Candidate, Direction, Infeasible, Origin, Requirements, SearchResult, SuspectedFault, search,
};
use rayon::prelude::*;

fn rows_bench() -> Bench {
    Bench::open(ROWS_BENCH, &Overrides::default()).unwrap()
}

fn known(bench: &Bench) -> Vec<SuspectedFault<QuirkStack>> {
    vec![SuspectedFault { name: "row-reload".into(), tap: bench.stack(), probability: 1.0 }]
}

fn found(bench: &Bench, requirements: &Requirements) -> SearchResult {
    search(bench, requirements, &known(bench), &|_, _| ()).unwrap()
}

/// Renders every start address of a candidate on fresh boards full of noise,
/// pixel by pixel, and gives those that are not clean.
fn rendered_bad<T: Tap + Clone + Sync>(bench: &Bench, candidate: &Candidate, tap: &T) -> BTreeSet<u32> {
    let adapter = bench.adapter();
    let noise: Vec<u8> = (0..65536u32).map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    let is_bad = |start: &u32| {
        let mut registers = candidate.registers.clone();
        adapter.set(&mut registers, adapter.start_address(), u64::from(*start)).unwrap();
        let mut healthy = Board::plain(Arc::clone(adapter), registers.clone());
        let mut faulty = Board::new(Arc::clone(adapter), registers, tap.clone());
        healthy.load(&noise);
        faulty.load(&noise);
        Damage::between(&healthy.run_frame(), &faulty.run_frame()).verdict() != Verdict::Clean
    };
    candidate.starts().collect::<Vec<u32>>().into_par_iter().filter(is_bad).collect()
}

/// Every start address over 64 KiB by 2-pixel steps: 256 pixels hold, centred
/// with 4 characters at each side, and nothing wider does.
#[test]
fn endless_two_pixel_steps_need_256_pixels() {
    let bench = rows_bench();
    let answer = found(&bench, &Requirements::default());
    let adapter = bench.adapter();
    let best = answer.candidates.iter().find(|one| one.cost.step_pixels == 2).unwrap();
    assert_eq!((best.width, best.height, best.pitch_bytes), (256, 200, 256));
    assert_eq!((best.clean_starts, best.of_starts, best.failing.clone()), (32768, 32768, None));
    assert_eq!(adapter.get(&best.registers, adapter.field("displayed").unwrap()), 31);
    assert_eq!(best.fit.border_dots, (4 * 16, 4 * 16), "4 characters a side");
    assert_eq!((best.fit.off_dots, best.fit.off_lines), (0, 0));
    assert!(best.fit.accepted());
    assert!(answer.candidates.iter().all(|one| one.cost.step_pixels > 2 || one.width <= 256));
    for candidate in answer.candidates.iter().filter(|one| one.failing.is_none()) {
        assert_eq!(rendered_bad(&bench, candidate, &bench.stack()), BTreeSet::new(), "{}", candidate.width);
    }
}

/// Over multiples of 32 steps 320 pixels are kept.
#[test]
fn steps_of_32_keep_320_pixels() {
    let bench = rows_bench();
    let answer = found(&bench, &Requirements { step_pixels: Some(64), ..Requirements::default() });
    let best = &answer.candidates[0];
    assert_eq!((best.width, best.height, best.stride), (320, 200, 32));
    assert_eq!((best.clean_starts, best.of_starts), (1024, 1024));
    assert_eq!(rendered_bad(&bench, best, &bench.stack()), BTreeSet::new());
    // The same width is also offered where smaller steps are asked for, at the price of the step.
    let small = found(&bench, &Requirements::default());
    assert!(small.candidates.iter().any(|one| (one.width, one.cost.step_pixels) == (320, 64)));
}

/// Where nothing of the width asked for holds, the answer says exactly which start addresses fail.
#[test]
fn partial_answers_name_what_fails() {
    let bench = rows_bench();
    let fixed = BTreeSet::from([Role::StartAddress]);
    let requirements = Requirements { starts: Some(1..=31), may_change: fixed, ..Requirements::default() };
    let answer = found(&bench, &requirements);
    assert!(!answer.holds());
    let partial = &answer.partial[0];
    let failing = partial.failing.as_ref().unwrap();
    assert_eq!((partial.width, &failing.runs[..]), (320, &[(1, 31)][..]));
    let bad = rendered_bad(&bench, partial, &bench.stack());
    assert_eq!(bad, (1..=31).collect(), "all of them are seen");
    assert_eq!(partial.clean_starts, 0);
}

/// Needs that cannot be met are answered in words.
#[test]
fn impossible_needs_are_told() {
    let bench = rows_bench();
    let refused = |requirements: Requirements| search(&bench, &requirements, &known(&bench), &|_, _| ()).err().unwrap();
    assert!(matches!(
        refused(Requirements { step_pixels: Some(1), ..Requirements::default() }),
        Infeasible::Step { unit: 2, .. }
    ));
    assert!(matches!(refused(Requirements { keep_free: 1, ..Requirements::default() }), Infeasible::Memory { .. }));
    assert!(matches!(
        refused(Requirements { starts: Some(0..=40000), ..Requirements::default() }),
        Infeasible::Starts { .. }
    ));
    assert!(matches!(
        refused(Requirements { least_width: Some(328), ..Requirements::default() }),
        Infeasible::Size { .. }
    ));
    assert!(matches!(
        refused(Requirements { least_width: Some(352), least_height: Some(100), ..Requirements::default() }),
        Infeasible::Size { .. } | Infeasible::Monitor { .. }
    ));
    let none: &[SuspectedFault<QuirkStack>] = &[];
    assert_eq!(search(&bench, &Requirements::default(), none, &|_, _| ()).err(), Some(Infeasible::NoFault));
    let both = Requirements { direction: Direction::Both, origin: Origin::Free, ..Requirements::default() };
    assert!(search(&bench, &both, &known(&bench), &|_, _| ()).is_ok());
}

/// Rates and porches of every candidate, from the bytes its ports would get and
/// the class's formulas: the total is R0 + 2 characters of 16 dots at 25.175
/// MHz, the frame 256 + R4 + R5 + 3 lines, and sync begins at character R2 + 1
/// (reverse-engineered schematic of display controller gate array 72X8300); of
/// the colour-graphics class the total is R0 + 1 characters at 14.31818 MHz, the
/// frame (R4 + 1) × (R9 + 1) + R5 lines (MC6845 CRT Controller data sheet).
#[test]
fn timing_follows_the_formulas() {
    for (name, clock, more) in [(ROWS_BENCH, 25_175_000.0, 2.0), ("harbour-cg", 14_318_180.0, 1.0)] {
        let overrides = Overrides { quirks: vec!["row-reload".to_string()], no_quirks: true, ..Overrides::default() };
        let bench = Bench::open(name, &overrides).unwrap();
        let requirements = Requirements { least_height: Some(180), starts: Some(0..=63), ..Requirements::default() };
        let answer = search(&bench, &requirements, &known(&bench), &|_, _| ()).unwrap();
        assert!(!answer.candidates.is_empty(), "{name}");
        for candidate in &answer.candidates {
            let register = |index: u8| {
                let cell = backporch_adapter::Cell::new(backporch_adapter::Bank::Crtc, index).unwrap();
                f64::from(candidate.registers.cell(cell))
            };
            let dots = (register(0) + more) * 16.0;
            let (lines, sync) = if more == 2.0 {
                (256.0 + register(4) + register(5) + 3.0, register(2) + 1.0)
            } else {
                ((register(4) + 1.0) * (register(9) + 1.0) + register(5), register(2))
            };
            let signal = &candidate.fit.signal;
            let close = |one: f64, other: f64| (one - other).abs() < 1e-6 * other;
            assert!(close(signal.line_rate_hz(), clock / dots), "{name}");
            assert!(close(signal.frame_rate_hz(), clock / dots / lines), "{name}");
            let width = if more == 2.0 { register(3) % 16.0 } else { register(3) };
            let shown = register(1) + more - 1.0;
            assert_eq!(f64::from(signal.horizontal.front_porch()), (sync - shown) * 16.0, "{name}");
            assert_eq!(f64::from(signal.horizontal.sync()), width * 16.0, "{name}");
            assert_eq!(f64::from(signal.horizontal.back_porch()), dots - (sync + width) * 16.0, "{name}");
        }
    }
}

/// Two suspects: what holds against both comes before what holds against one,
/// and each probability is that of the suspects it holds against.
#[test]
fn diagnoses_are_weighed() {
    let bench = rows_bench();
    let family = |name: &str| backporch_quirk::Family::built_in(name).unwrap().close_default();
    let suspect = |name: &str, probability: f64| SuspectedFault {
        name: name.to_string(),
        tap: QuirkStack::new(vec![family(name)], 0),
        probability,
    };
    let suspects = [suspect("row-reload", 0.7), suspect("carry-broken", 0.3)];
    let requirements = Requirements { starts: Some(0..=63), origin: Origin::Free, ..Requirements::default() };
    let answer = search(&bench, &requirements, &suspects, &|_, _| ()).unwrap();
    let probabilities: Vec<f64> = answer.candidates.iter().map(|one| one.probability_clean).collect();
    assert!(probabilities.is_sorted_by(|one, other| one >= other));
    assert!(probabilities.iter().any(|one| (one - 0.7).abs() < 1e-9), "{probabilities:?}");
    for candidate in &answer.candidates {
        let sum: f64 = candidate.clean_under.iter().map(|at| suspects[*at].probability).sum();
        assert!((candidate.probability_clean - sum).abs() < 1e-9);
        for at in &candidate.clean_under {
            assert_eq!(rendered_bad(&bench, candidate, &suspects[*at].tap), BTreeSet::new());
        }
        if candidate.clean_under.len() < suspects.len() {
            let failing = candidate.failing.as_ref().unwrap();
            let other = (0..suspects.len()).find(|at| !candidate.clean_under.contains(at)).unwrap();
            let bad = rendered_bad(&bench, candidate, &suspects[other].tap);
            assert_eq!(bad, candidate.starts().filter(|start| failing.has(*start)).collect());
        }
    }
}

/// What a monitor refuses is no candidate unless it is asked for.
#[test]
fn refused_signals_are_kept_out() {
    let overrides = Overrides { monitor: Some("fixed-15".to_string()), ..Overrides::default() };
    let bench = Bench::open(ROWS_BENCH, &overrides).unwrap();
    let refused = search(&bench, &Requirements::default(), &known(&bench), &|_, _| ()).err();
    assert!(matches!(refused, Some(Infeasible::Monitor { .. })), "{refused:?}");
    let asked = Requirements { out_of_margin: true, ..Requirements::default() };
    let answer = found(&bench, &asked);
    assert!(!answer.candidates.is_empty() && answer.candidates.iter().all(|one| !one.fit.accepted()));
}

/// A range that may move is moved to where it holds: 32 start addresses at 320
/// pixels hold nowhere, 1 does at every 32nd.
#[test]
fn free_origins_are_found() {
    let bench = rows_bench();
    let fixed = BTreeSet::from([Role::StartAddress]);
    let requirements =
        Requirements { starts: Some(5..=5), origin: Origin::Free, may_change: fixed, ..Requirements::default() };
    let answer = found(&bench, &requirements);
    let best = &answer.candidates[0];
    assert_eq!((best.width, best.origin % 32, best.of_starts), (320, 0, 1));
    assert!(!found(&bench, &Requirements { origin: Origin::Fixed, ..requirements }).holds());
}

/// A search ends in time with what it has, and says what it left out; with time enough it finds what it finds without a limit.
#[test]
fn a_search_ends_in_time() {
    let bench = rows_bench();
    let requirements = |until: Instant| Requirements { until: Some(until), ..Requirements::default() };
    let ended = found(&bench, &requirements(Instant::now()));
    assert!(ended.candidates.is_empty() && ended.partial.is_empty());
    let remark = ended.remarks.iter().find(|remark| remark.contains("time limit")).unwrap();
    assert!(remark.contains("0 of"), "{remark}");
    let (limited, free) = (
        found(&bench, &requirements(Instant::now() + Duration::from_secs(86_400))),
        found(&bench, &Requirements::default()),
    );
    assert_eq!(limited.remarks, free.remarks);
    let registers =
        |found: &SearchResult| found.candidates.iter().map(|one| (one.registers.clone(), one.cost)).collect::<Vec<_>>();
    assert_eq!(registers(&limited), registers(&free));
}
