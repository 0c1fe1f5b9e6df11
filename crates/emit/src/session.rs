//! A test session for the real machine: a flat program that sets one thing after another, asks what is seen, and brings
//! the answers back in a file.
//!
//! ```text
//! Session ──► prepared ─┬─► image: memory through the window ──► pictures ──► in the program, or in a data file
//!             (modes,   └─► canvas: where a pixel stands ──┐
//!              writes)                                     ├─► data, as `layout` has it ──┐
//!                                       words: the pages ──┘                              ├─► code
//!             facts of the board ──► flow, keys, routines, waits, screen, output ─────────┘
//! ```
//!
//! 8088 instructions only, firmware for modes, text and keys, the system for files.

mod canvas;
mod code;
mod data;
mod facts;
mod flow;
mod image;
mod keys;
mod layout;
mod output;
mod pictures;
mod prepared;
mod routines;
mod screen;
mod waits;
mod words;
mod writes;

use backporch_evidence::TestSession;
use thiserror::Error;

use crate::program::Code;

/// Why there is no session program.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum SessionError {
    /// No look at all.
    #[error("found no look, allowed 1 to 99")]
    Empty,
    /// No mode of the board is known to firmware.
    #[error("mode {0}: the board has no mode that firmware sets")]
    Mode(String),
    /// A look that cannot be shown by a program.
    #[error("look {look}: {why}")]
    Look {
        /// Its number, from 1.
        look: usize,
        /// Why.
        why: &'static str,
    },
    /// A register or port the program cannot drive.
    #[error("the board has no {0} that a program could use")]
    Missing(&'static str),
    /// It would not fit the one segment it has.
    #[error("the program takes {found} bytes, allowed are {allowed}: make two sessions of it")]
    TooLong {
        /// Bytes.
        found: usize,
        /// Bytes allowed.
        allowed: usize,
    },
    /// A name that the system of the time does not take.
    #[error("found the name {0}, allowed at most eight letters and digits")]
    Name(String),
    /// The assembler refused an instruction.
    #[error("the assembler refused the program: {0}")]
    Assembler(String),
}

/// A session's program and what goes beside it.
#[derive(Clone, Debug)]
pub struct SessionProgram {
    /// The program.
    pub code: Code,
    /// Packed pictures for `NAME.DAT`, where they do not fit the program.
    pub data: Option<Vec<u8>>,
    /// The answers file with nothing answered, to be filled in by the code that the program shows where it cannot write.
    pub sheet: String,
    /// The caution that belongs with it, where the signal changes on the way.
    pub caution: Option<&'static str>,
}

impl SessionProgram {
    /// Makes the program of a session; `name` is the name of its file without ending, as the system of the time has it.
    ///
    /// # Errors
    /// Where a look cannot be shown by a program, or all of it takes too much room.
    pub fn new(session: &TestSession, name: &str) -> Result<Self, SessionError> {
        code::program(session, name)
    }
}
