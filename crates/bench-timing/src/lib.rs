//! Side-by-side timings for the benchmarks.
//!
//! Contestants are timed in turns within one run, round after round, so that
//! whatever else the machine is doing strikes all of them; what is printed are
//! medians and the ratios between them. Nothing here gates a test.
#![forbid(unsafe_code)]

use std::time::{Duration, Instant};

/// Rounds every contestant is timed for.
const ROUNDS: usize = 61;
/// How long one timing of a contestant should last.
const SHORTEST: Duration = Duration::from_millis(2);

/// Contestants of one table.
#[derive(Default)]
pub struct Table<'a> {
    contestants: Vec<(String, Box<dyn FnMut() + 'a>)>,
}

/// Medians of a table, in the order in which the contestants were added.
pub struct Medians {
    names: Vec<String>,
    nanoseconds: Vec<f64>,
}

impl<'a> Table<'a> {
    /// Adds a contestant.
    #[must_use]
    pub fn with(mut self, name: &str, run: impl FnMut() + 'a) -> Self {
        self.contestants.push((name.to_string(), Box::new(run)));
        self
    }

    /// Times all contestants in turns and prints their medians.
    #[must_use]
    pub fn run(self) -> Medians {
        let medians = self.measure();
        for (name, time) in medians.names.iter().zip(&medians.nanoseconds) {
            println!("  {name:44} {:10.2} us", time / 1e3);
        }
        medians
    }

    /// Times all contestants in turns.
    #[must_use]
    pub fn measure(mut self) -> Medians {
        let repeats: Vec<u32> = self.contestants.iter_mut().map(|(_, run)| repeats(run)).collect();
        let mut times = vec![Vec::with_capacity(ROUNDS); self.contestants.len()];
        for _ in 0..ROUNDS {
            for (((_, run), repeats), times) in self.contestants.iter_mut().zip(&repeats).zip(&mut times) {
                times.push(time(run, *repeats).as_nanos() as f64 / f64::from(*repeats));
            }
        }
        let names: Vec<String> = self.contestants.into_iter().map(|(name, _)| name).collect();
        let nanoseconds: Vec<f64> = times.iter_mut().map(|times| median(times)).collect();
        Medians { names, nanoseconds }
    }
}

impl Medians {
    /// Prints how many times as long the first contestant takes as the second.
    pub fn ratio(&self, one: &str, other: &str, aim: &str) {
        println!("  {:44} {:10.3}    aim: {aim}", format!("{one} / {other}"), self.of(one) / self.of(other));
    }

    /// Nanoseconds of a contestant; not a number where there is none of that name.
    #[must_use]
    pub fn of(&self, name: &str) -> f64 {
        self.names.iter().position(|known| known == name).map_or(f64::NAN, |at| self.nanoseconds[at])
    }
}

/// What a figure has to keep to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Aim {
    /// It should not exceed this.
    AtMost(f64),
    /// It should reach this.
    AtLeast(f64),
}

impl Aim {
    /// How far a figure misses it: 1 is just met, more is missed.
    fn missed_by(self, figure: f64) -> f64 {
        match self {
            Self::AtMost(most) => figure / most,
            Self::AtLeast(least) => least / figure,
        }
    }
}

/// One figure of many contestants, to be printed with the one that misses its aim by most first.
pub struct Ranking {
    title: String,
    rows: Vec<(String, f64, Aim)>,
}

impl Ranking {
    /// Without a contestant yet.
    #[must_use]
    pub fn new(title: &str) -> Self {
        Self { title: title.to_string(), rows: Vec::new() }
    }

    /// Adds a contestant's figure.
    pub fn add(&mut self, name: &str, figure: f64, aim: Aim) {
        self.rows.push((name.to_string(), figure, aim));
    }

    /// Prints the figures, worst first.
    pub fn print(mut self) {
        self.rows.sort_by(|(_, one, aim), (_, other, of)| of.missed_by(*other).total_cmp(&aim.missed_by(*one)));
        println!("{}", self.title);
        for (name, figure, aim) in &self.rows {
            let (word, bound) = match aim {
                Aim::AtMost(most) => ("at most", most),
                Aim::AtLeast(least) => ("at least", least),
            };
            let missed = if aim.missed_by(*figure) > 1.0 { ", missed" } else { "" };
            println!("  {name:44} {figure:10.3}    aim: {word} {bound}{missed}");
        }
    }
}

fn time(run: &mut dyn FnMut(), repeats: u32) -> Duration {
    let start = Instant::now();
    for _ in 0..repeats {
        run();
    }
    start.elapsed()
}

/// Repeats that make one timing last long enough.
fn repeats(run: &mut Box<dyn FnMut() + '_>) -> u32 {
    let mut repeats = 1;
    while time(run, repeats) < SHORTEST && repeats < 1 << 20 {
        repeats *= 2;
    }
    repeats
}

fn median(times: &mut [f64]) -> f64 {
    times.sort_by(f64::total_cmp);
    times.get(times.len() / 2).copied().unwrap_or(f64::NAN)
}
