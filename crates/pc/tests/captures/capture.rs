//! Single instructions as a real processor executed them, bus cycle by bus
//! cycle, and the same from ours.
//!
//! *Open data set: single-step tests of an 8086 / of an 80286, captured from
//! hardware, 2025* (MIT licence beside the data).

use std::collections::BTreeMap;
use std::io::Read;

use serde::Deserialize;
use serde_json::Value;

/// Registers and memory before or after.
#[derive(Debug, Deserialize)]
pub struct State {
    pub regs: BTreeMap<String, u16>,
    pub ram: Vec<(u32, u8)>,
    pub queue: Vec<u8>,
}

/// One instruction.
#[derive(Debug, Deserialize)]
pub struct Capture {
    pub opcode: String,
    pub name: String,
    pub initial: State,
    #[serde(rename = "final")]
    pub after: State,
    cycles: Vec<Vec<Value>>,
}

/// A bus cycle as captured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seen {
    /// C fetches, R reads, W writes memory; I reads, O writes a port.
    pub kind: char,
    pub address: u32,
}

impl Seen {
    /// The same with address line 20 held low.
    pub fn below_one_mebibyte(self) -> Self {
        Self { address: self.address & 0xF_FFFF, ..self }
    }
}

fn kind(status: &str) -> Option<char> {
    Some(match status {
        "CODE" => 'C',
        "MEMR" => 'R',
        "MEMW" => 'W',
        "IOR" => 'I',
        "IOW" => 'O',
        _ => return None,
    })
}

impl Capture {
    /// Clocks from one instruction's first byte to the next one's.
    pub fn clocks(&self) -> u64 {
        self.cycles.len() as u64
    }

    /// Bus cycles with the clock of their start, of an 8086.
    pub fn bus_cycles_8086(&self) -> Vec<(u64, Seen)> {
        let seen = |(clock, row): (u64, &Vec<Value>)| {
            let [_pins, address, _segment, _memory, _port, _high, _data, status, state, ..] = row.as_slice() else {
                return None;
            };
            let kind = kind(status.as_str()?).filter(|_| state.as_str() == Some("T1"))?;
            Some((clock, Seen { kind, address: address.as_u64()? as u32 }))
        };
        (0..).zip(&self.cycles).filter_map(seen).collect()
    }

    /// Bus cycles with the clock of their start, of an 80286.
    pub fn bus_cycles_80286(&self) -> Vec<(u64, Seen)> {
        let seen = |(clock, row): (u64, &Vec<Value>)| {
            let [_pins, address, _memory, _port, _data, status, _value, state] = row.as_slice() else { return None };
            let kind = kind(status.as_str()?).filter(|_| state.as_str() == Some("Ts"))?;
            Some((clock, Seen { kind, address: address.as_u64()? as u32 }))
        };
        (0..).zip(&self.cycles).filter_map(seen).collect()
    }
}

/// Every capture of a compressed file, one a line.
pub fn read(bytes: &[u8]) -> Vec<Capture> {
    let mut text = String::new();
    flate2::read::GzDecoder::new(bytes).read_to_string(&mut text).expect("a compressed text");
    text.lines().map(|line| serde_json::from_str(line).expect("a capture")).collect()
}
