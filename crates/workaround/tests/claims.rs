//! Random faults of the library: no claim of the search fails when it is
//! rendered, and trying everything finds nothing better.

use std::collections::BTreeSet;
use std::sync::{Arc, LazyLock};

use backporch_adapter::{Registers, Role};
use backporch_analysis::{Damage, Verdict};
use backporch_bench::{Bench, Overrides};
use backporch_quirk::{Family, QuirkStack};
use backporch_raster::stepper::Stepper;
use backporch_raster::{Drive, Intercept, LineDependencies, LineReuse, Plain, Stages, View};
use backporch_workaround::{
    Candidate, FRAMES_LOOKED_AT, MAY_CHANGE, Origin, Requirements, SuspectedFault, jitters, rendered, search,
};
use proptest::prelude::*;

/// A fault of the library: any family, any member.
fn fault(family: usize, member: u64, seed: u64) -> QuirkStack {
    let families: Vec<Family> = Family::all_built_in().collect();
    let family = &families[family % families.len()];
    QuirkStack::new(vec![family.member(member % family.count()).unwrap()], seed)
}

fn name_of(stack: &QuirkStack) -> String {
    format!("{:?}", stack.quirks().iter().map(|quirk| (quirk.name(), quirk.parameters())).collect::<Vec<_>>())
}

static BENCHES: LazyLock<[Bench; 2]> =
    LazyLock::new(|| ["harbour-256-plain", "harbour-cg"].map(|name| Bench::open(name, &Overrides::default()).unwrap()));

fn bench(which: usize) -> &'static Bench {
    &BENCHES[which % 2]
}

/// Whether a start address is clean on boards that were just switched on with
/// these registers, in every frame in which the fault may differ. A picture that
/// jitters is clean only until it does.
fn is_clean(bench: &Bench, registers: &Registers, stack: &QuirkStack, start: u32) -> bool {
    if jitters(stack) {
        return false;
    }
    let adapter = bench.adapter();
    let mut registers = registers.clone();
    adapter.set(&mut registers, adapter.start_address(), u64::from(start)).unwrap();
    let (mut healthy, mut faulty) = (bench.plain(&registers), bench.under(&registers, stack.clone()));
    (0..frames(stack)).all(|_| {
        let (right, wrong) = (healthy.run_frame(), faulty.run_frame());
        // Lines that are shown once more count too, so the whole raster is looked at.
        right.picture(View::Raster) == wrong.picture(View::Raster)
            && right.spans == wrong.spans
            && Damage::between(&right, &wrong).verdict() == Verdict::Clean
    })
}

/// The same for the first frame, by the plain stepper: every character clock of both boards, pixel by pixel.
fn is_clean_stepped(bench: &Bench, registers: &Registers, stack: &QuirkStack, start: u32) -> bool {
    let adapter = bench.adapter();
    let mut registers = registers.clone();
    adapter.set(&mut registers, adapter.start_address(), u64::from(start)).unwrap();
    let mut healthy = Stepper::new(Arc::clone(adapter), registers.clone(), Plain);
    let mut faulty = Stepper::new(Arc::clone(adapter), registers.clone(), stack.clone());
    let memory = bench.memory(&registers);
    healthy.load(&memory);
    faulty.load(&memory);
    let (right, wrong) = (Drive::run_frame(&mut healthy), Drive::run_frame(&mut faulty));
    right.picture(View::Raster) == wrong.picture(View::Raster)
        && right.spans == wrong.spans
        && Damage::between(&right, &wrong).verdict() == Verdict::Clean
}

/// Frames in which a fault may look different.
fn frames(stack: &QuirkStack) -> u64 {
    let by_frame = stack.depends_on().contains(LineDependencies::FRAME)
        || stack.stages().intersects(Stages::SYNC | Stages::COLOUR);
    if by_frame { FRAMES_LOOKED_AT } else { 1 }
}

/// Whether all a fault does is seen on a board that is not scrolled.
fn shows_at_rest(stack: &QuirkStack) -> bool {
    (Stages::ADDRESS | Stages::SYNC).contains(stack.stages())
}

