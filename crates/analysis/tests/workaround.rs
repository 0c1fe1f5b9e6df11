//! The workaround search against the facts of the trade and against pictures.
//!
//! The row-crossing fault, its widths and steps are the derived table of the
//! 64 KiB class's known fault: memory rows of 256 bytes, one reload a line.

use std::collections::BTreeSet;
use std::sync::Arc;

use backporch_analysis::workaround::{Answer, Candidate, Direction, Impossible, Need, Origin, Suspect, search};
use backporch_analysis::{Damage, Verdict};
use backporch_bench::{Bench, Wishes};
use backporch_quirk::QuirkStack;
use backporch_raster::{Board, Tap};
use rayon::prelude::*;

fn rows_bench() -> Bench {
    Bench::open("harbour-256-rows", &Wishes::default()).unwrap()
}

fn known(bench: &Bench) -> Vec<Suspect<QuirkStack>> {
    vec![Suspect { name: "row-reload".into(), tap: bench.stack(), probability: 1.0 }]
}

fn found(bench: &Bench, need: &Need) -> Answer {
    search(bench, need, &known(bench), &|_, _| ()).unwrap()
}

/// Renders every start address of a candidate on fresh boards full of noise,
/// pixel by pixel, and gives those that are not clean.
fn rendered_bad<T: Tap + Clone + Sync>(bench: &Bench, candidate: &Candidate, tap: &T) -> BTreeSet<u32> {
    let adapter = bench.adapter();
    let noise: Vec<u8> = (0..65536u32).map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    let is_bad = |start: &u32| {
        let mut registers = candidate.registers.clone();
        adapter.set(&mut registers, adapter.start_address(), u64::from(*start)).unwrap();
        let mut healthy = Board::healthy(Arc::clone(adapter), registers.clone());
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
    let answer = found(&bench, &Need::default());
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
    let answer = found(&bench, &Need { step_pixels: Some(64), ..Need::default() });
    let best = &answer.candidates[0];
    assert_eq!((best.width, best.height, best.stride), (320, 200, 32));
    assert_eq!((best.clean_starts, best.of_starts), (1024, 1024));
    assert_eq!(rendered_bad(&bench, best, &bench.stack()), BTreeSet::new());
    // The same width is also offered where smaller steps are asked for, at the price of the step.
    let small = found(&bench, &Need::default());
    assert!(small.candidates.iter().any(|one| (one.width, one.cost.step_pixels) == (320, 64)));
}

/// Where nothing of the width asked for holds, the answer says exactly which start addresses fail.
#[test]
fn partial_answers_name_what_fails() {
    let bench = rows_bench();
    let fixed: BTreeSet<String> = ["start_address".to_string()].into();
    let need = Need { starts: Some(1..=31), may_change: fixed, ..Need::default() };
    let answer = found(&bench, &need);
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
    let refused = |need: Need| search(&bench, &need, &known(&bench), &|_, _| ()).err().unwrap();
    assert!(matches!(refused(Need { step_pixels: Some(1), ..Need::default() }), Impossible::Step { unit: 2, .. }));
    assert!(matches!(refused(Need { keep_free: 1, ..Need::default() }), Impossible::Memory { .. }));
    assert!(matches!(refused(Need { starts: Some(0..=40000), ..Need::default() }), Impossible::Starts { .. }));
    assert!(matches!(refused(Need { least_width: Some(328), ..Need::default() }), Impossible::Size { .. }));
    assert!(matches!(
        refused(Need { least_width: Some(352), least_height: Some(100), ..Need::default() }),
        Impossible::Size { .. } | Impossible::Monitor { .. }
    ));
    let none: &[Suspect<QuirkStack>] = &[];
    assert_eq!(search(&bench, &Need::default(), none, &|_, _| ()).err(), Some(Impossible::NoFault));
    let both = Need { direction: Direction::Both, origin: Origin::Free, ..Need::default() };
    assert!(search(&bench, &both, &known(&bench), &|_, _| ()).is_ok());
}
