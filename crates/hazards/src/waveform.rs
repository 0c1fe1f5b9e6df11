//! Waveforms: a run as a value change dump (IEEE 1364) with real time.
//!
//! The timescale is 1 ps. Times are the first picosecond of a dot; sync and
//! display enable come from the beam itself, sampled at every character clock
//! (see [`Watched::keep_signals`](backporch_script::Watched::keep_signals)).

use std::io::{self, Write};

use backporch_adapter::Adapter;
use backporch_input::MAKER;
use backporch_script::{DotTime, Event, FrameRecord, Signals};
use vcd::{IdCode, SimulationCommand, TimescaleUnit, Value, Vector, Writer};

/// Dots a strobe stays up.
const STROBE_DOTS: u64 = 1;

/// The signals of a dump.
struct Wires {
    horizontal_sync: IdCode,
    vertical_sync: IdCode,
    display_enable: IdCode,
    latch: IdCode,
    memory_address: IdCode,
    row_address: IdCode,
    port_write: IdCode,
    port: IdCode,
    port_data: IdCode,
    memory_write: IdCode,
    write_address: IdCode,
    write_data: IdCode,
}

/// Widths of the vectors, in bits.
const ADDRESS_BITS: usize = 20;
const ROW_BITS: usize = 5;
const PORT_BITS: usize = 16;
const DATA_BITS: usize = 8;

impl Wires {
    fn define<W: Write>(writer: &mut Writer<W>) -> io::Result<Self> {
        let wires = Self {
            horizontal_sync: writer.add_wire(1, "horizontal_sync")?,
            vertical_sync: writer.add_wire(1, "vertical_sync")?,
            display_enable: writer.add_wire(1, "display_enable")?,
            latch: writer.add_wire(1, "latch")?,
            memory_address: writer.add_wire(ADDRESS_BITS as u32, "memory_address")?,
            row_address: writer.add_wire(ROW_BITS as u32, "row_address")?,
            port_write: writer.add_wire(1, "port_write")?,
            port: writer.add_wire(PORT_BITS as u32, "port")?,
            port_data: writer.add_wire(DATA_BITS as u32, "port_data")?,
            memory_write: writer.add_wire(1, "memory_write")?,
            write_address: writer.add_wire(ADDRESS_BITS as u32, "write_address")?,
            write_data: writer.add_wire(DATA_BITS as u32, "write_data")?,
        };
        Ok(wires)
    }

    fn scalars(&self) -> [IdCode; 6] {
        let Self { horizontal_sync, vertical_sync, display_enable, latch, port_write, memory_write, .. } = *self;
        [horizontal_sync, vertical_sync, display_enable, latch, port_write, memory_write]
    }

    fn vectors(&self) -> [(IdCode, usize); 6] {
        [
            (self.memory_address, ADDRESS_BITS),
            (self.row_address, ROW_BITS),
            (self.port, PORT_BITS),
            (self.port_data, DATA_BITS),
            (self.write_address, ADDRESS_BITS),
            (self.write_data, DATA_BITS),
        ]
    }
}

/// A change to come.
enum Change {
    Bit(IdCode, bool),
    Bits(IdCode, u32, usize),
}

