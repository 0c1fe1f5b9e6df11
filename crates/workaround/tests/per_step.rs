//! Tables of start addresses against a fetch model of the 64 KiB class that is written here, apart from the engine.
//!
//! The model is that of the class's controller (reverse-engineered schematic of
//! display controller gate array 72X8300): memory rows of 256 bytes; a line
//! begins with a transfer of its own row and makes one more at the first
//! crossing from pixel 10 on, of the row of its last character.

use std::sync::LazyLock;

use backporch_adapter::{Bank, Cell, Role};
use backporch_bench::{Bench, Overrides};
use backporch_quirk::{Family, QuirkStack};
use backporch_raster::{Intercept, Plain, QuietFrame, Stages, Tap};
use backporch_workaround::{Direction, Requirements, StepTable, SuspectedFault, TableSearch, TableStep, step_tables};

fn bench(name: &str) -> Bench {
    Bench::open(name, &Overrides::default()).unwrap()
}

fn tables(bench: &Bench, requirements: &Requirements) -> TableSearch {
    let suspect: SuspectedFault<QuirkStack> =
        SuspectedFault { name: "as built".into(), tap: bench.stack(), probability: 1.0 };
    step_tables(bench, requirements, &[suspect], &|_, _| ()).unwrap()
}

static OF_THE_CLASS: LazyLock<TableSearch> = LazyLock::new(|| tables(&bench("harbour-256"), &Requirements::default()));

/// The addresses shown on a line that begins at byte `base`, by the class's controller.
fn fetched(base: u32, last_character: u32, width: u32) -> impl Iterator<Item = u32> {
    let crossing = (10..10 + 256).find(|x| (base + x).is_multiple_of(256)).unwrap();
    let late = ((base + 8 * last_character) & 0xFFFF) >> 8;
    (0..width).map(move |x| if x < crossing { base >> 8 } else { late } << 8 | (base + x) & 0xFF)
}

fn last_character(table: &StepTable) -> u32 {
    u32::from(table.registers.cell(Cell::new(Bank::Crtc, 1).unwrap()))
}

/// Places of a step's picture at which the model shows another address than meant: column, line, and address shown.
fn model_wrong(table: &StepTable, step: &TableStep) -> Vec<(u32, u32, u32)> {
    let width = table.width;
    let base = (step.position + table.copies[step.copy as usize]) * 2;
    let line = |y: u32| {
        let begins = (table.start(step) * 2 + y * width) & 0xFFFF;
        fetched(begins, last_character(table), width).zip(0..).map(move |(shows, x)| (x, y, shows))
    };
    let places = (0..table.height).flat_map(line);
    places.filter(|(x, y, shown)| *shown != (base + y * width + x) & 0xFFFF).collect()
}

fn shown(table: &StepTable) -> impl Iterator<Item = &TableStep> {
    table.steps.iter().filter(|step| !step.skipped)
}

/// Every step of every table of the class, ten at least: what is stated to be wrong is wrong, and nothing else is.
#[test]
fn an_independent_fetch_model_agrees_on_every_step() {
    let mut checked = 0;
    let vertical = Requirements { direction: Direction::Vertical, ..Requirements::default() };
    let wide = Requirements { least_width: Some(304), step_pixels: Some(8), ..Requirements::default() };
    let bench = bench("harbour-256");
    let more = [vertical, wide].map(|requirements| tables(&bench, &requirements));
    for table in OF_THE_CLASS.tables.iter().chain(more.iter().flat_map(|found| &found.tables)) {
        for step in shown(table) {
            let wrong = model_wrong(table, step);
            if table.border.left + table.border.right == 0 {
                assert_eq!(wrong.len() as u32, step.wrong.pixels, "{} {step:?}", table.width);
            }
            let is_border = |x: u32| x < table.border.left || x >= table.width - table.border.right;
            for (x, _, shows) in wrong {
                let column = (shows.wrapping_sub(step.position * 2) & 0xFFFF) % table.width;
                let hidden = is_border(x) && is_border(column);
                let stated = x < step.wrong.left || x >= table.width - step.wrong.right;
                assert!(hidden || stated, "{} {x} {step:?}", table.width);
            }
        }
        checked += 1;
    }
    assert!(checked >= 10, "{checked} tables");
}

/// At 256 pixels 121 of 128 steps are right, three lack a few pixels at the right, and in four the picture
/// bounces: one row further on, those have 8, 6, 4 and 2 pixels at the left a line off (derived from the schematic).
#[test]
fn the_bouncing_steps_go_one_row_further_on() {
    let full = |table: &&StepTable| table.width == 256 && table.clear_width == 256 && table.cost.jump == 1;
    let table = OF_THE_CLASS.tables.iter().filter(full).find(|table| table.copies.len() == 1).unwrap();
    assert_eq!((table.every, table.steps.len(), table.of_steps), (128, 128, 32768));
    let rest = |step: &TableStep| step.position % 128;
    for step in &table.steps {
        let (ahead, left, right) = match rest(step) {
            at @ 1..=3 => (0, 0, 2 * at),
            at @ 124..=127 => (128, 2 * (128 - at), 0),
            _ => (0, 0, 0),
        };
        assert_eq!((step.ahead, step.wrong.left, step.wrong.right), (ahead, left, right), "{step:?}");
    }
    assert_eq!(table.cost.worst_wrong, 8 * 200);
}

