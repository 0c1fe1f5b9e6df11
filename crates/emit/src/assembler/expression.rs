//! Numbers as the routines write them: constants, labels, and sums of them.

use std::collections::BTreeMap;

/// Constants that are known before any address is.
#[derive(Clone, Debug, Default)]
pub(super) struct AssemblyConstants {
    constants: BTreeMap<String, i64>,
}

impl AssemblyConstants {
    pub fn define(&mut self, name: &str, value: i64) {
        self.constants.insert(name.to_string(), value);
    }

    pub fn is_defined(&self, name: &str) -> bool {
        self.constants.contains_key(name)
    }

    /// Defines a constant by an expression of those before it.
    pub fn constant(&mut self, name: &str, text: &str) -> Result<(), String> {
        let value = self.value(text, &BTreeMap::new())?;
        self.define(name, value);
        Ok(())
    }

    /// The value of an expression.
    pub fn value(&self, text: &str, labels: &BTreeMap<String, i64>) -> Result<i64, String> {
        let mut reader = ExpressionReader { rest: text.trim(), symbols: self, labels };
        let value = reader.sum()?;
        if reader.rest.is_empty() { Ok(value) } else { Err(format!("{text} is no number")) }
    }
}

/// What of an expression is still to be read.
struct ExpressionReader<'a> {
    rest: &'a str,
    symbols: &'a AssemblyConstants,
    labels: &'a BTreeMap<String, i64>,
}

impl<'a> ExpressionReader<'a> {
    fn sum(&mut self) -> Result<i64, String> {
        let mut value = self.product()?;
        while let Some(sign) = self.one_of("+-") {
            let next = self.product()?;
            let done = if sign == '+' { value.checked_add(next) } else { value.checked_sub(next) };
            value = done.ok_or_else(|| format!("{value} {sign} {next} cannot be computed"))?;
        }
        Ok(value)
    }

    fn product(&mut self) -> Result<i64, String> {
        let mut value = self.term()?;
        while let Some(operator) = self.one_of("*/%") {
            let next = self.term()?;
            let done = match operator {
                '*' => value.checked_mul(next),
                '/' => value.checked_div(next),
                _ => value.checked_rem(next),
            };
            value = done.ok_or_else(|| format!("{value} {operator} {next} cannot be computed"))?;
        }
        Ok(value)
    }

    fn term(&mut self) -> Result<i64, String> {
        if self.one_of("(").is_some() {
            let value = self.sum()?;
            return self.one_of(")").map(|_| value).ok_or_else(|| "a bracket is not closed".to_string());
        }
        let word = self.word();
        let number = match word.strip_suffix(['h', 'H']) {
            Some(digits) if word.starts_with(|first: char| first.is_ascii_digit()) => {
                i64::from_str_radix(digits, 16).ok()
            }
            _ => word.parse().ok(),
        };
        let known =
            number.or_else(|| self.symbols.constants.get(word).copied()).or_else(|| self.labels.get(word).copied());
        known.ok_or_else(|| format!("{word} is not known"))
    }

    fn word(&mut self) -> &'a str {
        let end = self.rest.find(|letter: char| !(letter.is_ascii_alphanumeric() || letter == '_' || letter == '.'));
        let (word, rest) = self.rest.split_at(end.unwrap_or(self.rest.len()));
        self.rest = rest.trim_start();
        word
    }

    fn one_of(&mut self, operators: &str) -> Option<char> {
        let first = self.rest.chars().next().filter(|first| operators.contains(*first))?;
        self.rest = self.rest[1..].trim_start();
        Some(first)
    }
}
