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
    assert_eq!(comparison.blame, Blame::None, "{}", comparison.because);
    assert!(comparison.entries[0].first.is_none());
}

/// Start step 1 damages 50 lines, 3 mod 4, in their last two pixels (derived; see the table of facts
/// for memory rows of 256 bytes reloaded once a line).
#[test]
fn a_faulty_board_is_to_blame_from_its_first_bad_frame_on() {
    let comparison = compared(&[quirky("row-reload"), healthy()], Motion::default());
    assert_eq!(blames(&comparison), [Blame::Adapter, Blame::None]);
    let first = comparison.entries[0].first.as_ref().unwrap();
    assert_eq!((first.frame, first.signature.lines.count(), first.signature.x), (1, 50, Some((318, 319))));
    assert_eq!(first.signature.nature, Some(Nature::Addresses));
    assert!(comparison.because.contains("other addresses"), "{}", comparison.because);
}

#[test]
fn a_fault_behind_the_fetch_leaves_the_addresses_right() {
    let comparison = compared(&[quirky("red-dead"), healthy()], Motion { step: 0, ..Motion::default() });
    assert_eq!(blames(&comparison), [Blame::Adapter, Blame::None]);
    assert_eq!(comparison.entries[0].first.as_ref().unwrap().signature.nature, Some(Nature::Colours));
}

/// The VGA class takes the start address over when vertical retrace begins, so a write after that shows a frame late
/// (common practice).
#[test]
fn writes_after_the_latch_are_a_mistake_of_timing() {
    let late = Motion { moment: 0.95, ..Motion::default() };
    let comparison = compared(&[contender("harbour-vga", &Overrides::default())], late);
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

/// What the whole class does by design (reverse-engineered schematic of display controller gate array 72X8300).
const SOURCE: &str = "published: reverse-engineered schematic of display controller gate array 72X8300";

/// The class as its controller is built, under quirks.
fn as_built(quirks: &[&str]) -> Contender {
    let quirks = quirks.iter().map(ToString::to_string).collect();
    contender("harbour-256", &Overrides { quirks, ..Overrides::default() })
}

/// Steps 1 to 3 damage the right edge and step 4 displaces pixels 56 to 311 of every fourth line, on every board of
/// the class: it has one row transfer a line, and loads the row of the line's end.
#[test]
fn what_the_class_does_by_design_is_put_down_to_the_class_with_its_source() {
    let comparison = compared(&[as_built(&[])], Motion::default());
    let entry = &comparison.entries[0];
    assert_eq!((comparison.blame, entry.beyond_design), (Blame::Class, None), "{}", comparison.because);
    let class: Vec<(&str, &str)> = entry.class.iter().map(|one| (one.name.as_str(), one.source.as_str())).collect();
    assert_eq!(class, [("row-transfer", SOURCE)]);
    assert!(comparison.because.contains("by design") && comparison.because.contains(SOURCE), "{}", comparison.because);
    let first = entry.first.as_ref().unwrap();
    assert_eq!((first.frame, first.signature.lines.count(), first.signature.x), (1, 50, Some((318, 319))));
    assert_eq!((entry.signatures[4].lines.count(), entry.signatures[4].x), (50, Some((56, 311))));
}

/// Where the design shows nothing, as at 256 pixels and start address 4 to 11, nothing is at fault.
#[test]
fn where_the_design_does_not_show_nobody_is_to_blame() {
    let set = vec![("displayed".to_string(), 31)];
    let narrow = contender("harbour-256", &Overrides { set, start: Some(4), ..Overrides::default() });
    assert_eq!(compared(&[narrow], Motion::default()).blame, Blame::None);
}

#[test]
fn what_a_fault_does_beyond_the_design_is_put_down_to_the_adapter() {
    let comparison = compared(&[as_built(&["red-dead"]), as_built(&[])], Motion::default());
    assert_eq!(blames(&comparison), [Blame::Adapter, Blame::Class]);
    let entry = &comparison.entries[0];
    assert_eq!((entry.beyond_design, entry.class.len()), (Some(Nature::Colours), 1));
    assert!(comparison.because.contains("row-transfer"), "{}", comparison.because);
}

/// The start address is loaded 800 dots before the first line shown, dot 358,400 of 359,200 (the same schematic). At
/// 99 % of the frame the first byte is in time; the second one comes 4,000 dots later.
#[test]
fn a_second_byte_after_the_load_is_a_mistake_of_timing() {
    let torn = Motion { step: 100, moment: 0.99, apart: 4000, ..Motion::default() };
    let comparison = compared(&[as_built(&[])], torn);
    assert_eq!(comparison.blame, Blame::Timing, "{}", comparison.because);
    let whole = Motion { apart: 0, ..torn };
    assert_eq!(compared(&[as_built(&[])], whole).blame, Blame::Class);
}
