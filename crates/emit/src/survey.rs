//! A survey of the real machine: a flat program that measures what it runs on, without a person, and writes what it found
//! to a file.
//!
//! ```text
//! Adapter, modes ──► facts ──► tables ──► data: patterns, experiments, modes ──┐
//!                      │                                                       ├─► code
//!                      └─► flow, timing, beam, inspection, take_over, output ──┘
//! ```
//!
//! An experiment is a pattern of one to four instructions, laid one after the other many times and called once with
//! interrupts off; the timer's first counter, in mode 2 and latched, stands before and after. Few patterns suffice,
//! since what a bus cycle costs is the *difference* of two of them: no loop and no clock of any instruction has to be known.
//! The program writes down what it counted, nothing else; what follows from it is for whoever reads the file.
//!
//! 8088 instructions only, firmware for modes and keys, the system for the file. No register is written whose change would
//! change the signal of the mode: that is found by comparing signals.

mod beam;
mod code;
mod facts;
mod flow;
mod inspection;
mod layout;
mod output;
mod tables;
mod take_over;
mod timing;
mod words;

use std::sync::Arc;

use backporch_adapter::{Adapter, Mode};
use thiserror::Error;

use crate::program::Code;

/// Why there is no survey program.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum SurveyError {
    /// No mode of those asked for is known to firmware.
    #[error("the board has no mode that firmware sets")]
    NoMode,
    /// A register or port the program cannot drive.
    #[error("the board has no {0} that a program could use")]
    Missing(&'static str),
    /// It would not fit below the room it measures in.
    #[error("the program takes {found} bytes, allowed are {allowed}: survey fewer modes at a time")]
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

/// A survey's program.
#[derive(Clone, Debug)]
pub struct SurveyProgram {
    /// The program.
    pub code: Code,
    /// Names of the modes it measures.
    pub modes: Vec<String>,
}

impl SurveyProgram {
    /// Makes the program that surveys a machine with a board of this class in some of its modes; those that firmware does
    /// not set are left out.
    ///
    /// # Errors
    /// Where the board lacks what such a program needs, or no mode is left.
    pub fn new(adapter: &Arc<Adapter>, modes: &[&Mode]) -> Result<Self, SurveyError> {
        code::program(adapter, modes)
    }
}
