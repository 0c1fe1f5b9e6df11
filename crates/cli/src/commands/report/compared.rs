//! The same sweep on other boards, for the page.

use backporch_analysis::{Sweep, SweepAxis, sweep};
use backporch_bench::{Bench, Overrides};
use backporch_picture::mark::Mark;
use backporch_report::page::{Compared, ComparisonPart};

use crate::commands::frame::caption;
use crate::commands::report::ReportArgs;
use crate::commands::sweep::mark;

/// The same sweep on a board of the class without faults, and on one of every other class that can run it.
pub fn compared(args: &ReportArgs, bench: &Bench, over: &[SweepAxis], sweep: &Sweep) -> Option<ComparisonPart> {
    let mut boards = vec![board(&caption(bench), bench, sweep)];
    if !bench.quirks().is_empty() {
        let without_faults = bench.with_quirks(Vec::new());
        boards.extend(run_on(&without_faults, over, args.hold));
    }
    for name in bench.adapter().other_classes() {
        let overrides = Overrides {
            board: Some(name.to_string()),
            no_quirks: true,
            quirks: Vec::new(),
            monitor: None,
            ..args.bench.overrides()
        };
        // Registers and pictures that another class cannot take make no comparison.
        let Ok(other) = Bench::open(&args.bench.bench, &overrides) else {
            continue;
        };
        let again: Option<Vec<SweepAxis>> = args
            .over
            .iter()
            .map(|(name, range)| SweepAxis::new(other.adapter(), other.field(name).ok()?, range.iter()).ok())
            .collect();
        boards.extend(again.and_then(|over| run_on(&other, &over, args.hold)));
    }
    (boards.len() > 1).then(|| ComparisonPart { conclusion: conclusion(&boards), boards })
}

fn run_on(bench: &Bench, over: &[SweepAxis], hold: u32) -> Option<Compared> {
    let swept = sweep(bench, over, hold, &|| ()).ok()?;
    Some(board(&caption(bench), bench, &swept))
}

fn board(faults: &str, bench: &Bench, sweep: &Sweep) -> Compared {
    let first = sweep.bad().next().map(|step| {
        let values: Vec<String> =
            sweep.names.iter().zip(&step.values).map(|(name, value)| format!("{name} {value}")).collect();
        let x = step.damage.x.as_ref().map_or(String::new(), |x| format!(", pixels {} to {}", x.start(), x.end()));
        format!("{}{x}", values.join(", "))
    });
    Compared {
        name: format!("{}, {faults}", bench.adapter().name()),
        verdicts: sweep.steps.iter().map(|step| mark(step.verdict)).collect(),
        first: first.unwrap_or_default(),
    }
}

fn conclusion(boards: &[Compared]) -> String {
    let clean = |board: &Compared| board.worst() == Mark::Clean;
    let Some((own, others)) = boards.split_first() else {
        return String::new();
    };
    let conclusion = if clean(own) && others.iter().all(clean) {
        "Every board runs it clean."
    } else if clean(own) {
        "This board runs it clean; not every other one does."
    } else if others.iter().all(clean) {
        "Registers, memory and steps are the same for all; the other boards run them clean. It is not the routine, it \
         is this adapter."
    } else {
        "Other boards show damage under the same registers, too: look at each."
    };
    conclusion.to_string()
}
