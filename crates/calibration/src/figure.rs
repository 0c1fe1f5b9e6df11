//! A figure that was found, beside what a profile says of it.

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub enum FigureValue {
    /// A number, and how far it may be off either way.
    Number {
        /// The number.
        value: f64,
        /// How far the true one may lie from it.
        spread: f64,
    },
    /// Something in words.
    Words(String),
    /// Nothing that can be relied on, and why.
    Nothing(String),
}

/// How what was found and what the profile says go together.
#[derive(Clone, Debug, PartialEq)]
pub enum Agreement {
    /// The profile's figure lies within the spread.
    Agrees,
    /// It does not. Numbers: what was found less what the profile says.
    Differs(Option<f64>),
    /// One of the two is not known.
    Unknown,
}

/// One figure of a machine.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// What it is of, in words.
    pub of: &'static str,
    /// The mode it was found in; `None` for the machine's own.
    pub mode: Option<String>,
    /// Unit of numbers; empty for words.
    pub unit: &'static str,
    /// What was found.
    pub found: FigureValue,
    /// The same as the profile has it: a number.
    pub profile: Option<f64>,
    /// The same in words.
    pub profile_words: Option<String>,
}

impl Figure {
    /// A number of a unit; `profile` is what the profile says of it.
    #[must_use]
    pub fn number(of: &'static str, unit: &'static str, (value, spread): (f64, f64), profile: Option<f64>) -> Self {
        let found = FigureValue::Number { value, spread };
        Self { of, mode: None, unit, found, profile, profile_words: None }
    }

    /// Words; `profile` is what the profile says.
    #[must_use]
    pub fn words(of: &'static str, found: impl Into<String>, profile: Option<String>) -> Self {
        Self {
            of,
            mode: None,
            unit: "",
            found: FigureValue::Words(found.into()),
            profile: None,
            profile_words: profile,
        }
    }

    /// Nothing, and why.
    #[must_use]
    pub fn nothing(of: &'static str, why: impl Into<String>) -> Self {
        Self { of, mode: None, unit: "", found: FigureValue::Nothing(why.into()), profile: None, profile_words: None }
    }

    /// The same in a mode.
    #[must_use]
    pub fn in_mode(self, mode: &str) -> Self {
        Self { mode: Some(mode.to_string()), ..self }
    }

    /// How it goes together with the profile.
    #[must_use]
    pub fn agreement(&self) -> Agreement {
        match (&self.found, self.profile, &self.profile_words) {
            (FigureValue::Number { value, spread }, Some(profile), _) => {
                if (value - profile).abs() <= *spread {
                    Agreement::Agrees
                } else {
                    Agreement::Differs(Some(value - profile))
                }
            }
            (FigureValue::Words(words), _, Some(profile)) => {
                if words == profile {
                    Agreement::Agrees
                } else {
                    Agreement::Differs(None)
                }
            }
            _ => Agreement::Unknown,
        }
    }

    /// Whether the profile lies beyond the spread.
    #[must_use]
    pub fn differs(&self) -> bool {
        matches!(self.agreement(), Agreement::Differs(_))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_profile_agrees_within_the_spread() {
        let figure = |profile| Figure::number("port wait", "clocks", (4.0, 0.5), profile).agreement();
        assert_eq!(figure(Some(4.5)), Agreement::Agrees);
        assert_eq!(figure(Some(5.0)), Agreement::Differs(Some(-1.0)));
        assert_eq!(figure(None), Agreement::Unknown);
        assert!(Figure::words("processor", "8088", Some("8086".to_string())).differs());
        assert_eq!(Figure::nothing("frame", "unseen").agreement(), Agreement::Unknown);
    }
}
