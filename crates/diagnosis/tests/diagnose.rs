//! Diagnosis end to end: sightings in words to suspects and probes.

use std::sync::Arc;

use backporch_analysis::PredictionCache;
use backporch_bench::{Bench, Overrides};
use backporch_diagnosis::{Cause, Change, Conclusion, Diagnosis, Prior, Probe, QuirkFamilies, diagnose, probes};
use backporch_evidence::{Note, Sightings};
use backporch_input::Source;
use backporch_quirk::Family;

mod trials;

use trials::{Trials, run};

fn read(experiments: &str) -> Sightings {
    let text = format!("(version: 1, bench: \"harbour-256-plain\", experiments: [{experiments}])");
    Sightings::from_source(&Source::built_in("test", text), None).unwrap()
}

fn refused(experiments: &str) -> String {
    let text = format!("(version: 1, bench: \"harbour-256-plain\", experiments: [{experiments}])");
    Sightings::from_source(&Source::built_in("test", text), None).unwrap_err().to_string()
}

fn diagnosed(sightings: &Sightings) -> Diagnosis {
    diagnose(
        sightings,
        &QuirkFamilies::library_and([], sightings.bench().layers()),
        &Prior::default(),
        &PredictionCache::default(),
        &|_| {},
    )
}

fn best_probes(sightings: &Sightings, diagnosis: &Diagnosis) -> Vec<Probe> {
    probes(
        sightings,
        &QuirkFamilies::library_and([], sightings.bench().layers()),
        diagnosis,
        3,
        &PredictionCache::default(),
        &|| {},
    )
}

/// The sweep at 320 pixels, as vague as it is reported: every fourth line, from the
/// right-hand end first, the first frame of each period of 32 clean; boards of
/// another class run it clean (a fault seen on real boards of the class; common practice).
const SWEEP: &str = r#"
    (seen: [
        (at: 0, saw: "clean"),
        (at: "1..=31", saw: "damaged on every fourth line"),
        (at: "1..=8", saw: "damaged on the right"),
        (at: 32, saw: "clean"),
        (at: "0..=96", saw: "repeats every 32 steps"),
    ]),
    (board: "colour-graphics", seen: [(at: "0..=20", saw: "clean")]),
"#;

/// The picture laid out again at narrower widths: some are damaged even at start
/// address 0, others are not, and at 256 pixels every start address is clean.
const WIDTHS: &str = r#"
    (registers: {"displayed": 38}, seen: [(saw: "damaged on the right")]),
    (registers: {"displayed": 37}, seen: [(saw: "damaged on the right")]),
    (registers: {"displayed": 36}, seen: [(saw: "damaged")]),
    (registers: {"displayed": 35}, seen: [(saw: "clean")]),
    (registers: {"displayed": 34}, seen: [(saw: "damaged, few lines")]),
    (registers: {"displayed": 33}, seen: [(saw: "clean")]),
    (registers: {"displayed": 31}, seen: [(at: "0..=255", saw: "clean")]),
"#;

/// Whether a suspect is memory rows of 256 bytes reloaded once a line.
fn is_rows(diagnosis: &Diagnosis, at: usize) -> bool {
    let suspect = &diagnosis.suspects[at];
    let parameters = [("reloads".to_string(), 1), ("row_bytes".to_string(), 256)];
    suspect.name == "row-reload" && suspect.parameters == parameters.into()
}

#[test]
fn the_sweep_alone_puts_rows_of_256_bytes_near_the_top_and_asks_for_another_width() {
    let sightings = read(SWEEP);
    let diagnosis = diagnosed(&sightings);
    assert!((0..3).any(|at| is_rows(&diagnosis, at)), "{:?}", &diagnosis.suspects[..3]);
    let probes = best_probes(&sightings, &diagnosis);
    assert_eq!(probes[0].candidate.change, Change::Width, "{:?}", probes[0].candidate.registers());
    assert!(probes[0].bits > 0.3, "{} bits", probes[0].bits);
    let shares: f64 = probes[0].predictions.iter().map(|one| one.probability).sum();
    assert!((0.9..=1.0 + 1e-9).contains(&shares), "{shares}");
}

#[test]
fn narrower_widths_make_it_lead_clearly() {
    let diagnosis = diagnosed(&read(&format!("{SWEEP}{WIDTHS}")));
    assert!(is_rows(&diagnosis, 0), "{:?}", &diagnosis.suspects[..3]);
    assert!(diagnosis.suspects[0].probability > 0.9, "{}", diagnosis.suspects[0].probability);
    assert_eq!(diagnosis.conclusion, Conclusion::Fault);
    assert_eq!(diagnosis.suspects[0].best.contradicts, 0);
}

