//! Finding a field in the text again, for checks made after reading.

use std::fmt::Display;

use crate::outline::Outline;
use crate::{InputError, InputErrorKind, Source, TextPosition};

impl Source {
    /// Where the value stands that `path` leads to: field names, map keys, and numbers from 0 for list elements
    /// and values without names, as in `["quirks", "1", "rows"]`.
    ///
    /// An enum's name and its brackets, `Some(…)` included, are no steps of their own. The empty path is the whole
    /// form. `None` if the text holds no such value, as when an optional field is left out.
    #[must_use]
    pub fn locate(&self, path: &[&str]) -> Option<TextPosition> {
        let (span, steps) = Outline::of(self.text()).follow(path)?;
        (steps == path.len()).then(|| TextPosition::of(self.text(), span.start))
    }

    /// The error for a value that was read but cannot be meant, at the place `path` leads to.
    ///
    /// If the text holds no such value, the error points at the innermost value on the way there.
    #[must_use]
    pub fn fault(&self, path: &[&str], found: impl Display, allowed: impl Display) -> InputError {
        let error = InputError::new(self.name(), found, allowed).in_field(path.join("."));
        match Outline::of(self.text()).follow(path) {
            Some((span, _)) => error.at(TextPosition::of(self.text(), span.start)),
            None => error,
        }
    }

    /// An error met while looking up what a value of this text names, placed at that value; one that already has a
    /// line lies in the named file and stays as it is.
    #[must_use]
    pub fn at_field(&self, path: &[&str], error: InputError) -> InputError {
        if error.line().is_some() {
            return error;
        }
        let found = match error.kind() {
            InputErrorKind::Form => error.found().to_owned(),
            // Of a file that cannot be read, its name is what helps.
            InputErrorKind::Unreadable | InputErrorKind::Machine => format!("{}: {}", error.file(), error.found()),
        };
        let fault = self.fault(path, found, error.allowed()).of_kind(error.kind());
        match error.help() {
            Some(help) => fault.with_help(help),
            None => fault,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn source() -> Source {
        let text = "(\n    // displayed: 9\n    registers: (\n        displayed: 300,\n    ),\n)\n";
        Source::built_in("harbour.bench.ron", text)
    }

    #[test]
    fn a_fault_points_at_its_value() {
        assert_eq!(
            source().fault(&["registers", "displayed"], 300, "0..=255").to_string(),
            "harbour.bench.ron:4:20: registers.displayed: found 300, allowed 0..=255"
        );
    }

    #[test]
    fn a_value_left_out_points_at_its_group() {
        let fault = source().fault(&["registers", "total", "low"], "nothing", "a number");
        assert_eq!(fault.to_string(), "harbour.bench.ron:3:16: registers.total.low: found nothing, allowed a number");
        assert_eq!(source().locate(&["registers", "total"]), None);
    }

    #[test]
    fn a_text_without_values_has_no_places() {
        let empty = Source::built_in("empty", " // nothing\n");
        assert_eq!(empty.locate(&[]), None);
        assert_eq!(empty.fault(&["a"], 1, 2).to_string(), "empty: a: found 1, allowed 2");
    }
}
