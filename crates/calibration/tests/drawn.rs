//! Machines drawn by seed, surveyed, and given back: clocks, waits, refresh, memory and its access each within the spread
//! that its figure states.

mod surveyed;

use std::sync::Arc;

use backporch_adapter::Adapter;
use backporch_calibration::{AccessTiming, Calibration, Figure, FigureValue};
use backporch_input::Source;
use backporch_pc::hardware::Waits;
use backporch_pc::{MachineSetup, Model, ProcessorClock};
use backporch_script::CpuModel;

/// Boards and modes that firmware sets, one of each way to memory.
const MODES: [(&str, &str); 7] = [
    ("colour-graphics", "320x200x4"),
    ("monochrome", "80x25-text"),
    ("ega", "640x350x16"),
    ("vga", "320x200x256"),
    ("linear-256", "320x200x256"),
    ("colour-graphics", "text-80"),
    ("vga", "640x480x16"),
];

/// Numbers by seed (the generator of Sebastiano Vigna's *splitmix64*, public domain).
struct Seeded(u64);

impl Seeded {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mixed = (self.0 ^ self.0 >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ mixed >> 31
    }

    fn between(&mut self, from: u64, to: u64) -> u64 {
        from + self.next() % (to - from + 1)
    }

    fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.next() as usize % all.len()]
    }
}

/// A machine as it was drawn.
struct Drawn {
    class: Arc<Adapter>,
    board: Arc<Adapter>,
    mode: String,
    setup: MachineSetup,
}

fn drawn(seed: u64) -> Drawn {
    let mut seeded = Seeded(seed);
    let (name, mode) = MODES[seed as usize % MODES.len()];
    let class = Adapter::built_in(name).unwrap();
    let mode = if class.mode(mode).is_some_and(|mode| mode.firmware.is_some()) {
        mode.to_string()
    } else {
        class.profile().modes.iter().find(|mode| mode.firmware.is_some()).unwrap().name.clone()
    };
    let profile = class.profile();
    // An 80386 shifts by any number of places in the same time, so that nothing can be delayed by single clocks on it.
    let model = seeded.one_of(&[Model::P8088, Model::P8086, Model::P80286]);
    let clock = match model {
        Model::P80286 => seeded.between(6_000_000, 12_500_000),
        _ => seeded.between(4_500_000, 10_000_000),
    };
    let refresh_beats = seeded.one_of(&[0, 15, 18, 18, 18, 24]);
    let memory = seeded.between(0, 3) as u32;
    let waits = Waits { port: seeded.between(0, 8) as u32, memory, refresh_beats };
    let clock = ProcessorClock::new(clock, 1).unwrap();
    let setup = MachineSetup { waits, phase: seeded.between(0, 100_000), ..MachineSetup::new(model, clock) };
    let crystal = seeded.between(980, 1020) as f64 / 1000.0;
    let clocks = if profile.dot_clocks_hz.is_empty() {
        format!("dot_clock_hz: Some({:.1})", profile.dot_clock_hz * crystal)
    } else {
        let clocks: Vec<String> = profile.dot_clocks_hz.iter().map(|clock| format!("{:.1}", clock * crystal)).collect();
        format!("dot_clocks_hz: Some([{}])", clocks.join(", "))
    };
    let bits = seeded.one_of(&[8, 16]);
    let bus = if seeded.between(0, 1) == 0 {
        format!("bits: {bits}, access_ns: {}", seeded.between(0, 1500))
    } else {
        let (lead, every) = (seeded.between(2, 24), seeded.one_of(&[8, 12, 16, 24, 32]));
        format!("bits: {bits}, slots: Some((lead: {lead}, every: {every}))")
    };
    let bytes = match name {
        "colour-graphics" => seeded.one_of(&[0x4000, 0x8000]),
        _ => profile.memory.bytes,
    };
    // The 64 KiB class has nothing by which a program sees what is shown.
    let start_load = match name {
        "linear-256" => String::new(),
        _ => format!("start_load: Some({}), ", seeded.one_of(&["FrameStart", "VerticalRetrace", "VerticalRetraceEnd"])),
    };
    let text = format!(
        "(version: 1, name: \"drawn\", title: \"Drawn\", based_on: \"{name}\", {start_load}{clocks}, memory_bytes: Some({bytes}), bus: Some(({bus})))"
    );
    let board = Adapter::from_source(&Source::built_in("drawn", text)).unwrap_or_else(|error| panic!("{error}"));
    Drawn { class, board, mode, setup }
}

impl Drawn {
    /// Whether a program sees which start address is shown: by the light-pen latch or colours in the status port, where
    /// that shows the picture, too.
    fn start_load_is_seen(&self) -> bool {
        ["colour-graphics", "ega", "vga"].contains(&self.class.name())
    }

    /// Lines from where vertical retrace begins to where the start address is taken over.
    fn take_over_lines(&self) -> f64 {
        let timing = self.board.timing(&self.board.start_up(self.board.mode(&self.mode).unwrap()));
        f64::from(timing.take_over().line) - f64::from(timing.sync_line())
    }
}

/// A number that was found, where one was.
fn number(calibration: &Calibration, of: &str) -> Option<(f64, f64)> {
    let figure = calibration.figures.iter().find(|figure| figure.of == of)?;
    match figure.found {
        FigureValue::Number { value, spread } => Some((value, spread)),
        _ => None,
    }
}