#[test]
fn nothing_seen_is_no_evidence() {
    for experiments in
        ["", "(seen: [])", "(seen: [(at: \"0..64\", saw: \"could not tell\"), (at: 3, saw: \"not looked at\")])"]
    {
        let diagnosis = diagnosed(&read(experiments));
        assert_eq!(diagnosis.conclusion, Conclusion::NothingSeen, "{experiments}");
        assert_eq!(diagnosis.notes, [Note::NothingSeen]);
        let sum: f64 = diagnosis.suspects.iter().map(|suspect| suspect.probability).sum();
        assert!((sum - 1.0).abs() < 1e-9, "{sum}");
    }
}

#[test]
fn contradictions_count_on_neither_side() {
    let both = "(seen: [(at: 5, saw: \"clean\"), (at: 5, saw: \"damaged on every fourth line\")])";
    let diagnosis = diagnosed(&read(both));
    assert_eq!(diagnosis.conclusion, Conclusion::NothingSeen);
    assert!(matches!(diagnosis.notes[0], Note::Contradiction { sightings: (0, 1), .. }), "{:?}", diagnosis.notes);
    let said = diagnosis.notes[0].to_string();
    assert!(said.contains("start_address 5: clean / damaged, every fourth line"), "{said}");
}

#[test]
fn what_is_said_twice_counts_once() {
    let once = diagnosed(&read("(seen: [(at: 5, saw: \"damaged on every fourth line\")])"));
    let twice = diagnosed(&read(
        "(seen: [(at: 5, saw: \"damaged on every fourth line\"), (at: 5, saw: \"damaged, every fourth line\")])",
    ));
    assert_eq!(once.suspects, twice.suspects);
    assert!(matches!(twice.notes[0], Note::Twice { sighting: 1, .. }));
}

#[test]
fn what_cannot_be_is_refused_where_it_stands() {
    for (experiments, message) in [
        ("(seen: [(at: 70000, saw: \"clean\")])", "experiments.0.seen.0.at: found 70000, allowed 0..=65535"),
        (
            "(seen: [(at: 1, saw: \"lines 3 200\")])",
            "experiments.0.seen.0.saw: found lines 3 200, allowed lines 0..=199",
        ),
        ("(seen: [(at: 1, saw: \"pixels 318 to 320\")])", "saw: found pixels 318 to 320, allowed pixels 0 to 319"),
        ("(seen: [(at: 1, saw: \"clean and broken\")])", "saw: found clean and broken, allowed one of them"),
        ("(seen: [(at: 1, saw: \"wobbly\")])", "experiments.0.seen.0.saw: found wobbly, allowed clean, damaged,"),
        ("(seen: [(at: \"0..8\", saw: \"clean again at step 9\")])", "found 9, allowed one of the steps 0 to 7"),
        ("(registers: {\"displayd\": 3}, seen: [])", "experiments.0.registers.displayd: found displayd, allowed"),
        (
            "(registers: {\"displayed\": 999}, seen: [])",
            "experiments.0.registers.displayed: found 999, allowed 0..=255",
        ),
        ("(board: \"none\", seen: [])", "experiments.0.board: found none, allowed"),
        ("(colour: 3, seen: [])", "experiments.0.colour: found an unknown field, allowed title, board"),
    ] {
        let found = refused(experiments);
        assert!(found.contains(message), "{found}\nwanted {message}");
    }
    let wrong =
        Source::built_in("t", "(version: 1, bench: \"harbour-256-plain\", observer_errors: 0.9, experiments: [])");
    let error = Sightings::from_source(&wrong, None).unwrap_err().to_string();
    assert!(error.contains("observer_errors: found 0.9, allowed 0.001 to 0.5"), "{error}");
}

#[test]
fn a_clean_sweep_is_a_healthy_board_or_a_fault_that_does_not_show() {
    let sightings = read("(seen: [(at: \"0..8\", saw: \"clean\")])");
    let diagnosis = diagnosed(&sightings);
    assert!(!matches!(diagnosis.conclusion, Conclusion::Fault | Conclusion::NoneOfThese), "{:?}", diagnosis.conclusion);
    let group = diagnosis.indistinguishable.first().unwrap();
    assert!(group.iter().any(|name| name == "healthy-board"), "{group:?}");
}

/// Damage only while the user's routine runs, and a clean picture at rest: that is the routine's doing.
#[test]
fn damage_that_is_only_seen_while_the_routine_runs_is_put_down_to_it() {
    let diagnosis = diagnosed(&read(
        r#"(seen: [(at: "0..8", saw: "clean")]),
           (look: Moving, moment: Routine, seen: [(at: "1..=8", saw: "damaged on the left"), (at: 256, saw: "broken")]),
           (look: Moving, moment: ActiveArea, seen: [(at: "1..=8", saw: "clean"), (at: 256, saw: "clean")])"#,
    ));
    assert_eq!(diagnosis.suspects[0].best.cause, Cause::Routine, "{:?}", &diagnosis.suspects[..3]);
}

