//! True statements about a predicted frame never count against the fault that made it.

use std::sync::{Arc, LazyLock};

use backporch_analysis::{ComponentChange, Conditions, ExperimentSetup, FrameSignature, Nature, Verdict};
use backporch_bench::{Bench, Overrides};
use backporch_evidence::likelihood::{SightingFit, fit, grade};
use backporch_evidence::{MoveDirection, Primary, Seen, Share, Statement, Tinge};
use backporch_quirk::{Family, QuirkStack};
use proptest::prelude::*;

static BENCH: LazyLock<Arc<Bench>> =
    LazyLock::new(|| Arc::new(Bench::open("harbour-256-plain", &Overrides::default()).unwrap()));
static FAMILIES: LazyLock<Vec<Family>> = LazyLock::new(|| Family::all_built_in().collect());

/// What every phrase says by its definition, as far as it is true of the frame.
fn truths(frame: &FrameSignature) -> Vec<Statement> {
    let Some(nature) = frame.nature else {
        return vec![Statement::Clean];
    };
    let lines: Vec<u32> = frame.lines.iter().collect();
    let (height, width) = (frame.lines.height(), frame.width);
    let mut said = vec![Statement::Damaged];
    let mut say = |is_true: bool, statement: Statement| said.extend(is_true.then_some(statement));
    let share = frame.lines.share();
    say(frame.verdict() == Verdict::EdgeDamaged, Statement::EdgeDamaged);
    say(frame.verdict() == Verdict::Broken, Statement::Broken);
    say(nature == Nature::Displaced, Statement::Displaced);
    say(frame.short > 0, Statement::Narrower);
    say(nature == Nature::Colours || frame.is_recoloured(), Statement::WrongColours);
    for (primary, change) in Primary::ALL.into_iter().zip(frame.components) {
        use ComponentChange::{Less, Missing, More};
        say(change == Missing, Statement::Tinged(Tinge::Missing(primary)));
        say(matches!(change, Less | Missing), Statement::Tinged(Tinge::TooLittle(primary)));
        say(change == More, Statement::Tinged(Tinge::TooMuch(primary)));
    }
    let all = |wanted: &[ComponentChange]| frame.components.iter().all(|change| wanted.contains(change));
    say(all(&[ComponentChange::Less, ComponentChange::Missing]), Statement::Tinged(Tinge::TooDark));
    say(all(&[ComponentChange::More]), Statement::Tinged(Tinge::TooBright));
    say(frame.flickers, Statement::DiffersBetweenRuns);
    say(nature == Nature::NoPicture, Statement::NoPicture);
    say(frame.flickers, Statement::Flickers);
    say(share <= 0.1, Statement::FewLines);
    say(share > 0.0 && share < 1.0, Statement::SomeLines);
    say(share > 0.5, Statement::MostLines);
    say(share == 1.0, Statement::Every { period: 1, first: None });
    if let Some(pattern) = frame.lines.pattern() {
        say(true, Statement::Every { period: pattern.period, first: None });
        say(true, Statement::Every { period: pattern.period, first: Some(pattern.phase) });
    }
    say(!lines.is_empty(), Statement::Count(lines.len() as u32));
    say(!lines.is_empty(), Statement::Examples(lines.iter().copied().step_by(7).take(3).collect()));
    if let Some((first, last)) = frame.lines.ends() {
        say(first >= height.div_ceil(2), Statement::Bottom);
        say(last < height / 2, Statement::Top);
    }
    if let Some((from, to)) = frame.x {
        say(true, Statement::Pixels(from, to));
        say(from >= width.div_ceil(2), Statement::Right);
        say(to < width / 2, Statement::Left);
        say(from >= width - width / 10, Statement::RightEdge);
        say(to < width / 10, Statement::LeftEdge);
        say((to - from) * 10 >= width * 6, Statement::Across);
        let all = from == 0 && to + 1 == width && share == 1.0;
        say(all, Statement::AllOfIt);
    }
    let movement = frame.moved_to().filter(|_| nature != Nature::Colours);
    if let Some((right, down)) = movement {
        say(right > 0, Statement::Shifted(MoveDirection::Right, right.unsigned_abs()));
        say(right < 0, Statement::Shifted(MoveDirection::Left, right.unsigned_abs()));
        say(right != 0, Statement::ShiftedBy(right.unsigned_abs()));
        say(down > 0, Statement::Shifted(MoveDirection::Down, down.unsigned_abs()));
        say(down < 0, Statement::Shifted(MoveDirection::Up, down.unsigned_abs()));
        say(2 * right.unsigned_abs() == width && frame.pitch == width, Statement::ShiftedHalfLine);
    }
    said.push(Statement::Lines(lines));
    said
}

proptest! {
    #![proptest_config(ProptestConfig { cases: ProptestConfig::default().cases / 2, ..ProptestConfig::default() })]

    #[test]
    fn what_is_true_never_counts_against_the_fault(
        family in any::<prop::sample::Index>(), member in any::<prop::sample::Index>(),
        start in prop_oneof![0..64_u32, 0..3000_u32], displayed in prop_oneof![Just(39_u32), 20..40_u32],
        which in any::<[prop::sample::Index; 3]>(),
    ) {
        let family = family.get(&FAMILIES[..]);
        let tap = QuirkStack::new(vec![family.member(member.index(family.count() as usize) as u64).unwrap()], 0);
        let adapter = BENCH.adapter();
        let settings = [(adapter.start_address(), start), (adapter.field("displayed").unwrap(), displayed)];
        let setup = ExperimentSetup::new(Arc::clone(&BENCH), &settings, Conditions::default());
        let frame = setup.signature(&tap);
        let truths = truths(&frame);
        for said in &truths {
            let grade = grade(said, &frame);
            prop_assert!(grade >= SightingFit::EXPLAINS, "{said} of {}: {grade}, {frame:?}", family.name());
        }
        // Nor do several of them, said in one breath.
        let said = which.iter().map(|one| one.get(&truths).clone()).collect();
        let fit = fit(&Seen::Said(Share::Each, said), &[&frame], 1, 0.05);
        prop_assert!(fit.grade >= SightingFit::EXPLAINS);
    }
}
