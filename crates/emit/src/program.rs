//! A test program for the real machine: flat, real mode, loaded at 100h.
//!
//! It sets the mode through the BIOS, unpacks a test picture with numbered
//! columns and lines into video memory, programs the registers in the safe
//! order, and then steps through start addresses: any key goes on, backspace
//! goes back, escape ends it. The number of the step stands at the top left. At
//! the end it restores text mode.

mod code;
mod draft;
mod picture;
mod sources;

pub use code::Code;
pub(crate) use code::DataPart;
pub(crate) use sources::{LINES_DOWN, LOADED_AT, MOST_BYTES, TEXT_MODE};

use std::sync::Arc;

use backporch_adapter::{Adapter, Mode, Registers};
use thiserror::Error;

use super::table::WriteTable;

/// The start addresses a test program steps through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SteppedStarts {
    /// First start address.
    pub from: u32,
    /// Address units of a step.
    pub stride: u32,
    /// Number of steps; after the last the first follows.
    pub count: u32,
}

/// Why there is no program.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ProgramError {
    /// The mode has no number with the BIOS that is known.
    #[error("mode {0}: no BIOS mode number is known for it")]
    Mode(String),
    /// The mode shows characters, or pixels spread over planes.
    #[error("mode {0}: test pictures are made for packed pixels only")]
    Pixels(String),
    /// A register or port the program cannot drive.
    #[error("the board has no {0} that a program could use")]
    Missing(&'static str),
    /// The sweep shows nothing, or leaves the start address's range.
    #[error("a sweep of {count} steps from {from} by {stride}: allowed are 1 to 65535 steps, from 0 to {most}")]
    Sweep {
        /// First start address.
        from: u32,
        /// Address units of a step.
        stride: u32,
        /// Number of steps.
        count: u32,
        /// Greatest start address.
        most: u32,
    },
    /// It would not fit the one segment it has.
    #[error("the program takes {found} bytes, allowed are {allowed}")]
    TooLong {
        /// Bytes.
        found: usize,
        /// Bytes allowed.
        allowed: usize,
    },
    /// The assembler refused an instruction.
    #[error("the assembler refused the program: {0}")]
    Assembler(String),
}

/// What a test program does.
#[derive(Clone, Debug)]
pub struct TestProgram<'a> {
    /// The board.
    pub adapter: &'a Arc<Adapter>,
    /// The mode the BIOS sets.
    pub mode: &'a Mode,
    /// The registers it programs.
    pub registers: &'a Registers,
    /// The start addresses it steps through.
    pub sweep: SteppedStarts,
}

impl TestProgram<'_> {
    /// Assembles it.
    ///
    /// # Errors
    /// Where mode, board or sweep cannot be driven by such a program.
    pub fn assemble(&self) -> Result<Code, ProgramError> {
        let most = self.adapter.field_info(self.adapter.start_address()).max();
        let SteppedStarts { from, stride, count } = self.sweep;
        if !(1..=0xFFFF).contains(&count) || from > most || stride > 0xFFFF || most > 0xFFFF {
            return Err(ProgramError::Sweep { from, stride, count, most });
        }
        let table = WriteTable::new(self.adapter, self.mode, self.registers);
        draft::assemble(self, &table)
    }

    /// Video memory as the program lays it.
    ///
    /// # Errors
    /// Where the mode has no packed pixels.
    pub fn memory(&self) -> Result<Vec<u8>, ProgramError> {
        picture::memory(self)
    }
}
