//! What a bench says of its driver, not yet read.

use std::sync::Arc;

use backporch_input::{FormError, FormErrorKind, Source};

use crate::file::MachineRef;
use crate::library::Library;

/// A name and where it is looked up.
#[derive(Clone, Debug)]
pub(crate) struct Named {
    pub name: String,
    pub library: Library,
    /// Field of the bench file that named it; none for the command line.
    pub field: Option<&'static str>,
}

/// What a bench says of its driver, not yet read.
#[derive(Clone, Debug)]
pub(crate) struct Drive {
    pub source: Arc<Source>,
    pub routine: Option<Named>,
    pub cpu: Option<Named>,
    pub machine: MachineRef,
    pub library: Library,
}

impl Drive {
    /// An error met while reading what a field of the bench file names, placed there.
    pub fn placed<T>(&self, field: Option<&str>, result: Result<T, FormError>) -> Result<T, FormError> {
        result.map_err(|error| match (field, error.line()) {
            (Some(field), None) if error.kind() != FormErrorKind::Machine => {
                let fault = self.source.fault(&[field], error.found(), error.allowed()).of_kind(error.kind());
                error.help().map_or(fault.clone(), |help| fault.with_help(help))
            }
            _ => error,
        })
    }
}