/// What is wrong with a calibration of a machine, and what was not determined.
fn wrong(drawn: &Drawn, calibration: &Calibration) -> (Vec<String>, Vec<String>) {
    let (mut wrong, mut untold) = (Vec::new(), Vec::new());
    let mode = drawn.board.mode(&drawn.mode).unwrap();
    let registers = drawn.board.start_up(mode);
    let signal = drawn.board.signal(&registers).unwrap();
    let (setup, bus) = (&drawn.setup, drawn.board.memory().bus);
    if calibration.processor.model != setup.model {
        wrong.push(format!("{}, not {}", calibration.processor.model.name(), setup.model.name()));
    }
    let mut figure = |of: &str, truth: f64| match number(calibration, of) {
        Some((value, spread)) if (value - truth).abs() > spread => {
            wrong.push(format!("{of}: {value} +- {spread}, not {truth}"))
        }
        Some(_) => {}
        None => untold.push(of.to_string()),
    };
    figure("processor clock", setup.clock.hertz());
    figure("waits of system memory", f64::from(setup.waits.memory));
    figure("waits of ports", f64::from(setup.waits.port));
    figure("memory refresh, every", f64::from(setup.waits.refresh_beats));
    figure("frame rate", signal.frame_rate_hz());
    figure("line rate", signal.line_rate_hz());
    figure("lines of a frame", f64::from(signal.vertical.total()));
    figure("vertical retrace", f64::from(signal.vertical.sync()));
    figure("dot clock, by the profile's totals", drawn.board.dot_clock_of(&registers).get());
    figure("bits that reach memory at once", f64::from(bus.bits));
    if drawn.board.memory().bytes < 0x8000 {
        figure("memory comes again after", f64::from(drawn.board.memory().bytes));
    }
    if drawn.start_load_is_seen() {
        let (of, truth) = ("start address taken over, after retrace", drawn.take_over_lines());
        let figure = calibration.figures.iter().find(|figure| figure.of == of);
        match figure.map(|figure| &figure.found) {
            Some(FigureValue::Number { value, spread }) if (value - truth).abs() <= *spread => {}
            // Moments so near the picture that nothing could be written after them before it.
            Some(FigureValue::Words(words)) if words == "as the picture begins" => {
                let picture = f64::from(signal.vertical.sync() + signal.vertical.back_porch());
                if truth < picture - 3.0 {
                    wrong.push(format!("{of}: {words}, not {truth}"));
                }
            }
            None => untold.push(of.to_string()),
            other => wrong.push(format!("{of}: {other:?}, not {truth}")),
        }
        let profile = Adapter::from_source(&Source::built_in("found", calibration.adapter_profile("found"))).unwrap();
        let loads = |adapter: &Adapter| adapter.timing(&registers).take_over();
        // A slow processor may not tell the beginning of a retrace of two lines from its end.
        let is_told = figure.is_some_and(Figure::differs) || loads(&drawn.class) == loads(&drawn.board);
        if is_told && loads(&profile) != loads(&drawn.board) {
            wrong.push(format!("{of}: {:?}, not {:?}", loads(&profile), loads(&drawn.board)));
        }
    }
    match (calibration.accesses.first().map(|(_, access)| access), bus.slots) {
        (None, _) => untold.push("access".to_string()),
        (Some(AccessTiming::Fixed(range)), None) if range.contains(&bus.access_ns) => {}
        (Some(AccessTiming::Slots { lead, every }), Some(slots))
            if *every == slots.every && lead.contains(&slots.lead) => {}
        (Some(access), _) => wrong.push(format!("{access:?}, not {bus:?}")),
    }
    (wrong, untold)
}

#[test]
fn every_machine_is_given_back() {
    let rounds: u64 = std::env::var("BACKPORCH_ROUNDS").ok().and_then(|rounds| rounds.parse().ok()).unwrap_or(7);
    let (mut all_wrong, mut all_untold) = (Vec::new(), 0);
    for seed in 0..rounds.max(1) {
        let drawn = drawn(seed);
        let mode = drawn.class.mode(&drawn.mode).unwrap();
        let survey = surveyed::survey(&drawn.class, &[mode], &drawn.board, drawn.setup.clone());
        let calibration =
            Calibration::new(&survey, &drawn.class, None).unwrap_or_else(|error| panic!("{seed}: {error}"));
        let (wrong, untold) = wrong(&drawn, &calibration);
        let of = format!(
            "{seed}: {} {}, {} {:.0} Hz {:?}, {:?}",
            drawn.class.name(),
            drawn.mode,
            drawn.setup.model.name(),
            drawn.setup.clock.hertz(),
            drawn.setup.waits,
            drawn.board.memory().bus
        );
        println!("{of}\n   wrong {wrong:?}\n   untold {untold:?}");
        all_untold += untold.len();
        // What a slow processor or a narrow bus cannot see.
        let may_be_untold = ["line rate", "lines of a frame", "bits that reach memory at once"];
        assert!(untold.iter().all(|one| may_be_untold.contains(&one.as_str())), "{of}: {untold:?}");
        all_wrong.extend(wrong.into_iter().map(|one| format!("{of}: {one}")));
        CpuModel::from_source(&Source::built_in("found", calibration.processor_model("found"))).unwrap();
        Adapter::from_source(&Source::built_in("found", calibration.adapter_profile("found"))).unwrap();
    }
    println!("{all_untold} undecided");
    assert!(all_wrong.is_empty(), "{}", all_wrong.join("\n"));
}
