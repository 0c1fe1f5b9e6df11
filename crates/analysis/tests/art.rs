//! The art check against frames counted by hand and against brute force.

use backporch_analysis::art::{ArtCheck, best_column, contrast};
use backporch_bench::{Bench, Overrides};
use backporch_raster::{Plain, View};
use backporch_test_tools::ROWS_BENCH;

fn bench() -> Bench {
    Bench::open(ROWS_BENCH, &Overrides::default()).unwrap()
}

/// At step 16 the last 32 pixels of 50 lines are damaged (derived table of the
/// class's known fault); what is seen of them lies there and nowhere else.
#[test]
fn what_is_seen_lies_where_the_damage_is() {
    let bench = bench();
    let check = ArtCheck::new(&bench, bench.registers(), &bench.stack(), &[0, 16]);
    assert_eq!((check.starts[0].damaged_lines, check.starts[0].visible_pixels), (0, 0));
    assert_eq!(check.starts[1].damaged_lines, 50);
    assert!((1..=50 * 32).contains(&check.starts[1].visible_pixels));
    let places = (0..check.screen.height).flat_map(|y| (0..check.screen.width).map(move |x| (x, y)));
    let lit = places.zip(&check.screen.weights).filter(|(_, weight)| **weight > 0.0).map(|(place, _)| place);
    let lit: Vec<(u32, u32)> = lit.collect();
    assert_eq!(lit.len() as u32, check.starts[1].visible_pixels);
    assert!(lit.iter().all(|(x, y)| *x >= 288 && y % 4 == 3));
    // On the picture they lie 32 pixels further on, where the screen has moved to.
    let art: f32 = check.art.weights.iter().sum();
    assert!((f64::from(art) - check.weight()).abs() < 1e-3 * check.weight());
    let row = &check.art.weights[(3 * check.art.width) as usize..(4 * check.art.width) as usize];
    assert!(row.iter().enumerate().all(|(x, weight)| *weight == 0.0 || (320..352).contains(&x)));
}

/// The weight of every column the search tries is that of a bench with the
/// picture moved there, frames held against each other pixel by pixel.
#[test]
fn the_best_column_is_the_best() {
    let starts = [5, 16, 31];
    let moved = |column: u32| {
        let text = format!(
            "(version: 1, adapter: \"linear-256-plain\", quirks: [(name: \"row-reload\")], \
             picture: (source: \"harbour\", scroll: Redrawn, column: {column}))"
        );
        let source = backporch_input::Source::built_in("moved", text);
        Bench::from_source(&source, "moved", &Default::default(), &Overrides::default()).unwrap()
    };
    let seen = |bench: &Bench| ArtCheck::new(bench, bench.registers(), &bench.stack(), &starts).weight();
    let here = moved(0);
    let best = best_column(&here, here.registers(), &here.stack(), &starts).unwrap();
    let close = |one: f64, other: f64| (one - other).abs() <= 1e-4 * (1.0 + other);
    assert!(close(best.weight_now, seen(&here)));
    assert!(close(best.weight, seen(&moved(best.shift))));
    for column in (0..here.picture().unwrap().width()).step_by(37) {
        assert!(best.weight <= seen(&moved(column)) + 1e-4, "{column}");
    }
}

#[test]
fn a_healthy_board_shows_nothing() {
    let bench = bench();
    let check = ArtCheck::new(&bench, bench.registers(), &Plain, &[0, 1, 77]);
    assert_eq!((check.weight(), check.unseen(), check.screen.most()), (0.0, 1.0, 0.0));
    let frame = bench.plain(bench.registers()).run_frame().picture(View::Picture);
    assert_eq!((check.screen.width, check.screen.height), (frame.width, frame.height));
    assert_eq!(contrast(frame.rgba[0], frame.rgba[0]), 0.0);
}