fn failing(bench: &Bench, candidate: &Candidate, stack: &QuirkStack) -> Vec<u32> {
    candidate.starts().filter(|start| !is_clean(bench, &candidate.registers, stack, *start)).collect()
}

/// Whether layouts of rows are searched, too: there are hundreds, so only the long run does now and then.
fn layouts() -> impl Strategy<Value = bool> {
    prop::bool::weighted(if ProptestConfig::default().cases > 256 { 0.05 } else { 0.0 })
}

/// Registers a search may change.
fn may_change(layouts: bool) -> BTreeSet<Role> {
    MAY_CHANGE.into_iter().filter(|role| layouts || *role != Role::RowHeight).collect()
}

proptest! {
    // Each case renders hundreds of frames.
    #![proptest_config(ProptestConfig { cases: ProptestConfig::default().cases / 32, ..ProptestConfig::default() })]

    /// Every start address of every candidate, rendered two ways: at rest, and
    /// scrolled through the ports.
    #[test]
    fn no_claim_fails(
        which in 0usize..2, family in any::<usize>(), member in any::<u64>(), seed in any::<u64>(),
        from in 0u32..1900, more in 0u32..40, free in any::<bool>(), least in 200u32..320, lower in 0u32..80,
        layouts in layouts(),
    ) {
        let (bench, stack) = (bench(which), fault(family, member, seed));
        let requirements = Requirements {
            starts: Some(from..=from + more),
            origin: if free { Origin::Free } else { Origin::Fixed },
            least_width: Some(least),
            least_height: Some(200 - lower),
            may_change: may_change(layouts),
            ..Requirements::default()
        };
        let suspects = [SuspectedFault { name: String::new(), tap: stack.clone(), probability: 1.0 }];
        let answer = search(bench, &requirements, &suspects, &|_, _| ()).unwrap();
        for candidate in answer.candidates.iter().filter(|one| one.failing.is_none()).take(4) {
            prop_assert_eq!(failing(bench, candidate, &stack), Vec::<u32>::new(), "{} {}", name_of(&stack), candidate.width);
            let starts: Vec<u32> = candidate.starts().collect();
            let scrolled = rendered(bench, &candidate.registers, &stack, &starts, &|| true).unwrap();
            prop_assert!(scrolled.iter().all(|clean| *clean), "{} {}", name_of(&stack), candidate.width);
            prop_assert!(candidate.width >= least && candidate.height >= 200 - lower);
        }
        // Where nothing holds, what is said to fail is what fails.
        if let (false, Some(partial)) = (answer.holds(), answer.partial.first())
            && !partial.rendered
        {
            let named = partial.failing.as_ref().unwrap();
            for start in partial.starts() {
                let clean = is_clean(bench, &partial.registers, &stack, start);
                prop_assert!(named.has(start) || clean, "{} {}", name_of(&stack), start);
            }
        }
    }

    /// Trying every width, height, step and origin finds nothing that the
    /// search's candidates do not cover.
    #[test]
    fn trying_everything_finds_nothing_better(
        family in any::<usize>(), member in any::<u64>(), seed in any::<u64>(), from in 0u32..600, more in 0u32..6,
    ) {
        let (bench, stack) = (bench(0), fault(family, member, seed));
        let adapter = bench.adapter();
        let levers = [
            Role::HorizontalDisplayed,
            Role::VerticalDisplayed,
            Role::HorizontalSyncStart,
            Role::VerticalSyncStart,
            Role::StartAddress,
        ];
        let requirements = Requirements {
            starts: Some(from..=from + more),
            least_width: Some(304),
            least_height: Some(198),
            may_change: levers.into(),
            ..Requirements::default()
        };
        let suspects = [SuspectedFault { name: String::new(), tap: stack.clone(), probability: 1.0 }];
        let answer = search(bench, &requirements, &suspects, &|_, _| ()).unwrap();
        let holding: Vec<&Candidate> = answer.candidates.iter().filter(|one| one.failing.is_none()).collect();
        let mut tried = BTreeSet::new();
        for (chars, height) in [38u32, 39, 40].into_iter().flat_map(|chars| [198u32, 199, 200].map(|height| (chars, height))) {
            let mut registers = bench.registers().clone();
            for (name, value) in [("displayed", chars - 1), ("vertical_displayed", height)] {
                adapter.set(&mut registers, adapter.field(name).unwrap(), u64::from(value)).unwrap();
            }
            let at_rest: Vec<bool> =
                (from..=from + more).map(|start| is_clean(bench, &registers, &stack, start)).collect();
            if frames(&stack) == 1 {
                prop_assert_eq!(is_clean_stepped(bench, &registers, &stack, from), at_rest[0], "{}", name_of(&stack));
            }
            for step in 1..=more + 1 {
                let starts: Vec<u32> = (from..=from + more).step_by(step as usize).collect();
                if starts.len() == 1 && step > 1 {
                    continue;
                }
                let clean = at_rest.iter().step_by(step as usize).all(|clean| *clean)
                    && (shows_at_rest(&stack)
                        || rendered(bench, &registers, &stack, &starts, &|| true).unwrap().iter().all(|clean| *clean));
                let covered = holding.iter().any(|one| {
                    one.width >= chars * 8 && one.height >= height && one.cost.step_pixels <= step * 2
                });
                prop_assert!(covered || !clean, "{}: {} x {} by {}", name_of(&stack), chars * 8, height, step);
                tried.insert((chars, height, step, clean));
            }
        }
        prop_assert!(tried.len() >= 9);
    }
}