/// Some families in the ordinary run, all of them in the long one.
fn some_families(sightings: &Sightings) -> QuirkFamilies {
    let every = if rounds() > 1 { 1 } else { 6 };
    QuirkFamilies::new(Family::all_built_in().step_by(every), sightings.bench().layers())
}

/// Rounds of the long run (`tests/run --long`), 1 in the ordinary one.
fn rounds() -> u64 {
    std::env::var("BACKPORCH_ROUNDS").ok().and_then(|rounds| rounds.parse().ok()).unwrap_or(1)
}

#[test]
fn the_answer_is_the_same_on_any_number_of_threads() {
    let sightings = read(SWEEP);
    let faults = some_families(&sightings);
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let cache = PredictionCache::default();
            let diagnosis = diagnose(&sightings, &faults, &Prior::default(), &cache, &|_| {});
            let probes = probes(&sightings, &faults, &diagnosis, 3, &cache, &|| {});
            let probes: Vec<_> = probes.iter().map(|probe| (probe.bits, &probe.predictions)).collect();
            format!("{diagnosis:?} {probes:?}")
        })
    };
    let one = on(1);
    assert_eq!(one, on(2));
    assert_eq!(one, on(5));
}

/// The measured rates stand in the guide; here only floors that no honest change should fall through.
#[test]
fn blind_trials_find_most_faults() {
    let bench = Arc::new(Bench::open("harbour-256-plain", &Overrides::default()).unwrap());
    let seed = std::env::var("BACKPORCH_SEED").ok().and_then(|seed| seed.parse().ok()).unwrap_or(1);
    let trials = match rounds() {
        1 => Trials { inside: 10, outside: 4, steps: 12, seed, ..Trials::default() },
        _ => Trials { seed, ..Trials::default() },
    };
    let report = run(&bench, &QuirkFamilies::library_and([], bench.layers()), &trials, &|| {});
    println!("seed {seed}:\n{report}");
    assert!(report.hits() >= 0.7, "{report}");
    assert!(report.outside_misnamed() <= 0.5, "{report}");
}

/// What is known of real boards of the class, reported as by eye. Every such board does this by design: one more row
/// transfer a line, which loads the row of the line's end (reverse-engineered schematic of display controller gate
/// array 72X8300).
#[test]
fn what_the_class_does_by_design_is_named_and_no_other_board_is_asked_for() {
    let sightings = Sightings::open("harbour-as-built").unwrap();
    let diagnosis = diagnosed(&sightings);
    assert_eq!(diagnosis.conclusion, Conclusion::ByDesign, "{:?}", &diagnosis.suspects[..3]);
    let first = &diagnosis.suspects[0];
    assert_eq!((first.best.cause, first.name.as_str(), first.best.contradicts), (Cause::ByDesign, "by-design", 0));
    // What is left are mostly faults that would not show in any of these frames: there is no need of them.
    assert!(first.probability > 0.9, "{}", first.probability);
    let says = diagnosis.sentence();
    assert!(says.contains("by design of the class") && says.contains("row-transfer"), "{says}");
    assert!(says.contains("reverse-engineered schematic of display controller gate array 72X8300"), "{says}");
    let probes = best_probes(&sightings, &diagnosis);
    assert!(probes.iter().all(|probe| probe.candidate.change != Change::Board));
}

/// A fault that looks alike on an ideal board loses against the design once another specimen is seen to do the same.
#[test]
fn another_specimen_that_does_the_same_speaks_for_the_design() {
    let of = |more: &str| {
        let text =
            format!("(version: 1, bench: \"harbour-256\", experiments: [(seen: [(at: 1, saw: \"damaged\")]){more}])");
        let sightings = Sightings::from_source(&Source::built_in("test", text), None).unwrap();
        let families = ["row-reload", "row-transfer", "carry-broken"].map(|name| Family::built_in(name).unwrap());
        let faults = QuirkFamilies::new(families, sightings.bench().layers());
        let diagnosis = diagnose(&sightings, &faults, &Prior::default(), &PredictionCache::default(), &|_| {});
        let design = diagnosis.suspects.iter().find(|suspect| suspect.best.cause == Cause::ByDesign).unwrap();
        design.probability
    };
    let alone = of("");
    let both = of(", (specimen: Another, seen: [(at: \"1..=31\", saw: \"does the same\")])");
    assert!(both > alone, "{alone} {both}");
}

#[test]
fn the_same_is_said_of_another_specimen_of_the_class_alone() {
    let found = refused("(seen: [(at: 1, saw: \"does the same\")])");
    assert!(found.contains("found does the same, allowed that only of another specimen of the same class"), "{found}");
    let found = refused("(board: \"vga\", seen: [(at: 1, saw: \"does the same\")])");
    assert!(found.contains("found vga, allowed linear-256-plain"), "{found}");
}
