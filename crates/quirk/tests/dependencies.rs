//! What a stack says it depends on is all it depends on.

use backporch_adapter::Adapter;
use backporch_quirk::{Family, QuirkStack};
use backporch_raster::{Intercept, Line, LineDependencies, LineReuse, Plain, QuietFrame, Run, Stages};
use proptest::prelude::*;

/// Everything a stack does to a line.
fn done(stack: &QuirkStack, line: &Line) -> (Stages, u32, Vec<Run>, Vec<u8>, Vec<u8>) {
    let byte = |at: u32| (at.wrapping_mul(0x9E37_79B1) >> 11) as u8;
    let mut bytes: Vec<u8> = (0..64).map(byte).collect();
    let mut pixels: Vec<u8> = (0..64).map(|x| byte(x) & 1).collect();
    let here = stack.line_effects(line).stages;
    if here.contains(Stages::FETCH) {
        stack.fetch(line, 0, &mut bytes, &byte);
    }
    if here.contains(Stages::PIXEL) {
        stack.pixels(line, 0, &mut pixels, &|x| byte(x) & 1);
    }
    let runs = if here.contains(Stages::ADDRESS) {
        (0..64).map(|at| stack.address(line, at, line.plain_address(at))).collect()
    } else {
        Vec::new()
    };
    let bank = if here.contains(Stages::ADDRESS) { stack.bank(line) } else { line.bank };
    (here, bank, runs, bytes, pixels)
}

proptest! {
    /// Changing a predicate that no quirk of the library says it looks at changes nothing.
    #[test]
    fn undeclared_dependencies_change_nothing(
        pick in any::<u64>(), which in 0usize..3, start in 0u32..4096, index in 0u32..200, other in any::<u32>(),
    ) {
        let (board, mode) = [("linear-256", "320x200x256"), ("colour-graphics", "320x200x4"), ("colour-graphics", "text-80")][which];
        let adapter = Adapter::built_in(board).unwrap();
        let registers = adapter.start_up(adapter.mode(mode).unwrap());
        let quiet = QuietFrame::new(&adapter, &registers, &Plain);
        let line = quiet.line(3, start, index % quiet.picture_lines());
        for family in Family::all_built_in() {
            let quirk = family.member(pick % family.count()).unwrap();
            let stack = QuirkStack::new(vec![quirk], pick);
            let dependencies = stack.depends_on();
            let mut changed = line;
            if !dependencies.contains(LineDependencies::LINEAR) {
                changed.linear = other & line.mask;
            }
            if !dependencies.contains(LineDependencies::LENGTH) {
                (changed.displayed, changed.bytes, changed.pitch) = (line.displayed + 5, line.bytes + 64, other % 512);
            }
            if !dependencies.contains(LineDependencies::PLACE) {
                changed.scan_line = other % 400;
                (changed.picture_line, changed.row) = (other % 200, other % 100);
                (changed.row_address, changed.bank) = ((other % 2) as u8, line.bank ^ 0x2000);
            }
            if !dependencies.contains(LineDependencies::START) {
                changed.start = other % 4096;
            }
            if !dependencies.contains(LineDependencies::FRAME) {
                changed.frame = u64::from(other % 60);
            }
            let (one, two) = (done(&stack, &line), done(&stack, &changed));
            prop_assert_eq!((one.0, one.3, one.4), (two.0, two.3, two.4), "{}", family.name());
            prop_assert_eq!(one.1 == line.bank, two.1 == changed.bank, "{}", family.name());
            // Addresses move with the line; by how far is what counts.
            let moved = |line: &Line, runs: &[Run]| -> Vec<(u32, u32)> {
                (0..).zip(runs).map(|(at, run)| (run.linear.wrapping_sub(line.plain_address(at)), run.len)).collect()
            };
            prop_assert_eq!(moved(&line, &one.2), moved(&changed, &two.2), "{}", family.name());
        }
    }
}
