//! Values in a routine: whole numbers, or small arithmetic over counters.
//!
//! A value is written as a number (`40`, `0x28`) or as a text such as
//! `"start * 2 + 318"`. It is read once into a list of operations in postfix
//! order, with every counter resolved to its place.

use std::fmt;

use backporch_input::number;
use serde::de::{Deserialize, Deserializer, Error, Visitor};
use serde::ser::{Serialize, Serializer};

/// How deep brackets may nest.
const DEEPEST: usize = 32;

/// The name that stands for the number of the pass.
pub const FRAME: &str = "frame";

/// A value as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ValueForm {
    text: String,
    parts: Vec<Part<String>>,
}

/// One operation in postfix order; `N` is how a counter is named.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Part<N> {
    Number(i64),
    Name(N),
    Negate,
    Apply(Operator),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Operator {
    Add,
    Subtract,
    Multiply,
    Divide,
    Remainder,
}

impl Operator {
    fn of(sign: char) -> Option<(Self, u8)> {
        Some(match sign {
            '+' => (Self::Add, 1),
            '-' => (Self::Subtract, 1),
            '*' => (Self::Multiply, 2),
            '/' => (Self::Divide, 2),
            '%' => (Self::Remainder, 2),
            _ => return None,
        })
    }

    /// Wraps where it overflows; the divisors were checked when the text was read.
    fn apply(self, a: i64, b: i64) -> i64 {
        match self {
            Self::Add => a.wrapping_add(b),
            Self::Subtract => a.wrapping_sub(b),
            Self::Multiply => a.wrapping_mul(b),
            Self::Divide if b == 0 => 0,
            Self::Remainder if b == 0 => 0,
            Self::Divide => a.wrapping_div_euclid(b),
            Self::Remainder => a.wrapping_rem_euclid(b),
        }
    }
}

/// A value whose names are resolved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Expression {
    parts: Vec<Part<Slot>>,
}

/// Where a name's number is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Slot {
    Frame,
    Counter(usize),
}

impl ValueForm {
    /// Reads a value.
    ///
    /// # Errors
    /// What was found, where it is no value.
    pub fn read(text: &str) -> Result<Self, String> {
        let mut reader = Reader { rest: text.trim_start(), parts: Vec::new(), depth: 0 };
        reader.sum(1)?;
        if !reader.rest.is_empty() {
            return Err(reader.rest.to_owned());
        }
        Ok(Self { text: text.to_owned(), parts: reader.parts })
    }

    /// Resolves names among the counters.
    ///
    /// # Errors
    /// The name that is none of them.
    pub fn resolve(&self, counters: &[&str]) -> Result<Expression, String> {
        let slot = |name: &String| match counters.iter().position(|counter| counter == name) {
            Some(place) => Ok(Slot::Counter(place)),
            None if name == FRAME => Ok(Slot::Frame),
            None => Err(name.clone()),
        };
        let part = |part: &Part<String>| {
            Ok(match part {
                Part::Number(number) => Part::Number(*number),
                Part::Name(name) => Part::Name(slot(name)?),
                Part::Negate => Part::Negate,
                Part::Apply(operator) => Part::Apply(*operator),
            })
        };
        self.parts.iter().map(part).collect::<Result<_, String>>().map(|parts| Expression { parts })
    }

    /// Whether it uses this name.
    #[must_use]
    pub fn names(&self, name: &str) -> bool {
        self.parts.iter().any(|part| matches!(part, Part::Name(known) if known == name))
    }

    /// The text it was read from.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }
}

impl From<i64> for ValueForm {
    fn from(number: i64) -> Self {
        Self { text: number.to_string(), parts: vec![Part::Number(number)] }
    }
}

impl From<i64> for Expression {
    fn from(number: i64) -> Self {
        Self { parts: vec![Part::Number(number)] }
    }
}

impl Expression {
    /// The number it stands for in pass `frame` with these counters.
    #[must_use]
    pub fn number(&self, frame: u64, counters: &[i64]) -> i64 {
        let mut stack = Vec::with_capacity(4);
        for part in &self.parts {
            let number = match part {
                Part::Number(number) => *number,
                Part::Name(Slot::Frame) => frame as i64,
                Part::Name(Slot::Counter(place)) => counters.get(*place).copied().unwrap_or(0),
                Part::Negate => stack.pop().unwrap_or(0i64).wrapping_neg(),
                Part::Apply(operator) => {
                    let second = stack.pop().unwrap_or(0);
                    operator.apply(stack.pop().unwrap_or(0), second)
                }
            };
            stack.push(number);
        }
        stack.pop().unwrap_or(0)
    }

    /// Whether it is the same in every frame.
    #[must_use]
    pub fn is_constant(&self) -> bool {
        self.parts.iter().all(|part| !matches!(part, Part::Name(_)))
    }
}

/// Reads sums of products, left to right.
struct Reader<'a> {
    rest: &'a str,
    parts: Vec<Part<String>>,
    depth: usize,
}

