//! Every step held against a guess of the frame, on a few cells.
//!
//! A cell is some pixels wide and some lines high; what stands in it at any place of the content is worked out once. Cells
//! are compared by how they differ from the ones beside and below, so that light does not count, row by row, so that
//! damaged rows do not pull.

use crate::expected::Rgb8;
use crate::register::Pyramid;
use crate::steps::{StepPictures, displaced};
use crate::warp::Warp;

/// Cells across and down, about.
const CELLS: (usize, usize) = (40, 25);

/// The content in cells.
pub(super) struct Coarse {
    /// Pixels and lines of a cell.
    cell: (usize, usize),
    columns: usize,
    rows: usize,
    /// For each strip the brightness of a cell whose first line begins there, once around and a line more.
    tables: Vec<Vec<f32>>,
}

/// What a capture shows in a guessed frame: for each row of cells its differences, of length one.
pub(super) struct CellDifferences(Vec<f32>);

/// A step found in a frame.
#[derive(Clone, Copy, Debug)]
pub(super) struct CoarseMatch {
    pub step: usize,
    pub frame: usize,
    pub score: f32,
}

impl Coarse {
    pub fn new(steps: &dyn StepPictures) -> Self {
        let (width, height) = steps.size();
        let cell = ((width / CELLS.0).max(1), (height / CELLS.1).max(1));
        let (columns, rows) = (width / cell.0, height / cell.1);
        let brightness = |colour: &Rgb8| (f32::from(colour[0]) + f32::from(colour[1]) + f32::from(colour[2])) / 3.0;
        // Sums of as many pixels as a cell is wide.
        let sums: Vec<Vec<f32>> = steps
            .strips()
            .iter()
            .map(|strip| {
                let values: Vec<f32> = strip.iter().map(brightness).collect();
                let mut sum: f32 = (0..cell.0).map(|at| values[at % values.len()]).sum();
                (0..values.len())
                    .map(|at| {
                        let here = sum;
                        sum += values[(at + cell.0) % values.len()] - values[at];
                        here
                    })
                    .collect()
            })
            .collect();
        let tables = (0..sums.len()).map(|strip| {
            let length = sums[strip].len();
            // The lines of a cell that begins in this strip, by the first such line there is.
            let first = (0..=height - cell.1).find(|line| steps.count() > 0 && steps.begins(0, *line).0 == strip);
            let Some(first) = first else { return vec![0.0; length + width] };
            let begins = steps.begins(0, first).1;
            let lines: Vec<(usize, i64)> = (0..cell.1)
                .map(|down| steps.begins(0, first + down))
                .map(|(strip, at)| (strip, at as i64 - begins as i64))
                .collect();
            let mut table = vec![0.0_f32; length];
            for (of, ahead) in lines {
                let sums = &sums[of];
                let from = ahead.rem_euclid(sums.len() as i64) as usize;
                for (at, cell) in table.iter_mut().enumerate() {
                    *cell += sums[(from + at) % sums.len()];
                }
            }
            let around: Vec<f32> = table.iter().cycle().take(length + width).copied().collect();
            around
        });
        Self { cell, columns, rows, tables: tables.collect() }
    }

    /// Numbers of a row of cells: differences from one to the next, one of them nothing, and to the row below.
    fn row(&self) -> usize {
        2 * self.columns
    }

    /// What a capture shows in a frame.
    pub fn seen(&self, pyramid: &Pyramid, frame: &Warp) -> CellDifferences {
        let step = (self.cell.0 as f64, self.cell.1 as f64);
        let cells = pyramid.cells(frame, (self.columns, self.rows), step);
        let mut differences = vec![0.0; self.row() * self.rows];
        self.differences(&cells.data, &mut differences);
        for row in differences.chunks_mut(self.row()) {
            let length = product(row, row).sqrt().max(1e-6);
            row.iter_mut().for_each(|value| *value /= length);
        }
        CellDifferences(differences)
    }

