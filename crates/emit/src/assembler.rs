//! An assembler for what the emitted routines are written in: instructions of the first processor of its line, in the plain
//! destination-first syntax, one flat program loaded at 100h.
//!
//! ```text
//! text ──► lines: label, instruction, data ──► passes until every address stands ──► bytes
//! ```
//!
//! It knows the instructions and the forms the routines use and refuses all others. Numbers take the shortest form that holds
//! them, jumps the short form where it reaches; conditional jumps that do not reach are refused.

mod encode;
mod expression;

use std::collections::{BTreeMap, BTreeSet};

use thiserror::Error;

use self::encode::{AssemblyPass, AssemblyStatement};
use self::expression::AssemblyConstants;
use crate::program::LOADED_AT;

/// Passes after which addresses that still move never will stand.
const MOST_PASSES: usize = 32;

/// A line that is not understood.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("line {line}: {what}")]
pub struct AssemblyError {
    /// Number of the line, from 1 on.
    pub line: usize,
    /// What is wrong with it.
    pub what: String,
}

/// The program that a text says, as it is loaded; `defined` stands before whatever the text itself defines if it is not defined.
pub(crate) fn assemble(text: &str, defined: &[(&str, u32)]) -> Result<Vec<u8>, AssemblyError> {
    let mut symbols = AssemblyConstants::default();
    for (name, value) in defined {
        symbols.define(name, i64::from(*value));
    }
    let statements = statements(text, &mut symbols)?;
    let (mut long, mut labels) = (BTreeSet::new(), BTreeMap::new());
    for pass in 0..MOST_PASSES {
        let (jumps, before) = (long.len(), labels.clone());
        let mut encoder = AssemblyPass {
            is_first: pass == 0,
            symbols: &symbols,
            before: &before,
            labels: &mut labels,
            long: &mut long,
            bytes: Vec::new(),
        };
        for (line, statement) in &statements {
            encoder.add(*line, statement).map_err(|what| AssemblyError { line: *line, what })?;
        }
        let bytes = encoder.bytes;
        if pass > 0 && before == labels && jumps == long.len() {
            return Ok(bytes);
        }
    }
    Err(AssemblyError { line: text.lines().count(), what: "its addresses never stand still".to_string() })
}

/// Address of the first byte.
pub(crate) const ORIGIN: i64 = LOADED_AT as i64;

/// The statements of a text, each with its line; constants and definitions are taken into `symbols`.
fn statements(text: &str, symbols: &mut AssemblyConstants) -> Result<Vec<(usize, AssemblyStatement)>, AssemblyError> {
    let mut found = Vec::new();
    // The last label that is not local, and whether what follows was defined already.
    let (mut label, mut left_out) = (String::new(), false);
    for (line, whole) in (1..).zip(text.lines()) {
        let code = whole.split(';').next().unwrap_or("").trim();
        let mut words = code.split_whitespace();
        match (words.next(), words.next()) {
            (Some("%ifndef"), Some(name)) => left_out = symbols.is_defined(name),
            (Some("%endif"), _) => left_out = false,
            _ if left_out => {}
            (None, _) | (Some("cpu" | "org"), _) => {}
            (Some("%define"), Some(name)) => {
                let value = code.rsplit(' ').next().unwrap_or("");
                symbols.constant(name, value).map_err(|what| AssemblyError { line, what })?;
            }
            (Some(name), Some("equ")) => {
                let value = code.split_once("equ").map_or("", |(_, value)| value);
                symbols.constant(name, value).map_err(|what| AssemblyError { line, what })?;
            }
            _ => {
                let mut rest = code;
                if let Some((name, after)) = code.split_once(':')
                    && name.chars().all(|letter| letter.is_ascii_alphanumeric() || letter == '_' || letter == '.')
                {
                    rest = after.trim();
                    if !name.starts_with('.') {
                        label = name.to_string();
                    }
                    found.push((line, AssemblyStatement::Label(full_name(name, &label))));
                }
                if !rest.is_empty() {
                    found.push((line, AssemblyStatement::read(rest, &label)));
                }
            }
        }
    }
    Ok(found)
}

/// A local label's name with the label it belongs to before it.
fn full_name(name: &str, label: &str) -> String {
    if name.starts_with('.') { format!("{label}{name}") } else { name.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The 8086 Family User's Manual, instruction encoding.
    #[test]
    fn instructions_are_encoded_as_the_manual_tells() {
        let text = "N equ 3 * (2 + 0Ah) % 7\nstart:  mov ax, 1234h\n        add bx, N\n        mov [es:bp + 2], ax\n.on:    loop .on\n        jmp start\nnumber: dw N, start\n";
        let bytes = assemble(text, &[]).unwrap();
        let wanted = [0xB8, 0x34, 0x12, 0x83, 0xC3, 1, 0x26, 0x89, 0x46, 2, 0xE2, 0xFE, 0xEB, 0xF2, 1, 0, 0, 1];
        assert_eq!(bytes, wanted);
    }

    #[test]
    fn what_is_not_known_is_refused_with_its_line() {
        let refused = |text: &str| assemble(text, &[]).unwrap_err();
        assert_eq!(refused("        cld\n        hop     ax\n").line, 2);
        assert!(refused("        mov     ax, nothing\n").to_string().contains("nothing"));
        assert!(refused("        mov     al, 300\n").to_string().contains("300"));
        let far = format!(".on:\n{}        loop    .on\n", "        cld\n".repeat(130));
        assert!(refused(&far).to_string().contains("too far"));
    }
}
