//! stub
use crate::{FormError, Source};
/// stub
pub fn parse<T: serde::de::DeserializeOwned>(source: &Source) -> Result<T, FormError> {
    ron::Options::default()
        .with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME)
        .from_str(source.text())
        .map_err(|e| source.fault(&[], e.to_string(), ""))
}
