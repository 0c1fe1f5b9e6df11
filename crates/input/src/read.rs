//! RON as all forms are read.

use ron::error::SpannedError;
use ron::extensions::Extensions;
use serde::de::DeserializeOwned;

/// Reads RON with the extensions of all forms; the recursion limit is ron's own (128).
pub(crate) fn read<T: DeserializeOwned>(text: &str) -> Result<T, SpannedError> {
    ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME).from_str(text)
}
