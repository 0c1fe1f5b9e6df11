//! Emitted scrollers, assembled here as by a tool of another make, and compiled by one, run on the machine against boards:
//! every frame is held against what was meant.

use std::process::Command;

use backporch_bench::{Bench, Overrides};
use backporch_emit::{Routine, RoutineError};
use backporch_pc::{Machine, MachineSetup, Model, ProgramImage, Stop};
use backporch_processor_timing::ProcessorClock;
use backporch_raster::Frame;
use backporch_test_tools::ROWS_BENCH;
use backporch_workaround::{Requirements, StepTable, SuspectedFault, step_tables};

fn tables(bench: &Bench) -> Vec<StepTable> {
    let suspect = SuspectedFault { name: "suspect".into(), tap: bench.stack(), probability: 1.0 };
    step_tables(bench, &Requirements::default(), &[suspect], &|_, _| ()).unwrap().tables
}

fn routine(bench: &Bench, table: &StepTable) -> Result<Routine, RoutineError> {
    Routine::new(bench.adapter(), bench.mode(), table, bench.monitor())
}

/// Runs a tool in a folder; whether it is installed.
fn made(program: &str, arguments: &[&str], folder: &std::path::Path) -> bool {
    let Some(output) = backporch_test_tools::output(Command::new(program).args(arguments).current_dir(folder)) else {
        return false;
    };
    assert!(
        output.status.success(),
        "{}{}",
        String::from_utf8_lossy(&output.stderr),
        String::from_utf8_lossy(&output.stdout)
    );
    true
}

/// Assembled here; where the assembler of another make is installed, it has to make the same of it, byte for byte.
fn assembled(routine: &Routine, frames: u32) -> ProgramImage {
    let bytes = routine.to_program(Some(frames)).unwrap();
    if let Some(other) = by_another_assembler(&routine.to_assembly(), frames) {
        assert!(bytes == other, "first at {:?}", bytes.iter().zip(&other).position(|(one, two)| one != two));
    }
    ProgramImage::parse(&bytes).unwrap()
}

fn by_another_assembler(source: &str, frames: u32) -> Option<Vec<u8>> {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("scroller.asm"), source).unwrap();
    let frames = format!("-DFRAMES={frames}");
    let arguments = ["-f", "bin", "-Werror", &frames, "-o", "scroller.com", "scroller.asm"];
    made("nasm", &arguments, folder.path()).then(|| std::fs::read(folder.path().join("scroller.com")).unwrap())
}

fn compiled(source: &str, frames: u32) -> Option<ProgramImage> {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("scroller.c"), source).unwrap();
    let frames = format!("-DFRAMES={frames}");
    let there = made("bcc", &["-0", "-c", &frames, "-o", "scroller.o", "scroller.c"], folder.path())
        && made("ld86", &["-d", "-s", "-T", "0x100", "-o", "scroller.com", "scroller.o"], folder.path());
    there.then(|| ProgramImage::parse(&std::fs::read(folder.path().join("scroller.com")).unwrap()).unwrap())
}

fn start_of(frame: &Frame) -> Option<u32> {
    frame.picture_lines().next()?.fetch.as_ref().map(|line| line.start)
}

/// Pixels of a frame that are not what step `number` of the scroll means, and their columns.
fn wrong_columns(table: &StepTable, frame: &Frame, number: i64) -> Vec<usize> {
    let (left, right) = (table.border.left as usize, (table.width - table.border.right) as usize);
    let moved = number * i64::from(table.step.0);
    let mut wrong = Vec::new();
    for (line, y) in frame.picture_lines().take(table.height as usize).zip(0i64..) {
        let values: Vec<u8> =
            frame.segments_of(line).iter().flat_map(|one| frame.values_of(one.kind).to_vec()).collect();
        assert_eq!(values.len(), table.width as usize);
        // A pixel of the art is its column xor its line; the border is 0.
        let meant = |x: usize| if (left..right).contains(&x) { ((moved + (x - left) as i64) ^ y) as u8 } else { 0 };
        wrong.extend((0..values.len()).filter(|x| values[*x] != meant(*x)));
    }
    wrong
}

/// What is run.
struct Run<'a> {
    bench: &'a Bench,
    table: &'a StepTable,
    image: &'a ProgramImage,
    model: Model,
    clock: ProcessorClock,
    frames: u32,
}

