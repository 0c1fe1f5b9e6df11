//! Output: text for people, JSON for programs, errors in one line.

use std::fmt::Display;
use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;

use backporch_answer::Document;
use backporch_bench::Bench;
use backporch_input::{InputError, InputErrorKind, Overwrite, files_read, visible};
use serde::Serialize;

use crate::args::{AnswerFormat, General};

/// Whether a check found anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CheckResult {
    /// Nothing wrong.
    Nothing,
    /// Damage, hazards, or no workaround.
    Something,
}

impl CheckResult {
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
pub struct Output {
    format: AnswerFormat,
    quiet: bool,
    verbose: bool,
    overwrite: Overwrite,
    /// Where answers are gathered instead of printed.
    gathered: Option<Vec<serde_json::Value>>,
}

impl Output {
    pub fn new(general: &General) -> Self {
        Self {
            format: general.format,
            quiet: general.quiet,
            verbose: general.verbose,
            overwrite: if general.force { Overwrite::AnyFile } else { Overwrite::OwnFiles },
            gathered: None,
        }
    }

    /// The same, but answers are gathered as JSON and nothing is printed.
    pub fn gathering(&self) -> Self {
        Self {
            format: AnswerFormat::Json,
            quiet: true,
            verbose: self.verbose,
            overwrite: self.overwrite,
            gathered: Some(Vec::new()),
        }
    }

    /// The answers gathered, in order.
    pub fn into_gathered(self) -> Vec<serde_json::Value> {
        self.gathered.unwrap_or_default()
    }

    /// Which files may be written over.
    pub fn overwrite(&self) -> Overwrite {
        self.overwrite
    }

    /// Names a file that was written, where that was asked for.
    pub fn wrote(&self, path: &Path) -> io::Result<()> {
        if self.verbose { writeln!(io::stderr(), "wrote {}", visible(&path.display().to_string())) } else { Ok(()) }
    }

    /// Names the files that were read, where that was asked for.
    pub fn read(&self) -> io::Result<()> {
        let files = if self.verbose { files_read() } else { Vec::new() };
        files.iter().try_for_each(|path| writeln!(io::stderr(), "read {}", visible(&path.display().to_string())))
    }

    /// Whether the answer is for programs.
    pub fn is_json(&self) -> bool {
        self.format == AnswerFormat::Json
    }

    pub fn is_quiet(&self) -> bool {
        self.quiet
    }

    /// A line for people; not printed where the answer is JSON or quiet was asked for.
    pub fn line(&mut self, line: impl Display) -> io::Result<()> {
        if self.is_json() || self.quiet { Ok(()) } else { self.write(format_args!("{line}\n")) }
    }

    /// What a user should know of how the bench was set up.
    pub fn notes(&mut self, bench: &Bench) -> io::Result<()> {
        bench.notes().iter().try_for_each(|note| self.line(format_args!("note: {note}")))
    }

    /// The answer itself: a JSON document where asked for, else what `text` makes of it.
    pub fn answer<T: Serialize>(&mut self, answer: &T, text: impl FnOnce(&T) -> String) -> anyhow::Result<()> {
        match self.format {
            AnswerFormat::Json => self.json(&Document::new(answer)),
            AnswerFormat::Text => Ok(self.write(format_args!("{}", text(answer)))?),
        }
    }

    /// A line of JSON.
    pub fn json(&mut self, value: &impl Serialize) -> anyhow::Result<()> {
        match &mut self.gathered {
            Some(gathered) => gathered.push(serde_json::to_value(value)?),
            None => self.bytes((serde_json::to_string(value)? + "\n").as_bytes())?,
        }
        Ok(())
    }

    /// Bytes as they are.
    pub fn bytes(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut out = io::stdout().lock();
        out.write_all(bytes)?;
        out.flush()
    }

    /// A text for people: what would act on a terminal instead of being seen is shown escaped.
    fn write(&mut self, text: std::fmt::Arguments) -> io::Result<()> {
        let text = text.to_string().replace("\r\n", "\n");
        self.bytes(visible(&text).as_bytes())
    }
}

/// Prints in one line why nothing was done, with a line of help where there is
/// a likely cure. A reader that closed its end of the pipe is no error.
pub fn report_error(error: &anyhow::Error) -> ExitCode {
    let closed = |error: &(dyn std::error::Error + 'static)| {
        error.downcast_ref::<io::Error>().is_some_and(|error| error.kind() == io::ErrorKind::BrokenPipe)
    };
    if error.chain().any(closed) {
        return ExitCode::SUCCESS;
    }
    let mut stderr = io::stderr().lock();
    let _ = writeln!(stderr, "backporch: {}", visible(&format!("{error:#}")));
    let form = error.chain().find_map(|error| error.downcast_ref::<InputError>());
    if let Some(help) = form.and_then(InputError::help).or_else(|| display(error).and_then(|(help, _)| help)) {
        let _ = writeln!(stderr, "  help: {help}");
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
