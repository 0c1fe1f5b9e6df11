//! What a bench says of its driver, not yet read.

use std::sync::Arc;

use backporch_input::{InputError, InputErrorKind, Source};

use crate::file::MachineRef;
use crate::library::Library;

/// A name and where it is looked up.
#[derive(Clone, Debug)]
pub struct Named {
    /// The name.
    pub name: String,
    /// Where it is looked up.
    pub library: Library,
    /// Field of the bench file that named it; none for the command line.
    pub field: Option<&'static str>,
}

/// What a bench says of its driver, not yet read.
#[derive(Clone, Debug)]
pub struct DriverSettings {
    /// The bench file.
    pub source: Arc<Source>,
    /// A routine script, a write trace, or a real-mode program.
    pub routine: Option<Named>,
    /// CPU model of a script.
    pub cpu: Option<Named>,
    /// The machine around a program.
    pub machine: MachineRef,
    /// Where what the machine names is looked up.
    pub library: Library,
}

impl DriverSettings {
    /// An error met while reading what a field of the bench file names, or else an option of the command line, put down
    /// to it.
    ///
    /// # Errors
    /// The same, with file, line and field of the bench, or the option in the place of the file. One that has a line
    /// or an option already, or is the machine's, stays as it is.
    pub fn placed<T>(&self, field: Option<&str>, option: &str, result: Result<T, InputError>) -> Result<T, InputError> {
        result.map_err(|error| match field {
            _ if error.line().is_some() || error.blames_option() || error.kind() == InputErrorKind::Machine => error,
            Some(field) => self.source.at_field(&[field], error),
            None => error.by_option(option),
        })
    }
}
