//! Readers of texts.

use std::sync::{Arc, LazyLock};

use backporch_adapter::{ADAPTERS, Adapter};
use backporch_bench::{BENCHES, Bench, Library, Overrides};
use backporch_evidence::survey::Survey;
use backporch_evidence::{Answers, SIGHTINGS, Sightings, TestSession};
use backporch_input::{Catalogue, InputError, Source};
use backporch_quirk::{Family, QUIRKS};
use backporch_script::{CpuModel, DotTime, PROCESSORS, Program, ROUTINES, Trace};
use backporch_signal::{MONITORS, Monitor};
use backporch_workaround::RequirementsFile;
use fastrand::Rng;

use crate::mutated;

type Corpus = LazyLock<Vec<Vec<u8>>>;

static BENCH: LazyLock<Arc<Bench>> = LazyLock::new(|| {
    // Built in, and held by its own tests.
    Arc::new(Bench::open("harbour-256", &Overrides::default()).unwrap_or_else(|error| unreachable!("{error}")))
});

fn built_in(catalogue: &Catalogue) -> Vec<Vec<u8>> {
    catalogue.sources().map(|source| source.text().as_bytes().to_vec()).collect()
}

fn source(rng: &mut Rng, corpus: &[Vec<u8>]) -> Source {
    Source::built_in("fuzzed", String::from_utf8_lossy(&mutated(rng, corpus)))
}

fn no_other_mode(mode: &str) -> Result<Arc<Bench>, InputError> {
    Err(InputError::new("mode", mode, "the bench's own"))
}

pub fn bench(rng: &mut Rng) {
    static CORPUS: Corpus = LazyLock::new(|| built_in(&BENCHES));
    let source = source(rng, &CORPUS);
    let _ = Bench::from_source(&source, "fuzzed", &Library::default(), &Overrides::default());
}

pub fn requirements(rng: &mut Rng) {
    static CORPUS: Corpus = LazyLock::new(|| {
        vec![
            b"(version: 1, direction: Both, step_pixels: 4, starts: Range(from: 0, to: 1023), origin: Free, \
              least_width: 240, may_change: [\"displayed\"], keep_free: 4096, out_of_margin: true)"
                .to_vec(),
            b"(version: 1, starts: Endless, mode: \"320x200x256\", monitor: \"multi\", step_lines: 2)".to_vec(),
        ]
    });
    let _ = RequirementsFile::from_source(&source(rng, &CORPUS));
}

pub fn sightings(rng: &mut Rng) {
    static CORPUS: Corpus = LazyLock::new(|| built_in(&SIGHTINGS));
    let _ = Sightings::from_source(&source(rng, &CORPUS), None);
}

pub fn plan(rng: &mut Rng) {
    static CORPUS: Corpus = LazyLock::new(|| {
        vec![
            b"(version: 1, title: \"narrow lines\", experiments: [(title: \"as it is\", at: \"0..=4\"), \
              (registers: {\"displayed\": 34}, at: \"0..=8/4\"), (moment: Retrace, over: \"displayed\", at: 4)])"
                .to_vec(),
        ]
    });
    let _ = TestSession::from_plan(&source(rng, &CORPUS), &BENCH, &no_other_mode);
}

pub fn routine(rng: &mut Rng) {
    static CORPUS: Corpus = LazyLock::new(|| built_in(&ROUTINES));
    let _ = Program::from_source(&source(rng, &CORPUS), BENCH.adapter());
}

pub fn trace(rng: &mut Rng) {
    static CORPUS: Corpus = LazyLock::new(|| {
        vec![
            b"dot,kind,address,value\n1,port,0x3D4,0x0D\n40,port,0x3D5,0x10\n90,memory,0x140,0x12FF\n99,read,0x3DA,8\n"
                .to_vec(),
            b"ns,kind,address,value\n0,port,0x3D4,0x0D\n999999,memory-read,0x140,0x12\n".to_vec(),
        ]
    });
    let clock = DotTime::new(BENCH.adapter().dot_clock_of(BENCH.registers()));
    if let Ok(trace) = Trace::from_csv(&source(rng, &CORPUS), clock) {
        let _ = trace.check_ports(&source(rng, &CORPUS), &|port| port & 0x300 == 0x300);
    }
}

pub fn processor(rng: &mut Rng) {
    static CORPUS: Corpus = LazyLock::new(|| built_in(&PROCESSORS));
    let _ = CpuModel::from_source(&source(rng, &CORPUS));
}

pub fn monitor(rng: &mut Rng) {
    static CORPUS: Corpus = LazyLock::new(|| built_in(&MONITORS));
    if let (Ok(monitor), Ok(signal)) =
        (Monitor::from_source(&source(rng, &CORPUS)), BENCH.adapter().signal(BENCH.registers()))
    {
        let _ = monitor.judge(&signal).reasons();
    }
}

pub fn quirk(rng: &mut Rng) {
    static CORPUS: Corpus = LazyLock::new(|| built_in(&QUIRKS));
    if let Ok(family) = Family::from_source(&source(rng, &CORPUS)) {
        let _ = family.member(rng.u64(..family.count().max(1)));
    }
}

pub fn profile(rng: &mut Rng) {
    static CORPUS: Corpus = LazyLock::new(|| built_in(&ADAPTERS));
    if let Ok(adapter) = Adapter::from_source(&source(rng, &CORPUS)) {
        let registers = adapter.start_up(adapter.default_mode());
        let _ = adapter.signal(&registers);
    }
}

pub fn answers(rng: &mut Rng) {
    let text = include_str!("../corpus/ANSWERS.TXT");
    let _ = Answers::from_source(&checked(rng, text), &BENCH, &no_other_mode);
}

pub fn survey(rng: &mut Rng) {
    let _ = Survey::from_source(&checked(rng, include_str!("../corpus/SURVEY.TXT")));
}

/// A file of a program on the real machine, changed, mostly with a check (cyclic redundancy check of ISO 3309) that fits.
fn checked(rng: &mut Rng, text: &str) -> Source {
    let body: String =
        text.lines().filter(|line| !line.starts_with("check ")).map(|line| format!("{line}\r\n")).collect();
    let changed = mutated(rng, &[body.into_bytes()]);
    let mut text = String::from_utf8_lossy(&changed).into_owned();
    if rng.u8(0..8) > 0 {
        text = format!("{text}check {:08X}\r\n", crc32fast::hash(text.as_bytes()));
    }
    Source::built_in("FUZZED.TXT", text)
}
