//! Every way of predicting a frame gives the same signature.

use std::sync::Arc;

use backporch_bench::{Bench, Overrides};
use backporch_quirk::{Family, QuirkStack};
use backporch_raster::{Intercept, Plain, Stages};
use proptest::prelude::*;

use super::{drawn, driven, planned};
use crate::setup::{Conditions, ExperimentSetup, Specimen, WhichFrame, WriteMoment};
use crate::signature::{FrameSignature, Nature};

fn bench() -> Arc<Bench> {
    Arc::new(Bench::open("harbour-256-plain", &Overrides::default()).unwrap())
}

fn setup(start: u32, displayed: u32, conditions: Conditions) -> ExperimentSetup {
    setup_of(&bench(), start, displayed, conditions)
}

fn setup_of(bench: &Arc<Bench>, start: u32, displayed: u32, conditions: Conditions) -> ExperimentSetup {
    let field = |name: &str| bench.adapter().field(name).unwrap();
    let settings = [(field("start_address"), start), (field("displayed"), displayed)];
    ExperimentSetup::new(Arc::clone(bench), &settings, conditions)
}

fn stack(name: &str, member: u64) -> QuirkStack {
    let family = Family::built_in(name).unwrap();
    QuirkStack::new(vec![family.member(member % family.count()).unwrap()], 0)
}

#[test]
fn a_healthy_board_is_clean_every_way() {
    for (look, moment) in [
        (WhichFrame::Settled, WriteMoment::ActiveArea),
        (WhichFrame::Settled, WriteMoment::Retrace),
        (WhichFrame::Moving, WriteMoment::ActiveArea),
    ] {
        let setup = setup(17, 33, Conditions { look, moment, ..Conditions::default() });
        assert!(setup.signature(&Plain).is_clean(), "{look:?} {moment:?}");
        assert!(planned::signature(&setup, &Plain, 0).is_clean());
        assert!(drawn::signature(&setup, &Plain, 2).is_clean());
    }
}

/// The class loads the start address 36 lines after vertical sync begins: a write in retrace is in time (reverse-engineered
/// schematic of display controller gate array 72X8300).
#[test]
fn a_write_in_retrace_is_in_time() {
    let written =
        setup(1, 39, Conditions { look: WhichFrame::Moving, moment: WriteMoment::Retrace, ..Conditions::default() });
    assert!(written.signature(&Plain).is_clean());
}

#[test]
fn another_board_does_not_have_the_fault() {
    let there = setup(1, 39, Conditions::default());
    let elsewhere = setup(1, 39, Conditions { specimen: Specimen::Another, ..Conditions::default() });
    let rows = stack("row-reload", 0);
    assert_eq!(there.signature(&rows).lines.count(), 50);
    assert!(elsewhere.signature(&rows).is_clean());
}

/// The table of facts for memory rows of 256 bytes reloaded once a line (derived).
#[test]
fn the_row_table_comes_out() {
    let rows = stack("row-reload", 0);
    let found = |start: u32, characters: u32| setup(start, characters - 1, Conditions::default()).signature(&rows);
    for (start, phase, from) in [(1, 3, 318), (16, 3, 288), (31, 3, 258), (33, 2, 318)] {
        let signature = found(start, 40);
        let pattern = signature.lines.pattern().unwrap();
        assert_eq!((pattern.period, pattern.phase, signature.x), (4, phase, Some((from, 319))), "step {start}");
        assert_eq!(signature.nature, Some(Nature::Addresses));
    }
    for (characters, lines) in [(39, 37), (38, 25), (37, 25), (36, 0), (35, 12), (34, 0), (33, 0), (32, 0)] {
        assert_eq!(found(0, characters).lines.count(), lines, "{characters} characters");
    }
    for start in [0, 32, 64] {
        assert!(found(start, 40).is_clean());
    }
}

#[test]
fn jitter_of_the_whole_picture_flickers() {
    let jitter = setup(0, 39, Conditions::default()).signature(&stack("frame-jitter", 0));
    assert_eq!((jitter.nature, jitter.flickers), (Some(Nature::Displaced), true));
}

/// A row from elsewhere in memory that looks the same is no damage to the eye.
#[test]
fn of_the_card_what_shows_counts() {
    let (bench, card) = (bench(), Arc::new(bench().with_test_card()));
    let rows = stack("row-reload", 0);
    let mut hidden = 0;
    for start in 1..32 {
        let of = |bench: &Arc<Bench>| setup_of(bench, start, 39, Conditions::default()).signature(&rows);
        let (fetched, shown) = (of(&bench), of(&card));
        assert!(!shown.is_clean() && shown.pixels <= fetched.pixels, "step {start}");
        assert!(shown.lines.iter().all(|line| fetched.lines.has(line)), "step {start}");
        hidden += fetched.pixels - shown.pixels;
    }
    assert!(hidden > 0);
}