/// Two copies half a memory row apart: nothing is wrong at any step, up to 127 lines (derived from the schematic).
#[test]
fn two_copies_half_a_row_apart_are_clean() {
    let table = OF_THE_CLASS.tables.iter().find(|table| table.copies.len() == 2 && table.width == 256).unwrap();
    assert_eq!((table.height, table.cost.worst_wrong, table.cost.jump), (127, 0, 1));
    assert!(shown(table).all(|step| model_wrong(table, step).is_empty()));
    let apart = table.copies[1];
    assert!((4..=124).contains(&(apart % 128)), "{apart}");
    assert!(table.steps.iter().any(|step| step.copy == 1));
    // The chip shows 257 scan lines at least: 129 picture lines.
    assert_eq!(table.cost.lines_below, 2);
}

/// A border hides what is left; positions left out make jumps of a known size.
#[test]
fn borders_and_jumps_are_found() {
    let bordered = OF_THE_CLASS.tables.iter().find(|table| table.width == 256 && table.border.left > 0).unwrap();
    assert_eq!((bordered.border.left, bordered.border.right, bordered.clear_width), (8, 6, 242));
    assert!(bordered.is_clean());
    let jumping = OF_THE_CLASS.tables.iter().find(|table| table.width == 256 && table.cost.jump > 1).unwrap();
    // From 123 over 128 to 132: five steps of two pixels, then four.
    assert_eq!(jumping.cost.jump, 5);
    assert_eq!(shown(jumping).count(), 121);
}

/// Where the plain board's own start addresses do, there is no table.
#[test]
fn a_plain_board_needs_no_table() {
    let bench = bench("harbour-256-plain");
    let plain = SuspectedFault { name: "nothing".into(), tap: bench.stack(), probability: 1.0 };
    let found = step_tables(&bench, &Requirements::default(), &[plain], &|_, _| ()).unwrap();
    assert!(found.tables.is_empty());
}

/// Memory addresses of every byte of the first `height` picture lines under a tap.
fn addresses<T: Tap + Clone>(quiet: &QuietFrame, start: u32, height: u32, tap: &T) -> Vec<u32> {
    let plan = quiet.at(start).plan(tap);
    let lines = plan.lines.iter().take(height as usize);
    lines.flat_map(|line| plan.spans_of(line)).flat_map(|span| span.address..span.address + span.len).collect()
}

/// Random faults of the library on four boards: no start address shows more of a position than the one in the table.
#[test]
fn trying_every_start_address_finds_none_better() {
    let on = |board: &str, mode: Option<&str>| {
        let (board, mode) = (Some(board.to_string()), mode.map(str::to_string));
        Bench::open("harbour-256", &Overrides { board, mode, ..Overrides::default() }).unwrap()
    };
    let benches = [
        on("linear-256-plain", None),
        on("colour-graphics", Some("320x200x4")),
        on("vga", Some("320x200x256")),
        on("ega", Some("320x200x16")),
    ];
    let families: Vec<Family> = Family::all_built_in().collect();
    let (mut asked, mut seed) = (0, 7u64);
    let mut faults = 0;
    while faults < 40 {
        let bench = &benches[faults % benches.len()];
        let mut random = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            seed >> 33
        };
        let family = &families[(random() % families.len() as u64) as usize];
        let stack = QuirkStack::new(vec![family.member(random() % family.count()).unwrap()], 1);
        if !Stages::ADDRESS.contains(stack.stages()) {
            continue;
        }
        faults += 1;
        let suspect = SuspectedFault { name: "random".into(), tap: stack.clone(), probability: 1.0 };
        let fixed = [Role::StartAddress, Role::HorizontalDisplayed].into();
        let requirements = Requirements { starts: Some(0..=40), may_change: fixed, ..Requirements::default() };
        let Ok(found) = step_tables(bench, &requirements, &[suspect], &|_, _| ()) else { continue };
        for table in found.tables.iter().filter(|table| table.copies.len() == 1).take(2) {
            let quiet = QuietFrame::new(bench.adapter(), &table.registers, &Plain);
            for step in shown(table).filter(|step| step.wrong.pixels > 0).take(2) {
                let meant = addresses(&quiet, step.position, table.height, &Plain);
                let wrong = |start: u32| {
                    let shown = addresses(&quiet, start, table.height, &stack);
                    shown.iter().zip(&meant).filter(|(shown, meant)| shown != meant).count()
                };
                let stated = wrong(table.start(step));
                let around = (0..table.ring)
                    .filter(|start| start.wrapping_sub(step.position) % 64 == 0 || start.abs_diff(step.position) < 256);
                assert!(around.take(120).all(|start| wrong(start) >= stated), "{} {step:?}", stack.quirks()[0].name());
                asked += 1;
            }
        }
    }
    assert!(asked >= 8, "{asked} steps asked about");
}
