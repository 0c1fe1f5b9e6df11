//! A diagnosis that doubts itself: what no known fault explains is said to be so, and true statements never count
//! against the fault that made the frame.

use std::sync::Arc;

use backporch_analysis::PredictionCache;
use backporch_bench::{Bench, Overrides};
use backporch_diagnosis::{Cause, Conclusion, Diagnosis, ModelCheck, Prior, QuirkFamilies, Suspect, diagnose};
use backporch_evidence::{Experiment, Impression, Observer, Seen, Share, Sightings, Statement, StepRange};
use backporch_input::Source;
use backporch_quirk::Family;
use backporch_raster::{Explain, Intercept, Line, LineReuse, Run, Stages, Tap};

fn diagnosed(sightings: &Sightings) -> Diagnosis {
    let faults = QuirkFamilies::library_and([], sightings.bench().layers());
    diagnose(sightings, &faults, &Prior::default(), &PredictionCache::default(), &|_| {})
}

fn plain() -> Arc<Bench> {
    Arc::new(Bench::open("harbour-256-plain", &Overrides::default()).unwrap())
}

fn suspect<'a>(diagnosis: &'a Diagnosis, name: &str) -> &'a Suspect {
    diagnosis.suspects.iter().find(|suspect| suspect.name == name).unwrap()
}

/// A memory refresh that steals a fetch: on every sixth line, from a line that moves on by one with each two steps of
/// the start address, the four bytes of one access show what the access before fetched. No family of the library moves
/// its lines so.
#[derive(Clone, Copy, Debug)]
struct StolenFetch;

/// Bytes of one access, and the first byte of the one that is stolen.
const ACCESS: u32 = 4;
const STOLEN: u32 = 200;

impl Intercept for StolenFetch {
    fn stages(&self) -> Stages {
        Stages::ADDRESS
    }

    fn address(&self, line: &Line, offset: u32, linear: u32) -> Run {
        let strikes = (line.picture_line + 5 * (line.start / 2)) % 6 == 1;
        match offset {
            _ if !strikes => Run { linear, len: u32::MAX },
            before if before < STOLEN => Run { linear, len: STOLEN - before },
            inside if inside < STOLEN + ACCESS => {
                Run { linear: linear.wrapping_sub(ACCESS), len: STOLEN + ACCESS - inside }
            }
            _ => Run { linear, len: u32::MAX },
        }
    }
}

impl LineReuse for StolenFetch {}
impl Explain for StolenFetch {}

/// What one says who measures: which lines, and which pixels.
fn measured<T: Tap + Clone>(experiment: &Experiment, step: u32, tap: &T) -> Seen {
    let signature = experiment.setup(step).signature(tap);
    let lines: Vec<u32> = signature.lines.iter().collect();
    let (from, to) = signature.x.unwrap();
    Seen::Said(Share::Each, vec![Statement::Lines(lines), Statement::Pixels(from, to)])
}

fn glanced<T: Tap + Clone>(experiment: &Experiment, step: u32, tap: &T) -> Seen {
    Seen::Said(Share::Each, Impression::of(&experiment.setup(step).signature(tap)).statements())
}

#[test]
fn ten_looks_at_a_mechanism_outside_the_library_are_explained_by_no_known_fault() {
    let bench = plain();
    let mut sightings = Sightings::new(Arc::clone(&bench), Observer::default());
    let experiment = Experiment::on(bench);
    for step in [0, 2, 5, 9] {
        sightings.add(&experiment, StepRange::one(step), measured(&experiment, step, &StolenFetch)).unwrap();
    }
    for step in [1, 3, 7, 16, 31, 32] {
        sightings.add(&experiment, StepRange::one(step), glanced(&experiment, step, &StolenFetch)).unwrap();
    }
    let diagnosis = diagnosed(&sightings);
    assert_eq!(diagnosis.conclusion, Conclusion::NoneOfThese, "{:?}", &diagnosis.suspects[..3]);
    assert!(diagnosis.check.probability() < ModelCheck::LEAST, "{:?}", diagnosis.check);
    assert!(suspect(&diagnosis, "none-of-these").probability > 0.5, "{:?}", &diagnosis.suspects[..3]);
    let nearest = &diagnosis.check.suspects[0];
    assert!(nearest.against.len() >= 3, "{nearest:?}");
    let says = diagnosis.sentence();
    assert!(says.contains("no known fault explains all that was seen") && says.contains(&nearest.name), "{says}");
    assert_eq!(diagnosis.check.pattern.lines, Some((6, None)), "{}", diagnosis.check.pattern);
    // All damage lies in the four bytes, and so pixels, of the stolen access.
    assert_eq!(diagnosis.check.pattern.pixels, Some((STOLEN, STOLEN + ACCESS - 1)), "{}", diagnosis.check.pattern);
}

