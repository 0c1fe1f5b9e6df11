//! Everything around the processor: memory, board, devices, time.
//!
//! Before every access the board's beam catches up with the processor's clock;
//! between accesses it lags, and `Hardware::attend` lets it catch up every
//! few lines, so that no frame goes by unseen.

use std::collections::BTreeSet;

use backporch_adapter::{AccessSlots, Adapter, BoardPorts, MemoryBus, PortRole, Registers};
use backporch_raster::{Board, Frame, Plain, Tap};

use crate::asked::AskedFor;
use crate::bus::{Bus, BusCycle, CycleKind};
use crate::clocks;
use crate::devices::clock_memory::ClockMemory;
use crate::devices::controller::{Controller, Unsupported};
use crate::devices::keyboard::{KeyRepeat, Keyboard};
use crate::devices::timer::Timer;
use crate::record::{AccessKind, Record, RecordedAccess};
use crate::refresh::Refresh;
use crate::registers::Far;
use crate::rom;
use crate::trouble::Trouble;
use backporch_processor_timing::{BeamClock, Model, ProcessorClock, Rate, USUAL_REFRESH_BEATS};

/// Bytes of system memory: 640 KiB.
pub const MEMORY: u32 = 0xA_0000;

/// Where programs may lie: above the interrupt table and the firmware's data.
const FIRST_CODE: u32 = 0x0500;

/// As many bytes of nothing but zeros in a row are no program.
const ZEROS: u32 = 16;

/// Dots the beam may lag behind: less than the shortest frame worth seeing.
const MOST_LAG: u64 = 4096;

/// An open bus (common practice).
const OPEN: u8 = 0xFF;

/// Wait states.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Waits {
    /// Clocks that one byte of a port adds.
    pub port: u32,
    /// Clocks that a bus cycle of system memory adds.
    pub memory: u32,
    /// Beats of the timer from one memory refresh to the next, as firmware sets its second counter; 0 where memory is not
    /// refreshed.
    pub refresh_beats: u8,
}

impl Waits {
    /// One wait state for ports at 4.77 MHz, four at higher clocks, on an 80386 as many as make six clocks of an expansion
    /// bus of 8 MHz; one for system memory where the processor is an 80286 (common practice); refreshed memory.
    #[must_use]
    pub fn common(model: Model, clock: ProcessorClock) -> Self {
        let cycle = u64::from(clocks::bus_cycle(model));
        let port = match model {
            Model::P80386 => clock.clocks_reaching(EXPANSION_PORT_NS).saturating_sub(cycle) as u32,
            _ if clock.hertz() < 5e6 => 1,
            _ => 4,
        };
        Self { port, memory: u32::from(model == Model::P80286), refresh_beats: USUAL_REFRESH_BEATS }
    }
}

/// An access to an 8-bit port on an expansion bus of 8 MHz, in nanoseconds: six clocks (common practice).
const EXPANSION_PORT_NS: u64 = 750;

/// What the board's memory adds to one bus cycle: as many clocks as it keeps
/// the bus beyond the processor's own cycle.
fn memory_wait(bus: MemoryBus, model: Model, clock: ProcessorClock) -> u32 {
    let busy = clock.clocks_reaching(u64::from(bus.access_ns));
    busy.saturating_sub(u64::from(clocks::bus_cycle(model))).min(u64::from(u32::MAX)) as u32
}

/// How held keys repeat: after half a second ten times a second, on the later machines 10.9 times (Technical References,
/// keyboards; from memory).
fn repeat(model: Model, clock: ProcessorClock) -> KeyRepeat {
    let next = if model.is_from(Model::P80286) { 91_743_000 } else { 100_000_000 };
    KeyRepeat { first: clock.clocks_in(500_000_000), next: clock.clocks_in(next) }
}

/// Clocks from one refresh to the next: a period of timer 1, or 0 where it does not count.
fn refresh_period(timer: &Timer, clock: ProcessorClock) -> u64 {
    timer.period(1).map_or(0, |beats| clock.to_timer().first(beats))
}