/// Writes frames as a value change dump.
///
/// `signals` are those the board kept over the same frames.
///
/// # Errors
/// Where `out` takes no more.
pub fn write_vcd<W: Write>(
    out: W,
    adapter: &Adapter,
    signals: &[(u64, Signals)],
    records: &[FrameRecord],
) -> io::Result<()> {
    let mut writer = Writer::new(out);
    writer.version(MAKER)?;
    writer.comment(&adapter.profile().title)?;
    writer.timescale(1, TimescaleUnit::PS)?;
    writer.add_module("board")?;
    let wires = Wires::define(&mut writer)?;
    writer.upscope()?;
    writer.enddefinitions()?;
    writer.begin(SimulationCommand::Dumpvars)?;
    for wire in wires.scalars() {
        writer.change_scalar(wire, Value::V0)?;
    }
    for (wire, bits) in wires.vectors() {
        writer.change_vector(wire, std::iter::repeat_n(Value::X, bits))?;
    }
    writer.end()?;

    let end = records.last().map_or(0, FrameRecord::end_dot);
    let mut changes = signal_changes(&wires, signals, end);
    for record in records {
        frame_changes(&wires, adapter, record, &mut changes);
        event_changes(&wires, record, &mut changes);
    }
    changes.sort_by_key(|(dot, _)| *dot);
    let clock =
        DotTime::new(records.first().map_or(adapter.dot_clock(), |record| adapter.dot_clock_of(&record.registers)));
    let mut now = None;
    for (dot, change) in changes {
        if now != Some(dot) {
            writer.timestamp(clock.picosecond_of(dot))?;
            now = Some(dot);
        }
        match change {
            Change::Bit(wire, on) => writer.change_scalar(wire, on)?,
            Change::Bits(wire, value, bits) => {
                let vector: Vector = (0..bits).rev().map(|bit| Value::from(value >> bit & 1 == 1)).collect();
                writer.change_vector(wire, &vector)?;
            }
        }
    }
    writer.timestamp(clock.picosecond_of(end))?;
    writer.flush()
}

fn signal_changes(wires: &Wires, signals: &[(u64, Signals)], end: u64) -> Vec<(u64, Change)> {
    let mut changes = Vec::new();
    let mut last = Signals::default();
    for (dot, now) in signals.iter().filter(|(dot, _)| *dot < end) {
        let mut bit = |wire, before: bool, after: bool| {
            if before != after {
                changes.push((*dot, Change::Bit(wire, after)));
            }
        };
        bit(wires.horizontal_sync, last.horizontal_sync, now.horizontal_sync);
        bit(wires.vertical_sync, last.vertical_sync, now.vertical_sync);
        bit(wires.display_enable, last.display, now.display);
        last = *now;
    }
    changes
}

/// Addresses, character clock by character clock, and the take-over.
fn frame_changes(wires: &Wires, adapter: &Adapter, record: &FrameRecord, changes: &mut Vec<(u64, Change)>) {
    let mut first_dot = record.frame.first_dot;
    let mut row_address = None;
    for scan in &record.frame.lines {
        if let Some(line) = &scan.fetch {
            let format = adapter.format(line.format as usize);
            let bytes_per_char = format.address.bytes_per_char().max(1);
            if row_address != Some(line.row_address) {
                row_address = Some(line.row_address);
                let row = u32::from(line.row_address);
                changes.push((first_dot, Change::Bits(wires.row_address, row, ROW_BITS)));
            }
            for span in record.frame.spans_of(scan) {
                let first_char = span.at.div_ceil(bytes_per_char);
                for char in first_char..span.end().div_ceil(bytes_per_char) {
                    let address = span.address + (char * bytes_per_char - span.at);
                    let dot = first_dot + u64::from(char) * u64::from(format.char_dots);
                    changes.push((dot, Change::Bits(wires.memory_address, address, ADDRESS_BITS)));
                }
            }
        }
        first_dot += u64::from(scan.dots);
    }
    strobe(wires.latch, record.latch_dot(), changes);
}

fn event_changes(wires: &Wires, record: &FrameRecord, changes: &mut Vec<(u64, Change)>) {
    for event in &record.events {
        match event {
            Event::Port(access) => {
                let (dot, port) = (access.at.dot, u32::from(access.port));
                changes.push((dot, Change::Bits(wires.port, port, PORT_BITS)));
                changes.push((dot, Change::Bits(wires.port_data, u32::from(access.value), DATA_BITS)));
                strobe(wires.port_write, dot, changes);
            }
            Event::Memory(access) => {
                let dot = access.at.dot;
                changes.push((dot, Change::Bits(wires.write_address, access.address, ADDRESS_BITS)));
                changes.push((dot, Change::Bits(wires.write_data, u32::from(access.new), DATA_BITS)));
                strobe(wires.memory_write, dot, changes);
            }
            Event::Waited(_) | Event::Passed(_) | Event::Looked(_) => {}
        }
    }
}

fn strobe(wire: IdCode, dot: u64, changes: &mut Vec<(u64, Change)>) {
    changes.push((dot, Change::Bit(wire, true)));
    changes.push((dot + STROBE_DOTS, Change::Bit(wire, false)));
}