impl Run<'_> {
    /// Runs on and back, and holds every frame against the step it is to show.
    fn hold(&self) {
        let Self { bench, table, frames, .. } = self;
        let board = bench.under(&bench.adapter().start_up(bench.mode()), bench.stack());
        let setup = MachineSetup::new(self.model, self.clock);
        let mut machine = Machine::new(board, self.image, &bench.mode().name, setup).unwrap();
        let steps = table.steps.len() as i64;
        let start = |number: i64| {
            let step = &table.steps[number.rem_euclid(steps) as usize];
            let round = number.div_euclid(steps) * steps * i64::from(table.stride);
            (table.start(step) as i64 + round).rem_euclid(i64::from(table.ring)) as u32
        };
        // The number of the step each frame is to show, from the first frame that shows one.
        let mut path = (0..=i64::from(*frames)).chain((0..i64::from(*frames)).rev());
        let (mut begun, mut held) = (false, 0);
        loop {
            let frame = match machine.run() {
                Stop::Frame(frame) => *frame,
                stop => panic!("{stop:?}"),
            };
            begun = begun
                || start_of(&frame) == Some(start(0))
                    && frame.picture_size().0 == table.width
                    && wrong_columns(table, &frame, 0).len() as u32 <= table.steps[0].wrong.pixels;
            if begun {
                // The set-up ends somewhere in a frame of the first step, which then stands for one more.
                let waits = held == 1 && start_of(&frame) == Some(start(0));
                let Some(number) = (if waits { Some(0) } else { path.next() }) else { break };
                let stated = table.steps[number.rem_euclid(steps) as usize].wrong;
                let wrong = wrong_columns(table, &frame, number);
                assert_eq!(
                    start_of(&frame),
                    Some(start(number)),
                    "step {number} of {} x {}",
                    table.width,
                    table.height
                );
                let inside = |x: &usize| *x < stated.left as usize || *x >= (table.width - stated.right) as usize;
                assert!(
                    wrong.len() as u32 <= stated.pixels && wrong.iter().all(inside),
                    "step {number} of {} x {} with {:?}: {stated:?} {:?} {}",
                    table.width,
                    table.height,
                    self.model,
                    wrong.first(),
                    wrong.len()
                );
                held += u32::from(!waits);
            }
            assert!(begun || frame.number < 2000, "the scroll never begins");
            machine.recycle(frame);
        }
        assert_eq!(held, 2 * frames + 1);
    }
}

/// The first of their kind at 4.77 MHz (a third of 14.31818 MHz, common practice), and one at 8 MHz.
fn machines() -> [(Model, ProcessorClock); 2] {
    let clock = |hz, divider| ProcessorClock::new(hz, divider).unwrap();
    [(Model::P8088, clock(14_318_180, 3)), (Model::P8086, clock(8_000_000, 1))]
}

/// As the class is built: every way that shows every step at 256 pixels and less, 2,000 steps on and as many back, at both clocks.
#[test]
fn every_frame_shows_what_was_meant_on_the_class_as_built() {
    let bench = Bench::open("harbour-256", &Overrides::default()).unwrap();
    let found = tables(&bench);
    let mut ran = 0;
    std::thread::scope(|scope| {
        for table in found.iter().filter(|table| table.cost.mean_wrong < 100.0) {
            let Ok(routine) = routine(&bench, table) else {
                assert!(table.cost.jump > 1, "only jumps are refused");
                continue;
            };
            let image = assembled(&routine, 2000);
            for (model, clock) in machines() {
                let (bench, image) = (&bench, image.clone());
                scope.spawn(move || Run { bench, table, image: &image, model, clock, frames: 2000 }.hold());
            }
            ran += 1;
        }
    });
    assert_eq!(ran, 4, "a border, two with two copies, one as it is");
}

/// A suspected fault on a board that is plain otherwise, and copies on the plain board itself.
#[test]
fn routines_run_on_the_plain_board_and_under_a_fault() {
    let fault = Bench::open(ROWS_BENCH, &Overrides::default()).unwrap();
    let plain = Bench::open("harbour-256-plain", &Overrides::default()).unwrap();
    let (model, clock) = machines()[0];
    for table in tables(&fault).iter().filter(|table| table.cost.mean_wrong < 100.0 && table.cost.jump == 1) {
        let image = assembled(&routine(&fault, table).unwrap(), 150);
        Run { bench: &fault, table, image: &image, model, clock, frames: 150 }.hold();
    }
    let built = Bench::open("harbour-256", &Overrides::default()).unwrap();
    for table in tables(&built).iter().filter(|table| table.copies.len() > 1) {
        let image = assembled(&routine(&built, table).unwrap(), 150);
        Run { bench: &plain, table, image: &image, model, clock, frames: 150 }.hold();
    }
}

/// The same in C.
#[test]
fn the_routine_in_c_keeps_up() {
    let bench = Bench::open("harbour-256", &Overrides::default()).unwrap();
    for table in tables(&bench).iter().filter(|table| table.cost.mean_wrong < 100.0 && table.cost.jump == 1) {
        let Some(image) = compiled(&routine(&bench, table).unwrap().to_c(), 150) else { return };
        for (model, clock) in machines() {
            Run { bench: &bench, table, image: &image, model, clock, frames: 150 }.hold();
        }
    }
}

/// What a routine cannot carry out is refused; the caution stands where sync is moved.
#[test]
fn routines_say_what_is_in_the_way() {
    let bench = Bench::open("harbour-256", &Overrides::default()).unwrap();
    let found = tables(&bench);
    let jumping = found.iter().find(|table| table.cost.jump > 1 && table.schedule.is_none()).unwrap();
    assert_eq!(routine(&bench, jumping).err(), Some(RoutineError::Jumps));
    let scheduled = found.iter().find(|table| table.schedule.is_some()).unwrap();
    let writes = scheduled.cost.line_writes;
    assert_eq!(routine(&bench, scheduled).err(), Some(RoutineError::WithinFrame { found: writes }));
    let moved = routine(&bench, &found[0]).unwrap();
    for text in [moved.to_assembly(), moved.to_c()] {
        assert!(text.contains("switch off at once"));
    }
    let mut down = found[0].clone();
    down.step = (0, 1);
    assert_eq!(routine(&bench, &down).err(), Some(RoutineError::Direction));
}
