//! The processor against captures of real ones, instruction by instruction,
//! clock by clock (open data set: single-step tests of an 8086 / of an 80286,
//! captured from hardware, 2025).

#[path = "captures/mod.rs"]
mod captures;

use captures::score::{Score, captures_8086, captures_80286};

/// Every capture: registers, memory and defined flags equal, and the clocks and
/// bus cycles of nearly all.
#[test]
fn an_8086_executes_as_captured() {
    let mut score = Score::default();
    for test in captures_8086(include_bytes!("data/8086.jsonl.gz")) {
        score.add_8086(&test);
    }
    assert!(score.tests > 4000, "only {} captures were run", score.tests);
    assert_eq!(score.different, [] as [String; 0], "registers, flags or memory differ");
    let share = |part: u32| f64::from(part) / f64::from(score.tests);
    assert!(share(score.clocks_equal) >= 0.999, "{score}");
    assert!(share(score.clocks_near) >= 0.999, "{score}");
    assert!(share(score.cycles_equal) >= 0.999, "{score}");
}

/// An 80286: all captures, clocks as far as its three units ahead of each other are known.
#[test]
fn an_80286_executes_as_captured() {
    let mut score = Score::default();
    for test in captures_80286(include_bytes!("data/80286.jsonl.gz")) {
        score.add_80286(&test);
    }
    assert!(score.tests > 2400, "only {} captures were run", score.tests);
    // A word stored at offset FFFFh leaves its index changed there, and restored here.
    assert!(score.different.len() <= 1, "{:?}", score.different);
    let share = |part: u32| f64::from(part) / f64::from(score.tests);
    assert!(share(score.clocks_equal) >= 0.95, "{score}");
    assert!(share(score.clocks_near) >= 0.98, "{score}");
}
