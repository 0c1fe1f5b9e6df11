//! The cheap road and the long one lead to the same place.

use std::sync::Arc;

use backporch_bench::{Bench, Overrides};
use backporch_quirk::{Family, QuirkStack};
use backporch_raster::{Healthy, Stages, Tap};
use proptest::prelude::*;

use super::{Look, Moment, Scene, Specimen, Staging, drawn, planned};
use crate::outcome::{Impression, Nature, Outcome};

fn bench() -> Arc<Bench> {
    Arc::new(Bench::open("harbour-256", &Overrides::default()).unwrap())
}

fn scene(start: u32, displayed: u32, staging: Staging) -> Scene {
    let bench = bench();
    let field = |name: &str| bench.adapter().field(name).unwrap();
    let settings = [(field("start_address"), start), (field("displayed"), displayed)];
    Scene::new(Arc::clone(&bench), &settings, staging)
}

fn stack(name: &str, member: u64) -> QuirkStack {
    let family = Family::built_in(name).unwrap();
    QuirkStack::new(vec![family.member(member % family.count()).unwrap()], 0)
}

#[test]
fn a_healthy_board_is_clean_by_every_road() {
    for (look, moment) in
        [(Look::Settled, Moment::ActiveArea), (Look::Settled, Moment::Retrace), (Look::Moving, Moment::ActiveArea)]
    {
        let scene = scene(17, 33, Staging { look, moment, ..Staging::default() });
        assert!(scene.outcome(&Healthy).is_clean(), "{look:?} {moment:?}");
        assert!(planned::outcome(&scene, &Healthy, 0).is_clean());
        assert!(drawn::outcome(&scene, &Healthy, 2).is_clean());
    }
}

/// The class latches when vertical retrace begins: a start address written
/// after that is shown a frame late (common practice).
#[test]
fn a_late_write_shows_on_a_healthy_board_while_it_moves() {
    let late = scene(1, 39, Staging { look: Look::Moving, moment: Moment::Retrace, ..Staging::default() });
    assert!(!late.outcome(&Healthy).is_clean());
}

#[test]
fn another_board_does_not_have_the_fault() {
    let there = scene(1, 39, Staging::default());
    let elsewhere = scene(1, 39, Staging { specimen: Specimen::Another, ..Staging::default() });
    let rows = stack("row-reload", 0);
    assert_eq!(there.outcome(&rows).lines.count(), 50);
    assert!(elsewhere.outcome(&rows).is_clean());
}

/// The table of facts for memory rows of 256 bytes reloaded once a line (derived).
#[test]
fn the_row_table_comes_out() {
    let rows = stack("row-reload", 0);
    let found = |start: u32, characters: u32| scene(start, characters - 1, Staging::default()).outcome(&rows);
    for (start, phase, from) in [(1, 3, 318), (16, 3, 288), (31, 3, 258), (33, 2, 318)] {
        let outcome = found(start, 40);
        let pattern = outcome.lines.pattern().unwrap();
        assert_eq!((pattern.period, pattern.phase, outcome.x), (4, phase, Some((from, 319))), "step {start}");
        let place = if from >= 288 { "at the right edge" } else { "on the right" };
        assert_eq!(outcome.impression().words(), format!("damaged, every fourth line, {place}"));
        assert_eq!(outcome.nature, Some(Nature::Addresses));
    }
    for (characters, lines) in [(39, 37), (38, 25), (37, 25), (36, 0), (35, 12), (34, 0), (33, 0), (32, 0)] {
        assert_eq!(found(0, characters).lines.count(), lines, "{characters} characters");
    }
    for start in [0, 32, 64] {
        assert_eq!(found(start, 40).impression(), Impression::Clean);
    }
}

#[test]
fn jitter_of_the_whole_picture_flickers() {
    let jitter = scene(0, 39, Staging::default()).outcome(&stack("frame-jitter", 0));
    assert_eq!((jitter.nature, jitter.flickers), (Some(Nature::Displaced), true));
}

/// Faults that only bend addresses, by name.
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
        let scene = scene(start, displayed, Staging::default());
        let planned = planned::outcome(&scene, &tap, 0);
        let drawn = drawn::outcome(&scene, &tap, 1);
        // Frames do not tell how far bytes were moved; that pixels differ, too, counts them twice.
        prop_assert_eq!(Outcome { moved: None, pixels: 0, ..planned }, Outcome { pixels: 0, ..drawn });
    }
}
