//! Blind trials through sessions only: a fault of the library is drawn and put on the board; a person who knows nothing
//! of it runs a session, types what the screen shows, and hands the file back; the diagnosis asks for more, which
//! further sessions answer until it is sure.

mod session_machine;

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

use backporch_analysis::{FrameSignature, PredictionCache, WhichFrame};
use backporch_bench::{Bench, Overrides};
use backporch_diagnosis::{Cause, Diagnosis, FaultFamilies, Prior, QuirkFamilies, diagnose, probes};
use backporch_emit::SessionProgram;
use backporch_evidence::likelihood::{grade_of_all, same_by_eye};
use backporch_evidence::{Answers, Experiment, Observer, Seen, SessionLook, Sighting, Sightings, TestSession};
use backporch_input::{InputError, Source};
use backporch_quirk::QuirkStack;
use session_machine::{Person, machine};

/// Faults drawn by the ordinary tests; `BACKPORCH_ROUNDS` says how many else.
const USUAL: u64 = 1;
/// Seed of the draws; `BACKPORCH_SEED` says another.
const SEED: u64 = 20;
/// Probes followed by each further session.
const PROBES: usize = 3;
/// Trials that run beside one another: a diagnosis uses all processors, the machine one.
const THREADS: usize = 2;
/// Further sessions, at most.
const FURTHER: usize = 3;
/// Probability of the first suspect, and of what cannot be distinguished from it, from which on no further questions are asked.
const SURE: f64 = 0.95;

/// Numbers drawn at random: the splitmix64 generator (Steele, Lea and Flood, *Fast Splittable Pseudorandom Number
/// Generators*, 2014).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ self.0 >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ z >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ z >> 31
    }

    fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// The looks of the first session: start addresses, and two narrower lines.
fn first_looks(bench: &Arc<Bench>) -> Vec<SessionLook> {
    let own = Experiment::on(Arc::clone(bench));
    let displayed = bench.adapter().field("displayed").unwrap();
    let at = |experiment: &Experiment, step: u32| SessionLook { experiment: experiment.clone(), step };
    let mut looks: Vec<SessionLook> = [0, 1, 2, 4, 17, 32].map(|step| at(&own, step)).into();
    looks.extend([0, 1].map(|step| at(&own.clone().with(displayed, 35), step)));
    looks.extend([0, 5].map(|step| at(&own.clone().with(displayed, 31), step)));
    looks
}

/// Runs a session on a board with a fault, and adds what its file says.
fn session(session: &TestSession, tap: QuirkStack, folder: &Path, sightings: &mut Sightings) {
    let bench = Arc::clone(session.bench());
    let program = SessionProgram::new(session, "TRIAL").unwrap();
    if let Some(data) = &program.data {
        std::fs::write(folder.join("TRIAL.DAT"), data).unwrap();
    }
    let mut person = Person::new(machine(&bench, tap, &program, Some(folder)));
    person.press_all(&["space", "space"]);
    person.press("space");
    for (at, look) in session.looks().iter().enumerate() {
        person.answers(look);
        // A look whose setting is another one is announced before.
        if person.press_and_read("enter") && at + 1 < session.looks().len() {
            person.press("space");
        }
    }
    person.press("enter");
    person.runs_to_its_end();
    let path = folder.join("ANSWERS.TXT");
    let source = Source::read(&path).unwrap();
    let none = |mode: &str| Err(InputError::new("mode", mode, "the bench's own"));
    let answers =
        Answers::from_source(&source, &bench, &none).unwrap_or_else(|error| panic!("{error}\n{}", source.text()));
    answers.add_to(sightings).unwrap_or_else(|error| panic!("{error}\n{}", source.text()));
    std::fs::remove_file(path).unwrap();
}

/// Whether the likeliest suspect, with what nothing seen tells from it, is as good as found.
fn is_sure(diagnosis: &Diagnosis) -> bool {
    let Some(first) = diagnosis.members.first() else { return false };
    let alike = diagnosis.members.iter().filter(|member| member.evidence_class == first.evidence_class);
    alike.map(|member| member.probability).sum::<f64>() >= SURE
}

/// What of the sightings a board with the fault that was put in would not have shown.
fn contradictions(sightings: &Sightings, tap: &QuirkStack) -> Vec<String> {
    let setups = sightings.setups();
    let of = |one: &Sighting| {
        let signatures: Vec<_> = one.setups.iter().map(|at| setups[*at].signature(tap)).collect();
        let seen: Vec<&FrameSignature> = signatures.iter().collect();
        let statements = match &one.seen {
            Seen::Said(_, statements) => statements.as_slice(),
            _ => &[],
        };
        let grades =
            statements.iter().map(|statement| (statement, grade_of_all(std::slice::from_ref(statement), seen[0])));
        let untrue: Vec<String> = grades
            .filter(|(_, grade)| *grade < 0.5)
            .map(|(statement, grade)| format!("{statement:?} {grade:.2}"))
            .collect();
        (!untrue.is_empty()).then(|| format!("{}: {}", sightings.place(one), untrue.join(", ")))
    };
    sightings.sightings().iter().filter_map(of).collect()
}

/// Who tries, and with what.
struct Trials {
    bench: Arc<Bench>,
    faults: QuirkFamilies,
    weights: Vec<f64>,
    seed: u64,
}

