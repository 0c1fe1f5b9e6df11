//! The timing formulas held against published results of theirs.

use std::process::Command;

use backporch_signal::{Axis, Formula, Hertz, Signal};
use proptest::prelude::*;
use proptest::sample::select;

/// Dots shown, front porch, sync, back porch; the same of lines. The formulas as published go below 0 on slow lines.
type Parts = ([i64; 4], [i64; 4]);

/// Formula, frame rate, dot clock in MHz, and the parts of both axes.
///
/// VESA Generalized Timing Formula 1.1 and Coordinated Video Timings 1.2, as `edid-decode` and the mode lines published for
/// these sizes have them. 1,400 x 1,050 and 1,440 x 900: rows of VESA Display Monitor Timing that name CVT as their source.
const PUBLISHED: &[(Formula, f64, f64, Parts)] = &[
    (Formula::Gtf, 60.0, 23.856, ([640, 16, 64, 80], [480, 1, 3, 13])),
    (Formula::Gtf, 75.0, 30.722, ([640, 24, 64, 88], [480, 1, 3, 18])),
    (Formula::Gtf, 50.0, 19.404, ([640, 8, 64, 72], [480, 1, 3, 11])),
    (Formula::Gtf, 60.0, 38.216, ([800, 32, 80, 112], [600, 1, 3, 18])),
    (Formula::Gtf, 60.0, 64.109, ([1024, 56, 104, 160], [768, 1, 3, 23])),
    (Formula::Cvt, 60.0, 23.75, ([640, 16, 64, 80], [480, 3, 4, 13])),
    (Formula::Cvt, 75.0, 30.75, ([640, 24, 64, 88], [480, 3, 4, 17])),
    (Formula::Cvt, 60.0, 38.25, ([800, 32, 80, 112], [600, 3, 4, 17])),
    (Formula::Cvt, 60.0, 63.5, ([1024, 48, 104, 152], [768, 3, 4, 23])),
    (Formula::Cvt, 60.0, 121.75, ([1400, 88, 144, 232], [1050, 3, 4, 32])),
    (Formula::Cvt, 60.0, 106.5, ([1440, 80, 152, 232], [900, 3, 6, 25])),
    // Shapes of which only whole dots fit, and a frame that is whole lines in theory (`edid-decode`).
    (Formula::Cvt, 70.0, 36.75, ([840, 32, 80, 112], [473, 3, 5, 15])),
    (Formula::Cvt, 51.0, 20.75, ([728, 16, 72, 88], [437, 3, 7, 7])),
    (Formula::Cvt, 60.0, 101.75, ([1280, 80, 128, 208], [964, 3, 10, 24])),
];

/// Shapes of a picture that CVT tells by its lines of vertical sync.
const SHAPES: &[(u32, u32)] = &[(4, 3), (16, 9), (16, 10), (5, 4), (15, 9)];

fn parts(axis: &Axis) -> [i64; 4] {
    [axis.active(), axis.front_porch(), axis.sync(), axis.back_porch()].map(i64::from)
}

fn hertz(value: f64) -> Hertz {
    Hertz::new(value).unwrap()
}

#[test]
fn published_results_come_out() {
    for &(formula, rate, megahertz, (across, down)) in PUBLISHED {
        let signal = formula.signal(across[0] as u32, down[0] as u32, hertz(rate)).unwrap();
        let found = (parts(&signal.horizontal), parts(&signal.vertical));
        assert_eq!(found, (across, down), "{} {} x {}", formula.name(), across[0], down[0]);
        assert!((signal.dot_clock.get() / 1e6 - megahertz).abs() < 1e-3, "{}", signal.dot_clock);
    }
}

/// What `edid-decode` computes, as it prints it; `None` where it is not there.
fn computed(arguments: &str, formula: Formula) -> Option<(f64, Parts)> {
    let option = match formula {
        Formula::Gtf => "--gtf",
        Formula::Cvt => "--cvt",
    };
    let output = backporch_test_tools::output(Command::new("edid-decode").args([option, arguments]))?;
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let words: Vec<&str> = text.split_whitespace().collect();
    let number = |at: usize| words[at].parse::<f64>().unwrap();
    let after = |name: &str| number(words.iter().position(|word| *word == name).unwrap() + 1) as i64;
    let clock = number(words.iter().position(|word| *word == "MHz").unwrap() - 1);
    let (width, height) = words[1].split_once('x').unwrap();
    let across = [width.parse().unwrap(), after("Hfront"), after("Hsync"), after("Hback")];
    let down = [height.parse().unwrap(), after("Vfront"), after("Vsync"), after("Vback")];
    Some((clock, (across, down)))
}