/// Everything around the processor.
#[derive(Clone, Debug)]
pub struct Hardware<T: Tap = Plain> {
    model: Model,
    memory: Vec<u8>,
    board: Board<T>,
    window: std::ops::Range<u32>,
    clocks: u64,
    clock: ProcessorClock,
    beam_clock: BeamClock,
    to_timer: Rate,
    waits: Waits,
    memory_wait: u32,
    wide_memory: bool,
    slots: Option<AccessSlots>,
    refresh: Refresh,
    pub(crate) timer: Timer,
    pub(crate) controller: Controller,
    pub(crate) keyboard: Keyboard,
    /// The clock that runs while the machine is off, of machines that have one.
    pub(crate) clock_memory: Option<ClockMemory>,
    /// What was written to port 61h: speaker, gate of the timer's third counter, keyboard.
    port_b: u8,
    /// Clocks at which [`Hardware::attend`] is next due.
    due: u64,
    ticks_asked: u64,
    /// Whether the board's request for an interrupt has been passed on.
    board_asked: bool,
    finished: Option<Frame>,
    pub(crate) record: Record,
    pub(crate) port_breaks: BTreeSet<u16>,
    /// The instruction under way.
    pub(crate) at: Far,
    /// Whether firmware is at its own work, which the program only asked for.
    pub(crate) firmware_at_work: bool,
    /// Whether there is something for the machine to look at.
    pub(crate) attention: bool,
    pub(crate) port_hit: Option<u16>,
    pub(crate) trouble: Option<Trouble>,
    /// What was asked for and is not present.
    pub(crate) asked: AskedFor,
    /// Whether asking for what is not present ends the program.
    pub(crate) strict: bool,
    /// The table in the firmware of what it can do.
    pub(crate) functionality: [u8; rom::FUNCTIONALITY_BYTES as usize],
}

impl<T: Tap> Hardware<T> {
    /// Devices as firmware leaves them, memory all zero, around a board whose beam goes `phase` dots ahead.
    #[must_use]
    pub fn new(mut board: Board<T>, model: Model, clock: ProcessorClock, waits: Waits, phase: u64) -> Self {
        let adapter = board.adapter();
        let beam_clock = BeamClock::new(clock, board.dot_clock().millihertz(), phase);
        let rule = adapter.memory();
        let bus = adapter.bus(board.registers());
        let mut refresh = Refresh::new(model);
        let timer = Timer::with_refresh(waits.refresh_beats);
        if waits.refresh_beats > 0 {
            refresh.set_period(refresh_period(&timer, clock), 0);
        }
        board.run_to(phase);
        drop(board.take_frame());
        Self {
            model,
            memory: vec![0; MEMORY as usize],
            window: rule.window..rule.window + rule.window_bytes,
            board,
            clocks: 0,
            clock,
            beam_clock,
            to_timer: clock.to_timer(),
            waits,
            memory_wait: memory_wait(bus, model, clock),
            wide_memory: bus.bits == 16,
            slots: bus.slots,
            refresh,
            timer,
            controller: Controller::default(),
            keyboard: Keyboard::new(repeat(model, clock)),
            clock_memory: None,
            port_b: 0,
            due: 0,
            ticks_asked: 0,
            board_asked: false,
            finished: None,
            record: Record::default(),
            port_breaks: BTreeSet::new(),
            at: Far::default(),
            firmware_at_work: false,
            attention: false,
            port_hit: None,
            trouble: None,
            asked: AskedFor::default(),
            strict: false,
            functionality: [0; rom::FUNCTIONALITY_BYTES as usize],
        }
    }

    /// The board.
    #[must_use]
    pub fn board(&self) -> &Board<T> {
        &self.board
    }

    /// The board, for what no program does: provenance, recycling frames.
    pub fn board_mut(&mut self) -> &mut Board<T> {
        &mut self.board
    }

    /// System memory, 640 KiB.
    #[must_use]
    pub fn memory(&self) -> &[u8] {
        &self.memory
    }

    pub(crate) fn memory_mut(&mut self) -> &mut [u8] {
        &mut self.memory
    }

    /// Processor clocks since the start.
    #[inline]
    #[must_use]
    pub fn clocks(&self) -> u64 {
        self.clocks
    }