impl Trials {
    /// A fault drawn at random that does something at the looks of a session which the class does not: only that has anybody
    /// look for it.
    fn drawn(&self, round: u64, asked: &TestSession) -> (usize, u64, QuirkStack) {
        let mut random = Random(self.seed ^ round.wrapping_mul(0xD1B5_4A32_D192_ED03));
        loop {
            let mut left = random.unit() * self.weights.iter().sum::<f64>();
            let family = self.weights.iter().position(|weight| {
                left -= weight;
                left < 0.0
            });
            let family = family.unwrap_or(0);
            let member = random.next() % self.faults.families()[family].count.max(1);
            let Some(found) = self.faults.member(family, member) else { continue };
            let shows = asked.looks().iter().any(|look| {
                let setup = look.experiment.setup(look.step);
                !same_by_eye(&setup.signature(&found.tap), setup.by_design())
            });
            if shows {
                return (family, member, found.tap);
            }
        }
    }

    /// One fault, looked for; what was said of it where it was missed.
    fn missed(&self, round: u64) -> Option<String> {
        let (bench, faults) = (&self.bench, &self.faults);
        let asked = TestSession::new("blind", bench, first_looks(bench));
        let (family, member, tap) = self.drawn(round, &asked);
        let truth = Cause::Fault { family, member };
        let folder = tempfile::tempdir().unwrap();
        let mut sightings = Sightings::new(Arc::clone(bench), Observer::default());
        session(&asked, tap.clone(), folder.path(), &mut sightings);
        let cache = PredictionCache::default();
        let mut diagnosis = diagnose(&sightings, faults, &Prior::default(), &cache, &|_| {});
        for _ in 0..FURTHER {
            if is_sure(&diagnosis) {
                break;
            }
            let next = probes(&sightings, faults, &diagnosis, PROBES, &cache, &|| {});
            let at_rest = next.iter().filter(|probe| probe.candidate.experiment.conditions.look == WhichFrame::Settled);
            let looks: Vec<SessionLook> = at_rest
                .map(|probe| SessionLook { experiment: probe.candidate.experiment.clone(), step: probe.candidate.step })
                .collect();
            if looks.is_empty() {
                break;
            }
            session(&TestSession::new("probes", bench, looks), tap.clone(), folder.path(), &mut sightings);
            diagnosis = diagnose(&sightings, faults, &Prior::default(), &cache, &|_| {});
        }
        let named = diagnosis.suspects.first().map_or(Cause::NoneOfThese, |first| first.best.cause);
        let alike = match named {
            Cause::Fault { family, member } => faults.member(family, member).is_some_and(|named| {
                sightings.setups().iter().all(|setup| same_by_eye(&setup.signature(&named.tap), &setup.signature(&tap)))
            }),
            _ => false,
        };
        // Some that differ to the eye cannot be told apart by what was marked: the diagnosis says so itself.
        let class = |cause: Cause| {
            let member = diagnosis.members.iter().find(|member| member.cause == cause);
            member.and_then(|member| member.evidence_class)
        };
        let by_evidence = class(named).is_some() && class(named) == class(truth);
        if named == truth || alike || by_evidence {
            return None;
        }
        let seen = sightings.sightings().iter().map(|one| format!("{}: {}", sightings.place(one), one.seen));
        let untrue = contradictions(&sightings, &tap).into_iter().map(|one| format!("not of what was put in: {one}"));
        let true_one = diagnosis.members.iter().filter(|member| member.cause == truth);
        let likely = diagnosis.members.iter().take(4).chain(true_one).map(|member| {
            let (class, name) = (member.evidence_class.unwrap_or_default(), member.cause.full_name(faults));
            format!("{:.3} class {class} {name}", member.probability)
        });
        let all: Vec<String> = seen.chain(untrue).chain(likely).collect();
        Some(format!("round {round}, {}: {}\n  {}", truth.full_name(faults), named.full_name(faults), all.join("\n  ")))
    }
}

#[test]
fn sessions_name_the_fault_that_was_put_in() {
    let number = |name: &str| std::env::var(name).ok().and_then(|number| number.parse().ok());
    let (rounds, seed) = (number("BACKPORCH_ROUNDS").unwrap_or(USUAL), number("BACKPORCH_SEED").unwrap_or(SEED));
    let only = number("BACKPORCH_ROUND");
    let bench = Arc::new(Bench::open("harbour-256", &Overrides { no_quirks: true, ..Overrides::default() }).unwrap());
    let faults = QuirkFamilies::library_and(Vec::new(), bench.layers());
    let weights: Vec<f64> = faults.families().iter().map(|family| family.weight).collect();
    let trials = Trials { bench, faults, weights, seed };
    let all: Vec<u64> = only.map_or_else(|| (0..rounds).collect(), |round| vec![round]);
    let next = AtomicUsize::new(0);
    let missed = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..THREADS {
            scope.spawn(|| {
                while let Some(round) = all.get(next.fetch_add(1, Ordering::Relaxed)) {
                    if let Some(words) = trials.missed(*round) {
                        println!("{words}");
                        missed.lock().unwrap().push(words);
                    }
                }
            });
        }
    });
    let missed = missed.into_inner().unwrap();
    let (rounds, hits) = (all.len(), all.len() - missed.len());
    println!("{hits} of {rounds} right or not to be told apart");
    // The aim is nine in ten; of fifty 49 are named (docs/at-the-machine.md).
    assert!(hits * 10 >= rounds * 7, "{hits} of {rounds}:\n{}", missed.join("\n"));
}
