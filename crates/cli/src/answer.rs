//! Answers: text for people, JSON for programs, refusals in one line.

use std::fmt::Display;
use std::io::{self, Write};
use std::process::ExitCode;

use backporch_input::{InputError, InputErrorKind};
use serde::Serialize;

use crate::args::{Format, General};

/// Whether a check found anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// Nothing wrong.
    Nothing,
    /// Damage, hazards, or no workaround.
    Something,
}

impl Found {
    /// The program's exit status.
    pub fn status(self) -> u8 {
        match self {
            Self::Nothing => 0,
            Self::Something => 1,
        }
    }
}

/// Where a command's answer goes.
#[derive(Debug)]
pub struct Answer {
    format: Format,
    quiet: bool,
}

impl Answer {
    pub fn new(general: &General) -> Self {
        Self { format: general.format, quiet: general.quiet }
    }

    /// Whether the answer is for programs.
    pub fn is_json(&self) -> bool {
        self.format == Format::Json
    }

    pub fn is_quiet(&self) -> bool {
        self.quiet
    }

    /// A line for people; not printed where the answer is JSON or quiet.
    pub fn say(&mut self, line: impl Display) -> io::Result<()> {
        match self.is_json() || self.quiet {
            true => Ok(()),
            false => self.write(format_args!("{line}\n")),
        }
    }

    /// The answer itself: JSON where asked for, else what `text` makes of it.
    pub fn give<T: Serialize>(&mut self, json: &T, text: impl FnOnce(&T) -> String) -> anyhow::Result<()> {
        match self.format {
            Format::Json => self.write(format_args!("{}\n", serde_json::to_string(json)?))?,
            Format::Text => self.write(format_args!("{}", text(json)))?,
        }
        Ok(())
    }

    /// Bytes as they are.
    pub fn bytes(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut out = io::stdout().lock();
        out.write_all(bytes)?;
        out.flush()
    }

    fn write(&mut self, text: std::fmt::Arguments) -> io::Result<()> {
        let mut out = io::stdout().lock();
        out.write_fmt(text)?;
        out.flush()
    }
}

/// Says in one line why nothing was done, with a line of help where there is
/// a likely cure. A reader that went away is no fault of anyone's.
pub fn refuse(error: &anyhow::Error) -> ExitCode {
    let closed = |error: &(dyn std::error::Error + 'static)| {
        error.downcast_ref::<io::Error>().is_some_and(|error| error.kind() == io::ErrorKind::BrokenPipe)
    };
    if error.chain().any(closed) {
        return ExitCode::SUCCESS;
    }
    let mut said = io::stderr().lock();
    let _ = writeln!(said, "backporch: {error:#}");
    let form = error.chain().find_map(|error| error.downcast_ref::<InputError>());
    if let Some(help) = form.and_then(InputError::help).or_else(|| display(error).and_then(|(help, _)| help)) {
        let _ = writeln!(said, "  help: {help}");
    }
    let machine = display(error).is_some_and(|(_, failed)| failed)
        || form.is_some_and(|form| form.kind() == InputErrorKind::Machine)
        || error.chain().any(|error| error.is::<io::Error>());
    ExitCode::from(if machine { 3 } else { 2 })
}

/// Help for an error of the window, and whether the machine is what failed.
#[cfg(feature = "window")]
fn display(error: &anyhow::Error) -> Option<(Option<&'static str>, bool)> {
    let window = error.chain().find_map(|error| error.downcast_ref::<backporch_window::WindowError>())?;
    Some((window.help(), !matches!(window, backporch_window::WindowError::Bench(_))))
}

/// Without the window no error comes from one.
#[cfg(not(feature = "window"))]
fn display(_: &anyhow::Error) -> Option<(Option<&'static str>, bool)> {
    None
}
