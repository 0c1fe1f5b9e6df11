//! Bus, decoder and execution of the 80286: three units that run ahead of each
//! other.
//!
//! The bus unit fetches words into a queue of 6 bytes, the decoder takes a byte
//! a clock out of it, and the execution unit starts an instruction in the
//! clock after its last byte was decoded. Reads are asked for three clocks
//! into an instruction, writes at its end. Inferred from the open data set of
//! single-step tests of an 80286, captured from hardware, 2025.

use crate::bus::{Bus, BusCycle, CycleKind};
use crate::registers::Far;

/// Clocks of a bus cycle without wait states (iAPX 286 Hardware Reference Manual).
const CYCLE: u64 = 2;

/// Bytes of the queue (iAPX 286 Hardware Reference Manual).
const CAPACITY: u64 = 6;

/// Clocks from the end of a fetch to the decoding of its first byte.
const LATENCY: u64 = 2;

/// Words that can be in the queue or on their way.
const WORDS: usize = 4;

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
    words: [Fetched; WORDS],
    count: usize,
    /// Where the next byte is fetched.
    next: Far,
    /// First clock the bus is free.
    free: u64,
    /// First clock in which the queue has room for a word.
    room_at: u64,
    /// Clock in which the last byte was decoded.
    decoded: u64,
    /// Clocks the decoder needs beyond one for the next byte.
    extra: u64,
    /// Bytes of the instruction under the decoder.
    left: u64,
    /// Where the instruction under the decoder begins.
    at: Far,
}

impl Pipeline {
    /// Empty.
    pub fn new() -> Self {
        Self {
            words: [Fetched::default(); WORDS],
            count: 0,
            next: Far::default(),
            free: 0,
            room_at: 0,
            decoded: 0,
            extra: 0,
            left: 0,
            at: Far::default(),
        }
    }

    /// Where the next byte will be fetched.
    pub fn next(&self) -> Far {
        self.next
    }

    fn held(&self) -> u64 {
        self.words[..self.count].iter().map(|word| word.bytes).sum()
    }

    /// Throws everything away and fetches from an address on.
    pub fn flush(&mut self, clock: u64, next: Far) {
        (self.count, self.left, self.next, self.at) = (0, 0, next, next);
        (self.room_at, self.decoded) = (clock, clock);
    }

    /// Gives the decoder its next instruction, where it has none of that address; `extra` clocks beyond its bytes.
    pub fn begin(&mut self, clock: u64, at: Far, bytes: u8, extra: u64) {
        if self.left == 0 && self.at == at {
            (self.left, self.extra) = (u64::from(bytes), extra);
            self.at = at.plus(u16::from(bytes));
        } else if self.at != at.plus(u16::from(bytes)) {
            self.flush(clock, at);
            (self.left, self.extra) = (u64::from(bytes), extra);
            self.at = at.plus(u16::from(bytes));
        }
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
        Some(word.ready.max(self.decoded + 1 + if self.left == 1 { self.extra } else { 0 }))
    }

    fn fetch_at(&self) -> Option<u64> {
        (self.held() + 2 <= CAPACITY && self.count < WORDS).then_some(self.free.max(self.room_at))
    }

    fn fetch<B: Bus>(&mut self, bus: &mut B, start: u64) {
        let address = self.next.linear();
        let wide = address & 1 == 0;
        let bytes = if wide { 2 } else { 1 };
        let waits = u64::from(bus.cycle(BusCycle { kind: CycleKind::Fetch, address, wide, start }));
        self.free = start + CYCLE + waits;
        self.words[self.count] = Fetched { bytes, ready: self.free + LATENCY };
        self.count += 1;
        self.next = self.next.plus(bytes as u16);
    }

    fn decode(&mut self, clock: u64) {
        self.decoded = clock;
        self.left -= 1;
        if self.left == 0 {
            self.extra = 0;
        }
        self.words[0].bytes -= 1;
        self.room_at = self.room_at.max(clock + 1);
        if self.words[0].bytes == 0 {
            self.words.copy_within(1.., 0);
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
        self.free = cycle.start + CYCLE + u64::from(bus.cycle(cycle));
        (cycle.start, self.free)
    }

    /// The clock at which a halt is over whose own clocks are: it has a bus cycle that begins a clock later.
    pub fn halt(&self, clock: u64) -> u64 {
        clock.max(self.free.saturating_sub(1))
    }
}
