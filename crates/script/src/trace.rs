//! Write traces: everything that reached a board's bus, as CSV, and back.
//!
//! ```text
//! dot,kind,address,value
//! 359200,port,0x3D4,0x0C
//! 359231,port,0x3D5,0x01
//! 359300,memory,0x0140,0x2F
//! ```
//!
//! The first name of the header says whether times are dots or nanoseconds
//! (`ns`) since the board was made. A `port` value of four hexadecimal digits
//! is a word, written by one instruction. A third kind, `read`,
//! stands for the port reads that change what a later write does, such as the
//! one that makes the attribute port take an index next; a fourth, `memory-read`,
//! for the reads of video memory that fill latches or make snow.

use std::fmt::Write as _;

use backporch_input::{InputError, Source, TextPosition, number};

use crate::time::DotTime;

/// A value on its way to a port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PortValue {
    /// A byte.
    Byte(u8),
    /// A word: its lower byte to the port, its upper byte to the next.
    Word(u16),
}

/// Times later than this (some eight hours of dots) are refused.
const LATEST: u64 = 1 << 40;

/// What reached the bus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TraceAccess {
    /// A port was written.
    Port(u16, PortValue),
    /// A port was read, which changed the board's state.
    Read(u16),
    /// A byte of video memory was written, at an offset into its window.
    Memory(u32, u8),
    /// A byte of video memory was read, which filled latches or made snow.
    MemoryRead(u32),
}

/// Accesses in order of time.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Trace {
    accesses: Vec<(u64, TraceAccess)>,
}

/// Unit of a trace's times.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TraceUnit {
    /// Dots.
    Dot,
    /// Nanoseconds.
    Nanosecond,
}

impl Trace {
    /// Accesses with their dots, in order of time.
    #[must_use]
    pub fn accesses(&self) -> &[(u64, TraceAccess)] {
        &self.accesses
    }

    /// Notes an access; one earlier than the last counts as at its time.
    pub fn push(&mut self, dot: u64, access: TraceAccess) {
        let last = self.accesses.last().map_or(0, |(dot, _)| *dot);
        self.accesses.push((dot.max(last), access));
    }

    /// The trace as CSV.
    #[must_use]
    pub fn to_csv(&self, unit: TraceUnit, clock: DotTime) -> String {
        let heading = if unit == TraceUnit::Dot { "dot" } else { "ns" };
        let mut text = format!("{heading},kind,address,value\n");
        for (dot, access) in &self.accesses {
            let time = if unit == TraceUnit::Dot { *dot } else { clock.nanosecond_of(*dot) };
            // Writing into a text cannot fail.
            let _ = match access {
                TraceAccess::Port(port, PortValue::Byte(value)) => {
                    writeln!(text, "{time},port,0x{port:03X},0x{value:02X}")
                }
                TraceAccess::Port(port, PortValue::Word(value)) => {
                    writeln!(text, "{time},port,0x{port:03X},0x{value:04X}")
                }
                TraceAccess::Read(port) => writeln!(text, "{time},read,0x{port:03X},0"),
                TraceAccess::MemoryRead(offset) => writeln!(text, "{time},memory-read,0x{offset:04X},0"),
                TraceAccess::Memory(offset, value) => writeln!(text, "{time},memory,0x{offset:04X},0x{value:02X}"),
            };
        }
        text
    }

    /// Reads a trace.
    ///
    /// # Errors
    /// Names the file, line, column and field, what was found and what is allowed.
    pub fn from_csv(source: &Source, clock: DotTime) -> Result<Self, InputError> {
        let mut rows = source.text().lines().enumerate().map(|(at, text)| Row { source, line: at as u32 + 1, text });
        let Some(header) = rows.next() else {
            return Err(InputError::new(source.name(), "an empty file", HEADERS));
        };
        let unit = match header.text.trim() {
            "dot,kind,address,value" => TraceUnit::Dot,
            "ns,kind,address,value" => TraceUnit::Nanosecond,
            other => return Err(header.error(0, "", other, HEADERS)),
        };
        let mut trace = Self::default();
        for row in rows.filter(|row| !row.text.trim().is_empty()) {
            let (time, access) = row.read()?;
            let dot = if unit == TraceUnit::Dot { time } else { clock.dot_at_nanosecond(time) };
            let last = trace.accesses.last().map_or(0, |(dot, _)| *dot);
            if dot < last {
                return Err(row.error(0, "time", time, "times that do not go back"));
            }
            trace.accesses.push((dot, access));
        }
        Ok(trace)
    }

