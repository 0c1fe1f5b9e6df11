//! Figures of the diagnosis, printed: time, the same enumeration with NumPy, blind trials.
//!
//! `cargo bench -p backporch-diagnosis` runs all of it; the NumPy part is left
//! out where no Python with NumPy is found (`PYTHON` names another interpreter).

use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::time::{Duration, Instant};

use backporch_analysis::PredictionCache;
use backporch_bench::{Bench, Overrides};
use backporch_diagnosis::{
    Assessment, Cause, FaultFamilies, Prior, QuirkFamilies, diagnose, likelihoods, members, probes,
};
use backporch_evidence::{Seen, Sightings, Statement};
use backporch_input::Source;
use backporch_quirk::Family;
use serde_json::{Value, json};

#[path = "drawing/reliability.rs"]
mod reliability;
#[path = "../tests/trials/mod.rs"]
mod trials;

use trials::report::TrialReport;
use trials::{Trials, run};

fn main() {
    // Benchmarks are no tests: without cargo bench's own flag nothing is run.
    if !std::env::args().any(|argument| argument == "--bench") {
        return;
    }
    // Parts by name: `cargo bench -p backporch-diagnosis -- numpy`; all where none is named.
    let parts: [(&str, fn()); 3] = [("library", library), ("numpy", against_numpy), ("trials", blind_trials)];
    let named = |name: &str| std::env::args().any(|argument| argument == name);
    let any = parts.iter().any(|(name, _)| named(name));
    parts.iter().filter(|(name, _)| !any || named(name)).for_each(|(_, part)| part());
}

fn timed<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let began = Instant::now();
    let done = work();
    (done, began.elapsed())
}

fn on_threads<T: Send>(threads: usize, work: impl FnOnce() -> T + Send) -> T {
    match rayon::ThreadPoolBuilder::new().num_threads(threads).build() {
        Ok(pool) => pool.install(work),
        Err(_) => work(),
    }
}

/// The built-in sightings against the whole library.
fn library() {
    let only = std::env::var("SIGHTINGS").ok();
    for name in backporch_evidence::SIGHTINGS.names().filter(|name| only.as_deref().is_none_or(|only| only == *name)) {
        for threads in [1, 2] {
            let (first, assessed, chosen, predictions, members) = on_threads(threads, || {
                let Ok(sightings) = Sightings::open(name) else {
                    return (String::new(), Duration::ZERO, Duration::ZERO, 0, 0);
                };
                let faults = QuirkFamilies::library_and([], sightings.bench().layers());
                let cache = PredictionCache::default();
                let (diagnosis, assessed) = timed(|| diagnose(&sightings, &faults, &Prior::default(), &cache, &|_| {}));
                let (_, chosen) = timed(|| probes(&sightings, &faults, &diagnosis, 3, &cache, &|| {}));
                let first = diagnosis.suspects.first();
                let first = first.map_or(String::new(), |one| format!("{} {:.3}", one.name, one.probability));
                (first, assessed, chosen, diagnosis.predictions, members(&faults))
            });
            println!(
                "{name}, {threads} thread(s): {members} members, {predictions} frames predicted, {assessed:.2?}; probes {chosen:.2?}; first {first}"
            );
        }
    }
}

/// Address families that are easily written with whole arrays.
const FAMILIES: &[(&str, &str, &str)] = &[
    (
        "rows",
        "\"row_bytes\": Choice([16, 32, 64, 128, 256, 512, 1024, 2048, 4096]), \"reloads\": Range(from: 0, to: 4)",
        "(does: Address(RowReload(row_bytes: \"row_bytes\", reloads: \"reloads\")))",
    ),
    ("wrap", "\"bytes\": Range(from: 256, to: 65280, step: 256)", "(does: Address(Wrap(bytes: \"bytes\")))"),
    (
        "bit-low",
        "\"bits\": Choice([0x10, 0x20, 0x40, 0x80, 0x100, 0x200, 0x400, 0x800, 0x1000, 0x2000, 0x4000, 0x8000])",
        "(does: Address(BitsLow(bits: \"bits\")))",
    ),
    (
        "bits-swapped",
        "\"one\": Choice([4, 5, 6, 7]), \"other\": Choice([8, 9, 10, 11, 12, 13, 14, 15])",
        "(does: Address(BitsSwapped(one: \"one\", other: \"other\")))",
    ),
    ("pitch-rounded", "\"to\": Range(from: 2, to: 64)", "(does: Address(PitchRounded(to: \"to\")))"),
    ("pitch-off", "\"bytes\": Range(from: 1, to: 64)", "(does: Address(PitchOff(bytes: \"bytes\")))"),
    (
        "group-moved",
        "\"lines\": Range(from: 1, to: 32), \"bytes\": Choice([-8, -6, -4, -2, 2, 4, 6, 8])",
        "(when: Every(of: Quotient(Line, \"lines\"), count: 2, phase: 1), does: Address(Moved(bytes: \"bytes\")))",
    ),
];

