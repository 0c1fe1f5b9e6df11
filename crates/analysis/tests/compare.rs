//! Comparison end to end: whose fault it is that a board does not show what was meant.

use std::sync::Arc;

use backporch_analysis::Nature;
use backporch_analysis::compare::{Blame, Comparison, Contender, Motion, compare};
use backporch_bench::{Bench, Overrides, Scroll};

fn contender(bench: &str, overrides: &Overrides) -> Contender {
    let bench = Bench::open(bench, overrides).unwrap();
    let names: Vec<&str> = bench.quirks().iter().map(|quirk| quirk.name()).collect();
    Contender { label: format!("{} {}", bench.adapter().name(), names.join(" ")), bench: Arc::new(bench) }
}

fn quirky(name: &str) -> Contender {
    contender("harbour-256-plain", &Overrides { quirks: vec![name.to_string()], ..Overrides::default() })
}

fn healthy() -> Contender {
    contender("harbour-256-plain", &Overrides::default())
}

fn compared(contenders: &[Contender], motion: Motion) -> Comparison {
    compare(contenders, motion, &|| {})
}

fn blames(comparison: &Comparison) -> Vec<Blame> {
    comparison.entries.iter().map(|entry| entry.blame).collect()
}

#[test]
fn a_healthy_board_scrolls_as_meant() {
    let comparison = compared(&[healthy()], Motion::default());
    assert_eq!(comparison.blame, Blame::Nobody, "{}", comparison.because);
    assert!(comparison.entries[0].first.is_none());
}

/// Start step 1 damages 50 lines, 3 mod 4, in their last two pixels (derived; see the table of facts
/// for memory rows of 256 bytes reloaded once a line).
#[test]
fn a_faulty_board_is_to_blame_from_its_first_bad_frame_on() {
    let comparison = compared(&[quirky("row-reload"), healthy()], Motion::default());
    assert_eq!(blames(&comparison), [Blame::Adapter, Blame::Nobody]);
    let first = comparison.entries[0].first.as_ref().unwrap();
    assert_eq!((first.frame, first.signature.lines.count(), first.signature.x), (1, 50, Some((318, 319))));
    assert_eq!(first.signature.nature, Some(Nature::Addresses));
    assert!(comparison.because.contains("other addresses"), "{}", comparison.because);
}

#[test]
fn a_fault_behind_the_fetch_leaves_the_addresses_right() {
    let comparison = compared(&[quirky("red-dead"), healthy()], Motion { step: 0, ..Motion::default() });
    assert_eq!(blames(&comparison), [Blame::Adapter, Blame::Nobody]);
    assert_eq!(comparison.entries[0].first.as_ref().unwrap().signature.nature, Some(Nature::Colours));
}

/// The class takes the start address over when vertical retrace begins, so a
/// write after that shows a frame late (common practice).
#[test]
fn writes_after_the_latch_are_a_mistake_of_timing() {
    let late = Motion { moment: 0.95, ..Motion::default() };
    let comparison = compared(&[healthy()], late);
    assert_eq!(comparison.blame, Blame::Timing, "{}", comparison.because);
    let moments = &comparison.entries[0].moments;
    assert!(moments.iter().any(|(_, clean)| *clean) && moments.iter().any(|(_, clean)| !clean), "{moments:?}");
}

/// After each step the entering pixels must be redrawn, or the old edge wraps
/// into view one line off (common practice): a mistake of the routine on every board.
#[test]
fn what_is_never_redrawn_is_a_mistake_of_the_code() {
    let still = healthy().bench.with_scroll(Scroll::Still);
    let contender = Contender { label: "still".to_string(), bench: Arc::new(still) };
    let comparison = compared(&[contender], Motion::default());
    assert_eq!(comparison.blame, Blame::Code, "{}", comparison.because);
}

#[test]
fn another_class_says_what_it_cannot_do() {
    let other =
        contender("harbour-256-plain", &Overrides { board: Some("colour-graphics".into()), ..Overrides::default() });
    let comparison = compared(&[healthy(), other], Motion::default());
    assert_eq!(comparison.entries[1].blame, Blame::Class, "{:?}", comparison.entries[1].lacks);
    assert!(
        comparison.entries[1].lacks.iter().any(|lack| lack.contains("4 colours")),
        "{:?}",
        comparison.entries[1].lacks
    );
}