    /// The processor's clock.
    #[must_use]
    pub fn clock(&self) -> ProcessorClock {
        self.clock
    }

    /// The dot the beam should be at.
    #[inline]
    #[must_use]
    pub fn dot(&self) -> u64 {
        self.dot_at(self.clocks)
    }

    /// The first clock by which the beam is at a dot.
    pub(crate) fn clocks_reaching(&self, dot: u64) -> u64 {
        self.beam_clock.clocks_reaching(dot)
    }

    /// The dot the beam was at when this many clocks had passed.
    pub(crate) fn dot_at(&self, clocks: u64) -> u64 {
        self.beam_clock.dot_at(clocks)
    }

    /// Beats of the timer since the start.
    #[must_use]
    pub fn beats(&self) -> u64 {
        self.to_timer.convert(self.clocks)
    }

    pub(crate) fn adapter(&self) -> &Adapter {
        self.board.adapter()
    }

    pub(crate) fn window(&self) -> std::ops::Range<u32> {
        self.window.clone()
    }

    // ---- time ---------------------------------------------------------------------

    /// Whether devices want attention.
    #[inline]
    #[must_use]
    pub(crate) fn is_due(&self) -> bool {
        self.clocks >= self.due
    }

    /// Lets the beam catch up and devices ask for interrupts; wants to do so again at `until` at the latest.
    pub(crate) fn attend(&mut self, until: u64) {
        self.catch_up();
        let beats = self.beats();
        if let Some(at) = self.timer.next_interrupt(self.ticks_asked)
            && at <= beats
        {
            self.controller.request(0);
        }
        self.ticks_asked = beats;
        if self.keyboard.attend(self.clocks) {
            self.controller.request(1);
        }
        let vertical = self.attend_board();
        let lag = self.clocks_reaching(self.dot() + MOST_LAG);
        let tick = self.timer.next_interrupt(beats).map(|beat| self.to_timer.first(beat));
        let times = [Some(lag.min(until)), tick, vertical, self.keyboard.next()];
        self.due = times.into_iter().flatten().min().unwrap_or(lag).max(self.clocks + 1);
    }

    /// Passes the board's request for an interrupt on; gives the clocks at which it may next ask.
    fn attend_board(&mut self) -> Option<u64> {
        let number = self.adapter().interrupt_request()?;
        let asks = self.board.interrupts();
        if asks && !self.board_asked {
            self.controller.request(number);
        }
        self.board_asked = asks;
        self.board.dots_to_interrupt().map(|dots| self.clocks_reaching(self.board.beam().dot + dots))
    }

    /// A device was set anew: what comes next may come earlier.
    pub(crate) fn reconsider(&mut self) {
        self.due = self.clocks;
    }

    /// Lets time pass to the next thing that happens; gives the clocks since the start.
    pub(crate) fn sleep(&mut self) -> u64 {
        self.clocks = self.clocks.max(self.due);
        self.clocks
    }

    /// Runs the beam to where it is by now.
    #[inline]
    pub(crate) fn catch_up(&mut self) {
        let dot = self.dot();
        while let Some(frame) = self.board.run_towards(dot) {
            self.keep(frame);
        }
    }

    #[cold]
    fn keep(&mut self, frame: Frame) {
        if let Some(old) = self.finished.replace(frame) {
            self.board.recycle(old);
        }
        self.attention = true;
    }

    /// Scan line of the frame the beam is on by now.
    pub(crate) fn beam_line(&mut self) -> u32 {
        self.catch_up();
        self.board.beam().scan_line
    }

    /// The newest whole frame, once.
    pub(crate) fn take_frame(&mut self) -> Option<Frame> {
        self.finished.take()
    }

    /// Runs the beam to the end of the frame under way, whatever the processor does.
    pub(crate) fn finish_frame(&mut self) -> Frame {
        self.finished.take().unwrap_or_else(|| self.board.run_frame())
    }

    // ---- trouble --------------------------------------------------------------------

    #[cold]
    pub(crate) fn fail(&mut self, trouble: Trouble) {
        self.trouble.get_or_insert(trouble);
        self.attention = true;
    }

