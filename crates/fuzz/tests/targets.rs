//! Every target for some seconds: nothing panics, nothing hangs. `BACKPORCH_FUZZ_SECONDS` says for how many.

use std::time::Duration;

use backporch_fuzz::{TARGETS, mutated};

/// Seconds for each target.
const USUAL: u64 = 4;
/// An input that takes longer hangs.
const LONGEST: Duration = Duration::from_secs(10);

fn seconds() -> Duration {
    let seconds = std::env::var("BACKPORCH_FUZZ_SECONDS").ok().and_then(|number| number.parse().ok());
    Duration::from_secs(seconds.unwrap_or(USUAL))
}

fn tried(names: &[&str]) {
    for target in TARGETS.iter().filter(|target| names.contains(&target.name)) {
        let tried = target.run_for(0, seconds()).unwrap_or_else(|panicked| panic!("{panicked}"));
        let (slowest, number) = tried.slowest;
        assert!(slowest < LONGEST, "{}: input {number} took {slowest:?}", target.name);
        println!("{}: {} inputs, slowest {slowest:.2?}", target.name, tried.inputs);
    }
}

const BENCHES: &[&str] = &["bench", "sightings"];
const FORMS: &[&str] = &["requirements", "plan", "routine", "trace", "processor", "monitor", "quirk", "profile"];
const BROUGHT: &[&str] = &["answers", "survey", "case"];
const PICTURES: &[&str] = &["picture", "capture", "image"];
const BEHAVIOUR: &[&str] = &["board", "program"];

#[test]
fn benches_and_sightings() {
    tried(BENCHES);
}

#[test]
fn forms() {
    tried(FORMS);
}

#[test]
fn files_brought_from_elsewhere() {
    tried(BROUGHT);
}

#[test]
fn pictures_and_programs() {
    tried(PICTURES);
}

#[test]
fn boards_and_processors() {
    tried(BEHAVIOUR);
}

#[test]
fn no_target_is_left_out() {
    let groups = [BENCHES, FORMS, BROUGHT, PICTURES, BEHAVIOUR].concat();
    assert_eq!(groups.len(), TARGETS.len());
    assert!(TARGETS.iter().all(|target| groups.contains(&target.name)));
}

#[test]
fn inputs_are_changed_and_the_same_again() {
    let corpus = [b"(version: 1, number: 27)".to_vec()];
    let of = |number| mutated(&mut fastrand::Rng::with_seed(number), &corpus);
    let changed = (0..200).filter(|number| of(*number) != corpus[0]).count();
    assert!(changed > 150, "{changed} of 200");
    assert!((0..200).all(|number| of(number) == of(number)));
}