    /// Refuses the first port, of a write or a read, that is not `known`; `source` is the text this trace was read from.
    ///
    /// # Errors
    /// Names the file, line and column.
    pub fn check_ports(&self, source: &Source, known: &dyn Fn(u16) -> bool) -> Result<(), InputError> {
        let rows = source.text().lines().enumerate().skip(1).filter(|(_, text)| !text.trim().is_empty());
        for ((at, text), (_, access)) in rows.zip(&self.accesses) {
            let port = match access {
                TraceAccess::Port(port, _) | TraceAccess::Read(port) => *port,
                TraceAccess::Memory(..) | TraceAccess::MemoryRead(_) => continue,
            };
            if !known(port) {
                let row = Row { source, line: at as u32 + 1, text };
                return Err(row.error(2, "address", format!("port {port:X}h"), "a port that some board has"));
            }
        }
        Ok(())
    }
}

const HEADERS: &str = "the header dot,kind,address,value or ns,kind,address,value";

/// One line of a trace.
#[derive(Clone, Copy)]
struct Row<'a> {
    source: &'a Source,
    line: u32,
    text: &'a str,
}

impl Row<'_> {
    fn read(self) -> Result<(u64, TraceAccess), InputError> {
        let cells: Vec<&str> = self.text.split(',').collect();
        let [_, kind, ..] = cells.as_slice() else {
            return Err(self.error(0, "", self.text.trim(), "four values: time, kind, address, value"));
        };
        if cells.len() != 4 {
            return Err(self.error(0, "", format!("{} values", cells.len()), "four: time, kind, address, value"));
        }
        let time = self.number(0, "time", LATEST)?;
        let access = match kind.trim() {
            "port" => TraceAccess::Port(self.number(2, "address", 0xFFFF)? as u16, self.port_value(cells[3])?),
            "read" => TraceAccess::Read(self.number(2, "address", 0xFFFF)? as u16),
            "memory" => {
                TraceAccess::Memory(self.number(2, "address", 0xF_FFFF)? as u32, self.number(3, "value", 0xFF)? as u8)
            }
            "memory-read" => TraceAccess::MemoryRead(self.number(2, "address", 0xF_FFFF)? as u32),
            other => {
                let error = self.error(1, "kind", other, "port, memory, read or memory-read");
                return Err(error.with_nearest(other, ["port", "memory", "read", "memory-read"]));
            }
        };
        Ok((time, access))
    }

    fn port_value(self, cell: &str) -> Result<PortValue, InputError> {
        let value = self.number(3, "value", 0xFFFF)?;
        let digits = cell.trim().trim_start_matches("0x").trim_start_matches("0X");
        let hexadecimal = digits.len() < cell.trim().len();
        match u8::try_from(value) {
            Ok(byte) if !hexadecimal || digits.len() <= 2 => Ok(PortValue::Byte(byte)),
            _ if hexadecimal && digits.len() == 4 => Ok(PortValue::Word(value as u16)),
            _ => {
                let error = self.error(3, "value", cell.trim(), "0..=255, or a word as four hexadecimal digits");
                Err(error.with_help(format!("as a word it is 0x{value:04X}")))
            }
        }
    }

    fn number(self, column: usize, field: &str, most: u64) -> Result<u64, InputError> {
        let text = self.text.split(',').nth(column).unwrap_or("").trim();
        let value = number(text).map_err(|error| self.error(column, field, error.found(), error.allowed()))?;
        if value > most {
            return Err(self.error(column, field, text, format!("0..={most}")));
        }
        Ok(value)
    }

    fn error(
        self,
        column: usize,
        field: &str,
        found: impl std::fmt::Display,
        allowed: impl std::fmt::Display,
    ) -> InputError {
        let before: usize = self.text.split(',').take(column).map(|cell| cell.chars().count() + 1).sum();
        let place = TextPosition { line: self.line, column: before as u32 + 1 };
        InputError::new(self.source.name(), found, allowed).at(place).in_field(field)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch_signal::Hertz;
    use proptest::prelude::*;

    fn clock() -> DotTime {
        DotTime::new(Hertz::new(14_318_180.0).unwrap())
    }

    fn refusal(text: &str) -> String {
        Trace::from_csv(&Source::built_in("t.csv", text), clock()).unwrap_err().to_string()
    }

    #[test]
    fn what_is_no_trace_is_refused_by_place() {
        for (text, message) in [
            ("", "t.csv: found an empty file, allowed the header dot,kind,address,value or ns,kind,address,value"),
            (
                "dot,kind\n",
                "t.csv:1:1: found dot,kind, allowed the header dot,kind,address,value or ns,kind,address,value",
            ),
            (
                "dot,kind,address,value\n1,port,0x3D4\n",
                "t.csv:2:1: found 3 values, allowed four: time, kind, address, value",
            ),
            (
                "dot,kind,address,value\n1,poke,0,0\n",
                "t.csv:2:3: kind: found poke, allowed port, memory, read or memory-read",
            ),
            (
                "dot,kind,address,value\n1,port,0x3D5,300\n",
                "t.csv:2:14: value: found 300, allowed 0..=255, or a word as four hexadecimal digits",
            ),
            (
                "dot,kind,address,value\n1,port,0x3D5,0x1FF\n",
                "t.csv:2:14: value: found 0x1FF, allowed 0..=255, or a word as four hexadecimal digits",
            ),
            ("dot,kind,address,value\n1,memory,0,256\n", "t.csv:2:12: value: found 256, allowed 0..=255"),
            (
                "dot,kind,address,value\n9,memory,0,1\n\n8,memory,0,1\n",
                "t.csv:4:1: time: found 8, allowed times that do not go back",
            ),
        ] {
            assert_eq!(refusal(text), message);
        }
    }

    #[test]
    fn a_port_that_no_board_has_is_refused_by_place() {
        let source = Source::built_in("t.csv", "dot,kind,address,value\n\n1,port,0x3D5,0x1F\n2,read,0x300,0\n");
        let trace = Trace::from_csv(&source, clock()).unwrap();
        let error = trace.check_ports(&source, &|port| port == 0x3D5).unwrap_err();
        assert_eq!(error.to_string(), "t.csv:4:8: address: found port 300h, allowed a port that some board has");
        trace.check_ports(&source, &|_| true).unwrap();
    }

    fn access() -> impl Strategy<Value = TraceAccess> {
        prop_oneof![
            (0u16.., any::<u8>()).prop_map(|(port, value)| TraceAccess::Port(port, PortValue::Byte(value))),
            (0u16.., any::<u16>()).prop_map(|(port, value)| TraceAccess::Port(port, PortValue::Word(value))),
            (0u16..).prop_map(TraceAccess::Read),
            (0u32..1 << 20, any::<u8>()).prop_map(|(offset, value)| TraceAccess::Memory(offset, value)),
            (0u32..1 << 20).prop_map(TraceAccess::MemoryRead),
        ]
    }

    proptest! {
        #[test]
        fn a_trace_comes_back(steps in prop::collection::vec((0u64..1 << 20, access()), 0..50), nanoseconds: bool) {
            let mut trace = Trace::default();
            let mut dot = 0;
            for (step, access) in steps {
                dot += step;
                trace.push(dot, access);
            }
            let unit = if nanoseconds { TraceUnit::Nanosecond } else { TraceUnit::Dot };
            let text = trace.to_csv(unit, clock());
            prop_assert_eq!(Trace::from_csv(&Source::built_in("t", text), clock()).unwrap(), trace);
        }

        #[test]
        fn any_text_is_read_or_refused(body in "([0-9a-fx]{0,4},(port|memory|read|memory-read|p),[0-9a-fx]{0,5},[0-9x]{0,5}\n|.{0,9}\n){0,6}") {
            let _ = Trace::from_csv(&Source::built_in("t", format!("dot,kind,address,value\n{body}")), clock());
        }
    }
}