    /// Something that is not present was asked for.
    #[cold]
    pub(crate) fn lacks(&mut self, trouble: Trouble) {
        if self.strict {
            return self.fail(trouble);
        }
        self.asked.note(trouble, self.at);
    }

    fn note(&mut self, kind: AccessKind, address: u32, value: u16) {
        if self.record.is_on() {
            let dot = self.dot();
            let by_firmware = self.firmware_at_work;
            self.record.add(RecordedAccess {
                dot,
                by: self.at,
                kind,
                address,
                value,
                by_firmware,
                times: 1,
                last: dot,
            });
        }
    }

    fn hit(&mut self, port: u16) {
        if !self.port_breaks.is_empty() && self.port_breaks.contains(&port) {
            self.port_hit = Some(port);
            self.attention = true;
        }
    }

    // ---- the board's window ------------------------------------------------------------

    /// Wait states of a bus cycle to the board's memory.
    fn board_wait(&self, cycle: BusCycle) -> u32 {
        let length = u32::from(clocks::bus_cycle(self.model));
        let halves = cycle.wide && !self.wide_memory;
        match (self.slots, halves) {
            (None, false) => self.memory_wait,
            (None, true) => length + 2 * self.memory_wait,
            (Some(slots), false) => self.slot_wait(slots, cycle.start),
            (Some(slots), true) => {
                let first = length + self.slot_wait(slots, cycle.start);
                first + self.slot_wait(slots, cycle.start + u64::from(first))
            }
        }
    }

    fn slot_wait(&self, slots: AccessSlots, start: u64) -> u32 {
        self.beam_clock.wait_for(start, |command| slots.served_at(command, || self.board.line_place()))
    }

    /// The board may have been given another dot clock, with which beam and slots keep time, another way of serving the
    /// processor, or set to interrupt.
    fn follow_board(&mut self) {
        if self.adapter().has_bus_cases() {
            let bus = self.adapter().bus(self.board.registers());
            (self.memory_wait, self.slots) = (memory_wait(bus, self.model, self.clock), bus.slots);
        }
        let new_clock = self.beam_clock.select(self.board.dot_clock().millihertz(), self.clocks);
        if new_clock || self.board.expects_interrupt() {
            self.reconsider();
        }
    }

    fn offset(&self, address: u32) -> Option<u32> {
        self.window.contains(&address).then(|| address - self.window.start)
    }

    /// Reads a byte wherever the address leads, past no wait state.
    fn read_any(&mut self, address: u32) -> u8 {
        match self.memory.get(address as usize) {
            Some(byte) => *byte,
            None => self.read_beyond(address),
        }
    }

    /// Reads what lies beyond system memory.
    fn read_beyond(&mut self, address: u32) -> u8 {
        let Some(offset) = self.offset(address) else {
            return self.firmware_byte(address);
        };
        self.catch_up();
        let value = self.board.read_memory(offset);
        self.note(AccessKind::MemoryRead, offset, u16::from(value));
        value
    }

    /// A byte of the firmware, or of nothing.
    #[cold]
    fn firmware_byte(&self, address: u32) -> u8 {
        let table = Far::new(rom::SEGMENT, rom::FUNCTIONALITY).linear();
        let entry = address.checked_sub(table).and_then(|at| self.functionality.get(at as usize));
        let firmware = || rom::byte(address, self.model.is_from(Model::P80286));
        entry.copied().or_else(firmware).unwrap_or(OPEN)
    }

    fn put_board(&mut self, offset: u32, value: u8) {
        self.catch_up();
        self.note(AccessKind::Memory, offset, u16::from(value));
        self.board.write_memory(offset, value);
    }

    /// Writes a byte wherever the address leads, past no wait state: for services.
    pub(crate) fn poke(&mut self, address: u32, value: u8) {
        match self.memory.get_mut(address as usize) {
            Some(byte) => *byte = value,
            None => match self.offset(address) {
                Some(offset) => self.put_board(offset, value),
                None => self.lacks(Trouble::Written(address, value)),
            },
        }
    }

