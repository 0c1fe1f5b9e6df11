//! A sweep says what boards show that are set up, driven and drawn step by step, whatever the class, the mode, the
//! registers and the quirks.

use std::ops::RangeInclusive;

use backporch_analysis::{Damage, StepBoards, Sweep, SweepAxis, SweepStep, step_boards, sweep};
use backporch_bench::{Bench, Overrides};
use backporch_quirk::{Family, Quirk};
use backporch_raster::{Frame, ScanLine, Span, View};
use backporch_test_tools::ROWS_BENCH;
use proptest::prelude::*;

/// Benches, boards and modes: with a picture that is moved or stays in its place, and without one.
const BENCHES: [(&str, Option<&str>, Option<&str>); 11] = [
    ("harbour-256", None, None),
    (ROWS_BENCH, None, None),
    ("harbour-cg", None, None),
    ("harbour-cg", None, Some("640x200x2")),
    ("harbour-vga", None, None),
    ("harbour-vga", None, Some("640x480x16")),
    ("harbour-256", Some("vga"), Some("320x200x256")),
    ("harbour-256", Some("ega"), None),
    ("harbour-256", Some("monochrome"), None),
    ("scroll-late", None, None),
    ("program-keys", None, None),
];

fn bench(which: usize, set: Vec<(String, u64)>) -> Option<Bench> {
    let (name, board, mode) = BENCHES[which];
    let (board, mode) = (board.map(str::to_owned), mode.map(str::to_owned));
    Bench::open(name, &Overrides { board, mode, set, ..Overrides::default() }).ok()
}

fn quirks() -> impl Strategy<Value = Vec<Quirk>> {
    let families: Vec<Family> = Family::all_built_in().collect();
    let one = (any::<prop::sample::Index>(), any::<u64>()).prop_map(move |(at, member)| {
        let family = &families[at.index(families.len())];
        family.member(member % family.count()).unwrap()
    });
    prop::collection::vec(one, 0..3)
}

/// What differs between two frames, seen in their painted pictures and byte by byte in their spans.
fn damage(healthy: &Frame, faulty: &Frame) -> Damage {
    let (right, wrong) = (healthy.picture(View::Picture), faulty.picture(View::Picture));
    let width = right.width.max(wrong.width);
    let displaced =
        (healthy.shift, healthy.unstable, healthy.lines.len()) != (faulty.shift, faulty.unstable, faulty.lines.len());
    let (ones, others): (Vec<_>, Vec<_>) = (healthy.picture_lines().collect(), faulty.picture_lines().collect());
    let mut damage = Damage { width, ..Damage::default() };
    for line in 0..ones.len().max(others.len()) {
        let fetch = match (ones.get(line), others.get(line)) {
            (Some(one), Some(other)) if !displaced && healthy.alike_in_time(one, faulty, other) => {
                bytes_apart(healthy.spans_of(one), faulty.spans_of(other)).map(|bytes| to_pixels(one, &bytes, width))
            }
            _ => Some(0..=width.saturating_sub(1)),
        };
        let (one, other) = (right.row(line), wrong.row(line));
        let differing: Vec<usize> = (0..one.len().max(other.len())).filter(|x| one.get(*x) != other.get(*x)).collect();
        let pixels = differing.first().zip(differing.last()).map(|(first, last)| *first as u32..=*last as u32);
        damage.damaged.push(fetch.is_some());
        damage.visible.push(pixels.is_some());
        for range in [fetch, pixels].into_iter().flatten() {
            let all = damage.x.clone().unwrap_or_else(|| range.clone());
            damage.x = Some(*all.start().min(range.start())..=*all.end().max(range.end()));
        }
    }
    damage
}

fn bytes_apart(one: &[Span], other: &[Span]) -> Option<RangeInclusive<u32>> {
    let addresses = |spans: &[Span]| {
        let mut places = vec![None; spans.iter().map(|span| span.end() as usize).max().unwrap_or(0)];
        for span in spans {
            (0..span.len).for_each(|at| places[(span.at + at) as usize] = Some(span.address + at));
        }
        places
    };
    let (one, other) = (addresses(one), addresses(other));
    let at = |places: &[Option<u32>], at: usize| places.get(at).copied().flatten();
    let mut differing = (0..one.len().max(other.len())).filter(|byte| at(&one, *byte) != at(&other, *byte));
    let first = differing.next()?;
    Some(first as u32..=differing.next_back().unwrap_or(first) as u32)
}

fn to_pixels(line: &ScanLine, bytes: &RangeInclusive<u32>, width: u32) -> RangeInclusive<u32> {
    let line_bytes = line.fetch.map_or(1, |line| line.bytes).max(1);
    let pixels = |count: u32| count * width / line_bytes;
    pixels(*bytes.start())..=pixels(bytes.end() + 1).saturating_sub(1)
}

/// The steps of a sweep, every one of them drawn.
fn drawn(bench: &Bench, over: &[SweepAxis], steps: &[SweepStep], hold: u32) -> Vec<SweepStep> {
    let before = |at: usize| &steps[at.saturating_sub(1)].values;
    let step = |(at, step): (usize, &SweepStep)| {
        let StepBoards { mut healthy, mut faulty } = step_boards(bench, over, before(at), &step.values, hold);
        SweepStep::new(step.values.clone(), damage(&healthy.run_frame(), &faulty.run_frame()))
    };
    steps.iter().enumerate().map(step).collect()
}

proptest! {
    // Each case draws some frames.
    #![proptest_config(ProptestConfig { cases: ProptestConfig::default().cases / 4, ..ProptestConfig::default() })]

    #[test]
    fn a_sweep_says_what_boards_show(
        which in 0..BENCHES.len(), quirks in quirks(), hold in 1..3_u32, at_start in any::<bool>(),
        over in any::<prop::sample::Index>(), first in any::<u32>(), by in 1..200_u32,
        fields in prop::collection::vec((any::<prop::sample::Index>(), any::<u32>()), 0..3),
    ) {
        let unset = bench(which, Vec::new()).unwrap();
        let adapter = unset.adapter();
        let all: Vec<_> = adapter.fields().map(|(field, info)| (field, u64::from(info.max()))).collect();
        let set = fields.iter().map(|(field, value)| {
            let (field, max) = all[field.index(all.len())];
            (adapter.field_info(field).name.clone(), u64::from(*value) % (max + 1))
        });
        // Some registers turn a mode for pictures into one for text.
        let Some(bench) = bench(which, set.collect()) else {
            return Ok(());
        };
        let bench = bench.with_quirks(quirks);
        let start = adapter.start_address();
        let field = if at_start { start } else { all[over.index(all.len())].0 };
        let max = u64::from(adapter.field_info(field).max());
        let values = (0..3).map(|step| (u64::from(first) + step * u64::from(by)) % (max + 1));
        let over = [SweepAxis::new(adapter, field, values).unwrap()];
        let Sweep { steps, .. } = sweep(&bench, &over, hold, &|| ()).unwrap();
        prop_assert_eq!(&steps, &drawn(&bench, &over, &steps, hold));
    }
}
