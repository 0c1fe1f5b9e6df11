//! A strip of verdicts: a bar for each step, the higher the worse.

use askama::Template;
use backporch_picture::mark::Mark;

/// Verdicts in a row.
#[derive(Clone, Debug, PartialEq, Eq, Template)]
#[template(path = "strip.svg")]
pub struct VerdictStrip {
    bars: Vec<Bar>,
    columns: u32,
}

/// Neighbouring steps of the same verdict.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Bar {
    from: u32,
    columns: u32,
    mark: Mark,
}

impl VerdictStrip {
    /// Lays the verdicts of all steps side by side.
    pub fn new(verdicts: impl Iterator<Item = Mark>) -> Self {
        let mut strip = Self { bars: Vec::new(), columns: 0 };
        for mark in verdicts {
            match strip.bars.last_mut() {
                Some(bar) if bar.mark == mark => bar.columns += 1,
                _ => strip.bars.push(Bar { from: strip.columns, columns: 1, mark }),
            }
            strip.columns += 1;
        }
        strip
    }
}

impl Bar {
    /// Height in hundredths.
    fn height(&self) -> u32 {
        match self.mark {
            Mark::Clean => 20,
            Mark::EdgeDamaged => 60,
            Mark::Broken => 100,
        }
    }
}