    /// A byte wherever the address leads, nothing changed: for services and listings.
    #[must_use]
    pub fn peek(&self, address: u32) -> u8 {
        if let Some(byte) = self.memory.get(address as usize) {
            return *byte;
        }
        match self.offset(address) {
            Some(offset) => self.board.peek_memory(offset),
            None => self.firmware_byte(address),
        }
    }

    pub(crate) fn peek_word(&self, address: u32) -> u16 {
        u16::from_le_bytes([self.peek(address), self.peek((address + 1) & 0xF_FFFF)])
    }

    // ---- ports --------------------------------------------------------------------------

    fn has_port(&self, port: u16) -> bool {
        self.adapter().port_role(self.board.registers(), port).is_some()
    }

    fn input_device(&mut self, port: u16) -> u8 {
        let beats = self.beats();
        match port {
            0x20 | 0x21 => self.controller.read(port - 0x20),
            0x40..=0x42 => self.timer.read(port - 0x40, beats),
            0x60 => {
                self.reconsider();
                let code = self.keyboard.read();
                if self.model != Model::P8088 {
                    self.keyboard.acknowledge();
                }
                code
            }
            0x61 => self.port_b(beats),
            // Bits 4 and 5 show the timer's third output (Technical Reference, system board of the first machines).
            0x62 if self.model == Model::P8088 => u8::from(self.timer.output(2, beats)) * 0x30,
            0x64 => u8::from(self.keyboard.is_full()),
            0x71 if self.clock_memory.is_some() => {
                let now = self.clock.nanoseconds(self.clocks);
                self.clock_memory.as_mut().map_or(OPEN, |memory| memory.read(now))
            }
            _ => {
                self.lacks(Trouble::PortRead(port));
                OPEN
            }
        }
    }

    fn output_device(&mut self, port: u16, value: u8) {
        let beats = self.beats();
        let done = match port {
            0x20 | 0x21 => self.controller.write(port - 0x20, value),
            0x40..=0x43 => {
                self.reconsider();
                let before = self.timer.period(1);
                let done = self.timer.write(port - 0x40, value, beats);
                if self.waits.refresh_beats > 0 && self.timer.period(1) != before {
                    self.refresh.set_period(refresh_period(&self.timer, self.clock), self.clocks);
                }
                done
            }
            0x61 => {
                self.timer.set_gate(value & 1 != 0, beats);
                // The first machines' keyboard sends its next code once bit 7 has been raised (Technical Reference).
                if self.model == Model::P8088 && value & !self.port_b & 0x80 != 0 {
                    self.reconsider();
                    self.keyboard.acknowledge();
                }
                self.port_b = value;
                Ok(())
            }
            0x70 | 0x71 => match &mut self.clock_memory {
                Some(memory) if port == 0x70 => {
                    memory.select(value);
                    Ok(())
                }
                Some(memory) => memory.write(value).then_some(()).ok_or(Unsupported),
                None => return self.lacks(Trouble::PortWritten(port, value)),
            },
            _ => return self.lacks(Trouble::PortWritten(port, value)),
        };
        if done == Err(Unsupported) {
            self.lacks(Trouble::PortValue(port, value));
        }
    }

    /// Port 61h: as it was written on the first machines; on later ones its lower half, then a bit that turns over at each
    /// memory refresh and the timer's third output (Technical Reference, system boards).
    fn port_b(&self, beats: u64) -> u8 {
        if self.model == Model::P8088 {
            return self.port_b;
        }
        let refreshed = self.timer.periods(1, beats) & 1;
        self.port_b & 0x0F | (refreshed as u8) << 4 | u8::from(self.timer.output(2, beats)) << 5
    }

    /// Reads a port of the board at once, for what reading it does: for services.
    pub(crate) fn look(&mut self, port: u16) {
        self.read_port(port);
    }

    fn read_port(&mut self, port: u16) -> u8 {
        self.catch_up();
        let value = self.board.read_port(port);
        if self.record.is_on() && self.reading_changes(port) {
            self.note(AccessKind::PortRead, u32::from(port), u16::from(value));
        }
        value
    }

