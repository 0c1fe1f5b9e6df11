//! The whole workaround search: every displayed width, every start address,
//! every step and origin. Prints what it found, so that the same search in
//! NumPy (`beside_numpy.sh`) can be held against it.

use std::hint::black_box;

use backporch_bench::{Bench, Overrides};
use backporch_bench_timing::Table;
use backporch_quirk::{Family, QuirkStack};
use backporch_raster::{Explain, Intercept, Line, LineDependencies, LineReuse, Run, Stages};
use backporch_workaround::{FailureMap, FaultScan, Requirements, Setting, SuspectedFault, search};

/// The row-crossing fault, said to look at everything: the search may reuse nothing.
#[derive(Clone)]
struct Opaque(QuirkStack);

impl Intercept for Opaque {
    fn stages(&self) -> Stages {
        self.0.stages()
    }

    fn address(&self, line: &Line, offset: u32, linear: u32) -> Run {
        self.0.address(line, offset, linear)
    }
}

impl LineReuse for Opaque {
    fn depends_on(&self) -> LineDependencies {
        LineDependencies::LINEAR | LineDependencies::LENGTH | LineDependencies::PLACE | LineDependencies::START
    }
}

impl Explain for Opaque {}

fn main() {
    let bench = Bench::open("harbour-256-plain", &Overrides::default()).expect("a built-in bench");
    let family = Family::built_in("row-reload").expect("a built-in family");
    let stack = QuirkStack::new(vec![family.close_default()], 0);
    let known = [SuspectedFault { name: "row-reload".to_string(), tap: stack.clone(), probability: 1.0 }];
    let opaque = [SuspectedFault { name: "opaque".to_string(), tap: Opaque(stack), probability: 1.0 }];
    let requirements = Requirements { least_width: Some(8), ..Requirements::default() };
    let found = search(&bench, &requirements, &known, &|_, _| ()).expect("a search");
    println!("widths {} settings, {} candidates", found.settings, found.candidates.len());
    for candidate in &found.candidates {
        println!("holds {} pixels by steps of {} pixels", candidate.width, candidate.cost.step_pixels);
    }
    for chars in [32, 33, 40] {
        println!("clean {} {}", chars * 8, clean(&bench, chars, &known[0].tap));
    }
    let _ = Table::default()
        .with("search, all widths and start addresses", || {
            black_box(search(&bench, &requirements, &known, &|_, _| ()).ok());
        })
        .run();
    let started = std::time::Instant::now();
    let same = search(&bench, &requirements, &opaque, &|_, _| ()).expect("a search");
    println!("  nothing reused: {:.2} s, {} candidates", started.elapsed().as_secs_f64(), same.candidates.len());
}

/// Clean start addresses of a width.
fn clean(bench: &Bench, chars: u64, stack: &QuirkStack) -> u32 {
    let adapter = bench.adapter();
    let mut registers = bench.registers().clone();
    let displayed = adapter.field("displayed").expect("a register of the board");
    adapter.set(&mut registers, displayed, chars - 1).expect("a width that fits");
    let setting = Setting::new(adapter, registers).expect("a picture");
    let failures: FailureMap = FaultScan::new(stack, std::slice::from_ref(&setting)).failures(adapter, &setting);
    setting.starts - failures.bad(&setting, setting.height).count()
}