/// Data bit 0 to the controller stuck at 0: odd start addresses and odd sync positions do not
/// arrive, so the smallest step and the middle cannot be had; what is left is found.
#[test]
fn what_rendering_disproves_is_tried_otherwise() {
    let family = Family::built_in("port-data-bit-stuck").unwrap();
    let mut members = (0..family.count()).map(|member| family.member(member).unwrap());
    let stuck = members.find(|quirk| quirk.parameters()["bits"] == 1).unwrap();
    let stack = QuirkStack::new(vec![stuck], 0);
    let requirements = Requirements {
        starts: Some(58..=61),
        least_width: Some(304),
        may_change: [Role::HorizontalDisplayed, Role::HorizontalSyncStart, Role::StartAddress].into(),
        ..Requirements::default()
    };
    let suspects = [SuspectedFault { name: String::new(), tap: stack.clone(), probability: 1.0 }];
    let answer = search(bench(0), &requirements, &suspects, &|_, _| ()).unwrap();
    let holding = answer.candidates.iter().find(|one| one.failing.is_none()).expect("steps of 4 pixels hold");
    assert_eq!((holding.cost.step_pixels, holding.origin), (4, 58));
    assert_eq!(failing(bench(0), holding, &stack), Vec::<u32>::new());
}

/// A picture that jitters seldom stands still in the frames looked at; no setting holds against it all the same.
#[test]
fn nothing_holds_against_a_picture_that_jitters_seldom() {
    let family = Family::built_in("frame-jitter").unwrap();
    let mut members = (0..family.count()).map(|member| family.member(member).unwrap());
    let quirk = members.find(|quirk| quirk.parameters()["in_1000"] == 20).unwrap();
    let still = |seed: &u64| {
        let mut stack = QuirkStack::new(vec![quirk.clone()], *seed);
        (0..FRAMES_LOOKED_AT).all(|frame| stack.shift(frame).is_none())
    };
    let seed = (0..).find(still).unwrap();
    let stack = QuirkStack::new(vec![quirk], seed);
    let requirements = Requirements { starts: Some(0..=3), least_width: Some(304), ..Requirements::default() };
    let suspects = [SuspectedFault { name: String::new(), tap: stack, probability: 1.0 }];
    let answer = search(bench(0), &requirements, &suspects, &|_, _| ()).unwrap();
    assert!(answer.candidates.iter().all(|one| one.failing.is_some()));
}