/// The program of a session sets the mode through the ports, so that a data bit that is stuck spoils the timing before
/// anything is stepped: of the 40 characters displayed (27h), eight are left (07h) without bit 5.
#[test]
fn the_mode_of_a_card_was_set_through_the_ports() {
    let card = Arc::new(bench().with_test_card());
    let bit_5 = stack("port-data-bit-stuck", 5);
    let on_card = setup_of(&card, 0, 39, Conditions::default()).signature(&bit_5);
    assert_eq!((on_card.nature, on_card.short), (Some(Nature::Displaced), 256));
    assert!(setup(0, 39, Conditions::default()).signature(&bit_5).is_clean());
}

/// Firmware loads the colours through the ports: where those lose writes that follow quickly, the start-up greys stay.
#[test]
fn slow_ports_leave_the_start_up_colours_on_a_card() {
    let card = Arc::new(bench().with_test_card());
    let slow = setup_of(&card, 0, 39, Conditions::default()).signature(&stack("port-slow", 1));
    assert_eq!(slow.nature, Some(Nature::Colours), "{slow:?}");
    // The program itself takes its time.
    let narrower = setup_of(&card, 0, 35, Conditions::default()).signature(&stack("port-slow", 1));
    assert_eq!(narrower.nature, Some(Nature::Colours), "{narrower:?}");
}

#[test]
fn a_picture_that_ends_early_is_short() {
    let short = |member: u64| setup(0, 39, Conditions::default()).signature(&stack("display-short", member)).short;
    // A character of the class is eight pixels wide.
    assert_eq!([0, 1].map(short), [8, 16]);
    assert_eq!(setup(0, 39, Conditions::default()).signature(&stack("row-reload", 0)).short, 0);
}

/// Faults that only change addresses, by name.
fn address_families() -> Vec<&'static str> {
    Family::built_in_names().filter(|name| stack(name, 0).stages() == Stages::ADDRESS).collect()
}

proptest! {
    // Each case draws a frame.
    #![proptest_config(ProptestConfig { cases: ProptestConfig::default().cases / 8, ..ProptestConfig::default() })]

    /// What the plan says of lines and columns is what drawn frames fetch.
    #[test]
    fn plans_say_what_frames_fetch(at: prop::sample::Index, member in 0..64_u64, start in 0..3000_u32, displayed in 15..40_u32) {
        let names = address_families();
        let tap = stack(names[at.index(names.len())], member);
        let setup = setup(start, displayed, Conditions::default());
        let planned = planned::signature(&setup, &tap, 0);
        let drawn = drawn::signature(&setup, &tap, 1);
        // Around the end of memory, frames do not show how far bytes were moved, and half of it is as far either way
        // round (64 KiB, a pixel a byte); that pixels differ, too, counts them twice.
        let apart = drawn.moved.zip(planned.moved).map_or(0, |(drawn, planned)| drawn - planned);
        prop_assert_eq!(apart % (1 << 16), 0, "{:?} {:?}", drawn.moved, planned.moved);
        prop_assert_eq!(FrameSignature { moved: None, pixels: 0, ..planned }, FrameSignature { moved: None, pixels: 0, ..drawn });
    }

    /// Of the test card, lines drawn one by one say what drawn frames show.
    #[test]
    fn plans_say_what_frames_show_of_the_card(at: prop::sample::Index, member in 0..64_u64, start in 0..3000_u32, displayed in 15..40_u32) {
        let names = address_families();
        let tap = stack(names[at.index(names.len())], member);
        let card = Arc::new(bench().with_test_card());
        let setup = setup_of(&card, start, displayed, Conditions::default());
        let planned = planned::signature(&setup, &tap, 0);
        let drawn = drawn::signature(&setup, &tap, 1);
        prop_assert_eq!(FrameSignature { moved: None, ..planned }, FrameSignature { moved: None, ..drawn });
    }

    /// A fault of the ports is seen alike on a board that is driven through them and, where all writes arrive, on one at rest.
    #[test]
    fn driven_boards_come_to_rest(at: prop::sample::Index, member in 0..64_u64, start in 0..3000_u32, displayed in 15..40_u32) {
        let of_ports = |name: &&str| stack(name, 0).stages().contains(Stages::PORT);
        let names: Vec<&str> = Family::built_in_names().filter(of_ports).collect();
        let tap = stack(names[at.index(names.len())], member);
        let setup = setup(start, displayed, Conditions::default());
        let (driven, chosen) = (driven::signature(&setup, &tap), setup.signature(&tap));
        prop_assert_eq!(FrameSignature { moved: None, pixels: 0, ..driven }, FrameSignature { moved: None, pixels: 0, ..chosen });
    }
}
