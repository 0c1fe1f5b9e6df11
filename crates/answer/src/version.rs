//! The version that every document carries.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{Error, Unexpected};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Version of the documents that this program writes and reads.
const VERSION: u64 = 1;

/// The version of a document: 1. Any other is refused when a document is read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Version;

impl Serialize for Version {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u64(VERSION)
    }
}

impl<'de> Deserialize<'de> for Version {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match u64::deserialize(deserializer)? {
            VERSION => Ok(Self),
            found => Err(D::Error::invalid_value(Unexpected::Unsigned(found), &"version 1")),
        }
    }
}

impl JsonSchema for Version {
    fn schema_name() -> Cow<'static, str> {
        "Version".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "const": VERSION })
    }

    fn inline_schema() -> bool {
        true
    }
}

/// An answer as a document: the version, then the answer's own fields.
///
/// ```
/// use backporch_answer::{Document, SightingsAnswer};
///
/// let answer = Document::new(SightingsAnswer { sightings: Vec::new() });
/// let json = serde_json::to_string(&answer)?;
/// assert_eq!(json, r#"{"version":1,"sightings":[]}"#);
/// let read: Document<SightingsAnswer> = serde_json::from_str(&json)?;
/// assert_eq!(read, answer);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Document<T> {
    /// Version of the document; taken for 1 where a document that is read has none.
    #[serde(default)]
    pub version: Version,
    /// The answer.
    #[serde(flatten)]
    pub answer: T,
}

impl<T> Document<T> {
    /// A document of this program's version.
    pub fn new(answer: T) -> Self {
        Self { version: Version, answer }
    }
}
