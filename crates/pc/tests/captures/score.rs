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

/// Captures of documented forms with defined results, coprocessor instructions included.
pub fn captures_8086(compressed: &[u8]) -> Vec<Test> {
    let forms: Value = serde_json::from_str(include_str!("../data/8086-opcodes.json")).expect("a table of opcodes");
    let form = |opcode: &str| {
        let (opcode, extension) = opcode.split_once('.').unwrap_or((opcode, ""));
        let group = &forms[opcode];
        if group["reg"].is_null() { group.clone() } else { group["reg"][extension].clone() }
    };
    let test = |capture: Capture| {
        let form = form(&capture.opcode);
        let defined = matches!(form["status"].as_str(), Some("normal" | "fpu"));
        let flags = form["flags-mask"].as_u64().map_or(u16::MAX, |mask| mask as u16);
        defined.then_some(Test { capture, flags })
    };
    capture::read(compressed).into_iter().filter_map(test).collect()
}

/// Counts of agreement.
#[derive(Default)]
pub struct Score {
    pub tests: u32,
    pub clocks_equal: u32,
    /// Within one clock.
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
}

impl fmt::Display for Score {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |part: u32| 100.0 * f64::from(part) / f64::from(self.tests.max(1));
        let [equal, near, cycles] = [self.clocks_equal, self.clocks_near, self.cycles_equal].map(percent);
        let (tests, different) = (self.tests, self.different.len());
        write!(
            f,
            "{tests:>5} tests: clocks equal {equal:>5.1} %, within one {near:>5.1} %, bus cycles equal {cycles:>5.1} %, results different {different}"
        )
    }
}