    fn differences(&self, cells: &[f32], differences: &mut [f32]) {
        for (row, out) in differences.chunks_mut(self.row()).enumerate() {
            let here = &cells[row * self.columns..][..self.columns];
            let other = if row + 1 < self.rows { row + 1 } else { row - 1 };
            let below = &cells[other * self.columns..][..self.columns];
            let (beside, down) = out.split_at_mut(self.columns);
            beside.iter_mut().zip(here.windows(2)).for_each(|(out, pair)| *out = pair[1] - pair[0]);
            down.iter_mut().zip(here.iter().zip(below)).for_each(|(out, (here, below))| *out = below - here);
        }
    }

    /// The cells of a step.
    fn cells(&self, steps: &dyn StepPictures, step: usize, cells: &mut [f32]) {
        for (row, out) in cells.chunks_mut(self.columns).enumerate() {
            let (strip, at) = steps.begins(step, row * self.cell.1);
            let places = self.tables[strip].get(at..).unwrap_or_default().iter().step_by(self.cell.0);
            out.iter_mut().zip(places).for_each(|(out, value)| *out = *value);
        }
    }

    fn agreement(&self, seen: &CellDifferences, differences: &[f32], lengths: &[f32]) -> f32 {
        let rows = seen.0.chunks(self.row()).zip(differences.chunks(self.row())).zip(lengths);
        let sum: f32 = rows.map(|((seen, meant), length)| (product(seen, meant) / length).max(0.0)).sum();
        sum / self.rows as f32
    }

    fn lengths(&self, differences: &[f32], lengths: &mut [f32]) {
        for (length, row) in lengths.iter_mut().zip(differences.chunks(self.row())) {
            *length = product(row, row).sqrt().max(1e-6);
        }
    }

    /// How well a step fits what was seen, up to 1.
    pub fn score(&self, steps: &dyn StepPictures, seen: &CellDifferences, step: usize) -> f64 {
        let (mut cells, mut differences) = (vec![0.0; self.columns * self.rows], vec![0.0; self.row() * self.rows]);
        let mut lengths = vec![0.0; self.rows];
        self.cells(steps, step, &mut cells);
        self.differences(&cells, &mut differences);
        self.lengths(&differences, &mut lengths);
        f64::from(self.agreement(seen, &differences, &lengths))
    }

    /// The steps that fit best, best first, at most `most`; of steps that show the same content in a frame the best one.
    pub fn ranked(&self, steps: &dyn StepPictures, seen: &[CellDifferences], most: usize) -> Vec<CoarseMatch> {
        let (mut cells, mut differences) = (vec![0.0; self.columns * self.rows], vec![0.0; self.row() * self.rows]);
        let mut lengths = vec![0.0; self.rows];
        let mut all = Vec::with_capacity(steps.count() * seen.len());
        for step in 0..steps.count() {
            self.cells(steps, step, &mut cells);
            self.differences(&cells, &mut differences);
            self.lengths(&differences, &mut lengths);
            for (frame, seen) in seen.iter().enumerate() {
                all.push(CoarseMatch { step, frame, score: self.agreement(seen, &differences, &lengths) });
            }
        }
        all.sort_unstable_by(|one, other| other.score.total_cmp(&one.score).then(one.step.cmp(&other.step)));
        let mut best: Vec<CoarseMatch> = Vec::new();
        for found in all {
            if best.len() >= most {
                break;
            }
            let known = |one: &CoarseMatch| {
                one.frame == found.frame && (one.step == found.step || displaced(steps, one.step, found.step).is_some())
            };
            if !best.iter().any(known) {
                best.push(found);
            }
        }
        best
    }
}

/// The sum of products, in eight sums side by side.
fn product(one: &[f32], other: &[f32]) -> f32 {
    let mut sums = [0.0_f32; 8];
    let (ones, others) = (one.chunks_exact(8), other.chunks_exact(8));
    let rest: f32 = ones.remainder().iter().zip(others.remainder()).map(|(a, b)| a * b).sum();
    for (a, b) in ones.zip(others) {
        sums.iter_mut().zip(a.iter().zip(b)).for_each(|(sum, (a, b))| *sum += a * b);
    }
    sums.iter().sum::<f32>() + rest
}