/// The sync position in characters of 8 pixels, one off: the whole picture stands 8 pixels beside its place.
#[test]
fn a_picture_that_stands_8_pixels_beside_is_not_held_against_what_moved_it() {
    let bench = plain();
    let rounded = Family::built_in("sync-position-rounded").unwrap();
    let truth = bench.layers().under(vec![rounded.member(0).unwrap()]);
    let position = bench.adapter().field("sync_position").unwrap();
    let mut sightings = Sightings::new(Arc::clone(&bench), Observer::default());
    let base = Experiment::on(Arc::clone(&bench));
    let now = bench.adapter().get(bench.registers(), position);
    let moved: Vec<Experiment> = (now - 3..=now + 3).map(|value| base.clone().with(position, value)).collect();
    let mut beside = 0;
    for experiment in &moved {
        let step = experiment.own_step();
        let signature = experiment.setup(step).signature(&truth);
        let said = match signature.moved_to() {
            None => {
                assert!(signature.is_clean());
                vec![Statement::Clean]
            }
            Some((right, down)) => {
                assert_eq!((right.unsigned_abs(), down), (8, 0));
                beside += 1;
                vec![Statement::ShiftedBy(8)]
            }
        };
        sightings.add(experiment, StepRange::one(step), Seen::Said(Share::Each, said)).unwrap();
    }
    assert!(beside >= 2, "{beside}");
    let diagnosis = diagnosed(&sightings);
    let first = &diagnosis.suspects[0];
    assert_eq!(
        (first.name.as_str(), first.best.contradicts),
        ("sync-position-rounded", 0),
        "{:?}",
        &diagnosis.suspects[..3]
    );
    assert!(suspect(&diagnosis, "address-bit-stuck").probability < 0.05);
}

/// What is clicked in the window are examples, and not all there are.
#[test]
fn lines_that_are_truly_damaged_never_speak_against_the_fault_that_did_it() {
    let glance = |more: &str| {
        let text = format!(
            r#"(version: 1, bench: "harbour-256-plain", experiments: [(seen: [
                (at: 0, saw: "clean"), (at: 29, saw: "damaged on the right, every fourth line"),
                (at: 32, saw: "clean"), {more}])])"#
        );
        let sightings = Sightings::from_source(&Source::built_in("test", text), None).unwrap();
        let diagnosis = diagnosed(&sightings);
        let rows = suspect(&diagnosis, "row-reload");
        (rows.probability, rows.best.contradicts, diagnosis.suspects[0].best.cause != Cause::NoneOfThese)
    };
    // At step 1 the lines that are 3 mod 4 are damaged: these are three of fifty, two of them eight lines apart.
    let (without, ..) = glance("(at: 1, saw: \"edge-damaged\")");
    let (with, contradicts, known) = glance("(at: 1, saw: \"edge-damaged, for example lines 3 11 27\")");
    assert_eq!((contradicts, known), (0, true));
    assert!(with > 0.9 * without, "{without} {with}");
}

/// What was said of colours tells faults of colour apart: a board that lacks red shows no red.
#[test]
fn colours_name_the_component() {
    for (saw, first) in [("red missing", "red-dead"), ("too dark", "level-bits-missing")] {
        let text = format!(
            "(version: 1, bench: \"harbour-256\", experiments: [(seen: [(at: \"0..=8\", saw: \"wrong colours, {saw}\")])])"
        );
        let sightings = Sightings::from_source(&Source::built_in("test", text), None).unwrap();
        let diagnosis = diagnosed(&sightings);
        assert_eq!(diagnosis.suspects[0].name, first, "{saw}: {:?}", &diagnosis.suspects[..3]);
    }
}
