//! How many captures ours agrees with.

use std::fmt;

use serde_json::Value;

use super::capture::{self, Capture};
use super::run;

/// A capture and which of its flags are defined.
pub struct Test {
    pub capture: Capture,
    pub flags: u16,
}

fn form(forms: &Value, opcode: &str) -> Value {
    let (opcode, extension) = opcode.split_once('.').unwrap_or((opcode, ""));
    let group = &forms[opcode];
    if group["reg"].is_null() { group.clone() } else { group["reg"][extension].clone() }
}

fn forms() -> Value {
    serde_json::from_str(include_str!("../data/8086-opcodes.json")).expect("a table of opcodes")
}

fn defined_flags(form: &Value) -> u16 {
    form["flags-mask"].as_u64().map_or(u16::MAX, |mask| mask as u16)
}

/// Captures of documented forms with defined results, coprocessor instructions included.
pub fn captures_8086(compressed: &[u8]) -> Vec<Test> {
    let forms = forms();
    let test = |capture: Capture| {
        let form = form(&forms, &capture.opcode);
        let defined = matches!(form["status"].as_str(), Some("normal" | "fpu"));
        defined.then(|| Test { flags: defined_flags(&form), capture })
    };
    capture::read(compressed).into_iter().filter_map(test).collect()
}

/// Captures of documented forms of an 80286; its additions leave the flags undefined that their older kin do.
pub fn captures_80286(compressed: &[u8]) -> Vec<Test> {
    let forms = forms();
    let test = |capture: Capture| {
        let kin = match capture.opcode.split_once('.') {
            Some(("C0", extension)) => format!("D2.{extension}"),
            Some(("C1", extension)) => format!("D3.{extension}"),
            None if matches!(capture.opcode.as_str(), "69" | "6B") => "F7.5".to_string(),
            _ => capture.opcode.clone(),
        };
        let documented = !kin.ends_with(".6") || !kin.starts_with('D');
        let mask = defined_flags(&form(&forms, &kin));
        (documented && capture.opcode != "D6").then_some(Test { flags: mask, capture })
    };
    capture::read(compressed).into_iter().filter_map(test).collect()
}

/// Counts of agreement.
#[derive(Default)]
pub struct Score {
    pub tests: u32,
    pub clocks_equal: u32,
    /// Within one clock; two of the 80286.
    pub clocks_near: u32,
    /// Order and addresses of bus cycles.
    pub cycles_equal: u32,
    /// Captures whose registers, defined flags or memory differ, and how.
    pub different: Vec<String>,
}

impl Score {
    pub fn add_8086(&mut self, test: &Test) {
        let capture = &test.capture;
        self.tests += 1;
        let Some(outcome) = run::run_8086(capture, test.flags) else {
            self.different.push(format!("{}: not executed", capture.name));
            return;
        };
        let off = outcome.clocks.abs_diff(capture.clocks());
        self.clocks_equal += u32::from(off == 0);
        self.clocks_near += u32::from(off <= 1);
        let seen = capture.bus_cycles_8086();
        let same = seen.iter().map(|(_, cycle)| cycle).eq(outcome.cycles.iter().map(|(_, cycle)| cycle));
        self.cycles_equal += u32::from(same);
        self.different.extend(outcome.difference.map(|difference| format!("{}: {difference}", capture.name)));
    }

    /// Clocks and results; the captures of an 80286 do not show its queue, and bus cycles ahead of execution vary.
    pub fn add_80286(&mut self, test: &Test) {
        let capture = &test.capture;
        self.tests += 1;
        let Some(outcome) = run::run_80286(capture, test.flags) else {
            self.different.push(format!("{}: not executed", capture.name));
            return;
        };
        let off = outcome.clocks.abs_diff(capture.clocks());
        self.clocks_equal += u32::from(off == 0);
        self.clocks_near += u32::from(off <= 2);
        let seen: Vec<_> = capture.bus_cycles_80286().into_iter().map(|(_, cycle)| cycle).collect();
        let made = outcome.cycles.iter().take(seen.len()).map(|(_, cycle)| *cycle);
        self.cycles_equal += u32::from(made.eq(seen.iter().map(|cycle| cycle.below_one_mebibyte())));
        self.different.extend(outcome.difference.map(|difference| format!("{}: {difference}", capture.name)));
    }
}

impl fmt::Display for Score {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |part: u32| 100.0 * f64::from(part) / f64::from(self.tests.max(1));
        let [equal, near, cycles] = [self.clocks_equal, self.clocks_near, self.cycles_equal].map(percent);
        let (tests, different) = (self.tests, self.different.len());
        write!(
            f,
            "{tests:>5} tests: clocks equal {equal:>5.1} %, nearly {near:>5.1} %, bus cycles equal {cycles:>5.1} %, results different {different}"
        )
    }
}
