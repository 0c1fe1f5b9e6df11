//! Values as files spell them.

use serde::Serialize;

/// A value in RON, as a file would have it: for errors that say what was found.
///
/// ```
/// assert_eq!(backporch_input::spelling(&(1, Some("a"))), r#"(1,Some("a"))"#);
/// ```
#[must_use]
pub fn spelling(value: &impl Serialize) -> String {
    ron::to_string(value).unwrap_or_default()
}