    /// Whether reading a port tells of a wait, or changes what a later access does: the attribute port's turn, the DAC's
    /// next component.
    fn reading_changes(&self, port: u16) -> bool {
        match self.adapter().port_role(self.board.registers(), port) {
            // A wait, whatever else it does.
            Some(PortRole::Status | PortRole::DacData) => true,
            _ => false,
        }
    }

    /// Writes to a port of the board at once, past no wait state: for services.
    pub(crate) fn program(&mut self, port: u16, value: u8) {
        self.catch_up();
        self.note(AccessKind::Port, u32::from(port), u16::from(value));
        self.board.write_port(port, value);
        self.follow_board();
    }
}

/// The board, programmed by a service.
impl<T: Tap> BoardPorts for Hardware<T> {
    fn registers(&self) -> &Registers {
        self.board.registers()
    }

    fn read(&mut self, port: u16) {
        self.look(port);
    }

    fn write(&mut self, port: u16, value: u8) {
        self.program(port, value);
    }
}

impl<T: Tap> Bus for Hardware<T> {
    #[inline]
    fn read(&mut self, address: u32) -> u8 {
        if let Some(byte) = self.memory.get(address as usize) {
            return *byte;
        }
        self.read_beyond(address)
    }

    #[inline]
    fn write(&mut self, address: u32, value: u8) {
        if let Some(byte) = self.memory.get_mut(address as usize) {
            *byte = value;
            return;
        }
        self.poke(address, value);
    }

    #[inline]
    fn read_word(&mut self, address: u32) -> u16 {
        let at = address as usize;
        match self.memory.get(at..at + 2) {
            Some(&[low, high]) => u16::from_le_bytes([low, high]),
            _ => u16::from_le_bytes([self.read_any(address), self.read_any((address + 1) & 0xF_FFFF)]),
        }
    }

    #[inline]
    fn write_word(&mut self, address: u32, value: u16) {
        let at = address as usize;
        let [low, high] = value.to_le_bytes();
        match self.memory.get_mut(at..at + 2) {
            Some(bytes) => bytes.copy_from_slice(&[low, high]),
            None => {
                self.poke(address, low);
                self.poke((address + 1) & 0xF_FFFF, high);
            }
        }
    }

    #[inline]
    fn fetch(&self, address: u32) -> u8 {
        match self.memory.get(address as usize) {
            Some(byte) => *byte,
            None => self.firmware_byte(address),
        }
    }

    fn input(&mut self, port: u16) -> u8 {
        if !self.has_port(port) {
            return self.input_device(port);
        }
        self.read_port(port)
    }

    fn output(&mut self, port: u16, value: u8) {
        self.hit(port);
        if self.has_port(port) { self.program(port, value) } else { self.output_device(port, value) }
    }

    fn input_word(&mut self, port: u16) -> u16 {
        u16::from_le_bytes([self.input(port), self.input(port.wrapping_add(1))])
    }

    fn output_word(&mut self, port: u16, value: u16) {
        let [low, high] = value.to_le_bytes();
        let next = port.wrapping_add(1);
        if !self.has_port(port) || !self.has_port(next) {
            self.output(port, low);
            return self.output(next, high);
        }
        self.hit(port);
        self.hit(next);
        self.catch_up();
        self.note(AccessKind::PortWord, u32::from(port), value);
        self.board.write_port_word(port, value);
        self.follow_board();
    }

    #[inline]
    fn elapse(&mut self, clocks: u32) {
        self.clocks += u64::from(clocks);
    }

    #[inline]
    fn cycle(&mut self, cycle: BusCycle) -> u32 {
        let length = u32::from(clocks::bus_cycle(self.model));
        // A word that meets eight bits takes a second cycle the processor does not know of.
        let waits = match cycle.kind {
            CycleKind::Input | CycleKind::Output if cycle.wide => length + 2 * self.waits.port,
            CycleKind::Input | CycleKind::Output => self.waits.port,
            _ if !self.window.contains(&cycle.address) => self.waits.memory,
            _ => self.board_wait(cycle),
        };
        waits + self.refresh.wait(cycle.start, u64::from(length + waits)) as u32
    }