/// Whether sync has no room in the blanking that was computed.
fn has_no_room((_, (across, _)): &(f64, Parts)) -> bool {
    across.iter().any(|part| *part < 0)
}

fn same(signal: &Signal, (clock, computed): (f64, Parts)) -> bool {
    let near = (signal.dot_clock.get() / 1e6 - clock).abs() < 2e-3;
    near && (parts(&signal.horizontal), parts(&signal.vertical)) == computed
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Any size of whole cells at any rate of its time, held against `edid-decode`.
    #[test]
    fn any_size_comes_out_as_computed(cells in 32u32..=160, lines in 200u32..=1024, rate in 48u32..=90) {
        for formula in [Formula::Gtf, Formula::Cvt] {
            let arguments = format!("w={},h={lines},fps={rate}", cells * 8);
            let Some(expected) = computed(&arguments, formula) else { return Ok(()) };
            match formula.signal(cells * 8, lines, hertz(f64::from(rate))) {
                Some(signal) => prop_assert!(same(&signal, expected), "{arguments}: {signal:?}, {expected:?}"),
                None => prop_assert!(has_no_room(&expected), "{arguments}: {expected:?}"),
            }
        }
    }

    /// Sizes in and beside the shapes that CVT knows, held against `edid-decode`.
    #[test]
    fn shapes_come_out_as_computed(lines in 200u32..=768, (across, down) in select(SHAPES)) {
        let cells = lines * across / down / 8;
        let arguments = format!("w={},h={lines},fps=60", cells * 8);
        let Some(expected) = computed(&arguments, Formula::Cvt) else { return Ok(()) };
        let signal = Formula::Cvt.signal(cells * 8, lines, hertz(60.0)).unwrap();
        prop_assert!(same(&signal, expected), "{arguments}: {signal:?}, {expected:?}");
    }

    /// The line from a given dot clock, GTF's second way in, held against `edid-decode`.
    #[test]
    fn a_given_dot_clock_comes_out_as_computed(cells in 32u32..=160, kilohertz in 14_000u32..=60_000) {
        let (dots, clock) = (cells * 8, f64::from(kilohertz) / 1e3);
        let expected = computed(&format!("w={dots},h=480,pixclk={clock:.3}"), Formula::Gtf);
        let Some(expected) = expected else { return Ok(()) };
        let total = Formula::Gtf.least_line(dots, 8, hertz(clock * 1e6)).unwrap();
        let line = parts(&Formula::Gtf.horizontal(dots, total, 8).unwrap());
        let (_, (across, _)) = expected;
        if has_no_room(&expected) {
            prop_assert!(i64::from(total) > across.iter().sum::<i64>(), "longer, so that sync has room");
        } else {
            prop_assert_eq!(line, across, "{} dots at {} MHz", dots, clock);
        }
    }

    /// No size or rate is too odd: no panic, and what comes out is a signal of that size.
    #[test]
    fn nothing_is_too_odd(dots in any::<u32>(), lines in any::<u32>(), rate in 1e-3f64..1e9, cell in any::<u16>()) {
        for formula in [Formula::Gtf, Formula::Cvt] {
            if let Some(signal) = formula.signal(dots, lines, hertz(rate)) {
                prop_assert_eq!((signal.horizontal.active(), signal.vertical.active()), (dots, lines));
            }
            let dots = dots % 16_385;
            if let Some(total) = formula.least_line(dots, cell.into(), hertz(rate)) {
                prop_assert!(total > dots);
            }
        }
    }
}

/// The board whose dots are those of VESA Display Monitor Timing 04h: at 25.175 MHz the formula makes 640 dots a line of 800,
/// 31.469 kHz, like the timing from before it.
#[test]
fn the_formula_meets_the_timing_of_its_time() {
    assert_eq!(Formula::Gtf.least_line(640, 8, hertz(25_175_000.0)), Some(800));
}
