//! New families put together from what no known fault explains.

#[path = "trials/random.rs"]
mod random;

use std::sync::Arc;

use backporch_bench::{Bench, Overrides};
use backporch_diagnosis::{assess, learn};
use backporch_evidence::likelihood::same_by_eye;
use backporch_evidence::{Experiment, Impression, Observer, Seen, Share, Sightings, Statement, StepRange};
use backporch_input::Source;
use backporch_quirk::{Family, QuirkStack};

use random::Random;

/// Steps that are measured, those that are glanced at, and those that are not looked at but to be foretold.
const MEASURED: [u32; 4] = [0, 3, 6, 17];
const GLANCED: [u32; 6] = [1, 2, 9, 16, 31, 40];
const UNSEEN: [u32; 8] = [5, 12, 20, 27, 33, 50, 64, 100];

fn family(effect: &str) -> Family {
    let text = format!(
        "(version: 1, name: \"stranger\", title: \"t\", cause: \"c\", looks: \"l\", standing: Conjectured, prior: 1, \
         effects: [{effect}])"
    );
    Family::from_source(&Source::built_in("stranger", text)).unwrap()
}

/// A stranger made of a stage, lines, places, steps and an amount, each drawn at random; many are of blocks that the
/// learner does not have.
fn stranger(random: &mut Random) -> String {
    let pick = |random: &mut Random, items: &[&'static str]| random.one_of(items).unwrap_or("");
    let lines = match random.weighted(&[1.0, 1.0, 1.0, 1.0]) {
        0 => {
            let count = 2 + random.below(9);
            format!("Every(of: Line, count: {count}, phase: {})", random.below(count))
        }
        1 => format!("Every(of: Quotient(Line, {}), count: 3, phase: 1)", 2 + random.below(12)),
        2 => format!("Bits(of: Line, mask: {}, value: 4)", 4 + random.below(3)),
        _ => format!("Every(of: Quotient(FirstByte, {}), count: 3, phase: 2)", 32 << random.below(3)),
    };
    let from = random.below(250);
    let place = match random.weighted(&[1.0, 1.0, 1.0]) {
        0 => format!("Within(of: Byte, from: {from}, to: {})", from + 8 + random.below(60)),
        1 => format!("Within(of: Byte, from: {from}, to: 319)"),
        _ => "Always".to_string(),
    };
    let steps =
        pick(random, &["Always", "Within(of: Start, from: 3, to: 65535)", "Every(of: Start, count: 3, phase: 0)"]);
    let amount = pick(random, &["6", "-6", "12", "-20", "40", "320", "-320", "1280"]);
    format!("(when: All([{lines}, {place}, {steps}]), does: Address(Moved(bytes: {amount})))")
}

/// What is said of a frame by one who measures, or only glances.
fn looks(bench: &Arc<Bench>, truth: &QuirkStack) -> Sightings {
    let mut sightings = Sightings::new(Arc::clone(bench), Observer::default());
    let experiment = Experiment::on(Arc::clone(bench));
    for step in MEASURED {
        let signature = experiment.setup(step).signature(truth);
        let mut said = vec![Statement::Lines(signature.lines.iter().collect())];
        said.extend(signature.x.map(|(from, to)| Statement::Pixels(from, to)));
        said.extend(signature.moved.map(|moved| Statement::ShiftedBy(moved.unsigned_abs())));
        let said = if signature.is_clean() { vec![Statement::Clean] } else { said };
        sightings.add(&experiment, StepRange::one(step), Seen::Said(Share::Each, said)).unwrap();
    }
    for step in GLANCED {
        let said = Impression::of(&experiment.setup(step).signature(truth)).statements();
        sightings.add(&experiment, StepRange::one(step), Seen::Said(Share::Each, said)).unwrap();
    }
    sightings
}

/// Share of the steps that were not looked at which a fault foretells.
fn foretold(bench: &Arc<Bench>, truth: &QuirkStack, guess: &QuirkStack) -> f64 {
    let experiment = Experiment::on(Arc::clone(bench));
    let right = UNSEEN.iter().filter(|step| {
        let setup = experiment.setup(**step);
        same_by_eye(&setup.signature(truth), &setup.signature(guess))
    });
    right.count() as f64 / UNSEEN.len() as f64
}

/// Of twenty strangers, a proposed family reproduces all looks of most, and foretells what was not seen.
#[test]
fn strangers_are_learnt() {
    let bench = Arc::new(Bench::open("harbour-256-plain", &Overrides::default()).unwrap());
    let (mut reproduced, mut right, mut tried) = (0, 0.0, 0);
    let mut random = Random::new(7, 0);
    while tried < 20 {
        let effect = stranger(&mut random);
        let truth = QuirkStack::new(vec![family(&effect).member(0).unwrap()], 0);
        let sightings = looks(&bench, &truth);
        let experiment = Experiment::on(Arc::clone(&bench));
        if MEASURED.iter().filter(|step| !experiment.setup(**step).signature(&truth).is_clean()).count() < 2 {
            continue;
        }
        tried += 1;
        let guesses = learn(&sightings, bench.layers(), 3);
        let Some(best) = guesses.first() else {
            println!("nothing: {effect}");
            continue;
        };
        let tap = QuirkStack::new(vec![best.family.member(0).unwrap()], 0);
        assert_eq!(assess(&sightings, &tap).contradicts, best.contradicts);
        let foretold = foretold(&bench, &truth, &tap);
        println!("{} against, {foretold:.2} foretold, {:.0} bits: {effect}", best.contradicts, best.bits);
        reproduced += usize::from(best.contradicts == 0);
        right += foretold;
    }
    println!("{reproduced} of {tried} reproduced; {:.0} % of unseen steps foretold", right / f64::from(tried) * 100.0);
    assert!(reproduced >= 15, "{reproduced} of {tried}");
}

/// A guess is a file like any other.
#[test]
fn a_guess_is_a_family_that_can_be_read() {
    let bench = Arc::new(Bench::open("harbour-256-plain", &Overrides::default()).unwrap());
    let truth = family(
        "(when: All([Every(of: Line, count: 6, phase: 1), Within(of: Byte, from: 200, to: 203)]), does: Address(Moved(bytes: -4)))",
    );
    let truth = QuirkStack::new(vec![truth.member(0).unwrap()], 0);
    let guesses = learn(&looks(&bench, &truth), bench.layers(), 3);
    let best = &guesses[0];
    assert_eq!(best.contradicts, 0);
    let again = Family::from_source(&Source::built_in("again", best.text.clone())).unwrap();
    let again = QuirkStack::new(vec![again.member(0).unwrap()], 0);
    assert_eq!(foretold(&bench, &truth, &again), 1.0, "{}", best.text);
}
