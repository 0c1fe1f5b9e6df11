//! Bus, decoder and execution of the processors from the 80186 on: three units
//! that run ahead of each other.
//!
//! The bus unit fetches words into a queue, the decoder takes a byte
//! a clock out of it, and the execution unit starts an instruction in the
//! clock after its last byte was decoded. Reads of the 80286 are asked for three clocks
//! into an instruction, writes at its end. Inferred from the open data set of
//! single-step tests of an 80286, captured from hardware, 2025; the same is
//! assumed of the 80186 and the 80386, with their own queues and bus cycles.

use crate::bus::{Bus, BusCycle, CycleKind};
use crate::clocks;
use crate::registers::Far;
use backporch_processor_timing::Model;

/// Bytes of the queue (iAPX 186 High Integration 16-Bit Microprocessor; iAPX 286 Hardware Reference Manual; 80386
/// Hardware Reference Manual).
fn capacity(model: Model) -> u64 {
    if model.is_from(Model::P80386) { 16 } else { 6 }
}

/// Clocks from the end of a fetch to the decoding of its first byte.
const LATENCY: u64 = 2;

/// Words that can be in the longest queue or on their way, an odd byte at its head.
const WORDS: usize = 9;

/// Bytes that came in one bus cycle.
#[derive(Clone, Copy, Debug, Default)]
struct Fetched {
    bytes: u64,
    /// Clock from which the decoder can have them.
    ready: u64,
}

/// The units ahead of execution.
#[derive(Clone, Debug)]
pub struct Pipeline {
    /// Clocks of a bus cycle without wait states.
    cycle: u64,
    /// Bytes of the queue, and words that they can come in.
    capacity: u64,
    most: usize,
    words: [Fetched; WORDS],
    count: usize,
    /// Bytes in the queue or on their way.
    held: u64,
    /// Where the next byte is fetched.
    next: Far,
    /// First clock the bus is free.
    free: u64,
    /// First clock in which the queue has room for a word.
    room_at: u64,
    /// Clock in which the last byte was decoded.
    decoded: u64,
    /// Clocks the decoder needs for the instruction's last bytes, beyond one a byte.
    extra: u64,
    /// Last bytes of the instruction that take no clock of their own.
    free_bytes: u64,
    /// Bytes of the instruction under the decoder.
    left: u64,
    /// Where the instruction under the decoder begins.
    at: Far,
}

impl Pipeline {
    /// Empty.
    pub fn new(model: Model) -> Self {
        let capacity = capacity(model);
        Self {
            cycle: u64::from(clocks::bus_cycle(model)),
            capacity,
            most: capacity as usize / 2 + 1,
            words: [Fetched::default(); WORDS],
            count: 0,
            held: 0,
            next: Far::default(),
            free: 0,
            room_at: 0,
            decoded: 0,
            extra: 0,
            free_bytes: 0,
            left: 0,
            at: Far::default(),
        }
    }

    /// Where the next byte will be fetched.
    pub fn next(&self) -> Far {
        self.next
    }

    /// Throws everything away and fetches from an address on.
    pub fn flush(&mut self, clock: u64, next: Far) {
        (self.count, self.held, self.left, self.next, self.at) = (0, 0, 0, next, next);
        (self.room_at, self.decoded) = (clock, clock);
    }

    /// Gives the decoder its next instruction of this many bytes, where it has none of that address, and the clocks it takes.
    pub fn begin(&mut self, clock: u64, at: Far, bytes: u8, takes: u64) {
        let after = at.plus(u16::from(bytes));
        let comes_next = self.left == 0 && self.at == at;
        if !comes_next {
            if self.at == after {
                return;
            }
            self.flush(clock, at);
        }
        self.left = u64::from(bytes);
        (self.extra, self.free_bytes) = (takes.saturating_sub(self.left), self.left.saturating_sub(takes));
        self.at = after;
    }

    /// Lets fetches begin and bytes be decoded before a clock.
    fn advance<B: Bus>(&mut self, bus: &mut B, before: u64) {
        loop {
            let decode = self.decode_at();
            let fetch = self.fetch_at();
            let Some(first) = [decode, fetch].into_iter().flatten().min().filter(|clock| *clock < before) else {
                return;
            };
            if fetch == Some(first) {
                self.fetch(bus, first);
            } else {
                self.decode(first);
            }
        }
    }

    fn decode_at(&self) -> Option<u64> {
        let word = self.words.first().filter(|_| self.left > 0 && self.count > 0)?;
        let takes = if self.left <= self.free_bytes { 0 } else { 1 };
        Some(word.ready.max(self.decoded + takes + if self.left == 1 { self.extra } else { 0 }))
    }

    fn fetch_at(&self) -> Option<u64> {
        (self.held + 2 <= self.capacity && self.count < self.most).then_some(self.free.max(self.room_at))
    }

    fn fetch<B: Bus>(&mut self, bus: &mut B, start: u64) {
        let address = self.next.linear();
        let wide = address & 1 == 0;
        let bytes = if wide { 2 } else { 1 };
        let waits = u64::from(bus.cycle(BusCycle { kind: CycleKind::Fetch, address, wide, start }));
        self.free = start + self.cycle + waits;
        self.held += bytes;
        self.words[self.count] = Fetched { bytes, ready: self.free + LATENCY };
        self.count += 1;
        self.next = self.next.plus(bytes as u16);
    }

    fn decode(&mut self, clock: u64) {
        self.decoded = clock;
        self.left -= 1;
        if self.left == 0 {
            (self.extra, self.free_bytes) = (0, 0);
        }
        self.held -= 1;
        self.words[0].bytes -= 1;
        self.room_at = self.room_at.max(clock + 1);
        if self.words[0].bytes == 0 {
            self.words.copy_within(1..self.count, 0);
            self.count -= 1;
        }
    }

    /// Decodes the rest of the instruction; gives the first clock it can be executed in.
    pub fn finish<B: Bus>(&mut self, bus: &mut B) -> u64 {
        while self.left > 0 {
            let clock = self.decode_at().or(self.fetch_at()).unwrap_or(self.decoded);
            self.advance(bus, clock + 1);
        }
        self.decoded + 1
    }

    /// A bus cycle of the execution unit, asked for at a clock; gives its start and end.
    pub fn transfer<B: Bus>(&mut self, bus: &mut B, clock: u64, mut cycle: BusCycle) -> (u64, u64) {
        self.advance(bus, clock);
        cycle.start = clock.max(self.free);
        self.free = cycle.start + self.cycle + u64::from(bus.cycle(cycle));
        (cycle.start, self.free)
    }

    /// The clock at which a halt is over whose own clocks are: it has a bus cycle that begins a clock later.
    pub fn halt(&self, clock: u64) -> u64 {
        clock.max(self.free.saturating_sub(1))
    }
}
