//! The `version: 1` that every file form carries.

use std::fmt;

use serde::de::{Deserialize, Deserializer, Visitor};
use serde::ser::{Serialize, Serializer};

use crate::refuse;

/// Version 1 of a file form: written as 1, and nothing but the whole number 1 is read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Version1;

const VERSION: u64 = 1;

impl Serialize for Version1 {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u64(VERSION)
    }
}

impl<'de> Deserialize<'de> for Version1 {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(OnlyOne)
    }
}

struct OnlyOne;

impl Visitor<'_> for OnlyOne {
    type Value = Version1;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{VERSION}")
    }

    fn visit_u64<E: serde::de::Error>(self, found: u64) -> Result<Version1, E> {
        if found == VERSION { Ok(Version1) } else { Err(refuse(found, VERSION)) }
    }

    fn visit_i64<E: serde::de::Error>(self, found: i64) -> Result<Version1, E> {
        match u64::try_from(found) {
            Ok(found) => self.visit_u64(found),
            Err(_) => Err(refuse(found, VERSION)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Source, parse};
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    struct Form {
        #[serde(rename = "version")]
        _version: Version1,
    }

    #[test]
    fn one_is_read_and_written() {
        assert!(parse::<Form>(&Source::built_in("f", "(version: 1)")).is_ok());
        assert_eq!(ron::to_string(&Version1).unwrap(), "1");
        assert_eq!(serde_json::to_string(&Version1).unwrap(), "1");
        assert!(serde_json::from_str::<Version1>("1").is_ok());
    }

    #[test]
    fn anything_else_is_refused_where_it_stands() {
        for found in ["2", "0", "-1", "1.0", "\"1\"", "true", "None"] {
            let text = format!("(version: {found})");
            let error = parse::<Form>(&Source::built_in("f", text)).unwrap_err();
            assert_eq!(error.to_string(), format!("f:1:11: version: found {found}, allowed 1"));
        }
    }
}