/// Sightings of a sweep and some widths, in the words both sides know.
const SIGHTINGS: &str = r#"(version: 1, bench: "harbour-256-plain", experiments: [
    (seen: [
        (at: 0, saw: "clean"),
        (at: "1..=31", saw: "damaged on every fourth line"),
        (at: "1..=8", saw: "damaged on the right"),
        (at: 32, saw: "clean"),
        (at: "33..=63", saw: "damaged"),
    ]),
    (registers: {"displayed": 38}, seen: [(saw: "damaged on the right")]),
    (registers: {"displayed": 35}, seen: [(saw: "clean")]),
    (registers: {"displayed": 34}, seen: [(saw: "damaged, few lines")]),
    (registers: {"displayed": 31}, seen: [(at: "0..=255/5", saw: "clean")]),
])"#;

fn against_numpy() {
    let families = FAMILIES.iter().map(|(name, parameters, effect)| {
        let text = format!(
            "(version: 1, name: \"{name}\", title: \"t\", cause: \"c\", looks: \"l\", standing: Conjectured, prior: 1, \
             parameters: {{{parameters}}}, effects: [{effect}])"
        );
        Family::from_source(&Source::built_in(*name, text))
    });
    let families: Vec<Family> = match families.collect() {
        Ok(families) => families,
        Err(error) => return println!("{error}"),
    };
    let sightings = match Sightings::from_source(&Source::built_in("benchmark", SIGHTINGS), None) {
        Ok(sightings) => sightings,
        Err(error) => return println!("{error}"),
    };
    let faults = QuirkFamilies::new(families, sightings.bench().layers());
    let (one, alone) = on_threads(1, || timed(|| likelihoods(&sightings, &faults)));
    let (two, both) = on_threads(2, || timed(|| likelihoods(&sightings, &faults)));
    let frames: u64 = one.iter().map(|(_, assessed)| assessed.predictions).sum();
    let rate = |time: Duration| frames as f64 / time.as_secs_f64();
    println!(
        "{} members, {frames} frames: {alone:.2?} on one thread ({:.0} frames/s), {both:.2?} on two ({:.0} frames/s)",
        one.len(),
        rate(alone),
        rate(both)
    );
    println!("one thread and two agree: {}", one == two);
    match numpy(&task(&sightings, &faults, &one)) {
        Some((seconds, logs)) => compare_with_numpy(&one, &logs, seconds, alone, both),
        None => println!("no Python with NumPy here: the comparison is left out"),
    }
}

fn task(sightings: &Sightings, faults: &QuirkFamilies, assessed: &[(Cause, Assessment)]) -> Value {
    let members = assessed.iter().filter_map(|(cause, _)| match cause {
        Cause::Fault { family, member } => {
            let values = faults.member(*family, *member)?.parameters;
            Some(json!({"kind": faults.families()[*family].name, "values": values}))
        }
        _ => None,
    });
    let setups = sightings.setups().iter().map(|setup| {
        let adapter = setup.adapter();
        json!({"start": adapter.get(setup.registers(), adapter.start_address()), "bytes": setup.line_bytes()})
    });
    let listed = sightings.sightings().iter().map(|sighting| {
        let words: Vec<Value> = match &sighting.seen {
            Seen::Said(_, statements) => statements.iter().map(word).collect(),
            _ => Vec::new(),
        };
        json!({"setups": sighting.setups, "count": sighting.count, "words": words})
    });
    json!({
        "errors": sightings.observer().errors(),
        "members": members.collect::<Vec<_>>(),
        "setups": setups.collect::<Vec<_>>(),
        "sightings": listed.collect::<Vec<_>>(),
    })
}