    fn service(&self, address: u32) -> Option<u16> {
        if let Some(service) = rom::service_at(address) {
            return Some(service);
        }
        let here = (FIRST_CODE..MEMORY).contains(&address);
        let empty = |at: u32| self.memory.get(at as usize).is_none_or(|byte| *byte == 0);
        (!here || (address..address + ZEROS).all(empty)).then_some(rom::service::NOWHERE)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch_processor_timing::CRYSTAL_HZ;

    /// The 16 phases of the colour-graphics board give 3 waits once and 4 to 8 three times each (published: hardware note
    /// *The CGA wait states*, 2012).
    #[test]
    fn the_colour_graphics_board_waits_three_to_eight_clocks() {
        let adapter = Adapter::built_in("colour-graphics").unwrap();
        let clock = ProcessorClock::new(CRYSTAL_HZ, 3).unwrap();
        let mut counts = [0; 10];
        for start in 0..16 {
            let board = Board::plain(adapter.clone(), adapter.start_up(adapter.default_mode()));
            let waits = Waits { refresh_beats: 0, ..Waits::common(Model::P8088, clock) };
            let mut hardware = Hardware::new(board, Model::P8088, clock, waits, 0);
            let cycle = BusCycle { kind: CycleKind::Write, address: 0xB8000, wide: false, start };
            counts[hardware.cycle(cycle) as usize] += 1;
        }
        assert_eq!(counts, [0, 0, 0, 1, 3, 3, 3, 3, 3, 0]);
    }

    /// Clocks that writes wait on a board, from each of many starts.
    fn waits(hardware: &mut Hardware, window: u32, starts: impl Iterator<Item = u64>) -> Vec<u32> {
        let cycle = |start| BusCycle { kind: CycleKind::Write, address: window, wide: false, start };
        starts.map(|start| hardware.cycle(cycle(start))).collect()
    }

    fn at_8_mhz(class: &str, mode: Option<&str>) -> Hardware {
        let adapter = Adapter::built_in(class).unwrap();
        let clock = ProcessorClock::new(8_000_000, 1).unwrap();
        let setup = Waits { refresh_beats: 0, ..Waits::common(Model::P8086, clock) };
        let mode = mode.map_or(adapter.default_mode(), |name| adapter.mode(name).unwrap());
        Hardware::new(Board::plain(adapter.clone(), adapter.start_up(mode)), Model::P8086, clock, setup, 0)
    }

    /// An access is ready 10 dots after its command, 3.2 clocks at 8 MHz, and up to 33 dots, 10.5 clocks, where it meets the
    /// burst of 27 dots in a line of 800 (reverse-engineered schematic of display controller gate array 72X8300).
    #[test]
    fn the_linear_board_is_busy_at_the_end_of_each_line() {
        let mut hardware = at_8_mhz("linear-256", None);
        // A line lasts 254.2 clocks.
        let waits = waits(&mut hardware, 0xA0000, 0..254 * 20);
        assert_eq!((waits.iter().min(), waits.iter().max()), (Some(&4), Some(&11)));
        let long = waits.iter().filter(|wait| **wait > 4).count() as f64 / waits.len() as f64;
        assert!((long - 27.0 / 800.0).abs() < 0.01, "{long}");
    }

    /// Three memory cycles of five, not one, are the processor's with the bandwidth bit set (Technical Reference, enhanced
    /// graphics adapter): slots are a third as far apart. The bit is followed when a program writes it.
    #[test]
    fn the_ega_serves_the_processor_more_often_where_the_picture_needs_less() {
        let spread = |waits: &[u32]| waits.iter().max().unwrap() - waits.iter().min().unwrap();
        let mut hardware = at_8_mhz("ega", Some("640x200x16"));
        // 32 dots of 14.318 MHz are 17.9 clocks.
        let full = waits(&mut hardware, 0xA0000, 0..500);
        assert!((17..=18).contains(&spread(&full)), "{}", spread(&full));
        hardware.program(0x3C4, 0x01);
        hardware.program(0x3C5, 0x03);
        let half = waits(&mut hardware, 0xA0000, 0..500);
        assert!((5..=6).contains(&spread(&half)), "{}", spread(&half));
    }
}
