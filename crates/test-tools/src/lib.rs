//! What tests share: one rule for the tools they run besides Rust (assemblers, compilers, interpreters, displays), and
//! a bench of their own.
//!
//! ```text
//! Command ──► output ──► what it printed
//!                └─ not installed ──► missing ──► skipped, or a failure under BACKPORCH_REQUIRE_TOOLS=1
//! ```
//!
//! A test that needs a tool which is not installed prints that it was skipped and passes. Where the variable
//! `BACKPORCH_REQUIRE_TOOLS` is `1`, as `.ci/run` sets it, the test fails instead, so that nothing is skipped unseen.
//!
//! ```
//! use std::process::Command;
//!
//! fn version_of_the_compiler() -> Option<String> {
//!     let output = backporch_test_tools::output(Command::new("rustc").arg("--version"))?;
//!     Some(String::from_utf8_lossy(&output.stdout).into_owned())
//! }
//! assert!(version_of_the_compiler().is_none_or(|version| version.starts_with("rustc")));
//! ```
#![forbid(unsafe_code)]

use std::fmt::Display;
use std::io;
use std::process::{Command, Output};

/// The bench file of a board that is no class of ours: memory rows of 256 bytes whose address is reloaded once a line.
pub const ROWS_BENCH: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/benches/harbour-rows.bench.ron");

/// The variable that turns a missing tool into a failure.
const REQUIRED: &str = "BACKPORCH_REQUIRE_TOOLS";

/// Runs a tool to its end; `None` where it is not installed.
///
/// # Panics
/// Where it is not installed but required, or cannot be run for another reason.
pub fn output(command: &mut Command) -> Option<Output> {
    started(command, Command::output)
}

/// Starts a tool with `start`; `None` where it is not installed.
///
/// # Panics
/// Where it is not installed but required, or cannot be run for another reason.
pub fn started<T>(command: &mut Command, start: impl FnOnce(&mut Command) -> io::Result<T>) -> Option<T> {
    match start(command) {
        Ok(started) => Some(started),
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            missing(command.get_program().to_string_lossy());
            None
        }
        Err(error) => panic!("{} cannot be run: {error}", command.get_program().to_string_lossy()),
    }
}

/// Says that a tool is missing and the test is skipped.
///
/// # Panics
/// Where tools are required.
pub fn missing(tool: impl Display) {
    assert!(std::env::var_os(REQUIRED).is_none_or(|value| value != "1"), "{tool} is missing, and {REQUIRED} is 1");
    println!("skipped: {tool} is missing; tests/run installs it");
}
