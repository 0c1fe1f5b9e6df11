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
use backporch_raster::{Intercept, Plain, QuietFrame, Stages, Tap, View};
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
        // A register written for the line is that of its last character.
        let written = table.writes_of(step).and_then(|writes| writes.lines.iter().find(|one| one.line == y));
        let last = written.map_or(last_character(table), |one| one.value);
        let shown = written.map_or(width, |one| 8 * (one.value + 1));
        fetched(begins, last, shown).zip(0..).map(move |(shows, x)| (x, y, shows))
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

/// Stepping on, nothing but the start address is written: the monitor sees no difference, from the last step to the first too.
#[test]
fn no_step_touches_the_signal() {
    let adapter = bench("harbour-256").adapter().clone();
    assert!(OF_THE_CLASS.tables.iter().all(|table| table.steps_keep_signal(&adapter)));
}

/// By steps of 16 pixels at 320, every fourth line that crosses two rows of memory is made so short that it crosses one. How
/// short follows from the class's row transfer (derived from the schematic): a line that begins `rest` bytes into its row of
/// 256 ends where the second row does. Lines advance by the register as it stands at the line's end (assumed).
#[test]
fn lines_that_cross_two_rows_are_made_to_cross_one() {
    let bench = bench("harbour-256");
    let requirements = Requirements { step_pixels: Some(16), least_width: Some(256), ..Requirements::default() };
    let found = tables(&bench, &requirements);
    let is_wide = |table: &&StepTable| table.width == 320 && table.schedule.is_some() && table.cost.jump == 1;
    let table = found.tables.iter().find(is_wide).unwrap();
    assert_eq!((table.cost.worst_wrong, table.is_clean()), (0, false), "its writes have to come in time");
    let mut written = 0;
    for step in shown(table) {
        let writes = table.writes_of(step).unwrap();
        let mut blanked = 0;
        for line in 0..table.height {
            let rest = (2 * table.start(step) + 320 * line) % 256;
            let characters = ((512 - rest) / 8).min(40);
            let value = writes.lines.iter().find(|one| one.line == line).map_or(39, |one| one.value);
            assert_eq!(value, characters - 1, "line {line} of {step:?}");
            blanked += 320 - 8 * characters;
        }
        assert_eq!(writes.blanked, blanked);
        // No other length leaves less amiss: of what is shown wrong, and of what is not shown.
        for line in 0..8 {
            let begins = (table.start(step) * 2 + line * 320) & 0xFFFF;
            let amiss = |characters: u32| {
                let shown = fetched(begins, characters - 1, 8 * characters).zip(begins..);
                (320 - 8 * characters) as usize + shown.filter(|(shown, meant)| *shown != meant & 0xFFFF).count()
            };
            let chosen = writes.lines.iter().find(|one| one.line == line).map_or(40, |one| one.displayed);
            assert!((32..=40).all(|characters| amiss(characters) >= amiss(chosen)), "line {line} of {step:?}");
        }
        assert!(model_wrong(table, step).is_empty(), "{step:?}");
        written += usize::from(!writes.lines.is_empty());
        // Rest 240: the row is loaded with pixel 16, at dot 32; before the line begins, the register would move all that follow.
        // 34 characters are over at dot 544, and the line at dot 800: at its last character clock the register is restored at
        // the latest.
        if writes.lines.first().is_some_and(|one| one.value == 33) {
            let slack = writes.slack.unwrap();
            assert_eq!((slack.set.from, slack.set.to), (-15, 32));
            assert_eq!((slack.restore.from, slack.restore.to), (545, 784));
        }
    }
    assert_eq!(written * 4, table.steps.len() * 3);
    let schedule = table.schedule.as_ref().unwrap();
    assert_eq!(schedule.least_slack().unwrap().dots(), 48);
    let shares = schedule.phase_shares(bench.adapter(), &table.registers);
    // IN 8 with a wait state, TEST 4, JZ 16 clocks (The 8086 Family User's Manual) of 25.175 / 4.7727 dots.
    let slow = shares.iter().find(|one| one.processor == "8bit-4.77").unwrap();
    assert!((slow.poll_dots - 29.0 * 25.175 / (14.31818 / 3.0)).abs() < 0.01, "{slow:?}");
    assert!((slow.least - 48.0 / slow.poll_dots).abs() < 1e-9 && slow.mean > slow.least && slow.mean < 1.0, "{slow:?}");
}

/// Without leave to change it, nothing is written; and no way without writes is lost to one with them.
#[test]
fn a_register_that_may_not_change_is_not_written() {
    let bench = bench("harbour-256");
    let fixed = [Role::StartAddress].into();
    let found = tables(&bench, &Requirements { may_change: fixed, ..Requirements::default() });
    assert!(!found.tables.is_empty() && found.tables.iter().all(|table| table.schedule.is_none()));
    let with = OF_THE_CLASS.tables.iter().filter(|table| table.schedule.is_some());
    assert_eq!(with.map(|table| (table.width, table.cost.jump > 1)).collect::<Vec<_>>(), [(320, true), (320, false)]);
}

/// The worst steps come first, and what they look like is what the independent fetch model says: with the bench's own picture no
/// more pixels differ than it counts, and some do.
#[test]
fn the_worst_steps_look_as_told() {
    let bench = bench("harbour-256");
    let table =
        OF_THE_CLASS.tables.iter().find(|table| table.width == 256 && table.cost.worst_wrong == 8 * 200).unwrap();
    let worst = table.worst_steps(4);
    // Four bouncing steps with 8, 6, 4, 2 pixels of each line wrong, three with 6, 4, 2 (derived from the schematic).
    let pixels: Vec<u32> = worst.iter().map(|step| step.wrong.pixels / 200).collect();
    assert_eq!(pixels, [8, 6, 6, 4]);
    for step in worst {
        let view = table.view(&bench, step, &bench.stack()).unwrap();
        let (meant, shown) = (view.meant.picture(View::Picture), view.shown.picture(View::Picture));
        let differing = meant.rgba.iter().zip(&shown.rgba).filter(|(meant, shown)| meant != shown).count();
        let wrong = model_wrong(table, step).len();
        assert!(differing > 0 && differing <= wrong, "{differing} of {wrong}");
    }
    let clean = OF_THE_CLASS.tables.iter().find(|table| table.copies.len() == 2).unwrap();
    let [only] = clean.worst_steps(4)[..] else { panic!("steps without a mistake look alike") };
    assert!(only.wrong.is_none() && clean.gives_up().contains("2 copies"));
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