impl Reader<'_> {
    /// A chain of operators of at least this rank.
    fn sum(&mut self, rank: u8) -> Result<(), String> {
        self.operand()?;
        while let Some((operator, its)) = self.rest.chars().next().and_then(Operator::of)
            && its >= rank
        {
            self.skip(1);
            let divisor = self.parts.len();
            self.sum(its + 1)?;
            let divides = matches!(operator, Operator::Divide | Operator::Remainder);
            if divides && !matches!(self.parts[divisor..], [Part::Number(1..)]) {
                return Err("a divisor that is no number above 0".to_owned());
            }
            self.parts.push(Part::Apply(operator));
        }
        Ok(())
    }

    fn operand(&mut self) -> Result<(), String> {
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(format!("more than {DEEPEST} brackets or signs inside one another"));
        }
        match self.rest.chars().next() {
            Some('(') => {
                self.skip(1);
                self.sum(1)?;
                if !self.rest.starts_with(')') {
                    return Err("a bracket that is not closed".to_owned());
                }
                self.skip(1);
            }
            Some('-') => {
                self.skip(1);
                self.operand()?;
                self.parts.push(Part::Negate);
            }
            _ => self.word()?,
        }
        self.depth -= 1;
        Ok(())
    }

    fn word(&mut self) -> Result<(), String> {
        let inside = |c: char| c.is_alphanumeric() || c == '_';
        let end = self.rest.find(|c| !inside(c)).unwrap_or(self.rest.len());
        let word = &self.rest[..end];
        if word.starts_with(|c: char| c.is_ascii_digit()) {
            let value = number(word).ok().and_then(|number| i64::try_from(number).ok());
            self.parts.push(Part::Number(value.ok_or_else(|| word.to_owned())?));
        } else if word.is_empty() {
            let next = self.rest.chars().next();
            return Err(next.map_or("nothing".to_owned(), |next| next.to_string()));
        } else {
            self.parts.push(Part::Name(word.to_owned()));
        }
        self.skip(end);
        Ok(())
    }

    fn skip(&mut self, bytes: usize) {
        self.rest = self.rest[bytes..].trim_start();
    }
}

impl fmt::Display for ValueForm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl Serialize for ValueForm {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.parts.as_slice() {
            [Part::Number(number)] => serializer.serialize_i64(*number),
            _ => serializer.serialize_str(&self.text),
        }
    }
}

impl<'de> Deserialize<'de> for ValueForm {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(Reading)
    }
}

struct Reading;

impl Visitor<'_> for Reading {
    type Value = ValueForm;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a whole number, or a sum in double quotes such as \"start * 2 + 318\"")
    }

    fn visit_u64<E: Error>(self, found: u64) -> Result<ValueForm, E> {
        i64::try_from(found).map(ValueForm::from).map_err(|_| backporch_input::refuse(found, "at most 2^63 - 1"))
    }

    fn visit_i64<E: Error>(self, found: i64) -> Result<ValueForm, E> {
        Ok(ValueForm::from(found))
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<ValueForm, E> {
        let allowed = "numbers, counters, + - * and brackets; / and % by a number above 0";
        ValueForm::read(text).map_err(|found| backporch_input::refuse(found, allowed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn number_of(text: &str) -> i64 {
        ValueForm::read(text).unwrap().resolve(&["x", "y"]).unwrap().number(7, &[10, -3])
    }

    #[test]
    fn sums_are_read_as_on_paper() {
        for (text, number) in [
            ("5", 5),
            ("0x10 + 10h", 32),
            ("2 + 3 * 4", 14),
            ("(2 + 3) * 4", 20),
            ("10 - 3 - 2", 5),
            ("x * 2 + y", 17),
            ("-x + frame", -3),
            ("y % 4", 1),
            ("y / 2", -2),
            ("- - 3", 3),
            ("100 / 5 / 2", 10),
        ] {
            assert_eq!(number_of(text), number, "{text}");
        }
    }

    #[test]
    fn what_is_no_value_is_refused() {
        for text in ["", "+", "2 +", "(2", "2)", "x / y", "x % 0", "3x", "a b", "#", "99999999999999999999"] {
            assert!(ValueForm::read(text).is_err(), "{text}");
        }
        assert!(ValueForm::read(&"(".repeat(100_000)).is_err());
        assert_eq!(ValueForm::read("x + z").unwrap().resolve(&["x"]), Err("z".to_owned()));
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "[-+*/%()x0-9 ]{0,30}|.{0,20}") {
            if let Ok(Ok(value)) = ValueForm::read(&text).map(|form| form.resolve(&["x"])) {
                let _ = value.number(u64::MAX, &[i64::MIN]);
            }
        }

        #[test]
        fn products_bind_tighter(a in -99i64..99, b in 0i64..99, c in 1i64..99) {
            let text = format!("x + {b} * {c} - x % {c}");
            let value = ValueForm::read(&text).unwrap().resolve(&["x"]).unwrap();
            prop_assert_eq!(value.number(0, &[a]), a + b * c - a.rem_euclid(c));
        }
    }
}