fn word(statement: &Statement) -> Value {
    match statement {
        Statement::Clean => json!(["clean"]),
        Statement::Damaged => json!(["damaged"]),
        Statement::Every { period, .. } => json!(["every", period]),
        Statement::Right => json!(["right"]),
        Statement::FewLines => json!(["few"]),
        other => json!([other.to_string()]),
    }
}

/// Seconds and log-likelihoods of the script.
fn numpy(task: &Value) -> Option<(f64, Vec<f64>)> {
    let python = std::env::var("PYTHON").unwrap_or_else(|_| "python3".to_string());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/diagnose.py");
    let file = std::env::temp_dir().join(format!("backporch-diagnose-{}.json", std::process::id()));
    std::fs::write(&file, task.to_string()).ok()?;
    let output = Command::new(python).arg(script).arg(&file).output().ok();
    let _ = std::fs::remove_file(&file);
    let answer: Value = serde_json::from_slice(&output?.stdout).ok()?;
    let logs = answer["logs"].as_array()?.iter().filter_map(Value::as_f64).collect();
    Some((answer["seconds"].as_f64()?, logs))
}

fn compare_with_numpy(assessed: &[(Cause, Assessment)], logs: &[f64], seconds: f64, alone: Duration, both: Duration) {
    println!(
        "NumPy: {seconds:.2} s; {:.0} times as long as one thread, {:.0} as two",
        seconds / alone.as_secs_f64(),
        seconds / both.as_secs_f64()
    );
    let furthest = assessed.iter().zip(logs).map(|((_, assessed), log)| (assessed.log - log).abs()).fold(0.0, f64::max);
    let ranking = |log: &dyn Fn(usize) -> f64| {
        let mut order: Vec<usize> = (0..assessed.len()).collect();
        // To nine digits, so that sums in another order rank alike.
        order.sort_by(|one, other| {
            let rounded = |at: usize| (log(at) * 1e9).round();
            rounded(*other).total_cmp(&rounded(*one)).then(one.cmp(other))
        });
        order
    };
    let same = logs.len() == assessed.len() && ranking(&|at| assessed[at].1.log) == ranking(&|at| logs[at]);
    println!("same ranking: {same}; log-likelihoods differ by at most {furthest:.1e}");
}

/// Blind trials with everything at its usual value; `SEED` chooses one, `MISSES` lists what was missed, and `DIAGRAM` names a
/// file for what was stated against what came true.
fn blind_trials() {
    let Ok(bench) = Bench::open("harbour-256-plain", &Overrides::default()) else {
        return;
    };
    let bench = Arc::new(bench);
    let faults = QuirkFamilies::library_and([], bench.layers());
    let only = std::env::var("SEED").ok().and_then(|seed| seed.parse::<u64>().ok());
    let seeds = only.map_or(71..=74, |seed| seed..=seed);
    let mut all = Vec::new();
    for seed in seeds {
        let trials = Trials { seed, inside: 500, outside: 300, ..Trials::default() };
        let (report, took) = timed(|| run(&bench, &faults, &trials, &|| {}));
        if std::env::var_os("MISSES").is_some() {
            for trial in report.trials.iter().filter(|trial| !trial.hit()) {
                let (stated, probes) = (trial.last().probability, trial.probes());
                println!("{stated:.3} {probes} probes {}, was {}", trial.named, trial.truth);
            }
        }
        println!("blind trials, seed {seed} ({took:.1?}):\n{report}");
        all.extend(report.trials);
    }
    if let Some(path) = std::env::var_os("DIAGRAM") {
        let drawn = reliability::diagram(&TrialReport { trials: all }.calibration_on_the_way());
        if let Err(error) = std::fs::write(&path, drawn) {
            println!("{}: {error}", path.display());
        }
    }
}
