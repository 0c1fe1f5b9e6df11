//! Boards that come into question for what captures show.

use backporch_adapter::Registers;
use backporch_answer::MeasuredBoardAnswer;
use backporch_bench::Bench;
use backporch_quirk::QuirkStack;
use backporch_raster::Frame;

use super::looks::Suspect;

/// One of them.
pub struct CandidateBoard {
    pub name: MeasuredBoardAnswer,
    /// What it does beyond the plain one.
    pub tap: Option<QuirkStack>,
}

impl CandidateBoard {
    /// The plain board first, then as the class is built and under the bench's quirks, where either does something, then
    /// under each suspect.
    pub fn all(bench: &Bench, suspects: &[Suspect]) -> Vec<Self> {
        let mut boards = vec![Self { name: MeasuredBoardAnswer::Plain, tap: None }];
        if !bench.layers().design().is_empty() {
            boards.push(Self { name: MeasuredBoardAnswer::ByDesign, tap: Some(bench.layers().by_design()) });
        }
        if !bench.quirks().is_empty() {
            boards.push(Self { name: MeasuredBoardAnswer::UnderQuirks, tap: Some(bench.stack()) });
        }
        boards.extend(suspects.iter().map(|Suspect { name, tap }| Self {
            name: MeasuredBoardAnswer::UnderSuspect(name.clone()),
            tap: Some(tap.clone()),
        }));
        boards
    }

    /// What it shows of the bench's picture under these registers.
    pub fn frame(&self, bench: &Bench, registers: &Registers) -> Frame {
        match &self.tap {
            None => bench.plain(registers).run_frame(),
            Some(tap) => bench.under(registers, tap.clone()).run_frame(),
        }
    }
}
